//! The report of a photo with marks, `steerwright.photo/1`.

use super::{Handling, HandlingError, Modification, PhotoChange, handling};
use serde::{Deserialize, Serialize};
use steerwright_fit::bike::{Bike, BikeSchema, Measurement, Observed};
use steerwright_input::FileErrors;
use steerwright_metrology::quantity::{Instrument, Instruments, Quantity, Unit};
use steerwright_photogrammetry::edges::{Instead, Snap, SnappedMarks};
use steerwright_photogrammetry::measure::{Doubt, Marks, PhotoMeasurement, Refusal};

/// The format's name and version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize, schemars::JsonSchema)]
pub enum PhotoSchema {
    /// The first version.
    #[default]
    #[serde(rename = "steerwright.photo/1")]
    V1,
}

/// The measurement of a photo, or why there is none.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoReport {
    /// The format's name and version.
    pub schema: PhotoSchema,
    /// Version of the engine that computed it.
    pub engine: String,
    /// Why there are no numbers, and what to do about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub refusal: Option<PhotoRefusal>,
    /// Rough taps that were placed on the picture's edges.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub snaps: Vec<PhotoSnap>,
    /// The numbers; none if the photo was refused.
    pub values: Vec<PhotoValue>,
    /// Their covariance, row by row in the order of `values`, in products of their units.
    pub covariance: Vec<Vec<f64>>,
    /// Quality of the fit of camera and bike to the marks.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fit: Option<PhotoFit>,
    /// Warnings.
    pub doubts: Vec<PhotoDoubt>,
    /// The numbers as rows of a bike file.
    pub measurements: Vec<Measurement>,
    /// The bike's handling by these numbers, before and after a requested change.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handling: Option<Box<Handling>>,
    /// The change since an earlier photo.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub change: Option<Box<PhotoChange>>,
}

/// A number read off a photo.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoValue {
    /// The quantity.
    pub what: Quantity,
    /// Its value.
    pub value: f64,
    /// Its standard uncertainty.
    pub u: f64,
    /// The unit of both.
    pub unit: Unit,
}

/// Quality of the fit of camera and bike to the marks.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoFit {
    /// Sum of squared residuals, each over its standard deviation.
    pub chi_square: f64,
    /// Number of redundant observations: the expected value of `chi_square`.
    pub degrees_of_freedom: usize,
    /// From the camera to the wheels' plane, mm.
    pub distance_mm: f64,
    /// Angle of the camera off square, degrees.
    pub oblique_deg: f64,
    /// The estimated focal length, pixels of the picture as marked.
    pub focal_px: f64,
    /// The lens's estimated radial distortion, as in the marks.
    pub distortion: f64,
}

/// Why a photo gives no numbers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoRefusal {
    /// Its kind, such as `turned` or `cut_off`.
    pub refusal: String,
    /// What was found.
    pub text: String,
    /// What the user can do.
    pub remedy: String,
}

/// Outcome for the rough taps on one part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoSnap {
    /// The part, such as `front tyre`.
    pub what: String,
    /// Confidence that its edge was found, 0 to 1; absent if it was not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sure: Option<f64>,
    /// Standard deviation of the marks that replaced the taps, pixels.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub noise_px: Option<f64>,
    /// The outcome in a sentence, or why there is no edge.
    pub text: String,
    /// What the user can do about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remedy: Option<String>,
    /// Lines to tap instead of a fork leg whose edges were not found, the most promising first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub instead: Vec<PhotoInstead>,
}

/// A line to tap instead of one whose edges were not found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoInstead {
    /// Its kind, such as `head_tube`.
    pub line: String,
    /// What to do, in a sentence.
    pub text: String,
    /// Where it appears to be: two positions in the picture as marked, pixels.
    pub ends: [[f64; 2]; 2],
    /// Whether edges are found along it.
    pub seen: bool,
}

impl From<&Instead> for PhotoInstead {
    fn from(it: &Instead) -> Self {
        let Instead { what, ends, seen } = *it;
        let tenths = |value: f64| (10.0 * value).round() / 10.0;
        let ends = ends.map(|place| place.map(tenths));
        Self { line: kind(&what, "line"), text: format!("{what}."), ends, seen }
    }
}

impl From<&Snap> for PhotoSnap {
    fn from(snap: &Snap) -> Self {
        let what = snap.what.to_string();
        let instead = snap.instead.iter().map(PhotoInstead::from).collect();
        match snap.outcome {
            Ok(placed) => Self {
                what,
                sure: Some(placed.sure),
                noise_px: Some(placed.noise_px),
                text: placed.to_string(),
                remedy: None,
                instead,
            },
            Err(why) => Self {
                what,
                sure: None,
                noise_px: None,
                text: why.to_string(),
                remedy: Some(why.remedy().to_owned()),
                instead,
            },
        }
    }
}

