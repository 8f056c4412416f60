//! A guided session: the next reading, the progress, and when the angle is accurate enough.

use super::{Bearing, Level, LevelPriors, Pose, Reading, Sample, Session, Still, Unsteady};
use steerwright_metrology::quantity::Quantity;

/// One step: a heading of the bike and a position of the phone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Step {
    /// The heading of the bike.
    pub bearing: Bearing,
    /// The position of the phone.
    pub pose: Pose,
    /// Whether its top end is up.
    pub top_up: bool,
    /// Whether the screen faces the bike's left.
    pub screen_left: bool,
}

/// A sentence with a stable id, for translation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepText {
    /// Stable id.
    pub id: &'static str,
    /// In English.
    pub text: &'static str,
}

/// Why samples were refused.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum GuideRefusal {
    /// The phone was not at rest.
    #[error(transparent)]
    Unsteady(#[from] Unsteady),
    /// The phone was the other way up.
    #[error("the phone's top end was {}; turn it the other way up", if *.top_up { "up" } else { "down" })]
    OtherEnd {
        /// Whether its top end was up.
        top_up: bool,
    },
    /// The screen faced the other side.
    #[error("the screen did not face {}; lay the phone on with the screen to that side of the bike", if *.left { "left" } else { "right" })]
    OtherSide {
        /// Whether it should have faced the left.
        left: bool,
    },
    /// The phone's edge was not along the bike, or its back was not on the rim.
    #[error(
        "the phone's {part} is at {degrees:.0} degrees from the horizontal; that is not where this step puts it"
    )]
    Elsewhere {
        /// "long edge" or "back".
        part: &'static str,
        /// Its elevation, degrees.
        degrees: f64,
    },
    /// Every step is done.
    #[error("every step is done")]
    Finished,
}

/// The state of a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Progress {
    /// The next step; `None` after the last.
    pub next: Option<Step>,
    /// Whether the bike must be turned round before that step.
    pub turn_round: bool,
    /// Readings taken.
    pub done: usize,
    /// Steps left.
    pub left: usize,
    /// The angle so far.
    pub level: Option<Level>,
    /// Whether the angle is as accurate as requested, from both headings: the remaining steps may be skipped.
    pub enough: bool,
}

/// Guides the user through a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Guide {
    session: Session,
    known: LevelPriors,
    wanted: f64,
}

/// The positions of the phone along the bike: top end up, screen to the left. Together they cancel zero offsets and
/// misalignment of the sensor. The first two cancel most.
const ALONG: [(bool, bool); 4] = [(true, true), (false, true), (false, false), (true, false)];

impl Step {
    /// Every step in order: along and lean in one heading, then in the other.
    pub fn all() -> Vec<Self> {
        let steps = |bearing: Bearing| {
            let along =
                ALONG.map(|(top_up, screen_left)| Self { bearing, pose: Pose::Along, top_up, screen_left });
            let lean = Self { bearing, pose: Pose::LeanLeft, top_up: true, screen_left: true };
            along.into_iter().chain([lean])
        };
        Bearing::ALL.into_iter().flat_map(steps).collect()
    }

    /// The instruction for the measured angle.
    pub fn text(self, what: Quantity) -> StepText {
        let (id, text) = match (self.pose, what == Quantity::SeatAngle, self.top_up, self.screen_left) {
            (Pose::LeanLeft, ..) => (
                "level.lean_left",
                "Lay the phone's back flat on the left side of the rear wheel's rim, top end up.",
            ),
            (Pose::LeanRight, ..) => (
                "level.lean_right",
                "Lay the phone's back flat on the right side of the rear wheel's rim, top end up.",
            ),
            (Pose::Along, false, true, true) => (
                "level.fork.top_up.left",
                "Lay the phone's long edge along a straight fork leg, top end up, screen to the bike's left.",
            ),
            (Pose::Along, false, false, true) => (
                "level.fork.top_down.left",
                "Turn the phone end for end: top end down, screen still to the left, edge along the same leg.",
            ),
            (Pose::Along, false, false, false) => (
                "level.fork.top_down.right",
                "Turn the screen to the bike's right: top end down, edge along the same leg.",
            ),
            (Pose::Along, false, true, false) => (
                "level.fork.top_up.right",
                "Turn the phone end for end: top end up, screen still to the right, edge along the same leg.",
            ),
            (Pose::Along, true, true, true) => (
                "level.seat_tube.top_up.left",
                "Lay the phone's long edge along the seat tube, top end up, screen to the bike's left.",
            ),
            (Pose::Along, true, false, true) => (
                "level.seat_tube.top_down.left",
                "Turn the phone end for end: top end down, screen still to the left, edge along the seat tube.",
            ),
            (Pose::Along, true, false, false) => (
                "level.seat_tube.top_down.right",
                "Turn the screen to the bike's right: top end down, edge along the seat tube.",
            ),
            (Pose::Along, true, true, false) => (
                "level.seat_tube.top_up.right",
                "Turn the phone end for end: top end up, screen still to the right, edge along the seat tube.",
            ),
        };
        StepText { id, text }
    }

