//! Reconstruction of the side view from any set of readings.
//!
//! A reading states one of the eleven numbers of a [`Bicycle`], or a function of several (reach, stack, front centre,
//! bottom bracket drop). [`least_squares`](steerwright_metrology::least_squares) reconciles them. A figure is present
//! only if the readings determine it, with the standard uncertainty that follows from theirs. Redundant readings are
//! tested by their normalised residuals (W. Baarda 1968, A testing procedure for use in geodetic networks).

mod figure_estimates;
mod head_angle;
mod model;
mod solve;
mod suspicion;

use super::{Bicycle, Change, Figure, GeometryError};
use crate::tilt::Offsets;
use solve::Fit;
use std::collections::BTreeMap;
use steerwright_metrology::conformity::chi_square_tail;
use steerwright_metrology::practice::Rule;
use steerwright_metrology::quantity::{Estimate, Quantity};

/// One reading of the side view.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statement {
    /// The quantity.
    pub what: Quantity,
    /// The reading, mm or degrees. A standard uncertainty under 1e-6 counts as 1e-6.
    pub estimate: Estimate,
}

impl Statement {
    /// A statement; value and u in mm or degrees.
    pub const fn new(what: Quantity, value: f64, u: f64) -> Self {
        Self { what, estimate: Estimate::new(value, u) }
    }
}

/// The residual of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// The reading.
    pub stated: Statement,
    /// The value of the reconciled bicycle, mm or degrees.
    pub fitted: f64,
    /// `(stated - fitted) / u(stated - fitted)`; standard normal if all readings are good. `None` where no other
    /// reading checks this one.
    pub normalised: Option<f64>,
}

/// The side view as far as the readings determine it.
#[derive(Debug, Clone)]
pub struct Survey {
    statements: Vec<Statement>,
    unusable: Vec<Statement>,
    fits: Option<Fits>,
    residuals: Vec<Residual>,
    suspects: Vec<Quantity>,
}

/// The same readings fitted from two different starts.
#[derive(Debug, Clone)]
struct Fits {
    best: Fit,
    other: Fit,
}

/// Reconciles readings of one bike.
///
/// Readings of other quantities are ignored. Impossible ones (not finite, a negative u, a length or an angle outside
/// its range) are listed by [`Survey::unusable`]. Any number of readings is accepted, including none.
///
/// Where several bicycles have the same readings (front centre with the bottom bracket above or below the axle), the
/// one near an ordinary bike is chosen. Uncertainties are of first order. A figure whose u is over three times the
/// spread between bikes counts as unknown.
pub fn survey(statements: &[Statement]) -> Survey {
    let bearing = statements.iter().copied().filter(|statement| model::bears(statement.what));
    let (usable, unusable): (Vec<_>, Vec<_>) = bearing.partition(model::is_usable);
    let fits = fits(&usable);
    let residuals = fits.as_ref().map(|fits| suspicion::residuals(&usable, &fits.best)).unwrap_or_default();
    let suspects = match &fits {
        Some(fits) => suspicion::suspects(&usable, &fits.best, &residuals),
        None => suspicion::obstacles(&usable),
    };
    Survey { statements: usable, unusable, fits, residuals, suspects }
}

fn fits(statements: &[Statement]) -> Option<Fits> {
    let [first, second] = model::STARTS.map(|start| solve::fit(statements, &start));
    match (first, second) {
        (Some(first), Some(second)) => Some(if second.chi_square() < first.chi_square() - 1e-6 {
            // The other start led to a worse minimum, whose open directions would mislead.
            Fits { best: second.clone(), other: second }
        } else if first.chi_square() < second.chi_square() - 1e-6 {
            Fits { best: first.clone(), other: first }
        } else {
            Fits { best: first, other: second }
        }),
        (Some(one), None) | (None, Some(one)) => Some(Fits { best: one.clone(), other: one }),
        (None, None) => None,
    }
}

