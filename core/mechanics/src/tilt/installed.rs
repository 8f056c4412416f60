//! A kit in one particular head tube.

use super::{Offsets, TiltError, kit_range, kit_tilt};
use serde::{Deserialize, Serialize};
use steerwright_metrology::practice::Rule;
use steerwright_metrology::quantity::Estimate;

/// Ease of installation of a kit, by the position of the head tube's length in the maker's range (common practice: the
/// middle half is easy).
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Ease {
    /// In the middle half of the range.
    Easy,
    /// In an outer quarter: installation needs care and perhaps a second try.
    Fiddly,
    /// Outside the range.
    Outside,
}

impl Ease {
    /// The ease at a position in the range, 0 at its short end and 1 at its long end. A position that is not a number
    /// counts as outside.
    pub fn at(range_position: f64) -> Self {
        if (Rule::EasyFrom.value()..=Rule::EasyTo.value()).contains(&range_position) {
            Self::Easy
        } else if (0.0..=1.0).contains(&range_position) {
            Self::Fiddly
        } else {
            Self::Outside
        }
    }

    /// The ease of a kit made for the head tube `range` (mm) in a head tube of this length (mm), without the rest
    /// of [`installed`].
    ///
    /// # Errors
    /// As [`installed`], for range, offsets and length.
    pub fn of(range: [f64; 2], offsets: &Offsets, head_tube_length: f64) -> Result<Self, TiltError> {
        offsets.span(head_tube_length)?;
        Ok(Self::at(range_position(range, head_tube_length)?))
    }

    /// "easy", "fiddly" or "outside".
    pub fn name(self) -> &'static str {
        match self {
            Self::Easy => "easy",
            Self::Fiddly => "fiddly",
            Self::Outside => "outside",
        }
    }
}

/// A kit in one head tube.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Installed {
    /// The tilt in this head tube, degrees, slacker positive.
    pub real_deg: Estimate,
    /// `nominal - |real|`, degrees: positive in a head tube longer than the one the kit is machined for. Each bearing
    /// is misaligned by about this angle.
    pub misalignment_deg: Estimate,
    /// Position of the head tube's length in the maker's range: 0 at the short end, 1 at the long end.
    pub range_position: f64,
    /// Ease of installation.
    pub ease: Ease,
}

/// A kit machined for `nominal_deg` (0 to 45) and the head tube `range` (mm), in a head tube of this length (mm).
///
/// The uncertainty is that of the head tube length alone, to first order: d tilt / d L = -E / (span^2 + E^2). The
/// kit's own numbers are taken as exact.
///
/// # Errors
/// A number that is not finite or outside its domain, as [`TiltError`] says.
pub fn installed(
    nominal_deg: f64,
    range: [f64; 2],
    offsets: &Offsets,
    head_tube_length: Estimate,
) -> Result<Installed, TiltError> {
    let nominal = kit_tilt(nominal_deg)?;
    let range_position = range_position(range, head_tube_length.value)?;
    if !head_tube_length.is_sound() {
        return Err(TiltError::NotFinite("head tube length or its uncertainty"));
    }
    let span = offsets.span(head_tube_length.value)?;
    let real = offsets.tilt_deg(head_tube_length.value)?;
    let total = offsets.total();
    let slope = (total / (span * span + total * total)).to_degrees();
    let u = slope.abs() * head_tube_length.u;
    if !u.is_finite() {
        return Err(TiltError::NotFinite("the tilt's uncertainty"));
    }
    Ok(Installed {
        real_deg: Estimate::new(real, u),
        misalignment_deg: Estimate::new(nominal - real.abs(), u),
        range_position,
        ease: Ease::at(range_position),
    })
}

/// Position of a head tube's length in a kit's range: 0 at the short end, 1 at the long end.
fn range_position(range: [f64; 2], head_tube_length: f64) -> Result<f64, TiltError> {
    let [shortest, longest] = kit_range(range)?;
    Ok((head_tube_length - shortest) / (longest - shortest))
}
