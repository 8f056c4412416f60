//! Measurement on a photo from marks.

use crate::background::off_thread;
use crate::{Amount, Book, Changes, Drawing, Estimate, LocalizedText, Quantity, SteerwrightError};
use std::sync::Arc;
use steerwright_core::book::{MarksId, MeasurementId, Op, PhotoId};
use steerwright_core::photogrammetry::edges::{Instead, Snap};
use steerwright_core::photogrammetry::guess::Guess;
use steerwright_core::photogrammetry::measure::{self, Cameras, PhotoMeasurement};
use steerwright_core::report::{Expected, PhotoReport};

pub use steerwright_core::photogrammetry::measure::{
    Axis as LensAxis, Image as PictureSize, Lens, Line as MarkLine, Mark as PhotoMark, Marks, MarksSchema,
    Pixel, Wheel,
};

/// A point in the image in pixels; the origin is the outer corner of the top left pixel, `x` to the right, `y` down.
#[derive(Debug, Clone, Copy, PartialEq, uniffi::Record)]
pub struct Spot {
    /// Coordinate to the right.
    pub x: f64,
    /// Coordinate down.
    pub y: f64,
}

uniffi::custom_type!(Pixel, Spot, {
    remote,
    lower: |place| {
        let [x, y] = place;
        Spot { x, y }
    },
    try_lift: |spot| Ok([spot.x, spot.y]),
});

/// Format version of the marks.
#[uniffi::remote(Enum)]
pub enum MarksSchema {
    V1,
}

/// Image size in upright orientation, pixels.
#[uniffi::remote(Record)]
pub struct PictureSize {
    pub width: u32,
    pub height: u32,
}

/// Principal point: where the optical axis meets the image.
#[uniffi::remote(Record)]
pub struct LensAxis {
    pub at: Pixel,
    pub u_px: f64,
}

/// Known lens data; the focal length is read from the photo's metadata.
#[uniffi::remote(Record)]
pub struct Lens {
    #[uniffi(default = None)]
    pub focal_length_35mm: Option<Estimate>,
    #[uniffi(default = None)]
    pub axis: Option<LensAxis>,
    #[uniffi(default = None)]
    pub distortion: Option<Estimate>,
}

/// One wheel: at least six marks on the outer edge of the tyre, or three rough taps. Absent dimensions are
/// taken from the bike's readings.
#[uniffi::remote(Record)]
pub struct Wheel {
    pub tyre: Vec<Pixel>,
    #[uniffi(default = false)]
    pub rough: bool,
    #[uniffi(default = None)]
    pub noise_px: Option<f64>,
    #[uniffi(default = None)]
    pub diameter_mm: Option<Estimate>,
    #[uniffi(default = None)]
    pub width_mm: Option<Estimate>,
}

/// A marked point on the bike.
#[uniffi::remote(Record)]
pub struct PhotoMark {
    pub at: Pixel,
    #[uniffi(default = None)]
    pub beside_mm: Option<Estimate>,
}

/// Marks along a straight part of the bike.
#[uniffi::remote(Record)]
pub struct MarkLine {
    pub points: Vec<Pixel>,
    #[uniffi(default = false)]
    pub rough: bool,
    #[uniffi(default = None)]
    pub noise_px: Option<f64>,
    #[uniffi(default = None)]
    pub beside_mm: Option<Estimate>,
}

/// Marks on one side view photo of one bike (`steerwright.marks/1`).
#[uniffi::remote(Record)]
pub struct Marks {
    pub schema: MarksSchema,
    pub image: PictureSize,
    pub lens: Lens,
    #[uniffi(default = None)]
    pub noise_px: Option<f64>,
    #[uniffi(default = None)]
    pub shows_drive_side: Option<bool>,
    pub front: Wheel,
    pub rear: Wheel,
    #[uniffi(default = None)]
    pub front_wheel_turn_deg: Option<Estimate>,
    #[uniffi(default = None)]
    pub fork_offset_mm: Option<Estimate>,
    #[uniffi(default = None)]
    pub head_tube_top: Option<PhotoMark>,
    #[uniffi(default = None)]
    pub head_tube_bottom: Option<PhotoMark>,
    #[uniffi(default = None)]
    pub crown: Option<PhotoMark>,
    #[uniffi(default = None)]
    pub bottom_bracket: Option<PhotoMark>,
    #[uniffi(default = [])]
    pub stanchions: Vec<MarkLine>,
    #[uniffi(default = None)]
    pub seat_tube: Option<MarkLine>,
    #[uniffi(default = [])]
    pub straight: Vec<Vec<Pixel>>,
}

/// A value measured on a photo.
#[derive(Debug, Clone, Copy, PartialEq, uniffi::Record)]
pub struct MeasuredValue {
    /// The quantity.
    pub what: Quantity,
    /// Its value.
    pub amount: Amount,
}

