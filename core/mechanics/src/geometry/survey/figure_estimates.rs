//! Figures before and after a change with their uncertainties, and what is missing for the others.

use super::model::{DIRECT, SPREAD, UNKNOWNS, pack, unpack};
use super::solve::{self, Fit};
use super::{Comparison, FigureEstimates, Fits, Missing, Survey, UncertainChange, UncertainKit};
use crate::geometry::change::{Change, Changed, changed};
use crate::geometry::{Bicycle, Figure, GeometryError};
use crate::tilt::Offsets;
use nalgebra::{DMatrix, DVector};
use steerwright_metrology::quantity::{Estimate, Quantity, jacobian};

/// An open part of a gradient of at most this share is a rounding error.
const OPEN_SHARE: f64 = 1e-6;
/// So is an open part of at most this size, mm or degrees over the spread between bikes.
const OPEN_SIZE: f64 = 1e-7;
/// A result whose u exceeds this many times the spread between bikes is unknown: first order does not hold there.
const UNKNOWN: f64 = 3.0;
/// The step of a derivative with respect to an input of a change, mm or degrees.
const STEP: f64 = 0.05;

/// An independent input of a change and the setter of its field.
type Input = (Estimate, Put);
/// Sets one field of a change.
type Put = fn(&mut Change, f64);

/// Which unknowns the readings leave open, in the order of [`DIRECT`].
pub(super) fn open_unknowns(fits: &Fits) -> [bool; UNKNOWNS] {
    let mut open = [false; UNKNOWNS];
    let (best, other) = (pack(&fits.best.bicycle), pack(&fits.other.bicycle));
    for (i, open) in open.iter_mut().enumerate() {
        let unit = DVector::from_fn(UNKNOWNS, |row, _| f64::from(row == i));
        let differs = best.get(i).zip(other.get(i)).is_none_or(|(a, b)| !agree(*a, *b));
        *open = differs || [&fits.best, &fits.other].iter().any(|fit| fit.open_part(&unit) > OPEN_SHARE);
    }
    open
}

/// True if two starts led to the same number.
fn agree(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-5
}

fn inputs(change: &UncertainChange) -> Vec<Input> {
    let mut inputs: Vec<Input> = Vec::new();
    if let Some(UncertainKit::Offsets { upper_plane, lower_plane, upper, lower }) = change.kit {
        inputs.push((upper_plane, |c, v| c.kit.get_or_insert(Offsets::NONE).upper_plane = v));
        inputs.push((lower_plane, |c, v| c.kit.get_or_insert(Offsets::NONE).lower_plane = v));
        inputs.push((upper, |c, v| c.kit.get_or_insert(Offsets::NONE).upper = v));
        inputs.push((lower, |c, v| c.kit.get_or_insert(Offsets::NONE).lower = v));
    }
    let parts: [(Option<Estimate>, Put); 7] = [
        (change.axle_to_crown, |c, v| c.axle_to_crown = Some(v)),
        (change.fork_offset, |c, v| c.fork_offset = Some(v)),
        (change.front_radius, |c, v| c.front_radius = Some(v)),
        (change.rear_radius, |c, v| c.rear_radius = Some(v)),
        (change.lower_stack, |c, v| c.lower_stack = Some(v)),
        (Some(change.front_sag), |c, v| c.front_sag = v),
        (Some(change.rear_sag), |c, v| c.rear_sag = v),
    ];
    inputs.extend(parts.into_iter().filter_map(|(estimate, put)| Some((estimate?, put))));
    inputs
}

/// The change with these input values, for this bicycle; `tilt` is the plain tilt, if requested.
fn exact(inputs: &[Input], values: &[f64], tilt: Option<f64>, bicycle: &Bicycle) -> Change {
    let mut change = Change::default();
    for ((_, put), value) in inputs.iter().zip(values) {
        put(&mut change, *value);
    }
    if let Some(tilt) = tilt {
        let not_a_tilt = Offsets { upper: f64::NAN, ..Offsets::NONE };
        change.kit = Some(Offsets::for_tilt(tilt, bicycle.head_tube_length, 0.0, 0.0).unwrap_or(not_a_tilt));
    }
    change
}

/// Computes a list of results of a change to a bicycle.
type Results = fn(&Bicycle, &Change) -> Vec<f64>;
/// One result, or the unknowns that are missing for it.
type Judged = Result<Estimate, Vec<Quantity>>;

/// Number of results of a comparison, in one row: before, after, difference, tilt, pitch.
const RESULTS: usize = 3 * Figure::COUNT + 2;

fn everything(bicycle: &Bicycle, change: &Change) -> Vec<f64> {
    let Ok(Changed { before, after, tilt_deg, pitch_deg }) = changed(bicycle, change) else {
        return vec![f64::NAN; RESULTS];
    };
    let (old, new) = (before.figures(), after.figures());
    let mut row = Vec::with_capacity(RESULTS);
    row.extend(old);
    row.extend(new);
    row.extend(new.iter().zip(old).map(|(new, old)| new - old));
    row.extend([tilt_deg, pitch_deg]);
    row
}

/// Results at one fit with their gradients, a row for each.
struct Expansion {
    values: Vec<f64>,
    /// With respect to the unknowns, in units of their spread.
    slopes: DMatrix<f64>,
    /// With respect to the change's own inputs, in units of their u.
    own: DMatrix<f64>,
}

