//! Sentences about implausible or contradictory readings.

use super::super::check::ScreenedSurvey;
use crate::bike::{Bike, Findings, Reading};
use crate::judgement::Facts;
use std::collections::BTreeMap;
use steerwright_mechanics::geometry::{Figure, Survey};
use steerwright_mechanics::headset::{End, Style};
use steerwright_metrology::practice::Rule;
use steerwright_metrology::quantity::{Estimate, Quantity, Unit};
use steerwright_metrology::sentence::{Sentence, SentenceParam};
use steerwright_metrology::voice::Voice;
use steerwright_words::say;

/// Readings that contradict each other, a side view that does not agree, rows that could not be used.
pub(in crate::report) fn readings(
    voice: Voice<'_>,
    bike: &Bike,
    findings: &Findings,
    survey: &ScreenedSurvey,
) -> Vec<Sentence> {
    let mut lines = contradictions(voice, findings);
    lines.extend(sheet(voice, &survey.full));
    let unusable = findings.unusable();
    if !unusable.is_empty() {
        let rows: Vec<_> = unusable
            .iter()
            .filter_map(|&index| {
                let what = voice.quantity(bike.measured.get(index)?.what);
                Some(say!(voice, "reading-row", what = what, row = (index + 1).to_string()))
            })
            .collect();
        let rows = voice.and(&rows);
        let text = say!(voice, "reading-left-out", rows = rows);
        lines.push(Sentence::new("reading.left_out", text).with("rows", rows));
    }
    lines
}

/// A lower stack that no headset has whose lower bearing sits in the frame.
pub(in crate::report) fn tall_lower_stack(
    voice: Voice<'_>,
    facts: &Facts,
    stack: Option<Estimate>,
) -> Option<Sentence> {
    let seat = facts.posterior(End::Lower).identified().filter(|code| code.style == Style::Is)?;
    let (stack, most) = (stack?, Rule::LowerStackDropIn.value());
    (stack.value - stack.expanded() > most).then(|| {
        let (most, seat) = (voice.fixed_length(most, 0), seat.to_string());
        let text =
            say!(voice, "reading-lower-stack-tall", stack = voice.digits(stack), seat = seat, most = most);
        Sentence::new("reading.lower_stack_tall", text)
            .with("stack", SentenceParam::quantity(stack, Unit::Mm))
    })
}

/// What was not measured and keeps the target from being answered closely.
pub(in crate::report) fn usual_values(voice: Voice<'_>, assumed: &[Quantity]) -> Option<Sentence> {
    (!assumed.is_empty()).then(|| {
        let whats = assumed.iter().map(|what| what.name()).collect::<Vec<_>>().join(" ");
        let text = say!(voice, "target-usual-values", what = voice.quantities(assumed));
        Sentence::new("target.usual_values", text).with("whats", whats)
    })
}

/// Readings of one quantity that contradict each other, each quantity in one sentence.
fn contradictions(voice: Voice<'_>, findings: &Findings) -> Vec<Sentence> {
    let mut by_quantity: BTreeMap<Quantity, BTreeMap<usize, Reading>> = BTreeMap::new();
    for pair in findings.disagreements() {
        let readings = by_quantity.entry(pair.what).or_default();
        readings.extend(pair.readings.map(|reading| (reading.index, reading)));
    }
    let sentence = |(what, readings): (&Quantity, &BTreeMap<usize, Reading>)| {
        let named: Vec<String> = readings
            .values()
            .map(|reading| {
                say!(
                    voice,
                    "reading-contradict-item",
                    digits = voice.digits(reading.estimate),
                    unit = what.base_unit().name(),
                    row = (reading.index + 1).to_string(),
                    tool = voice.instrument(reading.with)
                )
            })
            .collect();
        let named = voice.and(&named);
        let text = say!(voice, "reading-contradict", what = voice.quantity(*what), rows = named);
        Sentence::new("reading.contradict", text).with("what", what.name()).with("rows", named)
    };
    by_quantity.iter().map(sentence).collect()
}

/// Whether the side view's numbers agree, and which one does not.
fn sheet(voice: Voice<'_>, survey: &Survey) -> Option<Sentence> {
    let suspects = survey.suspects();
    let p = survey.probability();
    match suspects {
        [] => p.filter(|p| *p < 0.01).map(|p| {
            let text = say!(voice, "reading-sheet-contradicts", chance = voice.percent(p));
            Sentence::new("reading.sheet_contradicts", text).with("p", SentenceParam::Chance { p })
        }),
        [wrong] => {
            let rest = survey.without(*wrong);
            let stated = survey.residuals().iter().find(|residual| residual.stated.what == *wrong)?;
            let unit = wrong.base_unit();
            let others = expected_without(&rest, *wrong);
            let (what, unit_name) = (voice.quantity(*wrong), unit.name());
            let number = voice.digits(stated.stated.estimate);
            let text = match others {
                Some(others) => {
                    let others = voice.digits(others);
                    say!(
                        voice,
                        "reading-wrong",
                        what = what,
                        stated = number,
                        unit = unit_name,
                        others = others
                    )
                }
                None => say!(voice, "reading-wrong-alone", what = what, stated = number, unit = unit_name),
            };
            let said = Sentence::new("reading.wrong", text)
                .with("what", wrong.name())
                .with("stated", SentenceParam::quantity(stated.stated.estimate, unit));
            Some(match others {
                Some(others) => said.with("others", SentenceParam::quantity(others, unit)),
                None => said,
            })
        }
        several => {
            let names: Vec<_> = several.iter().map(|what| voice.quantity(*what)).collect();
            let whats = several.iter().map(|what| what.name()).collect::<Vec<_>>();
            let text = say!(voice, "reading-one-of-these", what = voice.or(&names));
            Some(Sentence::new("reading.one_of_these", text).with("whats", whats.join(" ")))
        }
    }
}

/// What the rest of the readings say of a quantity that the side view shows directly.
fn expected_without(rest: &Survey, what: Quantity) -> Option<Estimate> {
    let figure = Figure::ALL.into_iter().find(|figure| figure.name() == what.name())?;
    rest.before().get(figure)
}
