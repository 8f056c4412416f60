//! Sentences about seats.

use super::super::kit::CheckContext;
use super::super::words::{list, millimetres, percent, trimmed};
use crate::judgement::{Answer, State};
use steerwright_mechanics::headset::{
    End, Posterior, SeatCode, SeatDimension, Style, bearing_size, same_frame_seat, size,
};

/// The kind of seat in words: drop-in or pressed cup.
fn kind(code: SeatCode) -> &'static str {
    match code.style {
        Style::Is => "a drop-in seat",
        Style::Zs | Style::Ec => "a pressed cup",
    }
}

pub(super) fn seat(context: &CheckContext<'_>, wanted: SeatCode, end: End, answer: &Answer) -> String {
    let posterior = context.facts.posterior(end);
    let end_name = end.name();
    let likely = likeliest(posterior);
    match answer.state {
        State::Met | State::MetAfterWork => match likely.first() {
            Some((Some(found), _)) if *found != wanted && same_frame_seat(*found, wanted) => format!(
                "The {end_name} seat is the bore of a {found} ({}), and {wanted} goes in the same bore.",
                percent(answer.p)
            ),
            _ => format!("The {end_name} seat is {wanted} ({}), as the kit needs.", percent(answer.p)),
        },
        State::NotMet => {
            let found = match likely.first() {
                Some((Some(found), p)) => {
                    format!("The {end_name} seat is {found}, {} ({})", kind(*found), percent(*p))
                }
                _ => format!("The {end_name} seat has no standard size"),
            };
            let trap = bearing_trap(context, wanted, end).unwrap_or_default();
            format!("{found}; the kit needs {wanted}, {}.{trap}", kind(wanted))
        }
        State::NotKnown => {
            let candidates: Vec<_> = likely
                .iter()
                .take(3)
                .map(|(size, p)| match size {
                    Some(code) => format!("{code} ({})", percent(*p)),
                    None => format!("no standard size ({})", percent(*p)),
                })
                .collect();
            format!("The kit needs {wanted}; the {end_name} seat may be {}.", list(&candidates, "or"))
        }
    }
}

/// The sizes that a sentence names, the likeliest first.
fn likeliest(posterior: &Posterior) -> Vec<(Option<SeatCode>, f64)> {
    posterior.entries().iter().copied().filter(|(_, p)| *p >= 0.01).collect()
}

/// A warning where a reading shows that a bearing of the wanted name has another diameter.
fn bearing_trap(context: &CheckContext<'_>, wanted: SeatCode, end: End) -> Option<String> {
    let reading = context.known.get(SeatDimension::BearingOuter.quantity(end))?;
    let row = size(wanted).filter(|row| row.code.style == Style::Is)?;
    let bearing = bearing_size(&row.bearings.first()?.bearing)?;
    let [least, most] = bearing.outer.limits;
    let nominal = f64::midpoint(least, most);
    let gap = (reading.value - nominal).abs();
    // Only sizes close to each other are confused.
    (gap > 0.3 && gap < 2.0).then(|| {
        format!(
            " Its bearing measures {}; a bearing for {wanted} measures {} mm.",
            millimetres(reading),
            trimmed(nominal, 1)
        )
    })
}
