//! Work a bike needs before a kit goes in.

use super::requirement::{Question, Rework};
use super::{Answer, Cutting, Direction, Facts, PreparedKit, Requirement, State};
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
    /// Stop before pressing and measure: `from_mm` and `to_mm` are the limits within which the work goes on.
    CheckBore,
}

impl Task {
    /// Whether it takes material off the frame.
    pub fn cuts(self) -> bool {
        match self {
            Self::Open | Self::Deepen | Self::Widen => true,
            Self::Replace | Self::CheckBore => false,
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
    /// The dimension as measured, mm. Not below `to_mm` where it is only too close to that to tell. For a check, the lower
    /// limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_mm: Option<f64>,
    /// The dimension it has to reach, mm; for a check, the upper limit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to_mm: Option<f64>,
    /// The side that is enough to relieve.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
    /// How much comes off that side if only it is relieved, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remove_mm: Option<f64>,
    /// Only the kit maker's figure asks for it: by the readings the tilted steerer has clearance. A dry fit and the kit's
    /// maker come before the tool.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub only_by_maker_figure: bool,
    /// The same in a sentence.
    pub text: String,
}

impl Work {
    /// How much material it takes, mm; nothing for a part replaced and for a check.
    pub fn amount_mm(&self) -> f64 {
        match (self.from_mm, self.to_mm) {
            (Some(from), Some(to)) if self.task.cuts() => (to - from).max(0.0),
            _ => 0.0,
        }
    }
}

/// The work that a judgement's answers ask for, upper end first.
pub fn work_for(answers: &[Answer], kit: &PreparedKit, facts: &Facts) -> Vec<Work> {
    answers
        .iter()
        .filter_map(|answer| match answer.state {
            State::MetAfterWork => Some(Job::for_answer(answer, kit, facts)?.described(facts, kit)),
            State::Met => check_bore(answer, kit, facts),
            State::NotKnown | State::NotMet => None,
        })
        .fold(Vec::new(), |mut all, work| {
            // A press fit has two answers and one check.
            if work.task != Task::CheckBore
                || !all.iter().any(|it: &Work| it.place == work.place && it.task == work.task)
            {
                all.push(work);
            }
            all
        })
}

/// The stop before a cup is pressed in a bore that was not measured.
fn check_bore(answer: &Answer, kit: &PreparedKit, facts: &Facts) -> Option<Work> {
    let (end, place) = match answer.requirement {
        Requirement::UpperPressFit => (End::Upper, Place::UpperBore),
        Requirement::LowerPressFit => (End::Lower, Place::LowerBore),
        _ => return None,
    };
    let limits = kit.end(end).bore.filter(|_| facts.bore(end).is_none())?;
    let [low, high] = limits.range();
    let name = end.name();
    let out = match facts.cutting {
        Cutting::Possible => format!("Once the old {name} cup is out"),
        Cutting::Forbidden | Cutting::NotKnown => {
            format!("Once the old {name} cup is out in the way the frame's maker allows")
        }
    };
    Some(Work {
        place,
        task: Task::CheckBore,
        from_mm: Some(low),
        to_mm: Some(high),
        side: None,
        remove_mm: None,
        only_by_maker_figure: false,
        text: format!(
            "{out}, measure the bore in two directions. From {low:.2} to {high:.2} mm: go on. Else stop: press nothing in, \
             enter the figure and check again."
        ),
    })
}

/// One piece of work in numbers.
#[derive(Debug, Clone, Copy)]
struct Job {
    end: End,
    place: Place,
    task: Task,
    /// The dimension as it is and the one it has to reach, mm; none for a part replaced.
    from_to: Option<[f64; 2]>,
    /// Diameter of the cup that goes in, for a bore that is widened, mm.
    cup: f64,
}

impl Job {
    /// The work that meets an unmet requirement, if any does.
    fn for_answer(answer: &Answer, kit: &PreparedKit, facts: &Facts) -> Option<Self> {
        let (end, place, task) = match answer.requirement {
            Requirement::UpperThroat => (End::Upper, Place::UpperThroat, Task::Open),
            Requirement::LowerThroat => (End::Lower, Place::LowerThroat, Task::Open),
            Requirement::UpperBoreDepth => (End::Upper, Place::UpperBore, Task::Deepen),
            Requirement::LowerBoreDepth => (End::Lower, Place::LowerBore, Task::Deepen),
            Requirement::UpperPressFit => (End::Upper, Place::UpperBore, Task::Widen),
            Requirement::LowerPressFit => (End::Lower, Place::LowerBore, Task::Widen),
            Requirement::BearingCondition => (End::Lower, Place::Bearings, Task::Replace),
            _ => return None,
        };
        let (from_to, cup) = match (answer.rework, task, answer.question) {
            (Rework::Replace, Task::Replace, _) => (None, f64::NAN),
            (Rework::Cut, Task::Open | Task::Deepen, Question::Limit { of, within }) => {
                (Some([of.value, within.lower]), f64::NAN)
            }
            (Rework::Cut, Task::Widen, _) => {
                let from = facts.bore(end)?.estimate().value;
                let cup = kit.end(end).cup.map(Diameter::estimate)?.value;
                (Some([from, cup - facts.reamed_interference(end)]), cup)
            }
            _ => return None,
        };
        Some(Self { end, place, task, from_to, cup })
    }

    fn described(self, facts: &Facts, kit: &PreparedKit) -> Work {
        let Self { end, place, task, from_to, cup } = self;
        let direction = facts.direction;
        let name = end.name();
        let too_close = |what: &str, how: &str, [from, to]: [f64; 2]| {
            format!(
                "Measure the {name} {what} again: {from:.1} mm is too close to the {to:.1} mm needed. If it is less, {how} \
                 it to {to:.1} mm."
            )
        };
        let [from, to] = from_to.unwrap_or([f64::NAN; 2]);
        let mut relief = None;
        let only_by_maker_figure =
            task == Task::Open && from >= facts.throat_by_model(end, kit).unwrap_or(f64::INFINITY);
        let half = kit.end(end);
        let bore = half.bore.map(Diameter::range);
        let reamer = bore.map_or_else(String::new, |[low, high]| {
            format!(" The cutter is the reamer for {} ({low:.2} to {high:.2} mm).", half.code)
        });
        let text = match task {
            Task::Open => {
                let (side, remove) = (relieved_side(end, direction), (to - from).max(0.0) / 2.0);
                relief = Some((side, remove));
                if from >= to {
                    too_close("throat's diameter", "open", [from, to])
                } else if only_by_maker_figure {
                    format!(
                        "The kit's maker asks for {to:.1} mm at the {name} throat and it has {from:.1} mm, though by the readings \
                         the steerer clears it. Dry fit first, turn the fork from stop to stop, and ask the kit's maker before \
                         anything is cut. If it has to be: open it to {to:.1} mm, or relieve its {} side by {remove:.1} mm.",
                        side.name(),
                    )
                } else {
                    format!(
                        "Open the {name} throat from {from:.1} to {to:.1} mm; relieving only its {} side by {remove:.1} mm is enough.",
                        side.name(),
                    )
                }
            }
            Task::Deepen if from >= to => too_close("bore's depth", "ream", [from, to]),
            Task::Deepen => format!(
                "Ream the {name} bore deeper, from {from:.1} to {to:.1} mm below the face.{reamer} Then face the tube's end \
                 square."
            ),
            Task::Widen => {
                let depth = half
                    .bore_depth_min
                    .map_or_else(String::new, |mm| format!(", to {mm:.1} mm below the face"));
                format!(
                    "Ream the {name} bore from {from:.2} to {to:.2} mm{depth}, so that the cup of {cup:.2} mm goes in with \
                     {:.2} mm of interference.{reamer} Then face the tube's end square.",
                    cup - to,
                )
            }
            Task::CheckBore => String::new(),
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
            only_by_maker_figure,
            text,
        }
    }
}

/// The side the steerer leans to. For slackening: rear at the top, front at the bottom.
pub(super) fn relieved_side(end: End, direction: Direction) -> Side {
    match (end, direction) {
        (End::Upper, Direction::Slacker) | (End::Lower, Direction::Steeper) => Side::Rear,
        (End::Upper, Direction::Steeper) | (End::Lower, Direction::Slacker) => Side::Front,
    }
}
