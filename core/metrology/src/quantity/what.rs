//! The quantities that are measured on a bike.

use super::{Dismantling, Instrument, Unit};
use crate::voice::Voice;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;
use std::sync::LazyLock;

/// Length or angle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Dimension {
    /// Millimetres inside the core.
    Length,
    /// Degrees at the core's boundary.
    Angle,
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $variant:ident = $name:literal,)*) => {
        /// A measured quantity. The names in the files are the variants in `snake_case`.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema)]
        #[serde(rename_all = "snake_case")]
        pub enum Quantity {
            $($(#[$doc])* $variant,)*
        }

        impl Quantity {
            /// Every quantity, in the order of the file format.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];

            /// The name used in the files.
            pub fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }
        }
    };
}

quantities! {
    /// From the head tube's upper face to its lower face.
    HeadTubeLength = "head_tube_length",
    /// Upper bearing outer diameter.
    UpperBearingOuterDiameter = "upper_bearing_outer_diameter",
    /// Lower bearing outer diameter.
    LowerBearingOuterDiameter = "lower_bearing_outer_diameter",
    /// Upper bearing inner diameter.
    UpperBearingInnerDiameter = "upper_bearing_inner_diameter",
    /// Lower bearing inner diameter.
    LowerBearingInnerDiameter = "lower_bearing_inner_diameter",
    /// Upper bearing height.
    UpperBearingHeight = "upper_bearing_height",
    /// Lower bearing height.
    LowerBearingHeight = "lower_bearing_height",
    /// Upper bore diameter.
    UpperBoreDiameter = "upper_bore_diameter",
    /// Lower bore diameter.
    LowerBoreDiameter = "lower_bore_diameter",
    /// Upper bore depth.
    UpperBoreDepth = "upper_bore_depth",
    /// Lower bore depth.
    LowerBoreDepth = "lower_bore_depth",
    /// Upper cup outer diameter.
    UpperCupOuterDiameter = "upper_cup_outer_diameter",
    /// Lower cup outer diameter.
    LowerCupOuterDiameter = "lower_cup_outer_diameter",
    /// Narrowest opening below the upper seat.
    UpperThroatDiameter = "upper_throat_diameter",
    /// Narrowest opening above the lower seat.
    LowerThroatDiameter = "lower_throat_diameter",
    /// From the upper face down to the throat.
    UpperThroatDepth = "upper_throat_depth",
    /// From the lower face up to the throat.
    LowerThroatDepth = "lower_throat_depth",
    /// Depth of the upper bearing below the head tube's face.
    UpperBearingRecess = "upper_bearing_recess",
    /// From the head tube's upper face to the top of the upper headset cover.
    UpperStack = "upper_stack",
    /// From the head tube's lower face to the crown race seat.
    LowerStack = "lower_stack",
    /// Spacers below.
    SpacersBelow = "spacers_below",
    /// Spacers above.
    SpacersAbove = "spacers_above",
    /// Stem clamp height.
    StemClampHeight = "stem_clamp_height",
    /// From the top of stem or top spacer down to the end of the steerer.
    CapGap = "cap_gap",
    /// From the crown race seat to the cut end.
    SteererLength = "steerer_length",
    /// Steerer upper diameter.
    SteererUpperDiameter = "steerer_upper_diameter",
    /// Steerer lower diameter.
    SteererLowerDiameter = "steerer_lower_diameter",
    /// Height above the crown race seat where the taper starts.
    SteererTaperStart = "steerer_taper_start",
    /// Height above the crown race seat where the upper diameter is reached.
    SteererTaperEnd = "steerer_taper_end",
    /// Between the ground and the steering axis.
    HeadAngle = "head_angle",
    /// Between the ground and the seat tube.
    SeatAngle = "seat_angle",
    /// Horizontal distance between the axles.
    Wheelbase = "wheelbase",
    /// From bottom bracket to rear axle, straight.
    ChainstayLength = "chainstay_length",
    /// From the ground to the bottom bracket's centre.
    BottomBracketHeight = "bottom_bracket_height",
    /// Depth of the bottom bracket below the line through the axles' mean height, here the rear axle.
    BottomBracketDrop = "bottom_bracket_drop",
    /// Horizontal distance from bottom bracket to the head tube's upper face.
    Reach = "reach",
    /// Height of the head tube's upper face above the bottom bracket.
    Stack = "stack",
    /// From bottom bracket to front axle, straight.
    FrontCentre = "front_centre",
    /// From front axle to crown race seat, along the steering axis.
    AxleToCrown = "axle_to_crown",
    /// From front axle to steering axis, normal to it.
    ForkOffset = "fork_offset",
    /// The fork's travel along its legs.
    ForkTravel = "fork_travel",
    /// Compression of the fork under the rider, along its legs.
    ForkSag = "fork_sag",
    /// Rise of the rear axle towards the frame under the rider, normal to the ground.
    RearSag = "rear_sag",
    /// Front tyre diameter.
    FrontTyreDiameter = "front_tyre_diameter",
    /// Rear tyre diameter.
    RearTyreDiameter = "rear_tyre_diameter",
    /// Width of the front tyre.
    TyreWidth = "tyre_width",
    /// Least gap between front tyre and down tube with the fork fully compressed.
    TyreToDownTube = "tyre_to_down_tube",
    /// Wall of the head tube at the cup.
    HeadTubeWall = "head_tube_wall",
}

