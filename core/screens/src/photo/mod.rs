//! Photos of a bike: the list, one photo with its marks and its reading, two photos side by side.

mod compare;
mod draft;
mod list;
mod marking;
mod scene;
mod told;

pub use compare::{ChangeLine, CompareView, Overlaid, PhotoChoice, compare, square_on};
pub use draft::Part;
pub use list::{PhotoLine, PhotosView, photos};
pub use marking::{MarkChoice, MarkStage, MarkTask, PhotoReading, PhotoView, photo};
pub use scene::{ImagePoint, MarkPoint, Outline, Scene};

pub(crate) use draft::{Draft, Step};
pub(crate) use marking::{guessed, placed};
pub(crate) use told::photo_error;

use crate::{Context, ScreenError};
use steerwright_fieldbook::{BikeId, BikeScreen, PhotoId, ShownPhoto};

/// A bike and the photo of it, with the photo's number from 1.
fn found(
    context: &Context<'_>,
    bike: BikeId,
    id: PhotoId,
) -> Result<(BikeScreen, usize, ShownPhoto), ScreenError> {
    let screen = context.reader.bike_screen(bike)?;
    let place = screen.photos.iter().position(|photo| photo.row.id == id);
    let photo = place.and_then(|place| screen.photos.get(place).cloned().map(|photo| (place + 1, photo)));
    let (number, photo) =
        photo.ok_or_else(|| ScreenError::NotThere { what: "photo", name: id.to_string() })?;
    Ok((screen, number, photo))
}

impl Context<'_> {
    /// "Photo 2".
    fn photo_name(&self, number: usize) -> String {
        self.words.with("photos-name", &[("number", (&number.to_string()).into())])
    }

    /// "Photo 2 of Hire bike 03", for who does not see it.
    fn photo_alt(&self, number: usize, name: &str) -> String {
        self.words.with("photos-alt", &[("number", (&number.to_string()).into()), ("name", name.into())])
    }
}
