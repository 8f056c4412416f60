//! The report of a check, `steerwright.report/1`.

use super::Holds;
pub use crate::advice::MeasureNext;
use crate::bike::FittedKit;
use crate::judgement::{Direction, Requirement, State, TargetChange, Verdict, Work};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use steerwright_mechanics::headset::SeatCode;
use steerwright_mechanics::tilt::Ease;
use steerwright_metrology::quantity::{Estimate, Quantity, Unit};
use steerwright_metrology::sentence::Sentence;

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum ReportSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.report/1")]
    V1,
}

/// What a check found for one bike and one catalogue.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Report {
    /// The format's name and version.
    pub schema: ReportSchema,
    /// Version of the engine that judged.
    pub engine: String,
    /// The bike's name.
    pub bike: String,
    /// Whose bike.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub owner: Option<String>,
    /// The catalogue that was judged against.
    pub catalogue: CatalogueRef,
    /// Which way the angle was to move.
    pub direction: Direction,
    /// What was asked for, if anything.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wanted: Option<TargetChange>,
    /// Which seats the bike may have.
    pub seats: Seats,
    /// The kit in the bike now, and what taking it out does. Every change is from the bike as it is now.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fitted: Option<FittedReport>,
    /// Every kit that was looked at, best first.
    pub kits: Vec<KitReport>,
    /// Kits that could not be looked at, and why.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<LeftOut>,
    /// What would settle the open verdicts soonest, as an order of work: state by state of dismantling.
    pub measure_next: Vec<MeasureNext>,
    /// What is wrong or odd in the readings themselves.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Sentence>,
    /// Safety notes to read before tools come out.
    pub cautions: Vec<String>,
}

/// The kit in the bike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FittedReport {
    /// Its order code.
    pub sku: String,
    /// Its name.
    pub name: String,
    /// The head angle with it and with a plain headset in its place, as far as the readings tell.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub removed: Option<HeadAngleChange>,
    /// The same in a sentence.
    pub text: String,
}

/// Which issue of which catalogue.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CatalogueRef {
    /// Who makes the kits.
    pub maker: String,
    /// The catalogue's number.
    pub number: u32,
    /// Date of issue.
    pub issued: String,
    /// ISO 4217 code of the prices.
    pub currency: String,
}

/// The seats' posterior, most likely first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Seats {
    /// The stem's end.
    pub upper: Vec<SeatChance>,
    /// The fork crown's end.
    pub lower: Vec<SeatChance>,
    /// Both ends in the codes of the open Standardized Headset Identification System, once seats and steerer are
    /// known: `IS42/28.6 | IS52/40`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
}

/// One size a seat may have.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SeatChance {
    /// The size; absent: no standard size.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<SeatCode>,
    /// Its probability.
    pub p: f64,
}

/// One kit on this bike.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KitReport {
    /// The maker's order code.
    pub sku: String,
    /// The kit's name.
    pub name: String,
    /// The verdict.
    pub verdict: Verdict,
    /// Why, in a sentence.
    pub text: String,
    /// Lower bound of the probability that every requirement is met, planned work done.
    pub p_low: f64,
    /// Upper bound of the same.
    pub p_high: f64,
    /// How easily it installs at this head tube length.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ease: Option<Ease>,
    /// Place of the head tube in the kit's range: 0 at the short end, 1 at the long end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range_position: Option<f64>,
    /// The kit as it is noted in the bike once it is in.
    pub as_fitted: FittedKit,
    /// For each quantity that the verdict rests on, the stretch in which the verdict stays the same; the tightest first.
    /// Only for the best kit, or the one asked for.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub holds: Vec<Holds>,
    /// The tilt it was made for and the one it has here.
    pub tilt_deg: TiltReport,
    /// What it asks, one by one.
    pub requirements: Vec<RequirementReport>,
    /// Work to do before it goes in.
    pub work: Vec<Work>,
    /// What changes, as far as the readings tell.
    pub change: Change,
    /// Parts to order with it.
    pub also_order: Vec<String>,
    /// The tallest stack of spacers that still fits on the steerer, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tallest_spacers_mm: Option<Estimate>,
    /// What to watch for when putting it together.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<Sentence>,
    /// How far a tilted cup may be turned at its rim, in mm, per tenth of a degree of sideways lean.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rim_mm_per_tenth_degree_lean: Option<f64>,
    /// Price as a decimal string.
    pub price: Decimal,
    /// How many are in stock, if the catalogue says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stock: Option<u32>,
}

/// A kit's tilt, degrees; positive is slacker.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TiltReport {
    /// What it is machined for.
    pub nominal: f64,
    /// What it gives in this head tube.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub real: Option<f64>,
    /// The difference, which the bearings have to bear.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub misalignment: Option<f64>,
}

/// What the kit changes; absent where the readings do not tell.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// The head angle on the ground.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub head_angle: Option<HeadAngleChange>,
}

/// The head angle on the ground, degrees.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HeadAngleChange {
    /// As the bike stands.
    pub before: f64,
    /// With the kit.
    pub after: f64,
    /// Standard uncertainty of the change; smaller than either angle's own, since their errors are common. It covers
    /// the readings, the height of both bearing planes and the place of the bearings in their seats.
    pub u: f64,
    /// Standard uncertainty of the angle with the kit.
    pub u_after: f64,
    /// Quantities that were not measured and are taken as bikes usually are; measuring them narrows the figures.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub assumed: Vec<Quantity>,
}

/// One requirement's answer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RequirementReport {
    /// Which.
    pub requirement: Requirement,
    /// The answer.
    pub state: State,
    /// Probability that it is met as the bike is; absent where nothing is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub p: Option<f64>,
    /// Distance to the nearer limit, inside positive.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub margin: Option<Margin>,
    /// The same in a sentence.
    pub text: String,
}

/// A margin with its standard uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Margin {
    /// Distance to the nearer limit, inside positive.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// Unit of both.
    pub unit: Unit,
}

/// A kit that was not looked at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LeftOut {
    /// Which kit.
    pub sku: String,
    /// Why.
    pub text: String,
}

impl KitReport {
    /// Whether the kit has a pressed cup at either end.
    pub fn is_pressed(&self) -> bool {
        self.requirements
            .iter()
            .any(|line| matches!(line.requirement, Requirement::UpperPressFit | Requirement::LowerPressFit))
    }
}
