//! Sentences about seats.

use super::super::kit::CheckContext;
use crate::judgement::{Answer, State};
use steerwright_mechanics::headset::{
    End, Posterior, SeatCode, SeatDimension, Style, bearing_size, same_frame_seat, size,
};
use steerwright_words::say;

/// Whether the bearing sits in the frame itself or in a cup.
fn kind(code: SeatCode) -> &'static str {
    match code.style {
        Style::Is => "drop_in",
        Style::Zs | Style::Ec => "cup",
    }
}

pub(super) fn seat(context: &CheckContext<'_>, wanted: SeatCode, end: End, answer: &Answer) -> String {
    let (voice, end_name) = (context.voice, end.name());
    let likely = likeliest(context.facts.posterior(end));
    let wanted_name = wanted.to_string();
    let chance = voice.percent(answer.p);
    match answer.state {
        State::Met | State::MetAfterWork => match likely.first() {
            Some((Some(found), _)) if *found != wanted && same_frame_seat(*found, wanted) => say!(
                voice,
                "seat-same-bore",
                end = end_name,
                found = found.to_string(),
                chance = chance,
                wanted = wanted_name
            ),
            _ => say!(voice, "seat-met", end = end_name, wanted = wanted_name, chance = chance),
        },
        State::NotMet => {
            let found = match likely.first() {
                Some((Some(found), p)) => say!(
                    voice,
                    "seat-found",
                    end = end_name,
                    found = found.to_string(),
                    kind = kind(*found),
                    chance = voice.percent(*p)
                ),
                _ => say!(voice, "seat-found-none", end = end_name),
            };
            let needed = say!(voice, "seat-needed", wanted = wanted_name, kind = kind(wanted));
            let told = format!("{found}; {needed}");
            bearing_trap(context, wanted, end).map_or_else(|| told.clone(), |trap| format!("{told} {trap}"))
        }
        State::NotKnown => {
            let candidates: Vec<_> = likely
                .iter()
                .take(3)
                .map(|(size, p)| match size {
                    Some(code) => format!("{code} ({})", voice.percent(*p)),
                    None => say!(voice, "seat-candidate-none", chance = voice.percent(*p)),
                })
                .collect();
            let candidates = voice.or(&candidates);
            say!(voice, "seat-open", wanted = wanted_name, end = end_name, candidates = candidates)
        }
    }
}

/// The sizes that a sentence names, the likeliest first.
fn likeliest(posterior: &Posterior) -> Vec<(Option<SeatCode>, f64)> {
    posterior.entries().iter().copied().filter(|(_, p)| *p >= 0.01).collect()
}

/// A warning where a reading shows that a bearing of the wanted name has another diameter.
fn bearing_trap(context: &CheckContext<'_>, wanted: SeatCode, end: End) -> Option<String> {
    let voice = context.voice;
    let reading = context.known.get(SeatDimension::BearingOuter.quantity(end))?;
    let row = size(wanted).filter(|row| row.code.style == Style::Is)?;
    let bearing = bearing_size(&row.bearings.first()?.bearing)?;
    let [least, most] = bearing.outer.limits;
    let nominal = f64::midpoint(least, most);
    let gap = (reading.value - nominal).abs();
    // Only sizes close to each other are confused.
    (gap > 0.3 && gap < 2.0).then(|| {
        say!(
            voice,
            "seat-trap",
            reading = voice.mm(reading),
            wanted = wanted.to_string(),
            nominal = voice.length(nominal, 1)
        )
    })
}
