//! What to observe on a bike, and how: the part of the measuring guide without numbers (`core/fit/data/observing.json`).

use super::{Bearings, Material, Observed, ObservedSeat};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use std::sync::LazyLock;
use steerwright_metrology::quantity::{Dismantling, ForkPosition, Instruction};
use steerwright_metrology::voice::Voice;

/// Something that is looked at and not measured. The names are those of [`Observed`]'s fields.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Observable {
    /// How the upper seat looks.
    UpperSeat,
    /// How the lower seat looks.
    LowerSeat,
    /// What the head tube is made of.
    FrameMaterial,
    /// Whether hoses run through the upper headset.
    HosesThroughHeadset,
    /// Whether a stop limits turning.
    SteeringStop,
    /// Whether the fork has a second crown.
    DualCrown,
    /// How the bearings run.
    Bearings,
    /// Whether the frame's maker allows pressing.
    MakerAllowsPressing,
}

impl Observable {
    /// Everything there is to look at.
    pub const ALL: [Self; 8] = [
        Self::UpperSeat,
        Self::LowerSeat,
        Self::FrameMaterial,
        Self::HosesThroughHeadset,
        Self::SteeringStop,
        Self::DualCrown,
        Self::Bearings,
        Self::MakerAllowsPressing,
    ];

    /// The name used in the files.
    pub fn name(self) -> &'static str {
        match self {
            Self::UpperSeat => "upper_seat",
            Self::LowerSeat => "lower_seat",
            Self::FrameMaterial => "frame_material",
            Self::HosesThroughHeadset => "hoses_through_headset",
            Self::SteeringStop => "steering_stop",
            Self::DualCrown => "dual_crown",
            Self::Bearings => "bearings",
            Self::MakerAllowsPressing => "maker_allows_pressing",
        }
    }
}

impl fmt::Display for Observable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl Observed {
    /// Whether this was looked at with a result: "not seen" and "not known" are none.
    pub fn is_known(&self, what: Observable) -> bool {
        let seen = |seat: Option<ObservedSeat>| seat.is_some_and(|seat| seat != ObservedSeat::NotSeen);
        match what {
            Observable::UpperSeat => seen(self.upper_seat),
            Observable::LowerSeat => seen(self.lower_seat),
            Observable::FrameMaterial => {
                self.frame_material.is_some_and(|material| material != Material::NotKnown)
            }
            Observable::HosesThroughHeadset => self.hoses_through_headset.is_some(),
            Observable::SteeringStop => self.steering_stop.is_some(),
            Observable::DualCrown => self.dual_crown.is_some(),
            Observable::MakerAllowsPressing => self.maker_allows_pressing.is_some(),
            Observable::Bearings => self.bearings.is_some_and(|bearings| bearings != Bearings::NotKnown),
        }
    }
}

/// What the guide knows of one thing to look at.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Observing {
    /// In plain English words, lower case: "steering stop".
    #[serde(skip)]
    pub label: String,
    /// How far the bike is taken apart for it.
    pub state: Dismantling,
    /// Minutes it takes, once the bike is in that state.
    pub minutes: f64,
    /// Whether the fork has to come out.
    pub fork: ForkPosition,
    /// The answer that speaks against most kits, in words.
    pub unfavourable: String,
    /// How probable that answer is on a bike nobody has looked at, 0 to 1.
    pub prior: f64,
    /// Where and how to look, in English.
    #[serde(skip)]
    pub place: String,
    /// The mistake people make, in English.
    #[serde(skip)]
    pub trap: String,
    /// How to look with the fork out, where that shows more.
    #[serde(default)]
    pub fork_out: Option<LookForkOut>,
    /// Where minutes and prior come from.
    pub source: String,
}

/// How to look at something with the fork out.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LookForkOut {
    /// How far the bike is taken apart for it.
    pub state: Dismantling,
    /// Minutes it takes, once the bike is in that state.
    pub minutes: f64,
    /// Where and how to look, in English.
    #[serde(skip)]
    pub place: String,
    /// The mistake people make, in English.
    #[serde(skip)]
    pub trap: String,
}

impl Observing {
    /// How to look, with the fork in (or wherever it is, if that makes no difference) or with it out.
    pub fn instruction(&'static self, fork_out: bool) -> Instruction {
        match self.fork_out.as_ref().filter(|_| fork_out) {
            Some(look) => Instruction {
                tool: None,
                state: look.state,
                minutes: look.minutes,
                fork: ForkPosition::of(look.state),
                place: &look.place,
                trap: &look.trap,
            },
            None => Instruction {
                tool: None,
                state: self.state,
                minutes: self.minutes,
                fork: self.fork,
                place: &self.place,
                trap: &self.trap,
            },
        }
    }
}

/// The guide's row for something to look at.
pub fn observing(what: Observable) -> &'static Observing {
    static TABLE: LazyLock<Vec<Observing>> = LazyLock::new(|| {
        let mut rows: BTreeMap<Observable, Observing> =
            steerwright_input::embedded::table(include_str!("../../data/observing.json"));
        let voice = Voice::english();
        for (what, row) in &mut rows {
            row.label = voice.named("observable", what.name());
            [row.place, row.trap] = voice.place_and_trap("looking", what.name(), None);
            if let Some(look) = &mut row.fork_out {
                [look.place, look.trap] = voice.place_and_trap("looking", what.name(), Some("fork_out"));
            }
        }
        Observable::ALL.iter().filter_map(|what| rows.remove(what)).collect()
    });
    #[expect(clippy::indexing_slicing, reason = "a test asserts a row for everything, in order")]
    &TABLE[what as usize]
}
