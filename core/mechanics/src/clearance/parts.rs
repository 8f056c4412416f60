//! Head tube and steerer profiles from measurements.

use super::{ClearanceError, Profile, not_negative, positive};
use steerwright_metrology::quantity::{Estimate, Quantity};

/// Known dimensions of one end of the head tube: diameters, and depths from that end's face, mm.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct EndParts {
    /// The seat's bore.
    pub bore_diameter: Option<Estimate>,
    /// Depth of the bore.
    pub bore_depth: Option<Estimate>,
    /// The narrowest opening behind the bore.
    pub throat_diameter: Option<Estimate>,
    /// Depth at which the throat begins.
    pub throat_depth: Option<Estimate>,
    /// Length over which the throat keeps this diameter; absent: an edge.
    pub throat_length: Option<Estimate>,
}

/// Known dimensions of a head tube's inside, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeadTubeParts {
    /// From face to face.
    pub length: Estimate,
    /// The lower end.
    pub lower: EndParts,
    /// The upper end.
    pub upper: EndParts,
    /// Inside diameter of the tube between both throats.
    pub inside_diameter: Option<Estimate>,
}

/// The inside of a head tube: radii over the height above the bottom face, where they are known.
#[derive(Debug, Clone, PartialEq)]
pub struct HeadTube {
    length: f64,
    stretches: Vec<Profile>,
}

impl HeadTube {
    /// A head tube of this length (mm) with its known stretches, heights in mm above the bottom face.
    ///
    /// # Errors
    /// A length that is not above zero, no stretch at all, or a stretch that reaches beyond a face.
    pub fn new(length: f64, stretches: Vec<Profile>) -> Result<Self, ClearanceError> {
        positive(length, "head tube length")?;
        for [from, to] in stretches.iter().map(Profile::extent) {
            if from < 0.0 || to > length {
                return Err(ClearanceError::Depth { reach: to.max(length - from), length });
            }
        }
        if stretches.is_empty() {
            return Err(ClearanceError::Missing(vec![
                Quantity::UpperThroatDiameter,
                Quantity::LowerThroatDiameter,
            ]));
        }
        Ok(Self { length, stretches })
    }

    /// The head tube that these measurements describe.
    ///
    /// A bore extends from the face to its depth. If its depth is unknown it ends at the throat; if the throat is
    /// unknown too, only the edge at the face is known. The throat begins at its depth, or at the end of the bore. If
    /// neither is known it is assumed to begin at the face, where the tilted steerer stands out furthest. A throat
    /// deeper than the bore is joined to it by a cone; a bore deeper than the throat ends at the throat. The tube
    /// between the throats is judged only where `inside_diameter` is known.
    ///
    /// # Errors
    /// As [`HeadTube::new`]; a negative depth, a diameter that is not above zero, or ends that overlap.
    pub fn from_parts(parts: &HeadTubeParts) -> Result<Self, ClearanceError> {
        let length = positive(parts.length.value, "head tube length")?;
        let lower = end_points(&parts.lower)?;
        let upper = end_points(&parts.upper)?;
        let depth = |points: &[(f64, f64)]| points.last().map_or(0.0, |&(depth, _)| depth);
        let (below, above) = (depth(&lower), depth(&upper));
        if below + above > length {
            return Err(ClearanceError::Depth { reach: below + above, length });
        }
        let mut stretches = Vec::new();
        if !lower.is_empty() {
            stretches.push(Profile::new(lower)?);
        }
        if let Some(inside) = parts.inside_diameter {
            let radius = positive(inside.value, "inside diameter")? / 2.0;
            stretches.push(Profile::new(vec![(below, radius), (length - above, radius)])?);
        }
        if !upper.is_empty() {
            let from_below = upper.iter().rev().map(|&(depth, radius)| (length - depth, radius));
            stretches.push(Profile::new(from_below.collect())?);
        }
        Self::new(length, stretches)
    }

    /// From face to face, mm.
    pub fn length(&self) -> f64 {
        self.length
    }

    /// The known stretches, heights in mm above the bottom face.
    pub fn stretches(&self) -> &[Profile] {
        &self.stretches
    }

    /// The smallest known radius at a height, mm; `None` where it is not known.
    pub fn narrowest_at(&self, z: f64) -> Option<f64> {
        self.stretches.iter().filter_map(|stretch| stretch.narrowest_at(z)).reduce(f64::min)
    }
}

