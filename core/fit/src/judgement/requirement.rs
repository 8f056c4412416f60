//! What a kit asks of a bike: the one definition of each requirement.

use super::{Cutting, Direction, Facts, PreparedEnd, PreparedKit};
use serde::{Deserialize, Serialize};
use steerwright_mechanics::headset::End;
use steerwright_metrology::conformity::Limits;
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
    /// The steerer is long enough for the stem.
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
    /// The frame's maker allows pressing cups, where the frame is not known to be of metal.
    PressingConsent,
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
            Self::PressingConsent => "pressing_consent",
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

/// One question that decides a requirement. Some requirements have two: both have to be met.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Criterion {
    /// The requirement.
    pub requirement: Requirement,
    /// What is asked of the bike.
    pub question: Question,
    /// What can be done where it is not met.
    pub rework: Rework,
}

impl Criterion {
    /// A criterion that nothing can be done about.
    fn fixed(requirement: Requirement, question: Question) -> Self {
        Self { requirement, question, rework: Rework::Nothing }
    }
}

/// Everything that `kit` asks of a bike.
///
/// A requirement that the kit's kind of seat does not have is left out: a pressed seat has no throat, a cup no recess.
/// Only a steeper axis moves the tyre towards the down tube.
pub fn criteria(kit: &PreparedKit, facts: &Facts) -> Vec<Criterion> {
    let mut all = Vec::new();
    all.extend(seats(kit, facts));
    all.extend(pressing_consent(kit, facts));
    all.push(head_tube_length(kit, facts));
    all.extend(steerer_size(kit, facts));
    all.push(steerer_length(kit, facts));
    all.extend(routing(kit, facts));
    for (end, half) in End::BOTH.into_iter().zip(&kit.ends) {
        if half.pressed {
            all.extend(bore_depth(end, half, facts));
            all.extend(press_fit(end, half, facts));
        } else {
            all.push(throat(end, kit, facts));
        }
    }
    all.extend(bearing_recess(kit, facts));
    all.extend(down_tube(kit, facts));
    all.extend(bearing_condition(kit, facts));
    all
}

/// Which seats the frame has: a probability, not a guess.
fn seats(kit: &PreparedKit, facts: &Facts) -> [Criterion; 2] {
    let seat = |requirement, end| {
        let p = facts.posterior(end).probability_of_frame_seat(kit.end(end).code);
        Criterion::fixed(requirement, Question::Chance(p))
    };
    [seat(Requirement::UpperSeat, End::Upper), seat(Requirement::LowerSeat, End::Lower)]
}

fn head_tube_length(kit: &PreparedKit, facts: &Facts) -> Criterion {
    let [shortest, longest] = kit.range;
    let question = limit(facts.head_tube_length, Limits::between(shortest, longest));
    Criterion::fixed(Requirement::HeadTubeLength, question)
}

/// Two diameters under one name: both have to agree with the kit's within the rule's tolerance.
fn steerer_size(kit: &PreparedKit, facts: &Facts) -> impl Iterator<Item = Criterion> {
    let tolerance = facts.rules.steerer_size_tolerance_mm;
    facts.steerer_diameters.into_iter().zip(kit.steerer).map(move |(measured, made_for)| {
        let question = limit(measured, Limits::between(made_for - tolerance, made_for + tolerance));
        Criterion::fixed(Requirement::SteererSize, question)
    })
}

/// A steerer cannot be lengthened: what is free of it, with the stem on and no spacer kept, has to take the kit.
fn steerer_length(kit: &PreparedKit, facts: &Facts) -> Criterion {
    let question = limit(facts.steerer_left(kit), Limits::at_least(0.0));
    Criterion::fixed(Requirement::SteererLength, question)
}

/// Hoses and stops: a kit that allows them asks nothing of the bike.
fn routing(kit: &PreparedKit, facts: &Facts) -> [Criterion; 2] {
    [
        Criterion::fixed(Requirement::Hoses, absent_or_allowed(facts.hoses, kit.hoses)),
        Criterion::fixed(
            Requirement::SteeringStop,
            absent_or_allowed(facts.steering_stop, kit.steering_stop),
        ),
    ]
}

