//! What is odd in the readings themselves.

use super::super::check::Surveyed;
use super::super::words::{list, percent, with_digits};
use crate::bike::{Bike, Findings, Reading};
use crate::geometry::{Figure, Survey};
use crate::quantity::{Estimate, Quantity, about};
use std::collections::BTreeMap;

/// What is odd in the readings themselves: two that disagree, a sheet with a wrong number.
pub(in crate::report) fn readings(bike: &Bike, findings: &Findings, survey: &Surveyed) -> Vec<String> {
    let mut lines = contradictions(findings);
    lines.extend(sheet(&survey.whole));
    let unusable = findings.unusable();
    if !unusable.is_empty() {
        let rows: Vec<_> = unusable
            .iter()
            .filter_map(|&index| {
                Some(format!("{} (row {})", about(bike.measured.get(index)?.what).label, index + 1))
            })
            .collect();
        lines.push(format!("Left out, since its tool or unit cannot measure it: {}.", list(&rows, "and")));
    }
    lines
}

/// Readings of one quantity that contradict each other, each quantity in one sentence.
fn contradictions(findings: &Findings) -> Vec<String> {
    let mut by_quantity: BTreeMap<Quantity, BTreeMap<usize, Reading>> = BTreeMap::new();
    for pair in findings.disagreements() {
        let readings = by_quantity.entry(pair.what).or_default();
        readings.extend(pair.readings.map(|reading| (reading.index, reading)));
    }
    let sentence = |(what, readings): (&Quantity, &BTreeMap<usize, Reading>)| {
        let named: Vec<String> = readings
            .values()
            .map(|reading| {
                format!(
                    "{} {} (row {}, {})",
                    with_digits(reading.estimate),
                    what.base_unit(),
                    reading.index + 1,
                    reading.with.name().replace('_', " ")
                )
            })
            .collect();
        format!(
            "Readings of the {} contradict each other: {}. Measure it again and strike the wrong one out.",
            about(*what).label,
            list(&named, "and")
        )
    };
    by_quantity.iter().map(sentence).collect()
}

/// Whether the side view's numbers agree, and which one does not.
fn sheet(survey: &Survey) -> Option<String> {
    let suspects = survey.suspects();
    let p = survey.probability();
    match suspects {
        [] => p.filter(|p| *p < 0.01).map(|p| {
            format!(
                "The side view's numbers contradict each other (chance of that by measuring errors alone: {}), and no \
                 single one explains it.",
                percent(p)
            )
        }),
        [wrong] => {
            let rest = survey.without(*wrong);
            let stated = survey.residuals().iter().find(|residual| residual.stated.what == *wrong)?;
            let unit = wrong.base_unit();
            let instead = expected_without(&rest, *wrong)
                .map(|value| format!("; the other numbers put it at {} {unit}", with_digits(value)))
                .unwrap_or_default();
            Some(format!(
                "The {} of {} {unit} contradicts the other numbers of the side view{instead}. It is \
                 left out here; measure it again.",
                about(*wrong).label,
                with_digits(stated.stated.estimate),
            ))
        }
        several => {
            let names: Vec<_> = several.iter().map(|what| about(*what).label.clone()).collect();
            Some(format!(
                "One of these numbers contradicts the others, and they cannot tell which: {}. Measure the easiest of them \
                 again.",
                list(&names, "or")
            ))
        }
    }
}

/// What the rest of the readings say of a quantity that the side view shows directly.
fn expected_without(rest: &Survey, what: Quantity) -> Option<Estimate> {
    let figure = Figure::ALL.into_iter().find(|figure| figure.name() == what.name())?;
    rest.before().get(figure)
}
