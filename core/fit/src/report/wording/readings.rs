//! Sentences about implausible or contradictory readings.

use super::super::check::ScreenedSurvey;
use super::super::words::{list, percent, with_digits};
use crate::bike::{Bike, Findings, Reading};
use crate::judgement::Facts;
use std::collections::BTreeMap;
use steerwright_mechanics::geometry::{Figure, Survey};
use steerwright_mechanics::headset::{End, Style};
use steerwright_metrology::practice::Rule;
use steerwright_metrology::quantity::{Estimate, Quantity, Unit, quantity_info};
use steerwright_metrology::sentence::{Sentence, SentenceParam};

/// Readings that contradict each other, a side view that does not agree, rows that could not be used.
pub(in crate::report) fn readings(
    bike: &Bike,
    findings: &Findings,
    survey: &ScreenedSurvey,
) -> Vec<Sentence> {
    let mut lines = contradictions(findings);
    lines.extend(sheet(&survey.full));
    let unusable = findings.unusable();
    if !unusable.is_empty() {
        let rows: Vec<_> = unusable
            .iter()
            .filter_map(|&index| {
                Some(format!("{} (row {})", quantity_info(bike.measured.get(index)?.what).label, index + 1))
            })
            .collect();
        let rows = list(&rows, "and");
        let text = format!("Left out, since its tool or unit cannot measure it: {rows}.");
        lines.push(Sentence::new("reading.left_out", text).with("rows", rows));
    }
    lines
}

/// A lower stack that no headset has whose lower bearing sits in the frame.
pub(in crate::report) fn tall_lower_stack(facts: &Facts, stack: Option<Estimate>) -> Option<Sentence> {
    let seat = facts.posterior(End::Lower).identified().filter(|code| code.style == Style::Is)?;
    let (stack, most) = (stack?, Rule::LowerStackDropIn.value());
    (stack.value - stack.expanded() > most).then(|| {
        let text = format!(
            "A lower stack of {} mm is more than a drop-in headset has ({seat}: {most:.0} mm at most as a rule). Measure it \
             again, from the head tube's lower face to the crown race seat on the fork.",
            with_digits(stack)
        );
        Sentence::new("reading.lower_stack_tall", text).with("stack", SentenceParam::quantity(stack, Unit::Mm))
    })
}

/// What was not measured and keeps the target from being answered closely.
pub(in crate::report) fn usual_values(assumed: &[Quantity]) -> Option<Sentence> {
    let labels: Vec<_> = assumed.iter().map(|what| quantity_info(*what).label.clone()).collect();
    (!labels.is_empty()).then(|| {
        let named = list(&labels, "and");
        let whats = assumed.iter().map(|what| what.name()).collect::<Vec<_>>().join(" ");
        let text = format!(
            "The head angle with a kit is only known as a range, because usual values stand in for what was not measured: \
             {named}. Measure them to know it closely."
        );
        Sentence::new("target.usual_values", text).with("whats", whats)
    })
}

/// Readings of one quantity that contradict each other, each quantity in one sentence.
fn contradictions(findings: &Findings) -> Vec<Sentence> {
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
        let named = list(&named, "and");
        let text = format!(
            "Readings of the {} contradict each other: {named}. Measure it again and strike the wrong one out.",
            quantity_info(*what).label,
        );
        Sentence::new("reading.contradict", text).with("what", what.name()).with("rows", named)
    };
    by_quantity.iter().map(sentence).collect()
}

/// Whether the side view's numbers agree, and which one does not.
fn sheet(survey: &Survey) -> Option<Sentence> {
    let suspects = survey.suspects();
    let p = survey.probability();
    match suspects {
        [] => p.filter(|p| *p < 0.01).map(|p| {
            let text = format!(
                "The side view's numbers contradict each other (chance of that by measuring errors alone: {}), and no \
                 single one explains it.",
                percent(p)
            );
            Sentence::new("reading.sheet_contradicts", text).with("p", SentenceParam::Chance { p })
        }),
        [wrong] => {
            let rest = survey.without(*wrong);
            let stated = survey.residuals().iter().find(|residual| residual.stated.what == *wrong)?;
            let unit = wrong.base_unit();
            let others = expected_without(&rest, *wrong);
            let instead = others
                .map(|value| format!("; the other numbers put it at {} {unit}", with_digits(value)))
                .unwrap_or_default();
            let text = format!(
                "The {} of {} {unit} contradicts the other numbers of the side view{instead}. It is \
                 left out here; measure it again.",
                quantity_info(*wrong).label,
                with_digits(stated.stated.estimate),
            );
            let said = Sentence::new("reading.wrong", text)
                .with("what", wrong.name())
                .with("stated", SentenceParam::quantity(stated.stated.estimate, unit));
            Some(match others {
                Some(others) => said.with("others", SentenceParam::quantity(others, unit)),
                None => said,
            })
        }
        several => {
            let names: Vec<_> = several.iter().map(|what| quantity_info(*what).label.clone()).collect();
            let (names, whats) = (list(&names, "or"), several.iter().map(|what| what.name()).collect::<Vec<_>>());
            let text = format!(
                "One of these numbers contradicts the others, and they cannot tell which: {names}. Measure the easiest of \
                 them again."
            );
            Some(Sentence::new("reading.one_of_these", text).with("whats", whats.join(" ")))
        }
    }
}

/// What the rest of the readings say of a quantity that the side view shows directly.
fn expected_without(rest: &Survey, what: Quantity) -> Option<Estimate> {
    let figure = Figure::ALL.into_iter().find(|figure| figure.name() == what.name())?;
    rest.before().get(figure)
}
