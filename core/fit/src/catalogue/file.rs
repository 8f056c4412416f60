//! The catalogue file, `steerwright.catalogue/1`.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use steerwright_mechanics::headset::{End, SeatCode};

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum CatalogueSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.catalogue/1")]
    V1,
}

/// A maker's kits and bearings as of one issue.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Catalogue {
    /// The format's name and version.
    pub schema: CatalogueSchema,
    /// Who makes the kits.
    pub maker: String,
    /// Counts up with every issue.
    pub number: u32,
    /// Date of issue, `YYYY-MM-DD`.
    pub issued: String,
    /// ISO 4217 code of every price.
    pub currency: String,
    /// The kits.
    pub kits: Vec<Kit>,
    /// Bearings sold singly.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bearings: Vec<Bearing>,
}

impl Catalogue {
    /// The kit with this order code.
    pub fn kit(&self, sku: &str) -> Option<&Kit> {
        self.kits.iter().find(|kit| kit.sku == sku)
    }

    /// The order code most like this one, if any is.
    pub fn nearest_sku(&self, sku: &str) -> Option<&str> {
        let codes: Vec<&str> = self.kits.iter().map(|kit| kit.sku.as_str()).collect();
        steerwright_input::nearest(sku, &codes)
    }
}

/// One angle-adjusting headset.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Kit {
    /// The maker's order code.
    pub sku: String,
    /// In words.
    pub name: String,
    /// The tilt it is machined for, degrees, always positive.
    pub tilt_deg: f64,
    /// Whether it can be turned round to steepen.
    #[serde(default)]
    pub reversible: bool,
    /// The upper half.
    pub upper: KitEnd,
    /// The lower half.
    pub lower: KitEnd,
    /// Shortest and longest head tube the maker allows, mm.
    pub head_tube_length_mm: [f64; 2],
    /// The steerer it takes.
    pub steerer: KitSteerer,
    /// Whether the bike's own bearings go back in.
    pub bearings: BearingSupply,
    /// Whether hoses can run through it.
    #[serde(default)]
    pub hoses: bool,
    /// Whether a steering stop goes on working with it.
    #[serde(default)]
    pub steering_stop: bool,
    /// Price as a decimal string.
    #[schemars(with = "String", regex(pattern = r"^[0-9]{1,7}(\.[0-9]{1,4})?$"))]
    pub price: Decimal,
    /// How many are in stock; absent: not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stock: Option<u32>,
}

impl Kit {
    /// One half of the kit.
    pub fn end(&self, end: End) -> &KitEnd {
        match end {
            End::Upper => &self.upper,
            End::Lower => &self.lower,
        }
    }
}

/// One half of a kit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KitEnd {
    /// The seat it goes in, such as `IS42` (drop-in) or `ZS44`, `EC49` (pressed).
    pub seat: SeatCode,
    /// Height it adds outside the head tube's face, to the cover's top or to the crown race seat, mm.
    pub stack_mm: f64,
    /// How far outside the face the bearing's reference plane lies, mm; negative inside.
    pub plane_mm: f64,
    /// Drop-in: the narrowest throat the tilted steerer passes, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub throat_min_mm: Option<f64>,
    /// Drop-in, upper: the deepest a bearing may sit below the face, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub recess_max_mm: Option<f64>,
    /// Pressed: the bore depth the cup needs, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bore_depth_min_mm: Option<f64>,
    /// Pressed: the cup's own outside diameter, mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cup_mm: Option<f64>,
    /// Offset of the bearing's centre from the head tube's axis when slackening, mm, forward positive; absent:
    /// from tilt and range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset_mm: Option<f64>,
    /// Room to leave around the steerer, mm; absent: 0.5.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub running_clearance_mm: Option<f64>,
}

/// The steerer a kit takes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KitSteerer {
    /// Diameter at the upper bearing, mm.
    pub upper_mm: f64,
    /// Diameter of the crown race seat, mm.
    pub lower_mm: f64,
}

/// Where a kit's bearings come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum BearingSupply {
    /// The kit brings its own.
    Included,
    /// The bike's own go back in.
    Reused,
}

/// A bearing sold singly.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Bearing {
    /// The maker's order code.
    pub sku: String,
    /// Outside diameter, mm.
    pub outer_mm: f64,
    /// Inside diameter, mm.
    pub inner_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
    /// Contact angles of outer and inner chamfer, degrees.
    pub contact_deg: [f64; 2],
    /// Price as a decimal string.
    #[schemars(with = "String", regex(pattern = r"^[0-9]{1,7}(\.[0-9]{1,4})?$"))]
    pub price: Decimal,
}
