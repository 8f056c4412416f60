//! A session step by step: which reading comes next, what was got, when it is enough.

use super::{Bearing, Known, Level, Pose, Reading, Sample, Session, Still, Unsteady};
use steerwright_metrology::quantity::Quantity;

/// One step: the bike standing one way, and the phone lying in one position.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Step {
    /// Which way the bike stands.
    pub bearing: Bearing,
    /// Where the phone lies.
    pub pose: Pose,
    /// Whether its top end is up.
    pub top_up: bool,
    /// Whether the screen faces the bike's left.
    pub screen_left: bool,
}

/// A sentence with a name that stays when its words change, for translation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepText {
    /// Its name.
    pub id: &'static str,
    /// In English.
    pub text: &'static str,
}

/// Why samples were not taken for the step.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum GuideRefusal {
    /// They are no reading.
    #[error(transparent)]
    Unsteady(#[from] Unsteady),
    /// The phone lay otherwise than asked for.
    #[error("the phone's top end was {}; turn it the other way up", if *.top_up { "up" } else { "down" })]
    OtherEnd {
        /// How it was.
        top_up: bool,
    },
    /// The screen faced elsewhere.
    #[error("the screen did not face {}; lay the phone on with the screen to that side of the bike", if *.left { "left" } else { "right" })]
    OtherSide {
        /// Where it should have faced.
        left: bool,
    },
    /// The edge did not lie along the bike, or the back not on the rim.
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

/// What a session has so far.
#[derive(Debug, Clone, PartialEq)]
pub struct Progress {
    /// The next step; `None` after the last.
    pub next: Option<Step>,
    /// Whether the bike must be turned round before that step.
    pub turn_round: bool,
    /// Readings taken and steps that are left.
    pub done: usize,
    /// Steps that are left.
    pub left: usize,
    /// The angle so far.
    pub level: Option<Level>,
    /// Whether the angle is as sure as was asked for, and both ways were read: the rest may be left out.
    pub enough: bool,
}

/// Leads through a session.
#[derive(Debug, Clone, PartialEq)]
pub struct Guide {
    session: Session,
    known: Known,
    wanted: f64,
}

/// The phone's positions along the bike, top end up and screen to the left: together they cancel every zero and the
/// way the sensor sits. The first two of them cancel most.
const ALONG: [(bool, bool); 4] = [(true, true), (false, true), (false, false), (true, false)];

impl Step {
    /// Every step in order: one way along and lean, then the bike turned round.
    pub fn all() -> Vec<Self> {
        let steps = |bearing: Bearing| {
            let along =
                ALONG.map(|(top_up, screen_left)| Self { bearing, pose: Pose::Along, top_up, screen_left });
            let lean = Self { bearing, pose: Pose::LeanLeft, top_up: true, screen_left: true };
            along.into_iter().chain([lean])
        };
        Bearing::ALL.into_iter().flat_map(steps).collect()
    }

    /// What to do, for the angle that is measured.
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

    /// What to do before the first step of the other way.
    pub fn turn_round_text() -> StepText {
        StepText {
            id: "level.turn_round",
            text: "Turn the bike round on the same spot, so that each wheel stands where the other stood.",
        }
    }

    /// Whether a mean looks as this step asks for. The steering axis and the seat tube lean back, so the edge of the
    /// phone's x side tells where the screen faces.
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
    /// What is usually wanted: an angle within this many degrees (coverage factor 2).
    pub const USUAL: f64 = 0.3;

    /// A session of one angle, done once its expanded uncertainty (k = 2) is at most `wanted` degrees.
    pub fn new(what: Quantity, known: Known, wanted: f64) -> Self {
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

    /// Takes the samples of the next step, or says why not; then nothing has changed.
    ///
    /// # Errors
    /// Samples that are no reading, or of another position than the step's.
    pub fn take(&mut self, samples: &[Sample]) -> Result<Progress, GuideRefusal> {
        let step = self.next().ok_or(GuideRefusal::Finished)?;
        let still = Still::of(samples)?;
        step.looks_right(still.mean)?;
        self.session.readings.push(Reading { bearing: step.bearing, pose: step.pose, still });
        Ok(self.progress())
    }

    /// Takes the last reading back.
    pub fn undo(&mut self) -> Progress {
        self.session.readings.pop();
        self.progress()
    }

    /// What there is so far.
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
