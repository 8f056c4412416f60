//! What a kit asks of a bike: the one definition of each requirement.

use super::{Direction, Facts, PreparedKit};
use crate::bike::Bearings;
use serde::{Deserialize, Serialize};
use steerwright_mechanics::headset::End;
use steerwright_metrology::conformity::{Limits, probability};
use steerwright_metrology::quantity::{Estimate, Quantity};

/// The requirements, by the names the report uses.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Requirement {
    /// The upper seat takes the kit's upper half.
    UpperSeat,
    /// The lower seat takes the kit's lower half.
    LowerSeat,
    /// The head tube's length lies in the maker's range.
    HeadTubeLength,
    /// The upper bore is deep enough for the cup.
    UpperBoreDepth,
    /// The lower bore is deep enough for the cup.
    LowerBoreDepth,
    /// The upper cup holds without overstressing the tube.
    UpperPressFit,
    /// The lower cup holds without overstressing the tube.
    LowerPressFit,
    /// The tilted steerer passes the upper throat.
    UpperThroat,
    /// The tilted steerer passes the lower throat.
    LowerThroat,
    /// The steerer reaches into the stem.
    SteererLength,
    /// The steerer's diameters are the ones the kit is made for.
    SteererSize,
    /// The upper bearing does not sit too deep in the frame.
    BearingRecess,
    /// Hoses through the headset find a way.
    Hoses,
    /// A steering stop goes on working.
    SteeringStop,
    /// The frame may be cut where that is needed.
    FrameMaterial,
    /// The tyre clears the down tube.
    DownTubeClearance,
    /// Bearings that go back in are sound.
    BearingCondition,
}

impl Requirement {
    /// The name used in the files.
    pub fn name(self) -> &'static str {
        match self {
            Self::UpperSeat => "upper_seat",
            Self::LowerSeat => "lower_seat",
            Self::HeadTubeLength => "head_tube_length",
            Self::UpperBoreDepth => "upper_bore_depth",
            Self::LowerBoreDepth => "lower_bore_depth",
            Self::UpperPressFit => "upper_press_fit",
            Self::LowerPressFit => "lower_press_fit",
            Self::UpperThroat => "upper_throat",
            Self::LowerThroat => "lower_throat",
            Self::SteererLength => "steerer_length",
            Self::SteererSize => "steerer_size",
            Self::BearingRecess => "bearing_recess",
            Self::Hoses => "hoses",
            Self::SteeringStop => "steering_stop",
            Self::FrameMaterial => "frame_material",
            Self::DownTubeClearance => "down_tube_clearance",
            Self::BearingCondition => "bearing_condition",
        }
    }
}

/// What it takes to answer one requirement.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Question {
    /// A normally distributed quantity against its limits.
    Limit {
        /// The quantity on this bike, mm.
        of: Estimate,
        /// Where it has to lie, mm.
        within: Limits,
    },
    /// The probability is known outright.
    Chance(f64),
    /// Something has to be measured or looked at first.
    NotKnown,
}

/// What can be done where a requirement is not met.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rework {
    /// Nothing.
    Nothing,
    /// Take material off the frame, if its material allows.
    Cut,
    /// Replace a part that is not in the catalogue.
    Replace,
    /// Nothing, and it fails already where it is more likely not met than met: a cup that may move is dangerous.
    Forbidden,
}

impl Question {
    /// The probability that the requirement is met; NaN where nothing is known.
    pub fn probability(self) -> f64 {
        match self {
            Self::Limit { of, within } => probability(of, within),
            Self::Chance(p) => p.clamp(0.0, 1.0),
            Self::NotKnown => f64::NAN,
        }
    }
}

/// A requirement of one kit, what it asks of the bike, and what could be done if it is not met.
pub(super) type QuestionValues = (Requirement, Question, Rework);

