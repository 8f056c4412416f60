//! The bike file, `steerwright.bike/1`.

use super::FittedKit;
use serde::{Deserialize, Serialize};
use steerwright_mechanics::headset::ObservedSeat;
use steerwright_mechanics::press::Material;
use steerwright_metrology::quantity::Measurement;

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum BikeSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.bike/1")]
    V1,
}

/// One bike: what was seen on it and what was measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Bike {
    /// The format's name and version.
    pub schema: BikeSchema,
    /// What its people call it.
    pub name: String,
    /// Whose it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub owner: Option<String>,
    /// What was seen.
    #[serde(default, skip_serializing_if = "Observed::is_empty")]
    pub observed: Observed,
    /// The angle kit that is in the bike now; seats and steering are judged with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fitted: Option<FittedKit>,
    /// What was measured, in the order it was taken.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub measured: Vec<Measurement>,
}

/// What was seen on the bike; an absent field is not known.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Observed {
    /// How the upper seat looks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub upper_seat: Option<ObservedSeat>,
    /// How the lower seat looks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lower_seat: Option<ObservedSeat>,
    /// Whether the fork was out when the seats were looked at.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fork_out: Option<bool>,
    /// What the head tube is made of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frame_material: Option<Material>,
    /// What the steerer is made of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steerer_material: Option<Material>,
    /// Whether hoses or cables run through the upper headset.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hoses_through_headset: Option<bool>,
    /// Whether headset or frame carry a stop that limits turning.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub steering_stop: Option<bool>,
    /// Whether the fork has a second crown above the head tube.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dual_crown: Option<bool>,
    /// How the bearings run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bearings: Option<Bearings>,
    /// Whether cups were pressed out of this frame before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cups_changed: Option<bool>,
    /// Whether the frame's maker allows pressing cups out of and into it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker_allows_pressing: Option<bool>,
}

impl Observed {
    /// True if nothing was seen.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// How the bearings run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Bearings {
    /// Smooth and without play.
    Good,
    /// Rough, notchy or with play.
    Rough,
    /// Not tried.
    NotKnown,
}