impl Survey {
    /// The readings that were used, in the order given.
    pub fn statements(&self) -> &[Statement] {
        &self.statements
    }

    /// Readings that no bicycle can have and that were left out.
    pub fn unusable(&self) -> &[Statement] {
        &self.unusable
    }

    /// The residual of each reading, in the order of [`Survey::statements`].
    pub fn residuals(&self) -> &[Residual] {
        &self.residuals
    }

    /// `sum(((stated - fitted) / u)^2)`.
    pub fn chi_square(&self) -> Option<f64> {
        self.fits.as_ref().map(|fits| fits.best.chi_square())
    }

    /// The number of redundant readings.
    pub fn degrees_of_freedom(&self) -> usize {
        self.fits.as_ref().map_or(0, |fits| fits.best.solution.degrees_of_freedom())
    }

    /// The probability of a chi-square at least this large if every reading has its stated uncertainty; `None` without
    /// redundant readings. Under 0.01, a reading is wrong. [`Survey::suspects`] also finds a single gross error that
    /// chi-square does not show among many good readings.
    pub fn probability(&self) -> Option<f64> {
        chi_square_tail(self.chi_square()?, self.degrees_of_freedom())
    }

    /// The factor by which the u of every result is enlarged: `max(1, sqrt(chi^2 / degrees of freedom))` (R. T. Birge
    /// 1932, Phys. Rev. 40:207).
    pub fn birge_ratio(&self) -> f64 {
        match (self.chi_square(), self.degrees_of_freedom()) {
            (Some(chi_square), dof @ 1..) => (chi_square / dof as f64).sqrt().max(1.0),
            _ => 1.0,
        }
    }

    /// The readings of which one is probably wrong, the likeliest first. Empty if the readings agree.
    ///
    /// Without any one of them the rest agree. More than one means that the readings do not determine which is wrong.
    pub fn suspects(&self) -> &[Quantity] {
        &self.suspects
    }

    /// The wrong reading, if there is exactly one candidate.
    pub fn suspect(&self) -> Option<Quantity> {
        match self.suspects.as_slice() {
            [one] => Some(*one),
            _ => None,
        }
    }

    /// The survey without the readings of `what`.
    pub fn without(&self, what: Quantity) -> Self {
        let kept: Vec<_> = self.statements.iter().copied().filter(|s| s.what != what).collect();
        Self { unusable: self.unusable.clone(), ..survey(&kept) }
    }

    /// The quantities whose unknowns the readings leave open.
    pub fn undetermined(&self) -> Vec<Quantity> {
        let open = self.open_unknowns();
        model::DIRECT.into_iter().zip(open).filter_map(|(what, open)| open.then_some(what)).collect()
    }

    /// The bicycle, if the readings determine all eleven numbers.
    pub fn bicycle(&self) -> Option<Bicycle> {
        let fits = self.fits.as_ref()?;
        self.undetermined().is_empty().then_some(fits.best.bicycle)
    }

    /// The bike without a change.
    pub fn before(&self) -> FigureEstimates {
        // Without a change there is always a stance.
        self.compare(&UncertainChange::default()).map(|comparison| comparison.before).unwrap_or_default()
    }

    /// The bike after a change.
    ///
    /// # Errors
    /// As [`Survey::compare`].
    pub fn after(&self, change: &UncertainChange) -> Result<FigureEstimates, GeometryError> {
        Ok(self.compare(change)?.after)
    }

    /// Before, after, and the difference. Errors common to both cancel in the difference, so it has a smaller u than
    /// either, and may be present where both are missing.
    ///
    /// # Errors
    /// If the change is outside its domain or leaves the bike no stance.
    pub fn compare(&self, change: &UncertainChange) -> Result<Comparison, GeometryError> {
        figure_estimates::compare(self, change)
    }