/// A warning about a photo.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PhotoDoubt {
    /// Its kind, such as `mirrored`.
    pub doubt: String,
    /// The warning in a sentence.
    pub text: String,
}

fn kind<T: Serialize>(value: &T, field: &str) -> String {
    let tree = serde_json::to_value(value).unwrap_or_default();
    tree.get(field).and_then(serde_json::Value::as_str).unwrap_or_default().to_owned()
}

impl From<&Refusal> for PhotoRefusal {
    fn from(refusal: &Refusal) -> Self {
        Self {
            refusal: kind(refusal, "refusal"),
            text: refusal.to_string(),
            remedy: refusal.remedy().to_owned(),
        }
    }
}

impl From<&Doubt> for PhotoDoubt {
    fn from(doubt: &Doubt) -> Self {
        Self { doubt: kind(doubt, "doubt"), text: doubt.to_string() }
    }
}

impl PhotoReport {
    fn empty() -> Self {
        Self {
            schema: PhotoSchema::V1,
            engine: env!("CARGO_PKG_VERSION").to_owned(),
            refusal: None,
            snaps: Vec::new(),
            values: Vec::new(),
            covariance: Vec::new(),
            fit: None,
            doubts: Vec::new(),
            measurements: Vec::new(),
            handling: None,
            change: None,
        }
    }

    /// Adds the outcome of placing the rough taps.
    pub fn with_taps(mut self, placed: &SnappedMarks) -> Self {
        self.snaps = placed.snaps.iter().map(PhotoSnap::from).collect();
        self
    }

    /// The report of a photo that was measured, or refused.
    pub fn new(seen: &Result<PhotoMeasurement, Refusal>) -> Self {
        let seen = match seen {
            Ok(seen) => seen,
            Err(refusal) => return Self { refusal: Some(refusal.into()), ..Self::empty() },
        };
        Self {
            values: seen
                .values
                .iter()
                .map(|(what, it)| PhotoValue {
                    what: *what,
                    value: it.value,
                    u: it.u,
                    unit: what.base_unit(),
                })
                .collect(),
            covariance: seen.covariance.row_iter().map(|row| row.iter().copied().collect()).collect(),
            fit: Some(PhotoFit {
                chi_square: seen.chi_square,
                degrees_of_freedom: seen.degrees_of_freedom,
                distance_mm: seen.plane.distance_mm,
                oblique_deg: seen.plane.oblique_deg,
                focal_px: seen.camera.focal_px,
                distortion: seen.camera.distortion,
            }),
            doubts: seen.doubts.iter().map(PhotoDoubt::from).collect(),
            measurements: seen.measurements(),
            ..Self::empty()
        }
    }
}

/// The bike as far as one photo determines it: its numbers and, with their u, the tyres and the offset that its marks
/// state.
///
/// # Errors
/// Readings outside the range of any bike.
pub fn bike_on_photo(name: &str, marks: &Marks, seen: &PhotoMeasurement) -> Result<Bike, FileErrors> {
    let known = [
        (Quantity::FrontTyreDiameter, marks.front.diameter_mm),
        (Quantity::RearTyreDiameter, marks.rear.diameter_mm),
        (Quantity::ForkOffset, marks.fork_offset_mm),
    ];
    let told = known.into_iter().filter_map(|(what, it)| {
        it.map(|it| Measurement {
            what,
            value: it.value,
            unit: what.base_unit(),
            with: Instrument::MakerSheet,
            plus_minus: Some(it.expanded().max(0.01)),
            at: None,
            note: None,
        })
    });
    let bike = Bike {
        schema: BikeSchema::V1,
        name: name.to_owned(),
        owner: None,
        observed: Observed::default(),
        fitted: None,
        measured: seen.measurements().into_iter().chain(told).collect(),
    };
    bike.check("the bike on the photo")?;
    Ok(bike)
}

/// The handling of the bike on a photo, before and after a change.
///
/// Its numbers count as independent readings: their common errors (scale, camera) are neglected. These errors shift
/// before and after alike, so they hardly affect the difference.
///
/// # Errors
/// As [`handling`].
pub fn photo_handling(bike: &Bike, change: &Modification) -> Result<Handling, HandlingError> {
    handling(bike, &Instruments::default(), change)
}