fn expand(fit: &Fit, inputs: &[Input], tilt: Option<Estimate>, results: Results) -> Expansion {
    let mut values = pack(&fit.bicycle).to_vec();
    values.extend(inputs.iter().map(|(estimate, _)| estimate.value));
    values.extend(tilt.map(|tilt| tilt.value));
    let own: Vec<f64> = inputs.iter().map(|(e, _)| e.u).chain(tilt.map(|tilt| tilt.u)).collect();
    let mut steps: Vec<f64> = SPREAD.iter().map(|spread| spread * solve::STEP).collect();
    // An exact input needs no derivative: step 0 holds it constant.
    steps.extend(own.iter().map(|u| if *u > 0.0 { STEP } else { 0.0 }));
    let f = |all: &[f64]| {
        let (bike, rest) = all.split_at(UNKNOWNS.min(all.len()));
        let Ok(bike) = <&[f64; UNKNOWNS]>::try_from(bike) else { return Vec::new() };
        let bicycle = unpack(bike);
        let change = exact(inputs, rest, tilt.and(rest.last().copied()), &bicycle);
        results(&bicycle, &change)
    };
    let mut slopes = jacobian(&values, &steps, f);
    for (mut column, scale) in slopes.column_iter_mut().zip(SPREAD.iter().chain(&own)) {
        column *= *scale;
    }
    let own = slopes.columns(UNKNOWNS, own.len()).into_owned();
    Expansion { values: f(&values), slopes: slopes.columns(0, UNKNOWNS).into_owned(), own }
}

fn judge(row: usize, fits: &Fits, expansions: &[Expansion; 2], birge: f64, open: &[bool]) -> Judged {
    let [best, other] = expansions;
    let gradients = [best, other].map(|expansion| expansion.slopes.row(row).transpose());
    let values = [best, other].map(|e| e.values.get(row).copied().unwrap_or(f64::NAN));
    let closed = [&fits.best, &fits.other]
        .iter()
        .zip(&gradients)
        .all(|(fit, gradient)| fit.open_part(gradient) <= OPEN_SHARE * gradient.norm() + OPEN_SIZE);
    let [value, again] = values;
    let [gradient, _] = &gradients;
    let of_bike = gradient.dot(&(&fits.best.covariance * gradient)).max(0.0).sqrt();
    // If u exceeds that limit, so does the u of an unknown that the result depends on, which is named below.
    let of_all_bikes = gradient.lp_norm(1);
    if closed && agree(value, again) && of_bike <= UNKNOWN * of_all_bikes + OPEN_SIZE {
        let of_change = best.own.row(row).norm();
        let estimate = Estimate::new(value, (of_bike * birge).hypot(of_change));
        if estimate.is_sound() {
            return Ok(estimate);
        }
    }
    let matters = |i: usize| {
        gradients.iter().any(|g| {
            let largest = g.amax();
            g.get(i).is_none_or(|slope| slope.is_nan() || slope.abs() > OPEN_SHARE * largest + OPEN_SIZE)
        })
    };
    let vague = |i: usize| fits.best.covariance.get((i, i)).is_none_or(|square| square.sqrt() > UNKNOWN);
    Err(DIRECT
        .into_iter()
        .zip(open)
        .enumerate()
        .filter_map(|(i, (what, open))| ((*open || vague(i)) && matters(i)).then_some(what))
        .collect())
}

fn outlook(rows: impl Iterator<Item = Judged>) -> FigureEstimates {
    let mut outlook = FigureEstimates::default();
    for (figure, judged) in Figure::ALL.into_iter().zip(rows) {
        match judged {
            Ok(estimate) => {
                outlook.figures.insert(figure, estimate);
            }
            Err(needs) => outlook.missing.push(Missing { result: figure, needs }),
        }
    }
    outlook
}

/// Estimates the results that `results` computes; none where the readings contradict each other so much that no fit
/// exists.
pub(super) fn judged(
    survey: &Survey,
    change: &UncertainChange,
    results: Results,
) -> Result<Vec<Judged>, GeometryError> {
    let Some(fits) = &survey.fits else { return Ok(Vec::new()) };
    let inputs = inputs(change);
    let tilt = match change.kit {
        Some(UncertainKit::Tilt(tilt)) => Some(tilt),
        _ => None,
    };
    let values: Vec<f64> = inputs.iter().map(|(estimate, _)| estimate.value).collect();
    let bicycle = &fits.best.bicycle;
    // Returns the error of an invalid change; further down invalid results are NaN.
    changed(bicycle, &exact(&inputs, &values, tilt.map(|tilt| tilt.value), bicycle))?;
    let expansions = [&fits.best, &fits.other].map(|fit| expand(fit, &inputs, tilt, results));
    let birge = survey.birge_ratio();
    let open = survey.open_unknowns();
    let [best, _] = &expansions;
    Ok((0..best.values.len()).map(|row| judge(row, fits, &expansions, birge, &open)).collect())
}

pub(super) fn compare(survey: &Survey, change: &UncertainChange) -> Result<Comparison, GeometryError> {
    let mut rows = judged(survey, change, everything)?.into_iter();
    // Without a fit there are no rows, and no further measurement would give one.
    let mut part = || outlook((0..Figure::COUNT).map(|_| rows.next().unwrap_or(Err(Vec::new()))));
    let (before, after, difference) = (part(), part(), part());
    let mut single = || rows.next()?.ok();
    Ok(Comparison { before, after, difference, tilt_deg: single(), pitch_deg: single() })
}
