//! What follows from a bike's findings for every kit, computed once.

use super::requirement::{Question, Rework};
use super::{BikeKnowledge, Cutting, Direction, PreparedEnd, PreparedKit};
use crate::bike::{Bearings, FittedKit, Material};
use std::collections::BTreeSet;
use steerwright_mechanics::clearance::{EndParts, HeadTubeParts, Steerer, SteererParts, throat_needed};
use steerwright_mechanics::headset::{End, Posterior, SeatDimension, SeatEvidence, identify};
use steerwright_mechanics::press::{Diameter, PressInput, loose_and_tight, looseness, press_fit};
use steerwright_mechanics::steerer::{Budget, Missing, Plan, Readings, SpacersKept, SteererError, budget};
use steerwright_mechanics::tilt::Offsets;
use steerwright_metrology::conformity::Limits;
use steerwright_metrology::practice::Rule;
use steerwright_metrology::quantity::{Estimate, Quantity};

/// The bike's values in every requirement.
#[derive(Debug, Clone)]
pub struct Facts {
    /// Which way the angle is to move.
    pub direction: Direction,
    /// The rules of the trade that limits rest on.
    pub rules: Rules,
    /// Posterior of the upper and the lower seat.
    pub seats: [Posterior; 2],
    /// Head tube length, mm.
    pub head_tube_length: Option<Estimate>,
    /// Steerer at the upper bearing, and crown race seat; mm.
    pub steerer_diameters: [Option<Estimate>; 2],
    /// Depth of the upper bearing below the face, mm.
    pub bearing_recess: Option<Estimate>,
    /// Whether hoses run through the headset.
    pub hoses: Option<bool>,
    /// Whether there is a steering stop.
    pub steering_stop: Option<bool>,
    /// How the bearings run.
    pub bearings: Option<Bearings>,
    /// Outside diameter, inside diameter and height of the upper and the lower bearing, mm.
    pub bearing_sizes: [[Option<Estimate>; 3]; 2],
    /// Whether the frame's maker allows pressing.
    pub pressing_allowed: Option<bool>,
    /// Whether cups were pressed out of this frame before.
    pub cups_changed: Option<bool>,
    /// Planes and offsets of the kit in the bike.
    pub fitted: Option<Offsets>,
    /// Quantities whose readings contradict each other.
    pub contradicted: BTreeSet<Quantity>,
    /// Whether the frame may be cut.
    pub cutting: Cutting,
    ends: [EndFacts; 2],
    /// What the steerer has left over with no headset at all: no stacks, no spacers, no tilt; mm.
    steerer_free: Option<Estimate>,
    /// Gap between tyre and down tube, fork compressed, mm.
    tyre_gap: Option<Estimate>,
    /// From the fork's crown to the front axle, fork compressed, mm.
    fork_arm: Option<Estimate>,
    head_tube_wall: Option<Estimate>,
    /// The steerer as measured; its place in the head tube is the kit's.
    steerer_parts: Option<SteererParts>,
}

/// One end of the head tube.
#[derive(Debug, Clone, Default)]
struct EndFacts {
    throat: Option<Estimate>,
    throat_depth: Option<Estimate>,
    bore_depth: Option<Estimate>,
    bore: Option<Diameter>,
    /// Interference that is neither loose nor tight, mm; for a measured bore.
    admissible: Option<[Estimate; 2]>,
}

/// The rules of the trade that requirements use, read once from their table.
#[derive(Debug, Clone, Copy)]
pub struct Rules {
    /// How far a steerer's diameters may be off the kit's, mm.
    pub steerer_size_tolerance_mm: f64,
    /// The most a throat is opened, mm on the diameter.
    pub open_at_most_mm: f64,
    /// The most a bore is deepened, mm.
    pub deepen_at_most_mm: f64,
    /// The least gap between tyre and down tube, mm.
    pub tyre_gap_least_mm: f64,
    /// How deep below the face a throat may begin where its depth was not measured, mm.
    pub throat_reach_mm: f64,
    /// The interference a bore is reamed to, mm.
    pub reamed_interference_mm: f64,
    /// Share of frames whose bore lies outside the limits of its size.
    pub bore_outside_limits: f64,
    /// The same where cups were pressed out before.
    pub bore_outside_limits_reused: f64,
    /// Half-width within which two bearings are the same size, mm.
    pub same_bearing_mm: f64,
}