/// Pressing into carbon, or into what may be carbon, is for the frame's maker to allow: nothing measured decides it.
fn pressing_consent(kit: &PreparedKit, facts: &Facts) -> Option<Criterion> {
    let is_pressed = kit.ends.iter().any(|half| half.pressed);
    if !is_pressed || facts.cutting == Cutting::Possible {
        return None;
    }
    let question = match facts.pressing_allowed {
        Some(true) => Question::Chance(1.0),
        Some(false) => Question::Chance(0.0),
        None => Question::NotKnown,
    };
    Some(Criterion::fixed(Requirement::PressingConsent, question))
}

fn bore_depth(end: End, half: &PreparedEnd, facts: &Facts) -> Option<Criterion> {
    let requirement = match end {
        End::Upper => Requirement::UpperBoreDepth,
        End::Lower => Requirement::LowerBoreDepth,
    };
    let (measured, least) = (facts.bore_depth(end), half.bore_depth_min?);
    Some(cut_to_size(requirement, measured, least, facts.rules.deepen_at_most_mm))
}

fn press_fit(end: End, half: &PreparedEnd, facts: &Facts) -> [Criterion; 2] {
    let requirement = match end {
        End::Upper => Requirement::UpperPressFit,
        End::Lower => Requirement::LowerPressFit,
    };
    facts.press(end, half).map(|(question, rework)| Criterion { requirement, question, rework })
}

fn throat(end: End, kit: &PreparedKit, facts: &Facts) -> Criterion {
    let requirement = match end {
        End::Upper => Requirement::UpperThroat,
        End::Lower => Requirement::LowerThroat,
    };
    match facts.throat_needed(end, kit) {
        Some(least) => cut_to_size(requirement, facts.throat(end), least, facts.rules.open_at_most_mm),
        None => Criterion { requirement, question: Question::NotKnown, rework: Rework::Cut },
    }
}

/// A dimension of the frame that has to be at least `least` mm. It can be cut to size if no more than `at_most` mm has
/// to come off, or if it was not measured yet.
fn cut_to_size(requirement: Requirement, measured: Option<Estimate>, least: f64, at_most: f64) -> Criterion {
    let is_in_reach = measured.is_none_or(|measured| least - measured.value <= at_most);
    let rework = if is_in_reach { Rework::Cut } else { Rework::Nothing };
    Criterion { requirement, question: limit(measured, Limits::at_least(least)), rework }
}

fn bearing_recess(kit: &PreparedKit, facts: &Facts) -> Option<Criterion> {
    let upper = kit.end(End::Upper);
    let most = upper.recess_max.filter(|_| !upper.pressed)?;
    Some(Criterion::fixed(Requirement::BearingRecess, limit(facts.bearing_recess, Limits::at_most(most))))
}

/// Steeper swings the front wheel back about the lower bearing, towards the down tube.
fn down_tube(kit: &PreparedKit, facts: &Facts) -> Option<Criterion> {
    (facts.direction == Direction::Steeper).then(|| {
        let least = Limits::at_least(facts.rules.tyre_gap_least_mm);
        Criterion::fixed(Requirement::DownTubeClearance, limit(facts.tyre_gap_left(kit), least))
    })
}

/// A kit that takes the bike's own bearings wants them sound and of its own size, or replaced by ones from the same
/// catalogue.
fn bearing_condition(kit: &PreparedKit, facts: &Facts) -> Option<Criterion> {
    let question = match facts.bearings_go_back(kit) {
        _ if !kit.reuses_bearings => return None,
        Some(true) => Question::Chance(1.0),
        Some(false) => Question::Chance(if kit.spare_bearings { 1.0 } else { 0.0 }),
        // Whatever their condition is, the catalogue has what replaces them.
        None if kit.spare_bearings => Question::Chance(1.0),
        None => Question::NotKnown,
    };
    Some(Criterion { requirement: Requirement::BearingCondition, question, rework: Rework::Replace })
}

fn limit(of: Option<Estimate>, within: Limits) -> Question {
    of.map_or(Question::NotKnown, |of| Question::Limit { of, within })
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
            Self::BearingCondition => &[
                Q::UpperBearingInnerDiameter,
                Q::UpperBearingHeight,
                Q::LowerBearingInnerDiameter,
                Q::LowerBearingHeight,
            ],
            Self::Hoses | Self::SteeringStop | Self::FrameMaterial | Self::PressingConsent => &[],
        }
    }
}
