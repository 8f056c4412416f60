//! What a bike's readings say of its side view, whether they are too few or too many.
//!
//! Readings are statements about the eleven numbers of a [`Bicycle`]: some state one directly, others (reach,
//! stack, front centre, bottom bracket drop) several together. They are reconciled by weighted least squares.
//! A figure is present only if the readings determine it, and then carries the standard uncertainty that
//! follows from theirs; nothing is filled in by guess. Where readings are redundant, each is judged by its
//! normalised residual (W. Baarda, A testing procedure for use in geodetic networks, 1968).

mod head_angle;
mod model;
mod outlook;
mod solve;
mod suspicion;

use super::{Bicycle, Change, Figure, GeometryError};
use crate::tilt::Offsets;
use solve::Fit;
use std::collections::BTreeMap;
use steerwright_metrology::quantity::{Estimate, Quantity};

/// One reading that bears on the side view.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Statement {
    /// What was read.
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

/// How a reading fits with the others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Residual {
    /// The reading.
    pub stated: Statement,
    /// What the reconciled bicycle would read, mm or degrees.
    pub fitted: f64,
    /// Stated minus fitted, over its own standard uncertainty; near a standard normal variable if all is
    /// well. `None` where no other reading checks this one.
    pub normalised: Option<f64>,
}

/// The side view as far as readings determine it.
#[derive(Debug, Clone)]
pub struct Survey {
    statements: Vec<Statement>,
    unusable: Vec<Statement>,
    fits: Option<Fits>,
    residuals: Vec<Residual>,
    suspects: Vec<Quantity>,
}

/// The same readings fitted from two unlike starts.
#[derive(Debug, Clone)]
struct Fits {
    best: Fit,
    other: Fit,
}