impl Default for Rules {
    fn default() -> Self {
        Self {
            steerer_size_tolerance_mm: Rule::SteererSizeTolerance.value(),
            open_at_most_mm: Rule::OpenAtMost.value(),
            deepen_at_most_mm: Rule::DeepenAtMost.value(),
            tyre_gap_least_mm: Rule::TyreGapLeast.value(),
            throat_reach_mm: Rule::ThroatReach.value(),
            reamed_interference_mm: Rule::ReamedInterference.value(),
            bore_outside_limits: Rule::BoreOutsideLimits.value(),
            bore_outside_limits_reused: Rule::BoreOutsideLimitsReused.value(),
            same_bearing_mm: Rule::SameBearing.value(),
        }
    }
}

impl Facts {
    /// What is known of a bike, for kits that move the angle in this direction.
    pub fn new(known: &BikeKnowledge, direction: Direction) -> Self {
        let seats = End::BOTH.map(|end| seat(known, end));
        let material = known.observed.frame_material;
        let cutting = match material {
            Some(Material::Aluminium | Material::Steel | Material::Titanium) => Cutting::Possible,
            Some(Material::Carbon) => Cutting::Forbidden,
            Some(Material::NotKnown) | None => Cutting::NotKnown,
        };
        let head_tube_wall = known.get(Quantity::HeadTubeWall);
        let fork_arm = known.get(Quantity::AxleToCrown).map(|length| {
            // Without a known travel the full length is used: it swings the wheel further.
            let travel = known.get(Quantity::ForkTravel).unwrap_or(Estimate::exact(0.0));
            length - travel
        });
        Self {
            direction,
            rules: Rules::default(),
            head_tube_length: known.get(Quantity::HeadTubeLength),
            steerer_diameters: [
                known.get(Quantity::SteererUpperDiameter),
                known.get(Quantity::SteererLowerDiameter),
            ],
            bearing_recess: known.get(Quantity::UpperBearingRecess),
            hoses: known.observed.hoses_through_headset,
            steering_stop: known.observed.steering_stop,
            bearings: known.observed.bearings,
            bearing_sizes: End::BOTH.map(|end| {
                [SeatDimension::BearingOuter, SeatDimension::BearingInner, SeatDimension::BearingHeight]
                    .map(|dimension| known.get(dimension.quantity(end)))
            }),
            pressing_allowed: known.observed.maker_allows_pressing,
            cups_changed: known.observed.cups_changed,
            fitted: known.fitted.as_ref().map(FittedKit::offsets),
            contradicted: known.contradicted().collect(),
            cutting,
            ends: End::BOTH.map(|end| end_facts(known, end, head_tube_wall, material)),
            steerer_free: steerer_free(known),
            tyre_gap: known.get(Quantity::TyreToDownTube),
            fork_arm,
            head_tube_wall,
            steerer_parts: steerer_parts(known),
            seats,
        }
    }

    fn end(&self, end: End) -> &EndFacts {
        let [upper, lower] = &self.ends;
        match end {
            End::Upper => upper,
            End::Lower => lower,
        }
    }

    /// The posterior of one seat.
    pub fn posterior(&self, end: End) -> &Posterior {
        let [upper, lower] = &self.seats;
        match end {
            End::Upper => upper,
            End::Lower => lower,
        }
    }

    /// The throat's diameter, mm.
    pub fn throat(&self, end: End) -> Option<Estimate> {
        self.end(end).throat
    }

    /// Planes and offsets of a kit relative to the present steering axis: to the one through the bearings of the kit in
    /// the bike, or to the head tube's axis.
    pub fn relative(&self, offsets: Offsets, nominal_length: f64) -> Offsets {
        let length = self.head_tube_length.map_or(nominal_length, |length| length.value);
        self.fitted.map_or(offsets, |fitted| offsets.relative_to(&fitted, length))
    }

    /// The narrowest throat the tilted steerer passes at one end, mm: the kit maker's figure, or else what the
    /// clearance model asks for; `None` where that lacks a measurement.
    pub fn throat_needed(&self, end: End, kit: &PreparedKit) -> Option<f64> {
        kit.end(end).throat_min.or_else(|| self.throat_by_model(end, kit))
    }

