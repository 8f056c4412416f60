//! The photos of a bike.

use super::draft::Draft;
use crate::{Context, ScreenError};
use serde::Serialize;
use steerwright_fieldbook::{BikeId, BikeScreen, PhotoId, ShownPhoto};
use steerwright_metrology::quantity::{Estimate, Instrument, Quantity, Unit};

/// The photos of a bike, oldest first.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhotosView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// Its photos.
    pub photos: Vec<PhotoLine>,
    /// What to say while there is none.
    pub empty: Option<String>,
    /// How to take a photo that can be measured.
    pub how: String,
    /// What is kept of a photo.
    pub private: String,
    /// Leads to the comparison, once two photos are measured.
    pub compare: Option<String>,
}

/// A photo in the list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhotoLine {
    /// The photo.
    pub id: PhotoId,
    /// "Photo 2".
    pub title: String,
    /// For who does not see it.
    pub alt: String,
    /// What it told, or how far its marks are.
    pub state: String,
    /// When it was taken, or added.
    pub when: String,
    /// Whether its small copy is there.
    pub has_thumbnail: bool,
}

/// The photos of a bike.
///
/// # Errors
/// No such bike.
pub fn photos(context: &Context<'_>, id: BikeId) -> Result<PhotosView, ScreenError> {
    let screen = context.reader.bike_screen(id)?;
    let words = context.words;
    let name = &screen.record.bike.name;
    let line = |(place, photo): (usize, &ShownPhoto)| -> Result<PhotoLine, ScreenError> {
        Ok(PhotoLine {
            id: photo.row.id,
            title: context.photo_name(place + 1),
            alt: context.photo_alt(place + 1, name),
            state: state(context, &screen, photo)?,
            when: taken(context, photo),
            has_thumbnail: photo.thumbnail_file.is_some(),
        })
    };
    let measured = screen.photos.iter().filter(|photo| !photo.row.marks.is_empty()).count();
    Ok(PhotosView {
        bike: id,
        bike_name: name.clone(),
        photos: screen.photos.iter().enumerate().map(line).collect::<Result<_, _>>()?,
        empty: screen.photos.is_empty().then(|| words.text("photos-none")),
        how: words.text("photos-how"),
        private: words.text("photos-private"),
        compare: (measured > 1).then(|| words.text("photos-compare")),
    })
}

/// When a photo was taken, by the camera's clock; where the file does not say, when it was added.
pub(super) fn taken(context: &Context<'_>, photo: &ShownPhoto) -> String {
    let by_camera = photo.row.taken_at.as_ref().and_then(|at| Some((at.get(..10)?, at.get(11..16)?)));
    by_camera.map_or_else(|| context.when(photo.row.added_at), |(day, time)| format!("{day} {time}"))
}

/// The valid head angle that was read off a photo.
pub(super) fn head_angle(screen: &BikeScreen, photo: PhotoId) -> Option<Estimate> {
    let row = screen.log.iter().rev().find(|row| {
        row.photo == Some(photo)
            && row.place.is_some()
            && row.measurement.with == Instrument::Photo
            && row.measurement.what == Quantity::HeadAngle
    })?;
    let half = row.measurement.plus_minus.unwrap_or_default();
    Some(Estimate::new(row.measurement.value, half / 2.0))
}

fn state(context: &Context<'_>, screen: &BikeScreen, photo: &ShownPhoto) -> Result<String, ScreenError> {
    let words = context.words;
    if photo.working_file.is_none() {
        return Ok(words.text("photos-file-missing"));
    }
    if let Some(angle) = head_angle(screen, photo.row.id) {
        let label = context.label(Quantity::HeadAngle);
        let value = context.estimate(angle, Unit::Deg);
        return Ok(words.with("photos-measured", &[("what", (&label).into()), ("value", (&value).into())]));
    }
    if !photo.row.marks.is_empty() {
        return Ok(words.text("photos-measured-other"));
    }
    let begun = context.reader.draft::<Draft>(photo.row.id)?.is_some_and(|draft| !draft.0.is_empty());
    Ok(words.text(if begun { "photos-marks-begun" } else { "photos-unmarked" }))
}
