//! Work a bike needs before a kit goes in.

use super::requirement::{Question, Rework};
use super::{Answer, Cutting, Direction, Facts, PreparedKit, Requirement, State};
use serde::{Deserialize, Serialize};
use steerwright_mechanics::clearance::Side;
use steerwright_mechanics::headset::End;
use steerwright_mechanics::press::Diameter;
use steerwright_metrology::voice::Voice;
use steerwright_words::say;

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
    work_in(Voice::english(), answers, kit, facts)
}

/// The same in another language.
pub fn work_in(voice: Voice<'_>, answers: &[Answer], kit: &PreparedKit, facts: &Facts) -> Vec<Work> {
    answers
        .iter()
        .filter_map(|answer| match answer.state {
            State::MetAfterWork => Some(Job::for_answer(answer, kit, facts)?.described(voice, facts, kit)),
            State::Met => check_bore(voice, answer, kit, facts),
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
fn check_bore(voice: Voice<'_>, answer: &Answer, kit: &PreparedKit, facts: &Facts) -> Option<Work> {
    let (end, place) = match answer.requirement {
        Requirement::UpperPressFit => (End::Upper, Place::UpperBore),
        Requirement::LowerPressFit => (End::Lower, Place::LowerBore),
        _ => return None,
    };
    let limits = kit.end(end).bore.filter(|_| facts.bore(end).is_none())?;
    let [low, high] = limits.range();
    let way = match facts.cutting {
        Cutting::Possible => "plain",
        Cutting::Forbidden | Cutting::NotKnown => "maker",
    };
    let (from, to) = (voice.fixed_bare(low, 2), voice.fixed_length(high, 2));
    Some(Work {
        place,
        task: Task::CheckBore,
        from_mm: Some(low),
        to_mm: Some(high),
        side: None,
        remove_mm: None,
        only_by_maker_figure: false,
        text: say!(voice, "work-check-bore", way = way, end = end.name(), low = from, high = to),
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

    fn described(self, voice: Voice<'_>, facts: &Facts, kit: &PreparedKit) -> Work {
        let Self { end, place, task, from_to, cup } = self;
        let name = end.name();
        let [from, to] = from_to.unwrap_or([f64::NAN; 2]);
        let mut relief = None;
        let only_by_maker_figure =
            task == Task::Open && from >= facts.throat_by_model(end, kit).unwrap_or(f64::INFINITY);
        let half = kit.end(end);
        let [from_text, to_text] = [from, to].map(|mm| voice.fixed_length(mm, 1));
        // Cut with a reamer, a bore's end is faced afterwards.
        let reamed = |cut: String| {
            let reamer = half.bore.map(Diameter::range).map(|[low, high]| {
                let (low, high) = (voice.fixed_bare(low, 2), voice.fixed_length(high, 2));
                say!(voice, "work-reamer", code = half.code.to_string(), low = low, high = high)
            });
            [Some(cut), reamer, Some(voice.text("work-face"))]
                .into_iter()
                .flatten()
                .collect::<Vec<_>>()
                .join(" ")
        };
        let text = match task {
            Task::Open => {
                let (side, remove) = (relieved_side(end, facts.direction), (to - from).max(0.0) / 2.0);
                relief = Some((side, remove));
                let remove = voice.fixed_length(remove, 1);
                if from >= to {
                    say!(voice, "work-open-close", end = name, from = from_text, to = to_text)
                } else if only_by_maker_figure {
                    say!(
                        voice,
                        "work-open-maker",
                        end = name,
                        from = from_text,
                        to = to_text,
                        side = side.name(),
                        remove = remove
                    )
                } else {
                    say!(
                        voice,
                        "work-open",
                        end = name,
                        from = voice.fixed_bare(from, 1),
                        to = to_text,
                        side = side.name(),
                        remove = remove
                    )
                }
            }
            Task::Deepen if from >= to => {
                say!(voice, "work-deepen-close", end = name, from = from_text, to = to_text)
            }
            Task::Deepen => {
                let from = voice.fixed_bare(from, 1);
                reamed(say!(voice, "work-deepen", end = name, from = from, to = to_text))
            }
            Task::Widen => {
                let depth = half.bore_depth_min.map(|mm| voice.fixed_length(mm, 1));
                reamed(say!(
                    voice,
                    "work-widen",
                    end = name,
                    from = voice.fixed_bare(from, 2),
                    to = voice.fixed_length(to, 2),
                    depth = depth.unwrap_or_else(|| "none".to_owned()),
                    cup = voice.fixed_length(cup, 2),
                    interference = voice.fixed_length(cup - to, 2)
                ))
            }
            Task::CheckBore => String::new(),
            Task::Replace => voice.text("work-replace"),
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