    /// The head angle before and after a change, and the difference, as in [`Survey::compare`].
    ///
    /// # Errors
    /// As [`Survey::compare`].
    pub fn head_angle(&self, change: &UncertainChange) -> Result<HeadAngle, GeometryError> {
        head_angle::of(self, change)
    }

    /// The head angle without a change, degrees, as in [`Survey::before`].
    pub fn head_angle_now(&self) -> Option<Estimate> {
        self.head_angle(&UncertainChange::default()).ok()?.before
    }

    /// The change of the head angle relative to the ground for each of a batch of kits (offsets and lower stack, mm),
    /// degrees, steeper positive: the values of [`HeadAngle::difference`]. `None` where the readings do not determine
    /// it, or the bike has no stance with the kit.
    pub fn head_angle_moved(&self, kits: &[(Offsets, f64)]) -> Vec<Option<f64>> {
        head_angle::moved(self, kits)
    }

    /// What is missing to know the head angle before and after a change and the difference; empty if nothing is.
    pub fn missing_for_head_angle(&self, change: &UncertainChange) -> Vec<Quantity> {
        let Ok(comparison) = self.compare(change) else { return Vec::new() };
        let parts = [comparison.before, comparison.after, comparison.difference];
        let missing = parts.iter().flat_map(|part| &part.missing);
        let mut needs: Vec<Quantity> = missing
            .filter(|it| it.result == Figure::HeadAngle)
            .flat_map(|it| it.needs.iter().copied())
            .collect();
        needs.sort_unstable();
        needs.dedup();
        needs
    }

    fn open_unknowns(&self) -> [bool; model::UNKNOWNS] {
        self.fits.as_ref().map_or([true; model::UNKNOWNS], figure_estimates::open_unknowns)
    }
}

/// The head angle around a change, degrees; `None` where the readings do not determine it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HeadAngle {
    /// Before the change.
    pub before: Option<Estimate>,
    /// After the change.
    pub after: Option<Estimate>,
    /// After minus before; it may be known where both are not.
    pub difference: Option<Estimate>,
}

/// The figures that the readings determine, and what is missing for the others.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FigureEstimates {
    /// The known figures, mm or degrees.
    pub figures: BTreeMap<Figure, Estimate>,
    /// The others, in the order of [`Figure::ALL`].
    pub missing: Vec<Missing>,
}

impl FigureEstimates {
    /// One figure, if it is known.
    pub fn get(&self, figure: Figure) -> Option<Estimate> {
        self.figures.get(&figure).copied()
    }
}

/// A figure that the readings do not determine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Missing {
    /// The figure.
    pub result: Figure,
    /// Quantities that would determine it together. Empty only if the fit does not converge.
    pub needs: Vec<Quantity>,
}

/// A bike before and after a change, as far as the readings determine it.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Before the change, with its sag.
    pub before: FigureEstimates,
    /// After the change.
    pub after: FigureEstimates,
    /// After minus before, figure by figure.
    pub difference: FigureEstimates,
    /// The rotation of the steering axis in the frame, degrees, slacker positive.
    pub tilt_deg: Option<Estimate>,
    /// The turn of the frame on its wheels, degrees, positive where the front rises.
    pub pitch_deg: Option<Estimate>,
}

/// The kit of an uncertain change.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum UncertainKit {
    /// A kit's bearing planes and offsets, mm, signed as in [`Offsets`].
    Offsets {
        /// [`Offsets::upper_plane`].
        upper_plane: Estimate,
        /// [`Offsets::lower_plane`].
        lower_plane: Estimate,
        /// [`Offsets::upper`].
        upper: Estimate,
        /// [`Offsets::lower`].
        lower: Estimate,
    },
    /// A plain tilt, degrees, slacker positive, with both bearings at the head tube's faces, whatever its
    /// length.
    Tilt(Estimate),
}

