//! Angle measurement with the phone as a level, step by step.

use crate::{Amount, LocalizedText, Quantity, Reading, SteerwrightError};
use std::sync::{Arc, Mutex, PoisonError};
use steerwright_core::level::{self, Guide, GuideRefusal, LevelPriors, Sample, Step};

pub use steerwright_core::level::{Bearing as LevelBearing, Pose as LevelPose};

/// The angle to measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, uniffi::Enum)]
pub enum LevelAngle {
    /// The head angle, along a straight fork leg.
    Head,
    /// The seat angle, along the seat tube.
    Seat,
}

/// One accelerometer sample in device axes, m/s²: x to the right, y up the screen, z out of the screen. At
/// rest the vector points up and its length is g. The host app has to convert samples of systems that report
/// the gravity vector or units of g.
#[derive(Debug, Clone, Copy, PartialEq, uniffi::Record)]
pub struct LevelSample {
    /// Axis to the right.
    pub x: f64,
    /// Axis up the screen.
    pub y: f64,
    /// Axis out of the screen.
    pub z: f64,
}

/// Direction in which the bike stands.
#[uniffi::remote(Enum)]
pub enum LevelBearing {
    OneWay,
    OtherWay,
}

/// Position of the phone.
#[uniffi::remote(Enum)]
pub enum LevelPose {
    Along,
    LeanLeft,
    LeanRight,
}

/// One step of a session.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct LevelStep {
    /// Direction in which the bike has to stand.
    pub bearing: LevelBearing,
    /// Position of the phone.
    pub pose: LevelPose,
    /// Whether the phone's top end points up.
    pub top_up: bool,
    /// Whether the screen faces the bike's left.
    pub screen_left: bool,
    /// Instruction for the user.
    pub text: LocalizedText,
}

/// Progress of a session.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct LevelProgress {
    /// The next step; absent after the last.
    pub next: Option<LevelStep>,
    /// Instruction to follow before the next step: turn the bike around.
    pub before_that: Option<LocalizedText>,
    /// Number of readings taken.
    pub done: u32,
    /// Number of remaining steps.
    pub left: u32,
    /// Current estimate of the angle.
    pub angle: Option<Amount>,
    /// Current estimate of the floor slope, positive if it makes the bike in its first position appear steeper.
    pub floor: Option<Amount>,
    /// Doubts about the current estimate.
    pub doubts: Vec<LocalizedText>,
    /// Whether the requested uncertainty is reached: the remaining steps are optional.
    pub enough: bool,
}

/// A measurement session for one angle. It gives the next instruction, takes samples and computes the angle.
/// It is not stored: the result enters the book through `add_measurement`.
#[derive(uniffi::Object)]
pub struct LevelSession {
    what: Quantity,
    guide: Mutex<Guide>,
}

impl LevelSession {
    fn guide(&self) -> std::sync::MutexGuard<'_, Guide> {
        self.guide.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn told(&self, it: level::Progress) -> LevelProgress {
        let doubts = it.level.iter().flat_map(|level| &level.doubts);
        LevelProgress {
            next: it.next.map(|step| self.step(step)),
            before_that: it.turn_round.then(|| {
                let text = Step::turn_round_text();
                LocalizedText::new(text.id, text.text)
            }),
            done: count(it.done),
            left: count(it.left),
            angle: it.level.as_ref().map(|level| Amount::deg(level.angle)),
            floor: it.level.as_ref().map(|level| Amount::deg(level.slope)),
            doubts: doubts
                .map(|it| LocalizedText::tagged("level.doubt", "doubt", it, &it.to_string()))
                .collect(),
            enough: it.enough,
        }
    }

    fn step(&self, step: Step) -> LevelStep {
        let text = step.text(self.what);
        LevelStep {
            bearing: step.bearing,
            pose: step.pose,
            top_up: step.top_up,
            screen_left: step.screen_left,
            text: LocalizedText::new(text.id, text.text),
        }
    }
}

fn count(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

fn refused(refusal: GuideRefusal) -> SteerwrightError {
    use level::Unsteady;
    let reason = refusal.to_string();
    let text = |id: &str| LocalizedText::new(format!("level.refused.{id}"), reason.clone());
    let text = match refusal {
        GuideRefusal::Unsteady(Unsteady::TooFew { count }) => text("too_few").number("count", count as f64),
        GuideRefusal::Unsteady(Unsteady::Frozen) => text("frozen"),
        GuideRefusal::Unsteady(Unsteady::Shaken { scatter, .. }) => text("shaken").number("scatter", scatter),
        GuideRefusal::Unsteady(_) => text("unsteady"),
        GuideRefusal::OtherEnd { top_up } => {
            text("other_end").word("top", if top_up { "up" } else { "down" })
        }
        GuideRefusal::OtherSide { left } => {
            text("other_side").word("side", if left { "left" } else { "right" })
        }
        GuideRefusal::Elsewhere { part, degrees } => {
            text("elsewhere").word("part", part).number("degrees", degrees)
        }
        GuideRefusal::Finished => text("finished"),
    };
    SteerwrightError::LevelRefused { text, reason }
}

#[uniffi::export]
impl LevelSession {
    /// A new session. It is complete once the expanded uncertainty (k = 2) of the angle is at most
    /// `wanted_deg`, which has to be positive.
    #[uniffi::constructor(default(wanted_deg = 0.3))]
    pub fn new(angle: LevelAngle, wanted_deg: f64) -> Result<Arc<Self>, SteerwrightError> {
        if !(wanted_deg > 0.0 && wanted_deg.is_finite()) {
            let reason = format!("an angle within {wanted_deg} degrees; expected a number above 0");
            return Err(SteerwrightError::refused("level.wanted", reason));
        }
        let what = match angle {
            LevelAngle::Head => Quantity::HeadAngle,
            LevelAngle::Seat => Quantity::SeatAngle,
        };
        let guide = Mutex::new(Guide::new(what, LevelPriors::default(), wanted_deg));
        Ok(Arc::new(Self { what, guide }))
    }

    /// The current progress.
    pub fn progress(&self) -> LevelProgress {
        let progress = self.guide().progress();
        self.told(progress)
    }

    /// Takes the samples of the next step: a few seconds with the phone held still. Rejected samples change nothing.
    pub fn take(&self, samples: Vec<LevelSample>) -> Result<LevelProgress, SteerwrightError> {
        let samples: Vec<Sample> = samples.into_iter().map(|it| Sample::new(it.x, it.y, it.z)).collect();
        let progress = self.guide().take(&samples).map_err(refused)?;
        Ok(self.told(progress))
    }

    /// Discards the last reading.
    pub fn undo(&self) -> LevelProgress {
        let progress = self.guide().undo();
        self.told(progress)
    }

    /// The angle as a reading for `add_measurement`.
    pub fn reading(&self) -> Result<Reading, SteerwrightError> {
        let found = self.guide().session().level(&LevelPriors::default());
        let reading = found.map(|level| level.measurement().into());
        reading.map_err(|error| SteerwrightError::refused("level.no_angle", error.to_string()))
    }
}