/// Everything `kit` asks of a bike.
///
/// A requirement that the bike's kind of seat does not have is not asked at all: a pressed seat has no throat, a
/// cup no recess, and only a steeper axis moves the tyre towards the down tube.
pub(super) fn ask_all(kit: &PreparedKit, facts: &Facts) -> Vec<QuestionValues> {
    let mut asked = Vec::with_capacity(16);
    seats(kit, facts, &mut asked);
    head_tube_length(kit, facts, &mut asked);
    steerer_size(kit, facts, &mut asked);
    steerer_length(kit, facts, &mut asked);
    routing(kit, facts, &mut asked);
    ends(kit, facts, &mut asked);
    bearing_recess(kit, facts, &mut asked);
    down_tube(kit, facts, &mut asked);
    bearing_condition(kit, facts, &mut asked);
    asked
}

/// Which seats the frame has: a probability, not a guess.
fn seats(kit: &PreparedKit, facts: &Facts, asked: &mut Vec<QuestionValues>) {
    for (end, requirement) in [(End::Upper, Requirement::UpperSeat), (End::Lower, Requirement::LowerSeat)] {
        let p = facts.seat(end, kit.end(end).seat);
        asked.push((requirement, Question::Chance(p), Rework::Nothing));
    }
}

fn head_tube_length(kit: &PreparedKit, facts: &Facts, asked: &mut Vec<QuestionValues>) {
    let question = limit(facts.head_tube_length, Limits::between(kit.range[0], kit.range[1]));
    asked.push((Requirement::HeadTubeLength, question, Rework::Nothing));
}

/// Two diameters under one name: both have to agree with the kit's within the rule's tolerance.
fn steerer_size(kit: &PreparedKit, facts: &Facts, asked: &mut Vec<QuestionValues>) {
    let tolerance = facts.rules.steerer_size_tolerance_mm;
    for (measured, made_for) in facts.steerer_diameters.into_iter().zip(kit.steerer) {
        let question = limit(measured, Limits::between(made_for - tolerance, made_for + tolerance));
        asked.push((Requirement::SteererSize, question, Rework::Nothing));
    }
}

/// A steerer cannot be lengthened: what is free of it, with the stem on and no spacer kept, has to take the kit.
fn steerer_length(kit: &PreparedKit, facts: &Facts, asked: &mut Vec<QuestionValues>) {
    let question = match facts.steerer_left(kit) {
        Some(left) => Question::Limit { of: left, within: Limits::at_least(0.0) },
        None => Question::NotKnown,
    };
    asked.push((Requirement::SteererLength, question, Rework::Nothing));
}

/// Hoses and stops: a kit that allows them asks nothing of the bike.
fn routing(kit: &PreparedKit, facts: &Facts, asked: &mut Vec<QuestionValues>) {
    asked.push((Requirement::Hoses, absent_or_allowed(facts.hoses, kit.hoses), Rework::Nothing));
    asked.push((
        Requirement::SteeringStop,
        absent_or_allowed(facts.steering_stop, kit.steering_stop),
        Rework::Nothing,
    ));
}

/// What depends on how each end is held: a throat for a drop-in half, depth and press fit for a cup.
fn ends(kit: &PreparedKit, facts: &Facts, asked: &mut Vec<QuestionValues>) {
    for (index, end) in End::BOTH.into_iter().enumerate() {
        let Some(half) = kit.ends.get(index) else { continue };
        let [throat, depth, press] = match end {
            End::Upper => [Requirement::UpperThroat, Requirement::UpperBoreDepth, Requirement::UpperPressFit],
            End::Lower => [Requirement::LowerThroat, Requirement::LowerBoreDepth, Requirement::LowerPressFit],
        };
        if half.pressed {
            if let Some(least) = half.bore_depth_min {
                let measured = facts.bore_depth(end);
                let question = limit(measured, Limits::at_least(least));
                let within_reach = within(measured, least, facts.rules.deepen_at_most_mm);
                asked.push((depth, question, if within_reach { Rework::Cut } else { Rework::Nothing }));
            }
            for (question, rework) in facts.press(end, half) {
                asked.push((press, question, rework));
            }
        } else {
            let Some(least) = facts.throat_needed(end, kit) else {
                asked.push((throat, Question::NotKnown, Rework::Cut));
                continue;
            };
            let measured = facts.throat(end);
            let question = limit(measured, Limits::at_least(least));
            let within_reach = within(measured, least, facts.rules.open_at_most_mm);
            asked.push((throat, question, if within_reach { Rework::Cut } else { Rework::Nothing }));
        }
    }
}