    /// The instruction before the first step of the other heading.
    pub fn turn_round_text() -> StepText {
        StepText {
            id: "level.turn_round",
            text: "Turn the bike round on the same spot, so that each wheel stands where the other stood.",
        }
    }

    /// Checks a mean against the position of this step. Steering axis and seat tube lean back, so the sign of x
    /// determines the side that the screen faces.
    fn looks_right(self, mean: Sample) -> Result<(), GuideRefusal> {
        if self.pose != Pose::Along {
            let degrees = mean.face_elevation();
            let flat = degrees.abs() <= Session::MOST_LEAN;
            return if flat { Ok(()) } else { Err(GuideRefusal::Elsewhere { part: "back", degrees }) };
        }
        let degrees = mean.elevation();
        if !(40.0..=88.0).contains(&degrees.abs()) {
            return Err(GuideRefusal::Elsewhere { part: "long edge", degrees });
        }
        let top_up = degrees > 0.0;
        if top_up != self.top_up {
            return Err(GuideRefusal::OtherEnd { top_up });
        }
        // Seen from the left the axis leans to the rear; x points away from its upper side with the top up.
        let sideways = mean.x.abs() > mean.z.abs();
        let left = (mean.x < 0.0) == top_up;
        if !sideways || left != self.screen_left {
            return Err(GuideRefusal::OtherSide { left: self.screen_left });
        }
        Ok(())
    }
}

impl Guide {
    /// The default target for the expanded uncertainty (coverage factor 2), degrees.
    pub const USUAL: f64 = 0.3;

    /// A session of one angle, done once its expanded uncertainty (k = 2) is at most `wanted` degrees.
    pub fn new(what: Quantity, known: LevelPriors, wanted: f64) -> Self {
        Self { session: Session { what, readings: Vec::new() }, known, wanted }
    }

    /// The readings so far.
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// The next step; `None` after the last.
    pub fn next(&self) -> Option<Step> {
        Step::all().into_iter().nth(self.session.readings.len())
    }

    /// Adds the samples of the next step.
    ///
    /// # Errors
    /// Samples that give no reading, or that do not match the step's position.
    pub fn take(&mut self, samples: &[Sample]) -> Result<Progress, GuideRefusal> {
        let step = self.next().ok_or(GuideRefusal::Finished)?;
        let still = Still::of(samples)?;
        step.looks_right(still.mean)?;
        self.session.readings.push(Reading { bearing: step.bearing, pose: step.pose, still });
        Ok(self.progress())
    }

    /// Removes the last reading.
    pub fn undo(&mut self) -> Progress {
        self.session.readings.pop();
        self.progress()
    }

    /// The state of the session.
    pub fn progress(&self) -> Progress {
        let done = self.session.readings.len();
        let next = self.next();
        let last = self.session.readings.last().map(|reading| reading.bearing);
        let level = self.session.level(&self.known).ok();
        let both_ways = level.as_ref().is_some_and(|level| {
            Bearing::ALL.iter().all(|bearing| level.readings.iter().any(|it| it.bearing == *bearing))
        });
        let sure = level.as_ref().is_some_and(|level| level.angle.expanded() <= self.wanted);
        Progress {
            turn_round: next.zip(last).is_some_and(|(step, last)| step.bearing != last),
            next,
            done,
            left: Step::all().len().saturating_sub(done),
            level,
            enough: both_ways && sure,
        }
    }
}
