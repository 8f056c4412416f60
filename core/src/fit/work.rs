//! Work a bike needs before a kit goes in.

use super::requirement::{Mend, Question};
use super::{Answer, Direction, Facts, PreparedKit, Requirement, State};
use crate::clearance::Side;
use crate::headset::End;
use crate::practice::Rule;
use crate::press::Diameter;
use serde::{Deserialize, Serialize};

/// Where work is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Work {
    /// Where.
    #[serde(rename = "where")]
    pub place: Place,
    /// What.
    #[serde(rename = "what")]
    pub task: Task,
    /// The dimension as it is, mm.
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
    pub says: String,
}

impl Work {
    /// How much material it takes, mm; nothing for a part replaced.
    pub fn amount_mm(&self) -> f64 {
        match (self.from_mm, self.to_mm) {
            (Some(from), Some(to)) => (to - from).abs(),
            _ => 0.0,
        }
    }
}

/// The work that a judgement's answers ask for, upper end first.
pub fn work_for(answers: &[Answer], kit: &PreparedKit, facts: &Facts) -> Vec<Work> {
    answers
        .iter()
        .filter(|answer| answer.state == State::MetAfterWork)
        .filter_map(|answer| job(answer, kit, facts))
        .collect()
}

fn job(answer: &Answer, kit: &PreparedKit, facts: &Facts) -> Option<Work> {
    let place = match answer.requirement {
        Requirement::UpperThroat => Place::UpperThroat,
        Requirement::LowerThroat => Place::LowerThroat,
        Requirement::UpperBoreDepth | Requirement::UpperPressFit => Place::UpperBore,
        Requirement::LowerBoreDepth | Requirement::LowerPressFit => Place::LowerBore,
        Requirement::BearingCondition => Place::Bearings,
        _ => return None,
    };
    let end = match place {
        Place::UpperThroat | Place::UpperBore => End::Upper,
        Place::LowerThroat | Place::LowerBore | Place::Bearings => End::Lower,
    };
    match (answer.mend, answer.requirement, answer.question) {
        (Mend::Replace, _, _) => Some(Work {
            place,
            task: Task::Replace,
            from_mm: None,
            to_mm: None,
            side: None,
            remove_mm: None,
            says:
                "Put new bearings in: the bike's own are rough, this kit takes them over, and the catalogue \
                   sells none that fit. Match outside diameter, inside diameter, height and contact angles."
                    .to_owned(),
        }),
        (Mend::Cut, Requirement::UpperThroat | Requirement::LowerThroat, Question::Limit { of, within }) => {
            let (from, to) = (of.value, within.lower);
            let side = relieved_side(end, facts.direction);
            let remove = (to - from).max(0.0) / 2.0;
            let says = format!(
                "Open the {} throat from {from:.1} to {to:.1} mm; relieving only its {} side by {remove:.1} mm is enough.",
                end.name(),
                side.name(),
            );
            Some(Work {
                place,
                task: Task::Open,
                from_mm: Some(from),
                to_mm: Some(to),
                side: Some(side),
                remove_mm: Some(remove),
                says,
            })
        }
        (
            Mend::Cut,
            Requirement::UpperBoreDepth | Requirement::LowerBoreDepth,
            Question::Limit { of, within },
        ) => {
            let (from, to) = (of.value, within.lower);
            Some(Work {
                place,
                task: Task::Deepen,
                from_mm: Some(from),
                to_mm: Some(to),
                side: None,
                remove_mm: None,
                says: format!("Ream the {} bore deeper, from {from:.1} to {to:.1} mm.", end.name()),
            })
        }
        (Mend::Cut, _, _) => {
            let from = facts.bore(end)?.estimate().value;
            let cup = kit.end(end).cup.map(Diameter::estimate)?.value;
            let to = cup - Rule::ReamedInterference.value();
            Some(Work {
                place,
                task: Task::Widen,
                from_mm: Some(from),
                to_mm: Some(to),
                side: None,
                remove_mm: None,
                says: format!(
                    "Ream the {} bore from {from:.2} to {to:.2} mm, so that the cup of {cup:.2} mm goes in with {:.2} mm of \
                     interference.",
                    end.name(),
                    cup - to,
                ),
            })
        }
        _ => None,
    }
}

/// The side the steerer leans to: slackening, the rear at the top and the front at the bottom.
pub(super) fn relieved_side(end: End, direction: Direction) -> Side {
    match (end, direction) {
        (End::Upper, Direction::Slacker) | (End::Lower, Direction::Steeper) => Side::Rear,
        (End::Upper, Direction::Steeper) | (End::Lower, Direction::Slacker) => Side::Front,
    }
}