impl Quantity {
    /// How many quantities there are.
    pub const COUNT: usize = Self::ALL.len();

    /// True for the diameter of a part or a hole of the headset and the steerer, which is measured across or inside
    /// something round. Tyres are measured in other ways.
    pub fn is_diameter(self) -> bool {
        self.name().ends_with("_diameter") && !self.name().ends_with("_tyre_diameter")
    }

    /// Length or angle.
    pub fn dimension(self) -> Dimension {
        match self {
            Self::HeadAngle | Self::SeatAngle => Dimension::Angle,
            _ => Dimension::Length,
        }
    }

    /// The unit the core uses for it.
    pub fn base_unit(self) -> Unit {
        match self.dimension() {
            Dimension::Length => Unit::Mm,
            Dimension::Angle => Unit::Deg,
        }
    }

    /// Finds a quantity by the name the files use.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|quantity| quantity.name() == name)
    }
}

impl fmt::Display for Quantity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// Whether a measurement needs the fork out of the frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ForkPosition {
    /// The fork stays in the frame.
    In,
    /// The fork has to be removed.
    Out,
    /// Either is possible.
    Either,
}

impl ForkPosition {
    /// Where the fork is for a measurement that asks for this state and no more.
    pub fn of(state: Dismantling) -> Self {
        if state.includes(Dismantling::ForkOut) { Self::Out } else { Self::Either }
    }
}

/// The row of a quantity in the measuring guide (`core/metrology/data/measuring.json`).
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct QuantityInfo {
    /// Name in an English sentence, lower case: "head tube length".
    #[serde(skip)]
    pub label: String,
    /// Range of plausible readings, mm or degrees. A reading outside is refused as a typing or unit error.
    pub plausible: [f64; 2],
    /// Range outside which a reading is possible and asked about, mm or degrees. Absent where `plausible` says enough.
    #[serde(default)]
    pub usual: Option<[f64; 2]>,
    /// Prior mean and standard deviation over all bikes, mm or degrees. Absent where there is no useful prior.
    pub expected: Option<[f64; 2]>,
    /// The usual instrument.
    pub tool: Instrument,
    /// A finer one, for a second reading that has to decide.
    #[serde(default)]
    pub better: Option<Instrument>,
    /// How far the bike is taken apart for it.
    pub state: Dismantling,
    /// Duration in minutes, once the bike is in that state.
    pub minutes: f64,
    /// Whether the fork has to be removed.
    pub fork: ForkPosition,
    /// Where to place the instrument, in English.
    #[serde(skip)]
    pub place: String,
    /// The usual mistake, in English.
    #[serde(skip)]
    pub trap: String,
    /// What is done instead where seat and material are known; empty where they make no difference.
    #[serde(default)]
    pub cases: BTreeMap<SeatCase, QuantityCase>,
    /// Source of range, prior and duration.
    pub source: String,
}