/// Measurements from a photo with marks.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct PhotoMeasurementView {
    /// The measured values.
    pub values: Vec<MeasuredValue>,
    /// Reasons for doubt.
    pub doubts: Vec<LocalizedText>,
    /// The interpretation of the marks, as a drawing to overlay on the full width of the image.
    pub overlay: Drawing,
    /// Deviation of the camera from a perpendicular view, degrees.
    pub oblique_deg: f64,
    /// The complete result (`steerwright.photo/1`).
    pub json: String,
}

/// Result of recording the readings of a photo.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct PhotoMeasured {
    /// Id of the marks in the book.
    pub marks: MarksId,
    /// Readings that were recorded.
    pub added: Vec<MeasurementId>,
    /// Readings from the photo's earlier marks that were struck out.
    pub struck: Vec<MeasurementId>,
    /// Stale screens.
    pub changes: Changes,
}

/// Result of refining rough taps.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct TapsPlaced {
    /// The marks. Refined parts are no longer rough; the other parts are unchanged.
    pub marks: Marks,
    /// The result for each rough part.
    pub parts: Vec<TappedPart>,
    /// Whether every part was refined, so that the photo can be measured.
    pub all: bool,
    /// Lines to tap instead of fork legs that were not refined, for drawing over the picture; absent if there are
    /// none.
    pub overlay: Option<Drawing>,
}

/// Result of refining the taps on one part.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct TappedPart {
    /// The part.
    pub part: LocalizedText,
    /// Whether the taps were refined.
    pub placed: bool,
    /// Confidence that the edge found is the intended one, 0 to 1; 0 if the taps were not refined.
    pub sure: f64,
    /// Quality of the refinement, or why it failed and what to do.
    pub text: LocalizedText,
    /// Lines to tap instead of a fork leg that was not refined, the most promising first.
    pub instead: Vec<InsteadLine>,
}

/// A line to tap instead of one that was not refined.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct InsteadLine {
    /// What to do.
    pub text: LocalizedText,
    /// Its first end in the picture as marked.
    pub from: Spot,
    /// Its second end.
    pub to: Spot,
    /// Whether edges are found along it.
    pub seen: bool,
}

impl From<Instead> for InsteadLine {
    fn from(Instead { what, ends, seen }: Instead) -> Self {
        let [from, to] = ends.map(|[x, y]| Spot { x, y });
        let text = LocalizedText::tagged("taps.instead", "line", &what, &format!("{what}."));
        Self { text, from, to, seen }
    }
}

impl From<Snap> for TappedPart {
    fn from(Snap { what, outcome, instead }: Snap) -> Self {
        let instead = instead.into_iter().map(Into::into).collect();
        let part = LocalizedText::tagged("taps", "part", &what, &what.to_string());
        match outcome {
            Ok(placed) => {
                let text = LocalizedText::new("taps.placed", placed.to_string());
                let text = text.chance("sure", placed.sure).number("noise_px", placed.noise_px);
                let text = text.chance("share", placed.share);
                Self { part, placed: true, sure: placed.sure, text, instead }
            }
            Err(why) => {
                let english = format!("{why}. {}", why.remedy());
                Self {
                    part,
                    placed: false,
                    sure: 0.0,
                    text: LocalizedText::tagged("taps", "unsure", &why, &english),
                    instead,
                }
            }
        }
    }
}

fn told(seen: PhotoMeasurement) -> Result<PhotoMeasurementView, SteerwrightError> {
    let doubts =
        seen.doubts.iter().map(|doubt| LocalizedText::tagged("photo", "doubt", doubt, &doubt.to_string()));
    let values = seen.values.iter().map(|(what, it)| MeasuredValue {
        what: *what,
        amount: Amount { value: it.value, u: it.u, unit: what.base_unit() },
    });
    Ok(PhotoMeasurementView {
        doubts: doubts.collect(),
        values: values.collect(),
        oblique_deg: seen.plane.oblique_deg,
        overlay: seen.overlay.clone(),
        json: serde_json::to_string(&PhotoReport::new(&Ok(seen))).map_err(SteerwrightError::internal)?,
    })
}

/// Possible positions of the two wheels on a photo: a proposal for the user to confirm.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct WheelGuess {
    /// Confidence, 0 to 1.
    pub sure: f64,
    /// Outer edges of the tyres for drawing, 36 points each, left wheel first.
    pub outlines: Vec<Vec<Spot>>,
    /// Marks with only three rough taps on each tyre, for a bike that heads left.
    pub marks_heading_left: Marks,
    /// The same for a bike that heads right.
    pub marks_heading_right: Marks,
}

/// Comparison of two photos of one bike, before and after a change.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct PhotoChangeView {
    /// `after - before` of every value that both photos give; errors common to both cancel.
    pub values: Vec<MeasuredValue>,
    /// Whether the head angle's change is the one predicted, if one was handed in.
    pub head_angle: Option<LocalizedText>,
}

/// Parses the text of a marks file; `file` is its name in error messages.
#[uniffi::export]
pub fn marks_from_json(json: String, file: String) -> Result<Marks, SteerwrightError> {
    Ok(Marks::from_json(json.as_bytes(), &file)?)
}

