//! Measuring on a photo from marks.

use crate::background::off_thread;
use crate::{Amount, Book, Changes, Drawing, Estimate, LocalizedText, Quantity, SteerwrightError};
use std::sync::Arc;
use steerwright_core::book::{MarksId, MeasurementId, Op, PhotoId};
use steerwright_core::photogrammetry::edges::Snap;
use steerwright_core::photogrammetry::guess::Guess;
use steerwright_core::photogrammetry::measure::{self, Cameras, PhotoMeasurement};
use steerwright_core::report::{Expected, PhotoReport};

pub use steerwright_core::photogrammetry::measure::{
    Axis as LensAxis, Image as PictureSize, Lens, Line as MarkLine, Mark, Marks, MarksSchema, Pixel, Wheel,
};

/// A place in the picture, pixels from the outer corner of the upper left one: `x` to the right, `y` down.
#[derive(Debug, Clone, Copy, PartialEq, uniffi::Record)]
pub struct Spot {
    /// To the right.
    pub x: f64,
    /// Down.
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

/// The format of marks.
#[uniffi::remote(Enum)]
pub enum MarksSchema {
    V1,
}

/// The picture's size, upright.
#[uniffi::remote(Record)]
pub struct PictureSize {
    pub width: u32,
    pub height: u32,
}

/// Where the lens's axis meets the picture.
#[uniffi::remote(Record)]
pub struct LensAxis {
    pub at: Pixel,
    pub u_px: f64,
}

/// What is known of the lens; the photo's own file tells the focal length.
#[uniffi::remote(Record)]
pub struct Lens {
    #[uniffi(default = None)]
    pub focal_length_35mm: Option<Estimate>,
    #[uniffi(default = None)]
    pub axis: Option<LensAxis>,
    #[uniffi(default = None)]
    pub distortion: Option<Estimate>,
}

/// One wheel: at least six marks on the tyre's outer edge, or three rough taps; its sizes come from the bike's readings where they are absent.
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

/// A marked point of the bike.
#[uniffi::remote(Record)]
pub struct Mark {
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

/// Marks on one side-on photo of one bike (`steerwright.marks/1`).
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
    pub head_tube_top: Option<Mark>,
    #[uniffi(default = None)]
    pub head_tube_bottom: Option<Mark>,
    #[uniffi(default = None)]
    pub crown: Option<Mark>,
    #[uniffi(default = None)]
    pub bottom_bracket: Option<Mark>,
    #[uniffi(default = [])]
    pub stanchions: Vec<MarkLine>,
    #[uniffi(default = None)]
    pub seat_tube: Option<MarkLine>,
    #[uniffi(default = [])]
    pub straight: Vec<Vec<Pixel>>,
}

/// A number read off a photo.
#[derive(Debug, Clone, Copy, PartialEq, uniffi::Record)]
pub struct MeasuredValue {
    /// What it is of.
    pub what: Quantity,
    /// The number.
    pub amount: Amount,
}

/// What a photo with marks tells.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct PhotoMeasurementView {
    /// The numbers.
    pub values: Vec<MeasuredValue>,
    /// What gives pause.
    pub doubts: Vec<LocalizedText>,
    /// What was understood, to be laid over the picture across its whole width.
    pub overlay: Drawing,
    /// How far the camera looked past square, degrees.
    pub oblique_deg: f64,
    /// All of it (`steerwright.photo/1`).
    pub json: String,
}

/// What writing a photo's readings down did.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct PhotoMeasured {
    /// The marks' name in the book.
    pub marks: MarksId,
    /// The readings that were written down.
    pub added: Vec<MeasurementId>,
    /// Readings of the photo's earlier marks that were struck out.
    pub struck: Vec<MeasurementId>,
    /// Which screens are stale.
    pub changes: Changes,
}

/// What became of rough taps.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct TapsPlaced {
    /// The marks: those that were placed are rough no longer, those that were not are as they were.
    pub marks: Marks,
    /// What became of each part that was rough.
    pub parts: Vec<TappedPart>,
    /// Whether every one was placed, so that the photo can be measured.
    pub all: bool,
}

