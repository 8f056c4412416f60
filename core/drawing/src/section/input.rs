//! Input of the section.

use crate::DrawingError;
use crate::error::{within, within_if_known};
use serde::{Deserialize, Serialize};
use steerwright_mechanics::clearance::Side;
use steerwright_mechanics::headset::End;

/// How the frame holds its bearing at one end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SectionSeat {
    /// The bearing sits directly in a recess of the frame.
    DropIn,
    /// A cup is pressed into a plain bore.
    Pressed,
}

/// One end of the head tube and the kit's part there; lengths in mm. `None` was not measured and is drawn dashed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SectionEnd {
    /// How the frame holds the bearing.
    pub seat: SectionSeat,
    /// Diameter of the recess or bore, 15 to 90.
    pub bore_diameter_mm: Option<f64>,
    /// From the face to the bottom of the recess or bore, 1 to 60.
    pub bore_depth_mm: Option<f64>,
    /// Diameter of the narrowest part beyond it, 10 to 90.
    pub throat_diameter_mm: Option<f64>,
    /// From the face to that narrowest part, 1 to 80.
    pub throat_depth_mm: Option<f64>,
    /// Outside diameter of the head tube at this end, 20 to 110.
    pub outside_diameter_mm: Option<f64>,
    /// Protrusion of the kit's part from the face, 0 to 60.
    pub stack_mm: f64,
    /// From the face outwards to the bearing's pivot plane, -30 to 30.
    pub plane_mm: f64,
    /// Offset of the new axis in that plane, forward of the head tube's own axis; -15 to 15.
    pub offset_mm: f64,
}

/// The fork's steerer; lengths in mm.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SectionSteerer {
    /// Diameter at the stem, 15 to 60.
    pub upper_diameter_mm: f64,
    /// Diameter just above the crown race seat, 15 to 80; `None`: the same as at the stem, drawn dashed.
    pub lower_diameter_mm: Option<f64>,
    /// Height above the crown race seat where the taper starts, 0 to 300.
    pub taper_start_mm: Option<f64>,
    /// Height above the crown race seat where the upper diameter is reached, 0 to 300.
    pub taper_end_mm: Option<f64>,
}

/// The least clearance between steerer and frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LeastClearance {
    /// Height above the head tube's lower face, mm.
    pub z_mm: f64,
    /// Its side.
    pub side: Side,
    /// The clearance, mm; negative where the steerer would touch; -20 to 40.
    pub clearance_mm: f64,
    /// The required clearance, mm; 0 to 20.
    pub needed_mm: f64,
}

/// The side on which a throat is relieved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReliefSide {
    /// From the front only.
    Front,
    /// From the rear only.
    Rear,
    /// All round.
    Around,
}

/// Material to remove at one throat.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Relief {
    /// The end.
    pub end: End,
    /// The side.
    pub side: ReliefSide,
    /// Depth into the wall, mm along the radius; more than 0, at most 20.
    pub depth_mm: f64,
    /// Only the kit maker's figure asks for it; by the readings the steerer has clearance.
    pub by_maker_figure: bool,
}

/// A bore to ream deeper.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Deepening {
    /// The end.
    pub end: End,
    /// Its depth below the face now, mm; 1 to 60.
    pub from_mm: f64,
    /// The depth it has to reach, mm; more than that, at most 80.
    pub to_mm: f64,
}

/// A head tube in section with a kit in it. Lengths in mm; angles follow from the offsets.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SectionInput {
    /// Title of the picture, such as "Hire bike 07 with TT-4180-15".
    pub title: String,
    /// From upper to lower face, 40 to 400.
    pub head_tube_length_mm: f64,
    /// Upper end.
    pub upper: SectionEnd,
    /// Lower end.
    pub lower: SectionEnd,
    /// Inside diameter of the tube between the throats, 10 to 100.
    pub tube_inside_diameter_mm: Option<f64>,
    /// The steerer.
    pub steerer: SectionSteerer,
    /// The least clearance, where it could be computed.
    pub least_clearance: Option<LeastClearance>,
    /// Material to remove from throats, if any.
    pub relief: Vec<Relief>,
    /// Bores to ream deeper, if any.
    pub deepening: Vec<Deepening>,
}