/// Formats marks as the text of a marks file (`steerwright.marks/1`).
#[uniffi::export]
pub fn marks_to_json(marks: Marks) -> String {
    marks.to_json()
}

/// Measurements from marks alone, without a book.
#[uniffi::export]
pub fn measure_marks(marks: Marks) -> Result<PhotoMeasurementView, SteerwrightError> {
    let seen = measure::measure(&marks);
    told(seen.map_err(steerwright_core::book::BookError::Marks)?)
}

/// The change between two photos of one bike, from their marks. `foreseen` is the predicted change of the
/// head angle in degrees, such as a kit's. `same_camera` states that both photos were taken with one camera
/// at one zoom setting.
#[uniffi::export(default(foreseen = None))]
pub fn measure_change(
    before: Marks,
    after: Marks,
    same_camera: bool,
    foreseen: Option<Estimate>,
) -> Result<PhotoChangeView, SteerwrightError> {
    let seen = |marks| measure::measure(marks).map_err(steerwright_core::book::BookError::Marks);
    let cameras = if same_camera { Cameras::Same } else { Cameras::Different };
    let changed = measure::change(&seen(&before)?, &seen(&after)?, cameras);
    let head_angle =
        changed.iter().find(|it| it.what == Quantity::HeadAngle).zip(foreseen).map(|(seen, foreseen)| {
            let met = Expected::new(foreseen, seen.change);
            let (id, english) = met.sentence();
            LocalizedText::new(id, english)
                .amount("predicted", Amount::deg(met.predicted))
                .amount("seen", Amount::deg(met.seen))
                .amount("difference", Amount::deg(met.difference))
        });
    let value = |it: &measure::Changed| MeasuredValue {
        what: it.what,
        amount: Amount { value: it.change.value, u: it.change.u, unit: it.what.base_unit() },
    };
    Ok(PhotoChangeView { values: changed.iter().map(value).collect(), head_angle })
}

fn guess_view(guess: &Guess, image: PictureSize, lens: Lens) -> WheelGuess {
    let around = |ellipse: &measure::Ellipse| {
        let place = |step: u32| ellipse.at((f64::from(step) * 10.0).to_radians());
        (0..36).map(place).map(|[x, y]| Spot { x, y }).collect()
    };
    WheelGuess {
        sure: guess.sure,
        outlines: guess.wheels.iter().map(around).collect(),
        marks_heading_left: guess.rough_marks(image, lens, true),
        marks_heading_right: guess.rough_marks(image, lens, false),
    }
}

#[uniffi::export]
impl Book {
    /// Proposed wheel positions on a photo's working copy, most confident first, computed on a separate
    /// thread. Empty if no two wheels are found.
    pub async fn guess_wheels(self: Arc<Self>, photo: PhotoId) -> Result<Vec<WheelGuess>, SteerwrightError> {
        off_thread(None, None, move |_| {
            self.read(|reader| {
                let (image, guesses) = reader.guess_wheels(photo)?;
                // The lens stays empty: the focal length is read from the photo's metadata when the marks are measured.
                Ok(guesses.iter().map(|guess| guess_view(guess, image, Lens::default())).collect())
            })
        })
        .await
    }

    /// Refines rough taps to the edges in a photo's working copy, on a separate thread. Nothing is written.
    /// `measure_photo` rejects marks that are still rough.
    pub async fn place_taps(
        self: Arc<Self>,
        photo: PhotoId,
        marks: Marks,
    ) -> Result<TapsPlaced, SteerwrightError> {
        off_thread(None, None, move |_| {
            self.read(|reader| {
                let placed = reader.place_taps(photo, &marks)?;
                Ok(TapsPlaced {
                    all: placed.refused().is_none(),
                    overlay: placed.overlay(),
                    parts: placed.snaps.into_iter().map(Into::into).collect(),
                    marks: placed.marks,
                })
            })
        })
        .await
    }

    /// The measurements these marks would give, with everything known about the bike. Nothing is written.
    pub fn preview_photo(
        &self,
        photo: PhotoId,
        marks: Marks,
    ) -> Result<PhotoMeasurementView, SteerwrightError> {
        self.read(|reader| told(reader.preview_photo(photo, &marks)?))
    }

    /// Stores marks for a photo and records the readings that follow from them; they replace the readings of
    /// its earlier marks. Without `marks`, the latest marks are evaluated again with what is now known about
    /// the bike.
    #[uniffi::method(default(who = None))]
    pub fn measure_photo(
        &self,
        photo: PhotoId,
        marks: Option<Marks>,
        who: Option<String>,
    ) -> Result<PhotoMeasured, SteerwrightError> {
        let done =
            self.change(Op::MeasurePhoto, |work| work.measure_photo(photo, marks.as_ref(), who.as_deref()))?;
        let steerwright_core::book::PhotoMeasured { marks, added, struck } = done.output;
        Ok(PhotoMeasured { marks, added, struck, changes: done.changes.into() })
    }
}