    /// The narrowest throat that the tilted steerer passes by the clearance model, mm; `None` where a measurement for it
    /// is missing.
    pub(super) fn throat_by_model(&self, end: End, kit: &PreparedKit) -> Option<f64> {
        let steerer =
            SteererParts { lower_stack: Estimate::exact(kit.end(End::Lower).stack), ..self.steerer_parts? };
        let steerer = Steerer::from_parts(&steerer).ok()?;
        // Without a measured depth the throat starts at the face, where the steerer leans furthest.
        let depth = self.end(end).throat_depth;
        let depths = depth.map_or([0.0, self.rules.throat_reach_mm], |depth| [depth.value; 2]);
        let clearance = kit.end(end).running_clearance;
        let length = self.head_tube_length?.value;
        throat_needed(end, length, &steerer, &kit.offsets, depths, clearance)
            .ok()
            .map(|needed| needed.diameter_mm)
    }

    /// The bore's depth, mm.
    pub fn bore_depth(&self, end: End) -> Option<Estimate> {
        self.end(end).bore_depth
    }

    /// What is left of the steerer with this kit and no spacer, mm; negative means too short.
    pub fn steerer_left(&self, kit: &PreparedKit) -> Option<Estimate> {
        let [upper, lower] = &kit.ends;
        let taken = upper.stack + lower.stack + self.head_tube_length?.value * kit.excess;
        self.steerer_free.map(|free| Estimate::new(free.value - taken, free.u))
    }

    /// What is left of the gap between tyre and down tube with a steepening kit, mm.
    ///
    /// The wheel swings back about the lower bearing and the bearing itself moves back by its offset; both are
    /// taken as going straight at the down tube, which is more than they do. Between that bearing and the fork's
    /// crown stands the kit's own lower stack.
    pub fn tyre_gap_left(&self, kit: &PreparedKit) -> Option<Estimate> {
        let swing = (self.fork_arm? + Estimate::exact(kit.end(End::Lower).stack)) * kit.sine;
        Some(self.tyre_gap? - swing - Estimate::exact(kit.offsets.lower.abs()))
    }

    /// Whether a cup holds, and whether the tube bears it: two questions, since only the second can be mended.
    ///
    /// A bore that was not measured lies anywhere between the limits of the size the cup is made for.
    pub fn press(&self, end: End, half: &PreparedEnd) -> [(Question, Rework); 2] {
        let facts = self.end(end);
        let loose = |question| (question, Rework::Forbidden);
        let tight = |question| (question, Rework::Cut);
        let not_known = [loose(Question::NotKnown), tight(Question::NotKnown)];
        let Some(cup) = half.cup else { return not_known };
        if let (Some(bore), Some([least, most]), Diameter::Measured { estimate: cup, .. }) =
            (facts.bore, facts.admissible, cup)
        {
            let interference = cup - bore.estimate();
            let spare = most - interference;
            return [
                loose(Question::Limit { of: interference, within: Limits::at_least(least.value) }),
                tight(Question::Limit { of: spare, within: Limits::at_least(0.0) }),
            ];
        }
        let chances = match (facts.bore, facts.admissible) {
            (Some(bore), Some(admissible)) => loose_and_tight(cup, bore, admissible),
            (Some(_), None) => None,
            (None, _) => {
                half.bore.and_then(|bore| looseness(cup, bore, self.head_tube_wall)).map(|p| self.outside(p))
            }
        };
        chances.map_or(not_known, |[p_loose, p_tight]| {
            [loose(Question::Chance(1.0 - p_loose)), tight(Question::Chance(1.0 - p_tight))]
        })
    }

    /// Probabilities that a cup is loose and that it is tight in a bore that was not measured: `loose` within the
    /// limits of its size, and half of the bores outside them are wider. In metal a narrow one does not count: it is
    /// measured before pressing and can be reamed.
    fn outside(&self, loose: f64) -> [f64; 2] {
        let share = match self.cups_changed {
            Some(true) => self.rules.bore_outside_limits_reused,
            Some(false) | None => self.rules.bore_outside_limits,
        };
        let tight = if self.cutting == Cutting::Possible { 0.0 } else { share / 2.0 };
        [loose * (1.0 - share) + share / 2.0, tight]
    }