/// What is known of the seat that a measurement is taken at, as far as the guide's texts depend on it.
///
/// A row's own `place` and `trap` are those of the seat that is not known: they leave a cup where it is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum SeatCase {
    /// The bearing sits in the frame itself; the material makes no difference.
    DropIn,
    /// A cup with a thin lip in a metal head tube.
    ThinLipMetal,
    /// An external cup in a metal head tube.
    ExternalCupMetal,
    /// A cup of any kind in carbon.
    CupCarbon,
    /// A cup of any kind in a head tube of unknown material.
    CupUnknownMaterial,
}

impl SeatCase {
    /// Every case.
    pub const ALL: [Self; 5] =
        [Self::DropIn, Self::ThinLipMetal, Self::ExternalCupMetal, Self::CupCarbon, Self::CupUnknownMaterial];

    /// The name used in the files.
    pub fn name(self) -> &'static str {
        match self {
            Self::DropIn => "drop_in",
            Self::ThinLipMetal => "thin_lip_metal",
            Self::ExternalCupMetal => "external_cup_metal",
            Self::CupCarbon => "cup_carbon",
            Self::CupUnknownMaterial => "cup_unknown_material",
        }
    }
}

/// How a quantity is measured at a seat of one case.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct QuantityCase {
    /// The usual instrument.
    pub tool: Instrument,
    /// How far the bike is taken apart for it.
    pub state: Dismantling,
    /// Duration in minutes, once the bike is in that state.
    pub minutes: f64,
    /// Where to place the instrument, in English.
    #[serde(skip)]
    pub place: String,
    /// The usual mistake, in English.
    #[serde(skip)]
    pub trap: String,
}

/// How to take one reading or look, on a bike of which so much is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Instruction {
    /// The usual instrument; absent for a look.
    pub tool: Option<Instrument>,
    /// How far the bike is taken apart for it.
    pub state: Dismantling,
    /// Duration in minutes, once the bike is in that state.
    pub minutes: f64,
    /// Whether the fork has to be out.
    pub fork: ForkPosition,
    /// Where to place the instrument, or where to look.
    pub place: &'static str,
    /// The usual mistake.
    pub trap: &'static str,
}

impl QuantityInfo {
    /// How to measure it at a seat of this case; `None` for a seat that is not known.
    pub fn instruction(&'static self, case: Option<SeatCase>) -> Instruction {
        match case.and_then(|case| self.cases.get(&case)) {
            Some(case) => Instruction {
                tool: Some(case.tool),
                state: case.state,
                minutes: case.minutes,
                fork: ForkPosition::of(case.state),
                place: &case.place,
                trap: &case.trap,
            },
            None => Instruction {
                tool: Some(self.tool),
                state: self.state,
                minutes: self.minutes,
                fork: self.fork,
                place: &self.place,
                trap: &self.trap,
            },
        }
    }
}

/// The measuring guide's row for a quantity.
pub fn quantity_info(what: Quantity) -> &'static QuantityInfo {
    static TABLE: LazyLock<Vec<QuantityInfo>> = LazyLock::new(|| {
        let mut rows: BTreeMap<Quantity, QuantityInfo> =
            steerwright_input::embedded::table(include_str!("../../data/measuring.json"));
        let voice = Voice::english();
        for (what, row) in &mut rows {
            row.label = voice.quantity(*what);
            [row.place, row.trap] = voice.measuring(*what, None);
            for (case, of_case) in &mut row.cases {
                [of_case.place, of_case.trap] = voice.measuring(*what, Some(case.name()));
            }
        }
        Quantity::ALL.iter().filter_map(|quantity| rows.remove(quantity)).collect()
    });
    #[expect(clippy::indexing_slicing, reason = "a test asserts a row for every quantity, in order")]
    &TABLE[what as usize]
}
