//! A kit's numbers, ready for judging.

use super::{Direction, Facts};
use crate::bike::{FittedEnd, FittedKit};
use crate::catalogue::{Bearing, BearingSupply, Catalogue, Kit};
use steerwright_mechanics::headset::{End, SeatCode, Style, bearing_size, size};
use steerwright_mechanics::press::Diameter;
use steerwright_mechanics::tilt::{Offsets, TiltError};
use steerwright_metrology::practice::Rule;
use steerwright_metrology::quantity::Estimate;

/// One kit, ready to be judged; holds no text.
#[derive(Debug, Clone)]
pub struct PreparedKit {
    /// Upper and lower half.
    pub ends: [PreparedEnd; 2],
    /// Shortest and longest head tube, mm.
    pub range: [f64; 2],
    /// Diameter at the upper bearing and at the crown race seat, mm.
    pub steerer: [f64; 2],
    /// Bearing planes and offsets as installed for slackening.
    pub offsets: Offsets,
    /// The tilt it is machined for, degrees, positive.
    pub nominal_deg: f64,
    /// How much longer than the head tube the tilted way through it is: 1/cos(tilt) - 1.
    pub excess: f64,
    /// sin(tilt).
    pub sine: f64,
    /// Whether it takes hoses.
    pub hoses: bool,
    /// Whether a steering stop goes on working.
    pub steering_stop: bool,
    /// Whether the bike's bearings go back in.
    pub reuses_bearings: bool,
    /// Whether the catalogue sells bearings that fit both its seats.
    pub spare_bearings: bool,
    /// Whether it can steepen.
    pub reversible: bool,
    /// Price in hundredths, for ranking.
    pub price_cents: u32,
}

/// One half of a kit, ready to be judged.
#[derive(Debug, Clone)]
pub struct PreparedEnd {
    /// The seat it goes in.
    pub code: SeatCode,
    /// Whether it is a cup pressed in a bore.
    pub pressed: bool,
    /// Height outside the head tube, mm.
    pub stack: f64,
    /// Narrowest throat the maker allows, mm.
    pub throat_min: Option<f64>,
    /// Deepest bearing recess the maker allows, mm.
    pub recess_max: Option<f64>,
    /// Bore depth the cup needs, mm.
    pub bore_depth_min: Option<f64>,
    /// Room to leave around the steerer, mm.
    pub running_clearance: f64,
    /// Outside diameter of a pressed cup: as stated, or the size's own limits.
    pub cup: Option<Diameter>,
    /// Limits of the bore that a pressed cup is made for.
    pub bore: Option<Diameter>,
    /// Outside diameter, inside diameter and height of the bearings that fit its seat, mm: those of the catalogue, or
    /// else those of the table of sizes.
    pub bearings: Vec<[f64; 3]>,
}

/// Why a kit cannot be judged.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum KitError {
    /// It is to steepen and cannot be turned round.
    #[error("made for slackening only")]
    NotReversible,
    /// Its tilt, planes and offsets do not make a kit.
    #[error(transparent)]
    Tilt(#[from] TiltError),
}

impl PreparedKit {
    /// A kit of this catalogue, turned the way that moves the angle in this direction.
    ///
    /// # Errors
    /// A kit that does not turn that way, or whose tilt and head tube range do not make a kit.
    pub fn for_direction(kit: &Kit, catalogue: &Catalogue, direction: Direction) -> Result<Self, KitError> {
        match direction {
            Direction::Slacker => Ok(Self::new(kit, catalogue)?),
            Direction::Steeper if kit.reversible => Ok(Self::new(kit, catalogue)?.turned_round()),
            Direction::Steeper => Err(KitError::NotReversible),
        }
    }

    /// A kit of this catalogue, as installed for slackening.
    ///
    /// # Errors
    /// If tilt and head tube range do not make a kit.
    pub fn new(kit: &Kit, catalogue: &Catalogue) -> Result<Self, TiltError> {
        let ends = End::BOTH.map(|end| PreparedEnd::new(kit, end, catalogue));
        let offsets = Offsets::complete(
            kit.tilt_deg,
            kit.head_tube_length_mm,
            kit.upper.plane_mm,
            kit.lower.plane_mm,
            kit.upper.offset_mm,
            kit.lower.offset_mm,
        )?;
        let tilt = kit.tilt_deg.to_radians();
        Ok(Self {
            ends,
            range: kit.head_tube_length_mm,
            steerer: [kit.steerer.upper_mm, kit.steerer.lower_mm],
            offsets,
            nominal_deg: kit.tilt_deg,
            excess: 1.0 / tilt.cos() - 1.0,
            sine: tilt.sin(),
            hoses: kit.hoses,
            steering_stop: kit.steering_stop,
            reuses_bearings: kit.bearings == BearingSupply::Reused,
            spare_bearings: End::BOTH.iter().all(|&end| spare_bearing(kit, end, None, catalogue).is_some()),
            reversible: kit.reversible,
            price_cents: cents(kit),
        })
    }

