//! Why a photo, or taps on it, are refused or doubted, in the user's words.

use crate::Context;
use steerwright_fieldbook::BookError;
use steerwright_photo::PhotoError;
use steerwright_photogrammetry::edges::{ParallelLine, SnapFailure};
use steerwright_photogrammetry::measure::{Doubt, Refusal, WheelEnd};
use steerwright_words::Words;

fn wheel(end: WheelEnd) -> &'static str {
    match end {
        WheelEnd::Front => "front",
        WheelEnd::Rear => "rear",
    }
}

/// Why a file is not taken in, and what to do.
pub(crate) fn photo_error(words: &Words, error: &PhotoError) -> String {
    let megabytes = |bytes: usize| (bytes >> 20).to_string();
    match error {
        PhotoError::NotAPhoto => words.text("photo-not-a-photo"),
        PhotoError::Heic => words.text("photo-heic"),
        PhotoError::Unsupported { format, what } => words
            .with("photo-unsupported", &[("format", (&format.to_string()).into()), ("what", (*what).into())]),
        PhotoError::CutShort { format } => {
            words.with("photo-cut-short", &[("format", (&format.to_string()).into())])
        }
        PhotoError::Damaged { format } => {
            words.with("photo-damaged", &[("format", (&format.to_string()).into())])
        }
        PhotoError::TooManyBytes { bytes, limit } => words.with(
            "photo-too-many-bytes",
            &[("bytes", (&megabytes(*bytes)).into()), ("limit", (&megabytes(*limit)).into())],
        ),
        PhotoError::TooLarge { width, height } => words.with(
            "photo-too-large",
            &[("width", (&width.to_string()).into()), ("height", (&height.to_string()).into())],
        ),
        PhotoError::TooMuchMemory { .. } | PhotoError::TooMuchWork { .. } => {
            words.text("photo-too-much-work")
        }
        PhotoError::NotWritten => words.text("photo-not-written"),
    }
}

impl Context<'_> {
    /// Why taps are on no edge, and what to do.
    pub(super) fn snap_failure(&self, why: SnapFailure) -> String {
        let words = self.words;
        let whole = |value: f64| self.fixed(value, 0);
        match why {
            SnapFailure::TooFewTaps { taps, needed } => words.with(
                "snap-too-few-taps",
                &[("taps", (&taps.to_string()).into()), ("needed", (&needed.to_string()).into())],
            ),
            SnapFailure::NoShape => words.text("snap-no-shape"),
            SnapFailure::Outside => words.text("snap-outside"),
            SnapFailure::TooSmall { across_px } => {
                words.with("snap-too-small", &[("across", (&whole(across_px)).into())])
            }
            SnapFailure::NoEdge => words.text("snap-no-edge"),
            SnapFailure::TooLittle { percent } => {
                words.with("snap-too-little", &[("percent", (&whole(percent)).into())])
            }
            SnapFailure::TwoAlike { apart_px } => {
                words.with("snap-two-alike", &[("apart", (&whole(apart_px)).into())])
            }
            SnapFailure::Doubtful { percent } => {
                words.with("snap-doubtful", &[("percent", (&whole(percent)).into())])
            }
            SnapFailure::TooBlurred { width_px } => {
                words.with("snap-too-blurred", &[("width", (&whole(width_px)).into())])
            }
        }
    }

    /// A line to tap instead, by its number in the picture.
    pub(super) fn instead(&self, number: usize, line: ParallelLine) -> String {
        let id = match line {
            ParallelLine::FrontEdge => "mark-instead-front-edge",
            ParallelLine::LowerLeg => "mark-instead-lower-leg",
            ParallelLine::HeadTube => "mark-instead-head-tube",
        };
        self.words.with(id, &[("number", (&number.to_string()).into())])
    }

    /// Why marks give no reading, and what to do.
    pub(super) fn refusal(&self, refusal: &Refusal) -> String {
        let words = self.words;
        let degrees = |id: &str, value: f64| words.with(id, &[("degrees", (&self.fixed(value, 0)).into())]);
        match refusal {
            Refusal::Marks { .. } | Refusal::Rough => words.text("refused-marks"),
            Refusal::NoEllipse { wheel: end } => {
                words.with("refused-no-ellipse", &[("wheel", wheel(*end).into())])
            }
            Refusal::HalfWheel { wheel: end, gap_deg } => words.with(
                "refused-half-wheel",
                &[("wheel", wheel(*end).into()), ("degrees", (&self.fixed(*gap_deg, 0)).into())],
            ),
            Refusal::CutOff { wheel: end } => words.with("refused-cut-off", &[("wheel", wheel(*end).into())]),
            Refusal::OneWheel => words.text("refused-one-wheel"),
            Refusal::Swapped => words.text("refused-swapped"),
            Refusal::Turned { degrees: by } => degrees("refused-turned", *by),
            Refusal::Disagree { .. } => words.text("refused-disagree"),
            Refusal::MarkOff { which, off_px } => words.with(
                "refused-mark-off",
                &[("which", which.into()), ("pixels", (&self.fixed(*off_px, 0)).into())],
            ),
            Refusal::TooClose { distance_mm } => {
                words.with("refused-too-close", &[("metres", (&self.fixed(distance_mm / 1000.0, 1)).into())])
            }
            Refusal::TooOblique { degrees: by } => degrees("refused-too-oblique", *by),
            Refusal::Unexplained => words.text("refused-unexplained"),
        }
    }

    /// What makes a reading less sure.
    pub(super) fn doubt(&self, doubt: &Doubt) -> String {
        let words = self.words;
        match doubt {
            Doubt::Mirrored => words.text("doubt-mirrored"),
            Doubt::DiameterAssumed { wheel: end } => {
                words.with("doubt-diameter-assumed", &[("wheel", wheel(*end).into())])
            }
            Doubt::OffsetAssumed => words.text("doubt-offset-assumed"),
            Doubt::FocalFound => words.text("doubt-focal-found"),
            Doubt::Oblique { degrees } => {
                words.with("doubt-oblique", &[("degrees", (&self.fixed(*degrees, 0)).into())])
            }
            Doubt::Scatter { factor } => {
                words.with("doubt-scatter", &[("factor", (&self.fixed(*factor, 1)).into())])
            }
            Doubt::MarkOff { which, .. } => words.with("doubt-mark-off", &[("which", which.into())]),
            Doubt::NotTold { label } => words.with("doubt-not-told", &[("what", label.into())]),
        }
    }

    /// Why the book gives no reading of a photo, and what to do.
    pub(crate) fn book_refusal(&self, error: &BookError) -> String {
        match error {
            BookError::Marks(refusal) => self.refusal(refusal),
            BookError::Photo(error) => photo_error(self.words, error),
            other => other.to_string(),
        }
    }

    /// The label of a quantity.
    pub(super) fn label(&self, what: steerwright_metrology::quantity::Quantity) -> String {
        crate::figures::capital(&self.voice().quantity(what))
    }
}