    /// Whether the bike's own bearings go back in with this kit: they run well, and no dimension that was measured is
    /// another one than that of a bearing the kit takes. `None` while their condition is not known.
    pub fn bearings_go_back(&self, kit: &PreparedKit) -> Option<bool> {
        let mismatch = End::BOTH.iter().any(|end| self.bearing_mismatches(*end, kit));
        match self.bearings {
            _ if mismatch => Some(false),
            Some(Bearings::Good) => Some(true),
            Some(Bearings::Rough) => Some(false),
            Some(Bearings::NotKnown) | None => None,
        }
    }

    /// Whether the bearing of one end is another size than every bearing that the kit takes there. A dimension differs
    /// by more than the rule's half-width and twice its own u.
    pub fn bearing_mismatches(&self, end: End, kit: &PreparedKit) -> bool {
        let [upper, lower] = &self.bearing_sizes;
        let measured = match end {
            End::Upper => upper,
            End::Lower => lower,
        };
        let is_same = |part: &[f64; 3]| {
            part.iter().zip(measured).all(|(mm, measured)| {
                measured
                    .is_none_or(|read| (read.value - mm).abs() <= self.rules.same_bearing_mm + 2.0 * read.u)
            })
        };
        let parts = &kit.end(end).bearings;
        kit.reuses_bearings && !parts.is_empty() && !parts.iter().any(is_same)
    }

    /// The interference that a bore at this end is reamed to, mm: the usual one, or the middle of what a thin wall
    /// bears.
    pub(super) fn reamed_interference(&self, end: End) -> f64 {
        let middle = self.end(end).admissible.map(|[least, most]| f64::midpoint(least.value, most.value));
        self.rules.reamed_interference_mm.min(middle.unwrap_or(f64::INFINITY))
    }

    /// The bore as measured.
    pub fn bore(&self, end: End) -> Option<Diameter> {
        self.end(end).bore
    }
}

/// What was seen and measured of one seat.
pub fn evidence(known: &BikeKnowledge, end: End) -> SeatEvidence {
    let seen = match end {
        End::Upper => known.observed.upper_seat,
        End::Lower => known.observed.lower_seat,
    };
    let fitted = known.fitted.as_ref().map(|kit| kit.end(end).seat);
    let nothing =
        SeatEvidence { fitted, observed: seen, fork_out: known.observed.fork_out, ..SeatEvidence::none(end) };
    SeatDimension::ALL.into_iter().fold(nothing, |evidence, dimension| {
        match known.get(dimension.quantity(end)) {
            Some(reading) => evidence.with(dimension, reading),
            None => evidence,
        }
    })
}

/// The posterior of one seat.
///
/// Where readings of a dimension contradict each other, any may be right or none: the posterior is the mean over the
/// smallest one, the largest one and none of them, for each such dimension.
fn seat(known: &BikeKnowledge, end: End) -> Posterior {
    let mut cases = vec![evidence(known, end)];
    for dimension in SeatDimension::ALL {
        let Some(extremes) = known.contradiction(dimension.quantity(end)) else { continue };
        cases = cases
            .into_iter()
            .flat_map(|case| {
                [extremes.map(|reading| case.with(dimension, reading)).as_slice(), &[case.without(dimension)]]
                    .concat()
            })
            .collect();
    }
    let posteriors: Vec<Posterior> = cases.iter().map(identify).collect();
    Posterior::mean(&posteriors).unwrap_or_else(|| identify(&evidence(known, end)))
}

fn end_facts(
    known: &BikeKnowledge,
    end: End,
    wall: Option<Estimate>,
    material: Option<Material>,
) -> EndFacts {
    let [throat, throat_depth, depth, diameter] = match end {
        End::Upper => [
            Quantity::UpperThroatDiameter,
            Quantity::UpperThroatDepth,
            Quantity::UpperBoreDepth,
            Quantity::UpperBoreDiameter,
        ],
        End::Lower => [
            Quantity::LowerThroatDiameter,
            Quantity::LowerThroatDepth,
            Quantity::LowerBoreDepth,
            Quantity::LowerBoreDiameter,
        ],
    };
    let bore = known.get(diameter).map(|estimate| {
        let [smallest, largest] = known.bore_extremes(end).unwrap_or([estimate.value; 2]);
        Diameter::Measured { estimate, smallest, largest }
    });
    // The admissible interference depends on bore and wall, hardly on the cup: a cup of the bore's own size is used.
    let admissible = bore.and_then(|bore| {
        let cup = Diameter::measured(bore.estimate());
        let input = PressInput { wall, material, ..PressInput::new(cup, bore) };
        press_fit(&input).ok().map(|fit| fit.admissible)
    });
    EndFacts {
        throat: known.get(throat),
        throat_depth: known.get(throat_depth),
        bore_depth: known.get(depth),
        bore,
        admissible,
    }
}