    /// The same kit the other way round, to steepen.
    #[must_use]
    pub fn turned_round(self) -> Self {
        Self { offsets: self.offsets.mirrored(), ..self }
    }

    /// Planes and offsets relative to the bike's present steering axis ([`Facts::relative`]).
    pub fn relative_offsets(&self, facts: &Facts) -> Offsets {
        let [shortest, longest] = self.range;
        facts.relative(self.offsets, f64::midpoint(shortest, longest))
    }

    /// The kit as it would be noted in the bike.
    pub fn as_fitted(&self, kit: &Kit) -> FittedKit {
        let end = |end: End, plane_mm, offset_mm| {
            let half = self.end(end);
            FittedEnd { seat: half.code, stack_mm: half.stack, plane_mm, offset_mm }
        };
        FittedKit {
            sku: kit.sku.clone(),
            name: kit.name.clone(),
            upper: end(End::Upper, self.offsets.upper_plane, self.offsets.upper),
            lower: end(End::Lower, self.offsets.lower_plane, self.offsets.lower),
        }
    }

    /// One half.
    pub fn end(&self, end: End) -> &PreparedEnd {
        let [upper, lower] = &self.ends;
        match end {
            End::Upper => upper,
            End::Lower => lower,
        }
    }
}

impl PreparedEnd {
    fn new(kit: &Kit, end: End, catalogue: &Catalogue) -> Self {
        /// A printed diameter is good to half its last digit, a hundredth.
        const PRINTED: f64 = 0.005;
        let half = kit.end(end);
        let row = size(half.seat);
        let limits = |[low, high]: [f64; 2]| Diameter::Limits { low, high };
        let stated = half
            .cup_mm
            .map(|mm| Diameter::measured(Estimate::new(mm, Estimate::between(-PRINTED, PRINTED).u)));
        let cup = stated.or_else(|| row?.cup.as_ref().map(|cup| limits(cup.limits)));
        let pressed = half.seat.style != Style::Is;
        Self {
            code: half.seat,
            pressed,
            stack: half.stack_mm,
            throat_min: half.throat_min_mm,
            recess_max: half.recess_max_mm,
            bore_depth_min: half.bore_depth_min_mm,
            running_clearance: half.running_clearance_mm.unwrap_or_else(|| Rule::RunningClearance.value()),
            cup: cup.filter(|_| pressed),
            bore: row.filter(|_| pressed).map(|row| limits(row.bore.limits)),
            bearings: bearings(kit, end, catalogue),
        }
    }
}

/// The sizes of the bearings that fit one seat of a kit, mm.
fn bearings(kit: &Kit, end: End, catalogue: &Catalogue) -> Vec<[f64; 3]> {
    let sold: Vec<_> = fitting_bearings(kit, end, catalogue)
        .map(|bearing| [bearing.outer_mm, bearing.inner_mm, bearing.height_mm])
        .collect();
    if !sold.is_empty() {
        return sold;
    }
    let row = size(kit.end(end).seat);
    let known = row.iter().flat_map(|row| &row.bearings).filter_map(|inside| bearing_size(&inside.bearing));
    known.map(|it| [&it.outer, &it.inner, &it.height].map(|span| span.estimate().value)).collect()
}

fn fitting_bearings<'a>(kit: &Kit, end: End, catalogue: &'a Catalogue) -> impl Iterator<Item = &'a Bearing> {
    let row = size(kit.end(end).seat);
    catalogue.bearings.iter().filter(move |bearing| {
        row.iter().flat_map(|row| &row.bearings).filter_map(|inside| bearing_size(&inside.bearing)).any(
            |known| {
                let [least, most] = known.outer.limits;
                (least - SAME_BEARING_MM..=most + SAME_BEARING_MM).contains(&bearing.outer_mm)
            },
        )
    })
}

/// The catalogue's bearing for one end of a kit that reuses bearings: of those that fit the kit's seat, the one
/// nearest to the bearing measured on the bike, or else the first listed.
pub fn spare_bearing<'a>(
    kit: &Kit,
    end: End,
    measured_outer: Option<Estimate>,
    catalogue: &'a Catalogue,
) -> Option<&'a Bearing> {
    let wanted = measured_outer.map_or(0.0, |outer| outer.value);
    let off = |bearing: &&Bearing| if wanted > 0.0 { (bearing.outer_mm - wanted).abs() } else { 0.0 };
    fitting_bearings(kit, end, catalogue).min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// Bearings whose outside diameters differ by less are the same size; 41.0 and 41.8 are not.
const SAME_BEARING_MM: f64 = 0.15;

/// Price in hundredths for ranking; a price beyond what fits is as dear as can be.
fn cents(kit: &Kit) -> u32 {
    u32::try_from((kit.price * rust_decimal::Decimal::ONE_HUNDRED).round()).unwrap_or(u32::MAX)
}
