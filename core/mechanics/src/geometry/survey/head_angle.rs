//! The head angle alone: for one change with its uncertainty, or for a batch of kits.

use super::figure_estimates::judged;
use super::model::UNKNOWNS;
use super::{HeadAngle, Survey, UncertainChange};
use crate::geometry::change::{Change, changed};
use crate::geometry::{Bicycle, GeometryError};
use crate::tilt::Offsets;

/// Offsets and lower stack of a kit, mm.
type Kit = (Offsets, f64);

/// Whether the effect of a kit on the head angle depends on each unknown: it does not depend on chainstay, bottom
/// bracket height and seat angle.
const STEERING: [bool; UNKNOWNS] = [true, true, true, true, true, true, true, true, false, false, false];

fn results(bicycle: &Bicycle, change: &Change) -> Vec<f64> {
    let Ok(changed) = changed(bicycle, change) else { return vec![f64::NAN; 3] };
    let [before, after] = [changed.before, changed.after].map(|view| view.head_angle);
    vec![before, after, after - before]
}

pub(super) fn of(survey: &Survey, change: &UncertainChange) -> Result<HeadAngle, GeometryError> {
    let mut rows = judged(survey, change, results)?.into_iter().map(Result::ok);
    let mut next = || rows.next().flatten();
    Ok(HeadAngle { before: next(), after: next(), difference: next() })
}

pub(super) fn moved(survey: &Survey, kits: &[Kit]) -> Vec<Option<f64>> {
    let Some(fits) = &survey.fits else { return vec![None; kits.len()] };
    let open = survey.open_unknowns();
    if STEERING.iter().zip(open).any(|(steers, open)| *steers && open) {
        // The open unknowns may cancel for this kit.
        return kits.iter().map(|kit| moved_by(survey, kit)).collect();
    }
    // Both fits agree in these unknowns to 1e-5 mm or degrees, and the difference depends on each by less than a
    // tenth of a degree per mm or degree: it is the same from both.
    let moved = |kit: &Kit| {
        let changed = changed(&fits.best.bicycle, &change_of(kit)).ok()?;
        Some(changed.after.head_angle - changed.before.head_angle)
    };
    kits.iter().map(moved).collect()
}

fn moved_by(survey: &Survey, kit: &Kit) -> Option<f64> {
    Some(of(survey, &change_of(kit).into()).ok()?.difference?.value)
}

fn change_of((offsets, lower_stack): &Kit) -> Change {
    Change { kit: Some(*offsets), lower_stack: Some(*lower_stack), ..Change::default() }
}
