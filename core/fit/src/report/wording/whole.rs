//! Sentences about the bike as a whole: lengths, steerer, hoses, stop, down tube, bearings.

use super::super::kit::CheckContext;
use super::super::words::{list, millimetres, percent, trimmed};
use super::{doubt, limit};
use crate::bike::Bearings;
use crate::catalogue::Kit;
use crate::judgement::{Answer, PreparedKit, State, spare_bearing, steerer_missing};
use steerwright_mechanics::headset::{End, SeatDimension};
use steerwright_mechanics::steerer::Missing;
use steerwright_metrology::quantity::{Quantity, quantity_info};

pub(super) fn head_tube_length(answer: &Answer, [shortest, longest]: [f64; 2]) -> String {
    let range = format!("{}–{} mm", trimmed(shortest, 1), trimmed(longest, 1));
    let Some((length, spare, ..)) = limit(answer) else {
        return format!("The kit is for head tubes of {range}; this one was not measured.");
    };
    let length_text = millimetres(length);
    match answer.state {
        State::Met | State::MetAfterWork => format!(
            "The head tube of {length_text} lies within the kit's {range}, {} mm from the nearer end.",
            trimmed(spare.value, 1)
        ),
        State::NotKnown => format!(
            "The head tube of {length_text} is too near an end of the kit's {range} to tell (chance that it lies within: \
             {}).",
            percent(answer.p)
        ),
        State::NotMet => {
            let how = if length.value > longest { "longer" } else { "shorter" };
            format!(
                "The head tube of {length_text} is {} mm {how} than the kit's {range} allow.",
                trimmed(-spare.value, 1)
            )
        }
    }
}

/// A lower stem makes up for a steerer that is a little short.
fn lower_stem(context: &CheckContext<'_>, short: f64) -> Option<String> {
    /// Lower clamps than this are not made (common practice, no source), mm.
    const LOWEST_CLAMP_MM: f64 = 30.0;
    let clamp = context.known.get(Quantity::StemClampHeight)?.value;
    let needed = clamp - short.ceil();
    (short > 0.0 && needed >= LOWEST_CLAMP_MM).then(|| {
        format!(
            " A stem whose clamp is at most {} mm high, instead of {} mm, would make up for it; the stem's and the fork's \
             makers say whether it may go on this steerer.",
            trimmed(needed, 0),
            trimmed(clamp, 0)
        )
    })
}

pub(super) fn steerer_length(context: &CheckContext<'_>, answer: &Answer) -> String {
    let Some((left, ..)) = limit(answer) else {
        let named = |way: &[Quantity]| {
            list(&way.iter().map(|what| quantity_info(*what).label.clone()).collect::<Vec<_>>(), "and")
        };
        let how = match steerer_missing(context.known) {
            Some(Missing { fork_out, fork_in }) if fork_out != fork_in => format!(
                " Measure {} with the fork in; or {} with the fork out.",
                named(&fork_in),
                named(&fork_out)
            ),
            Some(Missing { fork_in, .. }) => format!(" Measure {}.", named(&fork_in)),
            None => String::new(),
        };
        return format!("Whether the steerer is long enough is not known.{how}");
    };
    match answer.state {
        State::Met | State::MetAfterWork => {
            format!("The steerer is long enough, with {} left for spacers.", millimetres(left))
        }
        State::NotKnown => format!(
            "The steerer is close to too short even without spacers: {} left ({}).",
            millimetres(left),
            doubt(answer)
        ),
        State::NotMet => format!(
            "The steerer is {} mm too short even without spacers, and a steerer cannot be lengthened.{}",
            trimmed(-left.value, 1),
            lower_stem(context, -left.value).unwrap_or_default()
        ),
    }
}

pub(super) fn steerer_size(context: &CheckContext<'_>, kit: &Kit, answer: &Answer) -> String {
    let [upper, lower] = context.facts.steerer_diameters;
    let wanted = format!(
        "{} mm at the upper bearing and {} mm at the crown",
        trimmed(kit.steerer.upper_mm, 1),
        trimmed(kit.steerer.lower_mm, 1)
    );
    let found = match (upper, lower) {
        (None, None) => return format!("The kit takes a steerer of {wanted}; this one was not measured."),
        (Some(upper), None) => {
            format!("{} at the upper bearing, not measured at the crown", millimetres(upper))
        }
        (None, Some(lower)) => {
            format!("{} at the crown, not measured at the upper bearing", millimetres(lower))
        }
        (Some(upper), Some(lower)) => format!("{} and {}", millimetres(upper), millimetres(lower)),
    };
    match answer.state {
        State::Met | State::MetAfterWork => format!("The steerer's {found} match the kit's {wanted}."),
        State::NotKnown | State::NotMet => {
            format!("The kit takes a steerer of {wanted}; this one has {found}.")
        }
    }
}