impl UncertainKit {
    /// A kit in a head tube: its bearings come to lie near its stated planes and offsets, within the half-widths of
    /// [`Rule::BearingPlane`] and [`Rule::BearingPlay`] (coverage factor 2).
    pub fn installed(kit: Offsets) -> Self {
        let plane = |mm| Estimate::new(mm, Rule::BearingPlane.value() / 2.0);
        let sideways = |mm| Estimate::new(mm, Rule::BearingPlay.value() / 2.0);
        Self::Offsets {
            upper_plane: plane(kit.upper_plane),
            lower_plane: plane(kit.lower_plane),
            upper: sideways(kit.upper),
            lower: sideways(kit.lower),
        }
    }

    /// The lower stack of a kit as installed, mm: as uncertain as a bearing plane.
    pub fn stack(mm: f64) -> Estimate {
        Estimate::new(mm, Rule::BearingPlane.value() / 2.0)
    }
}

impl From<Offsets> for UncertainKit {
    fn from(kit: Offsets) -> Self {
        Self::Offsets {
            upper_plane: Estimate::exact(kit.upper_plane),
            lower_plane: Estimate::exact(kit.lower_plane),
            upper: Estimate::exact(kit.upper),
            lower: Estimate::exact(kit.lower),
        }
    }
}

/// A [`Change`] whose numbers carry uncertainty, independent of each other and of the bike's readings; mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct UncertainChange {
    /// A kit, or a plain tilt.
    pub kit: Option<UncertainKit>,
    /// [`Change::axle_to_crown`].
    pub axle_to_crown: Option<Estimate>,
    /// [`Change::fork_offset`].
    pub fork_offset: Option<Estimate>,
    /// [`Change::front_radius`].
    pub front_radius: Option<Estimate>,
    /// [`Change::rear_radius`].
    pub rear_radius: Option<Estimate>,
    /// [`Change::lower_stack`].
    pub lower_stack: Option<Estimate>,
    /// [`Change::front_sag`].
    pub front_sag: Estimate,
    /// [`Change::rear_sag`].
    pub rear_sag: Estimate,
}

impl Default for UncertainChange {
    /// No change.
    fn default() -> Self {
        Change::default().into()
    }
}

impl From<Change> for UncertainChange {
    /// The change taken as exact.
    fn from(change: Change) -> Self {
        Self {
            kit: change.kit.map(UncertainKit::from),
            axle_to_crown: change.axle_to_crown.map(Estimate::exact),
            fork_offset: change.fork_offset.map(Estimate::exact),
            front_radius: change.front_radius.map(Estimate::exact),
            rear_radius: change.rear_radius.map(Estimate::exact),
            lower_stack: change.lower_stack.map(Estimate::exact),
            front_sag: Estimate::exact(change.front_sag),
            rear_sag: Estimate::exact(change.rear_sag),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trail_needs_three_readings_and_says_which() {
        let readings = [
            Statement::new(Quantity::HeadAngle, 66.0, 0.15),
            Statement::new(Quantity::ForkOffset, 44.0, 0.5),
        ];
        let before = survey(&readings).before();
        assert!((before.get(Figure::HeadAngle).unwrap().value - 66.0).abs() < 1e-9);
        let trail = before.missing.iter().find(|missing| missing.result == Figure::Trail).unwrap();
        assert_eq!(trail.needs, [Quantity::FrontTyreDiameter]);
        let more = [readings.as_slice(), &[Statement::new(Quantity::FrontTyreDiameter, 744.0, 1.0)]].concat();
        let trail = survey(&more).before().get(Figure::Trail).unwrap();
        // (372 cos 66 - 44) / sin 66
        assert!((trail.value - 117.461_07).abs() < 5e-5, "{trail:?}");
        // Partial derivatives 1/tan H, -1/sin H and -(r - O cos H) / sin^2 H per radian.
        let u = (0.5f64 * 0.445_229).hypot(0.5 * 1.094_636).hypot(0.15f64.to_radians() * 424.30);
        assert!((trail.u - u).abs() < 1e-3, "{} but {u}", trail.u);
    }
}