/// What became of the taps on one part.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct TappedPart {
    /// On which part.
    pub part: LocalizedText,
    /// Whether they were placed.
    pub placed: bool,
    /// How sure it is that the edge is the one that was meant, 0 to 1; 0 if they were not placed.
    pub sure: f64,
    /// How well they were placed, or why they were not and what to do.
    pub text: LocalizedText,
}

impl From<Snap> for TappedPart {
    fn from(Snap { what, outcome }: Snap) -> Self {
        let part = LocalizedText::tagged("taps", "part", &what, &what.to_string());
        match outcome {
            Ok(placed) => {
                let text = LocalizedText::new("taps.placed", placed.to_string());
                let text = text.chance("sure", placed.sure).number("noise_px", placed.noise_px);
                Self { part, placed: true, sure: placed.sure, text: text.chance("share", placed.share) }
            }
            Err(why) => {
                let english = format!("{why}. {}", why.remedy());
                Self {
                    part,
                    placed: false,
                    sure: 0.0,
                    text: LocalizedText::tagged("taps", "unsure", &why, &english),
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

/// Where the two wheels of a photo may be: an offer, to be looked at before it is taken.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct WheelGuess {
    /// How much speaks for it, 0 to 1.
    pub sure: f64,
    /// The tyres' outer edges all round, 36 places each, the wheel further left first: for drawing.
    pub outlines: Vec<Vec<Spot>>,
    /// Marks with nothing but three rough taps on each tyre, the bike going to the left.
    pub marks_heading_left: Marks,
    /// The same for a bike going to the right.
    pub marks_heading_right: Marks,
}

/// Two photos of one bike, before and after a change.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct PhotoChangeView {
    /// After less before of every number that both tell; errors that both share cancel.
    pub values: Vec<MeasuredValue>,
    /// Whether the head angle's change is the one predicted, if one was handed in.
    pub head_angle: Option<LocalizedText>,
}

/// Reads marks from their file's text.
#[uniffi::export]
pub fn marks_from_json(json: String, file: String) -> Result<Marks, SteerwrightError> {
    Ok(Marks::from_json(json.as_bytes(), &file)?)
}

/// The text of a marks file (`steerwright.marks/1`).
#[uniffi::export]
pub fn marks_to_json(marks: Marks) -> String {
    marks.to_json()
}

/// What marks tell by themselves, without a book.
#[uniffi::export]
pub fn measure_marks(marks: Marks) -> Result<PhotoMeasurementView, SteerwrightError> {
    let seen = measure::measure(&marks);
    told(seen.map_err(steerwright_core::book::BookError::Marks)?)
}

/// What has changed between two photos of one bike, from their marks. `foreseen` is the change of the head angle that
/// was to be expected, degrees, such as a kit's; `same_camera` that both were taken with one camera at one zoom.
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
    /// First guesses of the wheels on a photo's working copy, the surest first, off the calling thread; none where there
    /// are no two wheels.
    pub async fn guess_wheels(self: Arc<Self>, photo: PhotoId) -> Result<Vec<WheelGuess>, SteerwrightError> {
        off_thread(None, None, move |_| {
            self.read(|reader| {
                let (image, guesses) = reader.guess_wheels(photo)?;
                // The photo's own file tells the focal length when the marks are measured.
                Ok(guesses.iter().map(|guess| guess_view(guess, image, Lens::default())).collect())
            })
        })
        .await
    }

    /// Places rough taps on the edges of a photo's working copy, off the calling thread; nothing is written. Marks that are
    /// still rough are refused by `measure_photo`.
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
                    parts: placed.snaps.into_iter().map(Into::into).collect(),
                    marks: placed.marks,
                })
            })
        })
        .await
    }

    /// What a photo would tell by these marks, with all that is known of its bike; nothing is written.
    pub fn preview_photo(
        &self,
        photo: PhotoId,
        marks: Marks,
    ) -> Result<PhotoMeasurementView, SteerwrightError> {
        self.read(|reader| told(reader.preview_photo(photo, &marks)?))
    }

    /// Sets these marks on a photo and writes the readings down that follow, in place of those of its earlier marks.
    /// Without marks the latest ones are measured again, with what is known of the bike by now.
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