fn bearing_recess(kit: &PreparedKit, facts: &Facts, asked: &mut Vec<QuestionValues>) {
    let [upper, _] = &kit.ends;
    match upper.recess_max {
        Some(most) if !upper.pressed => asked.push((
            Requirement::BearingRecess,
            limit(facts.bearing_recess, Limits::at_most(most)),
            Rework::Nothing,
        )),
        _ => {}
    }
}

/// Steeper swings the front wheel back about the lower bearing, towards the down tube.
fn down_tube(kit: &PreparedKit, facts: &Facts, asked: &mut Vec<QuestionValues>) {
    if facts.direction != Direction::Steeper {
        return;
    }
    let question = match facts.tyre_gap_left(kit) {
        Some(left) => Question::Limit { of: left, within: Limits::at_least(facts.rules.tyre_gap_least_mm) },
        None => Question::NotKnown,
    };
    asked.push((Requirement::DownTubeClearance, question, Rework::Nothing));
}

/// A kit that takes the bike's own bearings wants them sound, or replaced by ones from the same catalogue.
fn bearing_condition(kit: &PreparedKit, facts: &Facts, asked: &mut Vec<QuestionValues>) {
    if !kit.reuses_bearings {
        return;
    }
    let question = match facts.bearings {
        Some(Bearings::Good) => Question::Chance(1.0),
        Some(Bearings::Rough) => Question::Chance(if kit.spare_bearings { 1.0 } else { 0.0 }),
        // Whatever they turn out to be, the catalogue has what replaces them.
        Some(Bearings::NotKnown) | None if kit.spare_bearings => Question::Chance(1.0),
        Some(Bearings::NotKnown) | None => Question::NotKnown,
    };
    asked.push((Requirement::BearingCondition, question, Rework::Replace));
}

fn limit(of: Option<Estimate>, within: Limits) -> Question {
    of.map_or(Question::NotKnown, |of| Question::Limit { of, within })
}

/// True if no more than `reach` has to come off, or if nothing is measured yet.
fn within(measured: Option<Estimate>, least: f64, reach: f64) -> bool {
    measured.is_none_or(|measured| least - measured.value <= reach)
}

fn absent_or_allowed(on_bike: Option<bool>, allowed: bool) -> Question {
    match (on_bike, allowed) {
        (_, true) | (Some(false), _) => Question::Chance(1.0),
        (Some(true), false) => Question::Chance(0.0),
        (None, false) => Question::NotKnown,
    }
}

impl Requirement {
    /// The readings that bear on it, the handiest first; a kit of the other kind of seat may need none of them.
    pub fn reads(self) -> &'static [Quantity] {
        use Quantity as Q;
        match self {
            Self::UpperSeat => {
                &[Q::UpperBearingOuterDiameter, Q::UpperBoreDiameter, Q::UpperCupOuterDiameter]
            }
            Self::LowerSeat => {
                &[Q::LowerBearingOuterDiameter, Q::LowerBoreDiameter, Q::LowerCupOuterDiameter]
            }
            Self::HeadTubeLength => &[Q::HeadTubeLength],
            Self::UpperBoreDepth => &[Q::UpperBoreDepth],
            Self::LowerBoreDepth => &[Q::LowerBoreDepth],
            Self::UpperPressFit => &[Q::UpperBoreDiameter],
            Self::LowerPressFit => &[Q::LowerBoreDiameter],
            Self::UpperThroat => &[Q::UpperThroatDiameter],
            Self::LowerThroat => &[Q::LowerThroatDiameter],
            Self::SteererLength => &[
                Q::SpacersBelow,
                Q::SpacersAbove,
                Q::CapGap,
                Q::UpperStack,
                Q::LowerStack,
                Q::HeadTubeLength,
                Q::StemClampHeight,
                Q::SteererLength,
            ],
            Self::SteererSize => &[Q::SteererUpperDiameter, Q::SteererLowerDiameter],
            Self::BearingRecess => &[Q::UpperBearingRecess],
            Self::DownTubeClearance => &[Q::TyreToDownTube, Q::AxleToCrown, Q::ForkTravel],
            Self::Hoses | Self::SteeringStop | Self::FrameMaterial | Self::BearingCondition => &[],
        }
    }
}