/// The steerer's shape, if both its diameters were measured; the lower stack is that of the bike as it is.
pub fn steerer_parts(known: &BikeKnowledge) -> Option<SteererParts> {
    Some(SteererParts {
        lower_diameter: known.get(Quantity::SteererLowerDiameter)?,
        upper_diameter: known.get(Quantity::SteererUpperDiameter)?,
        taper_start: known.get(Quantity::SteererTaperStart),
        taper_end: known.get(Quantity::SteererTaperEnd),
        lower_stack: known.get(Quantity::LowerStack).unwrap_or(Estimate::exact(0.0)),
    })
}

/// The readings that the steerer's budget uses.
pub fn steerer_readings(known: &BikeKnowledge) -> Readings {
    Readings {
        head_tube_length: known.get(Quantity::HeadTubeLength),
        steerer_length: known.get(Quantity::SteererLength),
        lower_stack: known.get(Quantity::LowerStack),
        upper_stack: known.get(Quantity::UpperStack),
        spacers_below: known.get(Quantity::SpacersBelow),
        spacers_above: known.get(Quantity::SpacersAbove),
        stem_clamp_height: known.get(Quantity::StemClampHeight),
        cap_gap: known.get(Quantity::CapGap),
    }
}

/// What is missing to know whether the steerer is long enough for a kit, by either way of knowing; `None` if nothing is.
pub fn steerer_missing(known: &BikeKnowledge) -> Option<Missing> {
    let mut missing = match bare_steerer(known) {
        Ok(_) => Missing { fork_out: Vec::new(), fork_in: Vec::new() },
        Err(SteererError::Missing(missing)) => missing,
        Err(_) => return None,
    };
    // The kit's tilt makes the head tube's length count, even where it cancels from the parts on the steerer.
    let tube = Quantity::HeadTubeLength;
    if known.get(tube).is_none() {
        for way in [&mut missing.fork_out, &mut missing.fork_in] {
            if !way.contains(&tube) {
                way.push(tube);
            }
        }
    }
    (!missing.fork_out.is_empty() && !missing.fork_in.is_empty()).then_some(missing)
}

/// The steerer length left without headset and spacers, mm.
fn steerer_free(known: &BikeKnowledge) -> Option<Estimate> {
    bare_steerer(known).ok().map(|budget| budget.margin)
}

fn bare_steerer(known: &BikeKnowledge) -> Result<Budget, SteererError> {
    let nothing = Estimate::exact(0.0);
    let bare = Plan { spacers: SpacersKept::None, ..Plan::new(nothing, nothing, 0.0) };
    budget(&steerer_readings(known), &bare)
}

/// Head tube and steerer with a kit in, as the clearance model takes them; `None` while a reading for it is missing.
pub fn clearance_parts(
    known: &BikeKnowledge,
    prepared: &PreparedKit,
) -> Option<(HeadTubeParts, SteererParts)> {
    let get = |what| known.get(what);
    let head_tube = HeadTubeParts {
        length: get(Quantity::HeadTubeLength)?,
        lower: EndParts {
            bore_diameter: get(Quantity::LowerBoreDiameter),
            bore_depth: get(Quantity::LowerBoreDepth),
            throat_diameter: get(Quantity::LowerThroatDiameter),
            throat_depth: get(Quantity::LowerThroatDepth),
            throat_length: None,
        },
        upper: EndParts {
            bore_diameter: get(Quantity::UpperBoreDiameter),
            bore_depth: get(Quantity::UpperBoreDepth),
            throat_diameter: get(Quantity::UpperThroatDiameter),
            throat_depth: get(Quantity::UpperThroatDepth),
            throat_length: None,
        },
        inside_diameter: None,
    };
    let lower_stack = Estimate::exact(prepared.end(End::Lower).stack);
    Some((head_tube, SteererParts { lower_stack, ..steerer_parts(known)? }))
}
