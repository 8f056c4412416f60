//! Two photos of a bike, before and after.

use super::found;
use super::list::{head_angle, taken};
use crate::{Context, ScreenError, Shown};
use serde::Serialize;
use steerwright_fieldbook::{BikeId, BookError, PhotoId, ShownPhoto};
use steerwright_metrology::quantity::{Quantity, Unit};
use steerwright_photogrammetry::measure::{Cameras, PhotoMeasurement, RectifiedView, change, rectify};

/// Two photos of a bike.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CompareView {
    /// The bike.
    pub bike: BikeId,
    /// The bike's name.
    pub bike_name: String,
    /// The screen's title.
    pub title: String,
    /// The photos that can be compared.
    pub choices: Vec<PhotoChoice>,
    /// The photo before.
    pub before: Option<PhotoId>,
    /// The photo after.
    pub after: Option<PhotoId>,
    /// What both tell.
    pub rows: Vec<ChangeLine>,
    /// Whether the cameras count as one.
    pub cameras: Option<String>,
    /// Why there is nothing to compare, and what to do.
    pub why_not: Option<String>,
    /// How both lie over each other.
    pub overlaid: Option<Overlaid>,
    /// The title of both pictures.
    pub pictures_title: String,
}

/// A photo to choose.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhotoChoice {
    /// The photo.
    pub id: PhotoId,
    /// Its name, when it was taken, what it told.
    pub text: String,
    /// For who does not see it.
    pub alt: String,
}

/// A number before and after.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ChangeLine {
    /// What it is.
    pub label: String,
    /// Before.
    pub before: Shown,
    /// After.
    pub after: Shown,
    /// After minus before.
    pub change: Shown,
}

/// The photo after over the photo before, in shares of the width of the latter.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Overlaid {
    /// Its left edge.
    pub left: f64,
    /// Its width.
    pub width: f64,
}

/// Millimetres to the pixel of the views square on: a screen's width for a bike.
const MM_PER_PX: f64 = 2.0;

fn measured(context: &Context<'_>, photo: &ShownPhoto) -> Option<Result<PhotoMeasurement, BookError>> {
    let stored = photo.row.marks.last()?;
    Some(context.reader.preview_photo(photo.row.id, &stored.marks))
}

/// Two photos of a bike; without a choice the first and the last that were measured.
///
/// # Errors
/// No such bike or photo.
pub fn compare(
    context: &Context<'_>,
    id: BikeId,
    chosen: [Option<PhotoId>; 2],
) -> Result<CompareView, ScreenError> {
    let screen = context.reader.bike_screen(id)?;
    let words = context.words;
    let name = &screen.record.bike.name;
    let with_marks: Vec<(usize, &ShownPhoto)> =
        screen.photos.iter().enumerate().filter(|(_, photo)| !photo.row.marks.is_empty()).collect();
    let choices = with_marks.iter().map(|(place, photo)| {
        let angle = head_angle(&screen, photo.row.id).map(|angle| context.estimate(angle, Unit::Deg));
        let parts = [Some(context.photo_name(place + 1)), Some(taken(context, photo)), angle];
        PhotoChoice {
            id: photo.row.id,
            text: parts.into_iter().flatten().collect::<Vec<_>>().join(" · "),
            alt: context.photo_alt(place + 1, name),
        }
    });
    let mut view = CompareView {
        bike: id,
        bike_name: name.clone(),
        title: words.text("compare-title"),
        choices: choices.collect(),
        before: None,
        after: None,
        rows: Vec::new(),
        cameras: None,
        why_not: None,
        overlaid: None,
        pictures_title: words.text("compare-side"),
    };
    let [Some((_, first)), Some((_, last))] = [with_marks.first(), with_marks.last()] else {
        view.why_not = Some(words.text("compare-needs-two"));
        return Ok(view);
    };
    let [before, after] = [(chosen[0], first), (chosen[1], last)].map(|(chosen, usual)| {
        with_marks.iter().find(|(_, photo)| Some(photo.row.id) == chosen).map_or(*usual, |(_, photo)| *photo)
    });
    (view.before, view.after) = (Some(before.row.id), Some(after.row.id));
    if before.row.id == after.row.id {
        view.why_not = Some(words.text("compare-needs-two"));
        return Ok(view);
    }
    let mut seen = Vec::new();
    for photo in [before, after] {
        match measured(context, photo) {
            Some(Ok(measurement)) => seen.push(measurement),
            Some(Err(error)) => {
                let place = screen.photos.iter().position(|it| it.row.id == photo.row.id).unwrap_or_default();
                let (name, why) = (context.photo_name(place + 1), context.book_refusal(&error));
                let amounts = [("name", (&name).into()), ("why", (&why).into())];
                view.why_not = Some(words.with("compare-refused", &amounts));
                return Ok(view);
            }
            None => return Ok(view),
        }
    }
    let [was, is] = seen.as_slice() else { return Ok(view) };
    let row = |photo: &ShownPhoto| (photo.row.camera.clone(), photo.row.focal_length_mm.map(f64::to_bits));
    let is_one = before.row.camera.is_some() && row(before) == row(after);
    let cameras = if is_one { Cameras::Same } else { Cameras::Different };
    view.cameras = Some(words.text(if is_one { "compare-same-camera" } else { "compare-other-camera" }));
    view.rows = change(was, is, cameras)
        .into_iter()
        .filter_map(|changed| {
            let unit = changed.what.base_unit();
            Some(ChangeLine {
                label: context.label(changed.what),
                before: context.shown(was.get(changed.what)?, unit),
                after: context.shown(is.get(changed.what)?, unit),
                change: context.shown_change(changed.change, unit),
            })
        })
        .collect();
    // What a kit is for comes first.
    view.rows.sort_by_key(|row| row.label != context.label(Quantity::HeadAngle));
    if view.rows.is_empty() {
        view.why_not = Some(words.text("compare-none"));
    }
    if was.plane.heads_left() == is.plane.heads_left() {
        view.overlaid = overlaid(was, is);
        view.pictures_title = words.text("compare-overlay");
    } else {
        view.pictures_title = words.text("compare-other-side");
    }
    Ok(view)
}

fn overlaid(was: &PhotoMeasurement, is: &PhotoMeasurement) -> Option<Overlaid> {
    let (before, after) = (RectifiedView::new(was, MM_PER_PX)?, RectifiedView::new(is, MM_PER_PX)?);
    let whole = f64::from(before.width);
    let thousandths = |share: f64| (1e5 * share).round() / 1e5;
    Some(Overlaid {
        left: thousandths((before.rear_contact - after.rear_contact) / whole),
        width: thousandths(f64::from(after.width) / whole),
    })
}

/// A measured photo square on, as a PNG file; `None` for one that was not measured, is refused, or whose file is missing.
///
/// # Errors
/// No such bike or photo.
pub fn square_on(context: &Context<'_>, bike: BikeId, id: PhotoId) -> Result<Option<Vec<u8>>, ScreenError> {
    let (_, _, shown) = found(context, bike, id)?;
    let Some(Ok(seen)) = measured(context, &shown) else { return Ok(None) };
    let Ok(pixels) = context.reader.working_copy(id) else { return Ok(None) };
    Ok(rectify(&pixels, &seen, MM_PER_PX).and_then(|view| view.to_png().ok()))
}