/// Reconciles readings of one bike.
///
/// Statements that do not bear on the side view are left aside; those that cannot be (not finite, a negative
/// u, a length or an angle outside its range) are listed by [`Survey::unusable`]. Any number of them is
/// answered, none included.
///
/// Where several bicycles read the same (front centre with the bottom bracket above or below the axle, say),
/// the one like an ordinary bike is meant. Uncertainties are first order; a figure with a u beyond three
/// times what bikes differ in anyway counts as not known.
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
        (Some(first), Some(second)) => Some(if second.chi_square < first.chi_square - 1e-6 {
            // The other start led into a worse corner: what it says of the open directions would mislead.
            Fits { best: second.clone(), other: second }
        } else if first.chi_square < second.chi_square - 1e-6 {
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

    /// Readings of the side view that cannot be true of any bicycle and were left out.
    pub fn unusable(&self) -> &[Statement] {
        &self.unusable
    }

    /// False if the readings contradict each other so badly that no bicycle comes near them; nothing is
    /// present then.
    pub fn is_consistent(&self) -> bool {
        self.fits.is_some()
    }

    /// How each reading fits with the others, in the order of [`Survey::statements`].
    pub fn residuals(&self) -> &[Residual] {
        &self.residuals
    }

    /// The sum of squared residuals, each over its standard uncertainty.
    pub fn chi_square(&self) -> Option<f64> {
        self.fits.as_ref().map(|fits| fits.best.chi_square)
    }

    /// How many readings are more than needed.
    pub fn degrees_of_freedom(&self) -> usize {
        self.fits.as_ref().map_or(0, |fits| self.statements.len().saturating_sub(fits.best.rank()))
    }

    /// How probable a chi-square at least this large is if every reading is as good as stated; `None` without
    /// redundant readings. Under 0.01, something is wrong. [`Survey::suspects`] also looks for a single gross
    /// error, which chi-square alone overlooks among many good readings.
    pub fn probability(&self) -> Option<f64> {
        suspicion::probability(self.chi_square()?, self.degrees_of_freedom())
    }

    /// The factor by which every result's u is enlarged, since the readings scatter more than they claim: the
    /// root of chi-square over its degrees of freedom where that is over 1 (R. T. Birge, Phys. Rev. 40 (1932)
    /// 207).
    pub fn birge_ratio(&self) -> f64 {
        match (self.chi_square(), self.degrees_of_freedom()) {
            (Some(chi_square), dof @ 1..) => (chi_square / dof as f64).sqrt().max(1.0),
            _ => 1.0,
        }
    }

    /// The readings of which one is probably wrong, the likeliest first. Empty if the readings agree.
    ///
    /// Each is enough by itself: without it, the rest agree. More than one means that the readings cannot
    /// tell which of them it is.
    pub fn suspects(&self) -> &[Quantity] {
        &self.suspects
    }

    /// The one wrong reading, if the others single it out.
    pub fn suspect(&self) -> Option<Quantity> {
        match self.suspects.as_slice() {
            [one] => Some(*one),
            _ => None,
        }
    }

    /// The same survey without any reading of `what`.
    pub fn without(&self, what: Quantity) -> Self {
        let kept: Vec<_> = self.statements.iter().copied().filter(|s| s.what != what).collect();
        Self { unusable: self.unusable.clone(), ..survey(&kept) }
    }

    /// The quantities that state an unknown of the side view which these readings leave open.
    pub fn undetermined(&self) -> Vec<Quantity> {
        let open = self.open_unknowns();
        model::DIRECT.into_iter().zip(open).filter_map(|(what, open)| open.then_some(what)).collect()
    }

    /// The bicycle, if the readings determine all eleven numbers.
    pub fn bicycle(&self) -> Option<Bicycle> {
        let fits = self.fits.as_ref()?;
        self.undetermined().is_empty().then_some(fits.best.bicycle)
    }

    /// The bike as it stands.
    pub fn before(&self) -> Outlook {
        // Nothing changes, so nothing can fail to stand.
        self.compare(&UncertainChange::default()).map(|comparison| comparison.before).unwrap_or_default()
    }

    /// The bike after a change.
    ///
    /// # Errors
    /// As [`Survey::compare`].
    pub fn after(&self, change: &UncertainChange) -> Result<Outlook, GeometryError> {
        Ok(self.compare(change)?.after)
    }

    /// Before, after, and the difference: errors that both share cancel in it, so it is surer than either,
    /// and may be present where both are missing.
    ///
    /// # Errors
    /// If the change is outside its domain or leaves the bike no stance.
    pub fn compare(&self, change: &UncertainChange) -> Result<Comparison, GeometryError> {
        outlook::compare(self, change)
    }

    /// The head angle before and after a change, and the difference: the same as in [`Survey::compare`], at a
    /// fraction of its cost.
    ///
    /// # Errors
    /// As [`Survey::compare`].
    pub fn head_angle(&self, change: &UncertainChange) -> Result<HeadAngle, GeometryError> {
        head_angle::of(self, change)
    }

    /// The head angle of the bike as it stands, degrees: that of [`Survey::before`].
    pub fn head_angle_now(&self) -> Option<Estimate> {
        self.head_angle(&UncertainChange::default()).ok()?.before
    }

    /// By how much each of many kits turns the head angle on the ground, degrees, steeper positive: offsets and lower
    /// stack (mm) in, the value of [`HeadAngle::difference`] out. `None` where the readings do not determine it, or the
    /// bike has no stance with the kit.
    ///
    /// Fast where the readings determine the eight numbers that steer the answer; else every kit is asked by itself.
    pub fn head_angle_moved(&self, kits: &[(Offsets, f64)]) -> Vec<Option<f64>> {
        head_angle::moved(self, kits)
    }

    fn open_unknowns(&self) -> [bool; model::UNKNOWNS] {
        self.fits.as_ref().map_or([true; model::UNKNOWNS], outlook::open_unknowns)
    }
}

/// The head angle around a change, degrees; `None` where the readings do not determine it.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HeadAngle {
    /// As the bike stands now.
    pub before: Option<Estimate>,
    /// After the change.
    pub after: Option<Estimate>,
    /// After minus before; may be known where both are not.
    pub difference: Option<Estimate>,
}

/// Figures that readings determine, and what is missing for the others.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Outlook {
    /// What is known, mm or degrees.
    pub figures: BTreeMap<Figure, Estimate>,
    /// What is not, in the order of [`Figure::ALL`].
    pub missing: Vec<Missing>,
}

impl Outlook {
    /// One figure, if it is known.
    pub fn get(&self, figure: Figure) -> Option<Estimate> {
        self.figures.get(&figure).copied()
    }
}

/// A figure that cannot be had yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Missing {
    /// The figure.
    pub result: Figure,
    /// Quantities that, measured together, would give it. Empty only if the readings contradict each other
    /// beyond mending ([`Survey::is_consistent`]).
    pub needs: Vec<Quantity>,
}

/// A bike before and after a change, as far as readings determine it.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// As it stands now, sagged if the change says so.
    pub before: Outlook,
    /// After the change.
    pub after: Outlook,
    /// After minus before, figure by figure.
    pub difference: Outlook,
    /// How much the steering axis turns in the frame, degrees, slacker positive.
    pub tilt_deg: Option<Estimate>,
    /// How much the frame turns on its wheels, degrees, nose up positive.
    pub pitch_deg: Option<Estimate>,
}

/// The turning part of an uncertain change.
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