pub(super) fn hoses(context: &CheckContext<'_>, kit: &Kit) -> String {
    match (context.facts.hoses, kit.hoses) {
        (Some(false), _) => "No hoses run through the headset.",
        (_, true) => "The kit leaves room for hoses through the headset.",
        (Some(true), false) => "Hoses run through the headset, and the kit has no room for them.",
        (None, false) => "Look whether hoses run through the headset: the kit has no room for them.",
    }
    .to_owned()
}

pub(super) fn steering_stop(context: &CheckContext<'_>, kit: &Kit) -> String {
    match (context.facts.steering_stop, kit.steering_stop) {
        (Some(false), _) => "The bike has no steering stop.",
        (_, true) => "A steering stop goes on working with the kit.",
        (Some(true), false) => "The bike has a steering stop, which would not work with the kit.",
        (None, false) => "Look for a steering stop: it would not work with the kit.",
    }
    .to_owned()
}

pub(super) fn down_tube(answer: &Answer) -> String {
    let Some((left, spare, least, _)) = limit(answer) else {
        return "Whether the tyre clears the down tube with a steeper angle is not known: measure the gap with the fork \
                pushed to its end, and the fork's length."
            .to_owned();
    };
    let (gap, least) = (millimetres(left), trimmed(least, 1));
    match answer.state {
        State::Met | State::MetAfterWork => {
            format!(
                "With the fork pushed to its end, {gap} stay between tyre and down tube; {least} mm are enough."
            )
        }
        State::NotKnown => format!(
            "With the fork pushed to its end, {gap} would stay between tyre and down tube: too close to the {least} mm \
             needed to tell."
        ),
        State::NotMet => format!(
            "With the fork pushed to its end, only {gap} would stay between tyre and down tube, {} mm less than needed.",
            trimmed(-spare.value, 1)
        ),
    }
}

/// The ends whose own bearing is another size than the kit's.
fn mismatched_bearings(context: &CheckContext<'_>, prepared: &PreparedKit) -> Option<String> {
    let told: Vec<String> = End::BOTH
        .into_iter()
        .filter(|end| context.facts.bearing_mismatches(*end, prepared))
        .filter_map(|end| {
            let read =
                [SeatDimension::BearingOuter, SeatDimension::BearingInner, SeatDimension::BearingHeight]
                    .map(|dimension| context.known.get(dimension.quantity(end)));
            let own = read.map(|read| read.map_or_else(|| "?".to_owned(), |read| trimmed(read.value, 2)));
            let part = prepared.end(end).bearings.first()?.map(|mm| trimmed(mm, 2));
            Some(format!(
                "the {} one measures {} mm and the kit takes {} mm",
                end.name(),
                own.join(" × "),
                part.join(" × ")
            ))
        })
        .collect();
    (!told.is_empty()).then(|| list(&told, "and"))
}

pub(super) fn bearing_condition(context: &CheckContext<'_>, kit: &Kit, prepared: &PreparedKit) -> String {
    let spares = || {
        End::BOTH.map(|end| {
            let measured = context.known.get(SeatDimension::BearingOuter.quantity(end));
            spare_bearing(kit, end, measured, context.catalogue).map(|bearing| bearing.sku.clone())
        })
    };
    if let Some(mismatch) = mismatched_bearings(context, prepared) {
        let instead = match spares() {
            [Some(upper), Some(lower)] => format!("order {upper} (upper) and {lower} (lower) with it."),
            _ => "the catalogue has none that fit both seats.".to_owned(),
        };
        return format!("The bike's own bearings do not go back in: {mismatch}; {instead}");
    }
    match context.facts.bearings {
        Some(Bearings::Good) => "The bike's own bearings are good and go back in.".to_owned(),
        Some(Bearings::Rough) => match spares() {
            [Some(upper), Some(lower)] => format!(
                "The kit takes over the bike's bearings, and they are rough: order {upper} (upper) and {lower} (lower) \
                 with it."
            ),
            _ => "The kit takes over the bike's bearings, and they are rough; the catalogue has none that fit both \
                  seats."
                .to_owned(),
        },
        Some(Bearings::NotKnown) | None => match spares() {
            [Some(upper), Some(lower)] => format!(
                "The kit takes over the bike's bearings; should they prove rough, the catalogue has {upper} (upper) and \
                 {lower} (lower)."
            ),
            _ => "The kit takes over the bike's bearings: turn the fork in the stand and feel whether they are rough."
                .to_owned(),
        },
    }
}