impl SectionInput {
    /// The part of the input that belongs to one end.
    pub fn end(&self, end: End) -> &SectionEnd {
        match end {
            End::Upper => &self.upper,
            End::Lower => &self.lower,
        }
    }

    /// The tilt that results from the offsets, degrees, positive when slacker.
    pub fn tilt_deg(&self) -> f64 {
        let between = self.head_tube_length_mm + self.upper.plane_mm + self.lower.plane_mm;
        libm::atan2(self.lower.offset_mm - self.upper.offset_mm, between).to_degrees()
    }

    pub(super) fn check(&self) -> Result<(), DrawingError> {
        within("head_tube_length_mm", self.head_tube_length_mm, 40.0, 400.0)?;
        within_if_known("tube_inside_diameter_mm", self.tube_inside_diameter_mm, 10.0, 100.0)?;
        for end in End::BOTH {
            let name = |field: &str| format!("{end}.{field}", end = end.name());
            let at = self.end(end);
            within_if_known(&name("bore_diameter_mm"), at.bore_diameter_mm, 15.0, 90.0)?;
            within_if_known(&name("bore_depth_mm"), at.bore_depth_mm, 1.0, 60.0)?;
            within_if_known(&name("throat_diameter_mm"), at.throat_diameter_mm, 10.0, 90.0)?;
            within_if_known(&name("throat_depth_mm"), at.throat_depth_mm, 1.0, 80.0)?;
            within_if_known(&name("outside_diameter_mm"), at.outside_diameter_mm, 20.0, 110.0)?;
            if let Some(outside) = at.outside_diameter_mm {
                for (part, inside) in [("bore", at.bore_diameter_mm), ("throat", at.throat_diameter_mm)] {
                    if let Some(inside) = inside.filter(|inside| *inside >= outside) {
                        let why = format!("the {part} of {inside} mm does not lie inside {outside} mm");
                        return Err(DrawingError::Contradiction { field: name("outside_diameter_mm"), why });
                    }
                }
            }
            within(&name("stack_mm"), at.stack_mm, 0.0, 60.0)?;
            within(&name("plane_mm"), at.plane_mm, -30.0, 30.0)?;
            within(&name("offset_mm"), at.offset_mm, -15.0, 15.0)?;
        }
        let steerer = &self.steerer;
        within("steerer.upper_diameter_mm", steerer.upper_diameter_mm, 15.0, 60.0)?;
        within_if_known("steerer.lower_diameter_mm", steerer.lower_diameter_mm, 15.0, 80.0)?;
        let start = within_if_known("steerer.taper_start_mm", steerer.taper_start_mm, 0.0, 300.0)?;
        let end = within_if_known("steerer.taper_end_mm", steerer.taper_end_mm, 0.0, 300.0)?;
        if let (Some(start), Some(end)) = (start, end)
            && start > end
        {
            return Err(DrawingError::Contradiction {
                field: "steerer.taper_start_mm".to_owned(),
                why: format!("the taper starts at {start} above the place where it ends, {end}"),
            });
        }
        if let Some(clearance) = self.least_clearance {
            within("least_clearance.z_mm", clearance.z_mm, -60.0, self.head_tube_length_mm + 60.0)?;
            within("least_clearance.clearance_mm", clearance.clearance_mm, -20.0, 40.0)?;
            within("least_clearance.needed_mm", clearance.needed_mm, 0.0, 20.0)?;
        }
        for relief in &self.relief {
            within("relief.depth_mm", relief.depth_mm, 1e-3, 20.0)?;
        }
        for deepening in &self.deepening {
            within("deepening.from_mm", deepening.from_mm, 1.0, 60.0)?;
            within("deepening.to_mm", deepening.to_mm, deepening.from_mm, 80.0)?;
        }
        Ok(())
    }
}
