//! The least clearance with its uncertainty, and the work that increases it.

use super::{
    Clearance, ClearanceError, EndParts, HeadTube, HeadTubeParts, Profile, Side, Steerer, SteererParts,
    clearance, not_negative, positive,
};
use crate::headset::End;
use crate::tilt::Offsets;
use steerwright_metrology::quantity::Estimate;

/// The least clearance of a measured head tube and steerer.
#[derive(Debug, Clone, PartialEq)]
pub struct MeasuredClearance {
    /// The clearance at the measured values.
    pub clearance: Clearance,
    /// The least clearance, mm, with the uncertainty of all measurements.
    pub least: Estimate,
}

/// The least clearance from measurements, with its uncertainty.
///
/// Each measurement is moved by +u and -u. The mean square of the two resulting changes is its contribution to the
/// variance; contributions are independent. Where the clearance is linear this is the first-order rule by differences
/// (JCGM 100:2008, 5.1.3 note 2). The least clearance has kinks where its position jumps from one end to the other.
/// There a derivative sees one end only and half the difference of both moves underestimates u, while the mean square
/// is the actual error of the reported clearance. If one move contradicts the other measurements, such as a taper's
/// start above its end, only the other move counts. Kit numbers are exact.
///
/// # Errors
/// As [`HeadTube::from_parts`], [`Steerer::from_parts`] and [`clearance`]; and a measurement so uncertain that moving
/// it leaves no head tube.
pub fn measured_clearance(
    head_tube: &HeadTubeParts,
    steerer: &SteererParts,
    offsets: &Offsets,
    running_clearance: f64,
) -> Result<MeasuredClearance, ClearanceError> {
    let at = |head_tube: &HeadTubeParts, steerer: &SteererParts| {
        clearance(
            &HeadTube::from_parts(head_tube)?,
            &Steerer::from_parts(steerer)?,
            offsets,
            running_clearance,
        )
    };
    let best = at(head_tube, steerer)?;
    let count = numbers(&mut head_tube.clone(), &mut steerer.clone()).len();
    let mut square = 0.0;
    for index in 0..count {
        let moved = |by: f64| {
            let (mut head_tube, mut steerer) = (*head_tube, *steerer);
            if let Some(number) = numbers(&mut head_tube, &mut steerer).into_iter().nth(index) {
                if !number.is_sound() {
                    return Err(ClearanceError::NotFinite("a measurement or its uncertainty"));
                }
                let moved = number.value + by * number.u;
                // A measured depth cannot be negative.
                number.value = if number.value < 0.0 { moved } else { moved.max(0.0) };
            }
            Ok(at(&head_tube, &steerer)?.least)
        };
        let change = |least: f64| (least - best.least).powi(2);
        square += match (moved(1.0), moved(-1.0)) {
            (Ok(up), Ok(down)) => f64::midpoint(change(up), change(down)),
            (Ok(only), Err(_)) | (Err(_), Ok(only)) => change(only),
            (Err(error), Err(_)) => return Err(error),
        };
    }
    let least = Estimate::new(best.least, square.sqrt());
    if !least.is_sound() {
        return Err(ClearanceError::NotFinite("the room's uncertainty"));
    }
    Ok(MeasuredClearance { clearance: best, least })
}

fn numbers<'a>(head_tube: &'a mut HeadTubeParts, steerer: &'a mut SteererParts) -> Vec<&'a mut Estimate> {
    let HeadTubeParts { length, lower, upper, inside_diameter } = head_tube;
    let SteererParts { lower_diameter, upper_diameter, taper_start, taper_end, lower_stack } = steerer;
    let mut all = vec![length, lower_diameter, upper_diameter, lower_stack];
    let ends = [lower, upper].into_iter().flat_map(|end| {
        let EndParts { bore_diameter, bore_depth, throat_diameter, throat_depth, throat_length } = end;
        [bore_diameter, bore_depth, throat_diameter, throat_depth, throat_length]
    });
    all.extend(ends.chain([inside_diameter, taper_start, taper_end]).flatten());
    all
}

/// The opening that the tilted steerer needs at one end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThroatNeeded {
    /// Diameter about the head tube's own axis, running clearance included, mm.
    pub diameter_mm: f64,
    /// The side on which the steerer stands out furthest.
    pub side: Side,
}

/// The throat diameter that the tilted steerer needs at one end of a head tube of this length. The throat extends
/// between these two depths from that end's face (mm; equal for an edge, starting at 0 if its depth is not known).
///
/// # Errors
/// Depths outside the head tube or in the wrong order, and as [`clearance`].
pub fn throat_needed(
    end: End,
    head_tube_length: f64,
    steerer: &Steerer,
    offsets: &Offsets,
    depths: [f64; 2],
    running_clearance: f64,
) -> Result<ThroatNeeded, ClearanceError> {
    let [from, to] = depths;
    not_negative(from, "throat depth")?;
    not_negative(to, "throat depth")?;
    if to < from {
        return Err(ClearanceError::Order);
    }
    let heights = match end {
        End::Lower => [from, to],
        End::Upper => [head_tube_length - to, head_tube_length - from],
    };
    // A ring of arbitrary radius: the steerer's reach does not depend on it.
    let ring = Profile::new(heights.map(|z| (z, 1.0)).to_vec())?;
    let clearance =
        clearance(&HeadTube::new(head_tube_length, vec![ring])?, steerer, offsets, running_clearance)?;
    Ok(ThroatNeeded { diameter_mm: clearance.bore_to_mm, side: clearance.side })
}

/// Work on a throat: open it from one diameter to another, or relieve one side only.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Relief {
    /// The end.
    pub end: End,
    /// Measured diameter, mm.
    pub from_mm: f64,
    /// Diameter needed, mm.
    pub to_mm: f64,
    /// The side that needs the work.
    pub side: Side,
    /// Material to remove from the wall on that side if the other is left alone, mm.
    pub remove_mm: f64,
}

impl Relief {
    /// The work that opens a throat from `from_mm` to `to_mm`; `None` if it is wide enough.
    ///
    /// The side is the one to which this kit offsets the steerer at that end; without an offset there, the one to which
    /// it tilts the steerer.
    ///
    /// # Errors
    /// A diameter that is not above zero, or a number that is not finite.
    pub fn new(
        end: End,
        from_mm: f64,
        to_mm: f64,
        offsets: &Offsets,
    ) -> Result<Option<Self>, ClearanceError> {
        positive(from_mm, "throat diameter")?;
        positive(to_mm, "throat diameter needed")?;
        let (own, tilt) = match end {
            End::Upper => (offsets.upper, -offsets.total()),
            End::Lower => (offsets.lower, offsets.total()),
        };
        let towards = if own.abs() > 0.0 { own } else { tilt };
        let remove_mm = (to_mm - from_mm) / 2.0;
        Ok((remove_mm > 0.0).then(|| Self { end, from_mm, to_mm, side: Side::of(towards), remove_mm }))
    }
}