/// Points of (depth, radius) from the face inwards.
fn end_points(end: &EndParts) -> Result<Vec<(f64, f64)>, ClearanceError> {
    let diameter = |estimate: Option<Estimate>, what| {
        estimate.map(|estimate| positive(estimate.value, what)).transpose()
    };
    let depth = |estimate: Option<Estimate>, what| {
        estimate.map(|estimate| not_negative(estimate.value, what)).transpose()
    };
    let bore = diameter(end.bore_diameter, "a bore diameter")?;
    let throat = diameter(end.throat_diameter, "a throat diameter")?;
    let bore_depth = depth(end.bore_depth, "a bore depth")?;
    let throat_depth = depth(end.throat_depth, "a throat depth")?;
    let throat_length = depth(end.throat_length, "a throat length")?.unwrap_or(0.0);
    // The depth of a bore or throat of unknown diameter does not constrain the clearance.
    let throat_begins = throat_depth.or(bore_depth).unwrap_or(0.0);
    let mut points = Vec::new();
    if let Some(bore) = bore {
        let ends = match (bore_depth, throat) {
            (Some(own), Some(_)) => own.min(throat_begins),
            (Some(own), None) => own,
            (None, _) => throat_begins,
        };
        points.push((0.0, bore / 2.0));
        if ends > 0.0 {
            points.push((ends, bore / 2.0));
        }
    }
    if let Some(throat) = throat {
        points.push((throat_begins, throat / 2.0));
        if throat_length > 0.0 {
            points.push((throat_begins + throat_length, throat / 2.0));
        }
    }
    Ok(points)
}

/// Known dimensions of a steerer, mm; heights above the crown race seat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteererParts {
    /// Diameter just above the crown race seat.
    pub lower_diameter: Estimate,
    /// Diameter at the upper bearing.
    pub upper_diameter: Estimate,
    /// Height at which the taper starts; absent: assumed to keep the lower diameter up to the taper's end, the cautious
    /// assumption.
    pub taper_start: Option<Estimate>,
    /// Height at which the upper diameter is reached; may be absent only for a straight steerer.
    pub taper_end: Option<Estimate>,
    /// Distance of the crown race seat below the head tube's bottom face with the kit installed, along the steerer: the
    /// kit's lower stack.
    pub lower_stack: Estimate,
}

/// A steerer: radii over the distance from the crown race seat, and the position of that seat. The radius is constant
/// beyond the first and last point.
#[derive(Debug, Clone, PartialEq)]
pub struct Steerer {
    profile: Profile,
    lower_stack: f64,
}

impl Steerer {
    /// A steerer with this profile (mm from the crown race seat), whose crown race seat is `lower_stack` mm below the
    /// head tube's bottom face along the steerer.
    ///
    /// # Errors
    /// A lower stack that is not finite.
    pub fn new(profile: Profile, lower_stack: f64) -> Result<Self, ClearanceError> {
        super::finite(lower_stack, "lower stack")?;
        Ok(Self { profile, lower_stack })
    }

    /// The steerer that these measurements describe.
    ///
    /// # Errors
    /// Two diameters without the taper's end; a taper that ends below its start; a diameter that is not above zero,
    /// or a number that is not finite.
    pub fn from_parts(parts: &SteererParts) -> Result<Self, ClearanceError> {
        let lower = positive(parts.lower_diameter.value, "steerer lower diameter")? / 2.0;
        let upper = positive(parts.upper_diameter.value, "steerer upper diameter")? / 2.0;
        let lower_stack = parts.lower_stack.value;
        let points = match (parts.taper_start, parts.taper_end) {
            (Some(start), Some(end)) => vec![(start.value, lower), (end.value, upper)],
            (None, Some(end)) => vec![(end.value, lower), (end.value, upper)],
            (_, None) if lower.total_cmp(&upper).is_eq() => vec![(0.0, lower)],
            (start, None) => {
                let missing = [start.is_none().then_some(Quantity::SteererTaperStart)];
                let missing = missing.into_iter().flatten().chain([Quantity::SteererTaperEnd]);
                return Err(ClearanceError::Missing(missing.collect()));
            }
        };
        Self::new(Profile::new(points)?, lower_stack)
    }

    /// Radii over the distance from the crown race seat, mm.
    pub fn profile(&self) -> &Profile {
        &self.profile
    }

    /// Distance of the crown race seat below the bottom face along the steerer, mm.
    pub fn lower_stack(&self) -> f64 {
        self.lower_stack
    }
}
