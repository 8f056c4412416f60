//! Work a bike needs before a kit goes in.

use super::requirement::{Rework, Question};
use super::{Answer, Direction, Facts, PreparedKit, Requirement, State};
use serde::{Deserialize, Serialize};
use steerwright_mechanics::clearance::Side;
use steerwright_mechanics::headset::End;
use steerwright_mechanics::press::Diameter;

/// Where work is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// The narrowest opening below the upper seat.
    UpperThroat,
    /// The narrowest opening above the lower seat.
    LowerThroat,
    /// The upper plain bore.
    UpperBore,
    /// The lower plain bore.
    LowerBore,
    /// The bearings.
    Bearings,
}

/// What is done there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Task {
    /// Open a throat.
    Open,
    /// Ream a bore deeper.
    Deepen,
    /// Ream a bore wider.
    Widen,
    /// Put new ones in.
    Replace,
}

impl Task {
    /// Whether it takes material off the frame.
    pub fn cuts(self) -> bool {
        match self {
            Self::Open | Self::Deepen | Self::Widen => true,
            Self::Replace => false,
        }
    }
}

/// One piece of work, sized.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Work {
    /// Where.
    #[serde(rename = "where")]
    pub place: Place,
    /// What.
    #[serde(rename = "what")]
    pub task: Task,
    /// The dimension as measured, mm. Not below `to_mm` where it is only too close to that to tell.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_mm: Option<f64>,
    /// The dimension it has to reach, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_mm: Option<f64>,
    /// The side that is enough to relieve.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// How much comes off that side if only it is relieved, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remove_mm: Option<f64>,
    /// The same in a sentence.
    pub text: String,
}

impl Work {
    /// How much material it takes, mm; nothing for a part replaced.
    pub fn amount_mm(&self) -> f64 {
        match (self.from_mm, self.to_mm) {
            (Some(from), Some(to)) => (to - from).max(0.0),
            _ => 0.0,
        }
    }
}

/// The work that a judgement's answers ask for, upper end first.
pub fn work_for(answers: &[Answer], kit: &PreparedKit, facts: &Facts) -> Vec<Work> {
    jobs_for(answers, kit, facts).map(|job| job.described(facts.direction)).collect()
}

/// The same in numbers.
pub(super) fn jobs_for(answers: &[Answer], kit: &PreparedKit, facts: &Facts) -> impl Iterator<Item = Job> {
    let after_work = answers.iter().filter(|answer| answer.state == State::MetAfterWork);
    after_work.filter_map(|answer| Job::rework(answer.requirement, answer.question, answer.rework, kit, facts))
}

/// One piece of work in numbers.
#[derive(Debug, Clone, Copy)]
pub(super) struct Job {
    end: End,
    place: Place,
    task: Task,
    /// The dimension as it is and the one it has to reach, mm; none for a part replaced.
    from_to: Option<[f64; 2]>,
    /// Diameter of the cup that goes in, for a bore that is widened, mm.
    cup: f64,
}

impl Job {
    /// What mends an unmet requirement, if anything does.
    pub(super) fn rework(
        requirement: Requirement,
        question: Question,
        rework: Rework,
        kit: &PreparedKit,
        facts: &Facts,
    ) -> Option<Self> {
        let (end, place, task) = match requirement {
            Requirement::UpperThroat => (End::Upper, Place::UpperThroat, Task::Open),
            Requirement::LowerThroat => (End::Lower, Place::LowerThroat, Task::Open),
            Requirement::UpperBoreDepth => (End::Upper, Place::UpperBore, Task::Deepen),
            Requirement::LowerBoreDepth => (End::Lower, Place::LowerBore, Task::Deepen),
            Requirement::UpperPressFit => (End::Upper, Place::UpperBore, Task::Widen),
            Requirement::LowerPressFit => (End::Lower, Place::LowerBore, Task::Widen),
            Requirement::BearingCondition => (End::Lower, Place::Bearings, Task::Replace),
            _ => return None,
        };
        let (from_to, cup) = match (rework, task, question) {
            (Rework::Replace, Task::Replace, _) => (None, f64::NAN),
            (Rework::Cut, Task::Open | Task::Deepen, Question::Limit { of, within }) => {
                (Some([of.value, within.lower]), f64::NAN)
            }
            (Rework::Cut, Task::Widen, _) => {
                let from = facts.bore(end)?.estimate().value;
                let cup = kit.end(end).cup().map(Diameter::estimate)?.value;
                (Some([from, cup - facts.reamed_interference(end)]), cup)
            }
            _ => return None,
        };
        Some(Self { end, place, task, from_to, cup })
    }

    /// How much material it takes, mm; nothing for a part replaced.
    pub(super) fn amount_mm(&self) -> f64 {
        self.from_to.map_or(0.0, |[from, to]| (to - from).max(0.0))
    }

    fn described(self, direction: Direction) -> Work {
        let Self { end, place, task, from_to, cup } = self;
        let name = end.name();
        let too_close = |what: &str, how: &str, [from, to]: [f64; 2]| {
            format!(
                "Measure the {name} {what} again: {from:.1} mm is too close to the {to:.1} mm needed. If it is less, {how} \
                 it to {to:.1} mm."
            )
        };
        let [from, to] = from_to.unwrap_or([f64::NAN; 2]);
        let mut relief = None;
        let text = match task {
            Task::Open => {
                let (side, remove) = (relieved_side(end, direction), (to - from).max(0.0) / 2.0);
                relief = Some((side, remove));
                if from >= to {
                    too_close("throat's diameter", "open", [from, to])
                } else {
                    format!(
                        "Open the {name} throat from {from:.1} to {to:.1} mm; relieving only its {} side by {remove:.1} mm is enough.",
                        side.name(),
                    )
                }
            }
            Task::Deepen if from >= to => too_close("bore's depth", "ream", [from, to]),
            Task::Deepen => format!("Ream the {name} bore deeper, from {from:.1} to {to:.1} mm."),
            Task::Widen => format!(
                "Ream the {name} bore from {from:.2} to {to:.2} mm, so that the cup of {cup:.2} mm goes in with {:.2} mm of \
                 interference.",
                cup - to,
            ),
            Task::Replace => {
                "Put new bearings in: the bike's own are rough, this kit takes them over, and the catalogue \
                 sells none that fit. Match outside diameter, inside diameter, height and contact angles."
                    .to_owned()
            }
        };
        Work {
            place,
            task,
            from_mm: from_to.map(|_| from),
            to_mm: from_to.map(|_| to),
            side: relief.map(|(side, _)| side),
            remove_mm: relief.map(|(_, remove)| remove),
            text,
        }
    }
}

/// The side the steerer leans to: slackening, the rear at the top and the front at the bottom.
pub(super) fn relieved_side(end: End, direction: Direction) -> Side {
    match (end, direction) {
        (End::Upper, Direction::Slacker) | (End::Lower, Direction::Steeper) => Side::Rear,
        (End::Upper, Direction::Steeper) | (End::Lower, Direction::Slacker) => Side::Front,
    }
}
