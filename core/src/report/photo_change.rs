//! The change between two photos, a part of `steerwright.photo/1`.

use super::{Handling, PhotoValue};
use serde::{Deserialize, Serialize};
use steerwright_mechanics::geometry::Figure;
use steerwright_metrology::quantity::{Estimate, Quantity};
use steerwright_photogrammetry::measure::{Cameras, PhotoMeasurement, change};

/// The change since an earlier photo.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoChange {
    /// Whether both photos count as taken with one camera at one zoom.
    pub same_camera: bool,
    /// After minus before of every number that both photos determine; common errors cancel.
    pub values: Vec<PhotoValue>,
    /// Correlation of the errors before and after, in the order of `values`.
    pub correlation: Vec<f64>,
    /// The expected change of the head angle, compared with the measured one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expected: Option<Expected>,
}

/// A predicted change of the head angle and the measured one, degrees.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Expected {
    /// The prediction.
    pub predicted: Estimate,
    /// The change measured on both photos.
    pub seen: Estimate,
    /// Measured minus predicted.
    pub difference: Estimate,
}

impl Expected {
    /// A prediction and the measured change, degrees.
    pub fn new(predicted: Estimate, seen: Estimate) -> Self {
        Self { predicted, seen, difference: seen - predicted }
    }

    /// A stable id, and an English sentence on the agreement with the prediction.
    pub fn sentence(&self) -> (&'static str, String) {
        let (id, met) = if self.is_met() {
            ("photo_change.met", "The photos agree with that.")
        } else {
            (
                "photo_change.not_met",
                "The photos do not agree with that: look at the marks, the fork and the tyres again.",
            )
        };
        let (predicted, seen) = (self.predicted, self.seen);
        let words = format!(
            "The head angle was to change by {:+.2}° ± {:.2}° and changed by {:+.2}° ± {:.2}°. {met}",
            predicted.value,
            predicted.expanded(),
            seen.value,
            seen.expanded(),
        );
        (id, words)
    }

    /// Whether the difference is within its expanded uncertainty (k = 2).
    pub fn is_met(&self) -> bool {
        self.difference.value.abs() <= self.difference.expanded()
    }
}

impl PhotoChange {
    /// The change between two photos of one bike; `handling` is the prediction from the first one.
    pub fn new(
        before: &PhotoMeasurement,
        after: &PhotoMeasurement,
        cameras: Cameras,
        handling: Option<&Handling>,
    ) -> Self {
        let changed = change(before, after, cameras);
        let values = changed
            .iter()
            .map(|it| PhotoValue {
                what: it.what,
                value: it.change.value,
                u: it.change.u,
                unit: it.what.base_unit(),
            })
            .collect();
        let seen = changed.iter().find(|it| it.what == Quantity::HeadAngle).map(|it| it.change);
        let predicted = handling
            .and_then(|handling| handling.change.get(&Figure::HeadAngle))
            .map(|figure| Estimate::new(figure.value, figure.u));
        let expected = seen.zip(predicted).map(|(seen, predicted)| Expected::new(predicted, seen));
        Self {
            same_camera: cameras == Cameras::Same,
            values,
            correlation: changed.iter().map(|it| it.correlation).collect(),
            expected,
        }
    }
}
