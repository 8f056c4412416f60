//! Sentences about the bike as a whole: lengths, steerer, hoses, stop, down tube, bearings.

use super::super::kit::CheckContext;
use super::limit;
use crate::bike::Bearings;
use crate::catalogue::Kit;
use crate::judgement::{Answer, PreparedKit, State, spare_bearing, steerer_missing};
use steerwright_mechanics::headset::{End, SeatDimension};
use steerwright_mechanics::steerer::Missing;
use steerwright_metrology::quantity::Quantity;
use steerwright_metrology::voice::Voice;
use steerwright_words::say;

pub(super) fn head_tube_length(voice: Voice<'_>, answer: &Answer, [shortest, longest]: [f64; 2]) -> String {
    let range = format!("{}–{}", voice.bare(shortest, 1), voice.length(longest, 1));
    let Some((length, spare, ..)) = limit(answer) else {
        return say!(voice, "length-not-measured", range = range);
    };
    let said = voice.mm(length);
    match answer.state {
        State::Met | State::MetAfterWork => {
            let spare = voice.length(spare.value, 1);
            say!(voice, "length-met", length = said, range = range, spare = spare)
        }
        State::NotKnown => {
            say!(voice, "length-close", length = said, range = range, chance = voice.percent(answer.p))
        }
        State::NotMet => {
            let way = if length.value > longest { "longer" } else { "shorter" };
            let by = voice.length(-spare.value, 1);
            say!(voice, "length-not-met", way = way, length = said, by = by, range = range)
        }
    }
}

/// A lower stem makes up for a steerer that is a little short.
fn lower_stem(context: &CheckContext<'_>, short: f64) -> Option<String> {
    /// Lower clamps than this are not made (common practice, no source), mm.
    const LOWEST_CLAMP_MM: f64 = 30.0;
    let voice = context.voice;
    let clamp = context.known.get(Quantity::StemClampHeight)?.value;
    let needed = clamp - short.ceil();
    (short > 0.0 && needed >= LOWEST_CLAMP_MM).then(|| {
        let (needed, clamp) = (voice.length(needed, 0), voice.length(clamp, 0));
        say!(voice, "steerer-lower-stem", needed = needed, clamp = clamp)
    })
}

pub(super) fn steerer_length(context: &CheckContext<'_>, answer: &Answer) -> String {
    let voice = context.voice;
    let Some((left, ..)) = limit(answer) else {
        let unknown = voice.text("steerer-unknown");
        let Some(Missing { fork_out, fork_in }) = steerer_missing(context.known) else { return unknown };
        let within = voice.quantities(&fork_in);
        let how = if fork_out == fork_in {
            voice.with("steerer-measure", &[("in", (&within).into())])
        } else {
            let out = voice.quantities(&fork_out);
            voice.with("steerer-measure-either", &[("in", (&within).into()), ("out", (&out).into())])
        };
        return format!("{unknown} {how}");
    };
    match answer.state {
        State::Met | State::MetAfterWork => say!(voice, "steerer-long-enough", left = voice.mm(left)),
        State::NotKnown => {
            say!(voice, "steerer-close", left = voice.mm(left), chance = voice.percent(answer.p))
        }
        State::NotMet => {
            let told = say!(voice, "steerer-too-short", short = voice.length(-left.value, 1));
            match lower_stem(context, -left.value) {
                Some(stem) => format!("{told} {stem}"),
                None => told,
            }
        }
    }
}

pub(super) fn steerer_size(context: &CheckContext<'_>, kit: &Kit, answer: &Answer) -> String {
    let voice = context.voice;
    let [upper, lower] = context.facts.steerer_diameters;
    let wanted = [kit.steerer.upper_mm, kit.steerer.lower_mm].map(|mm| voice.length(mm, 1));
    let [wanted_upper, wanted_lower] = &wanted;
    let found = match (upper, lower) {
        (None, None) => {
            return say!(voice, "steerer-size-not-measured", upper = wanted_upper, lower = wanted_lower);
        }
        (Some(upper), None) => say!(voice, "steerer-found-upper", found = voice.mm(upper)),
        (None, Some(lower)) => say!(voice, "steerer-found-lower", found = voice.mm(lower)),
        (Some(upper), Some(lower)) => {
            say!(voice, "steerer-found-both", first = voice.mm(upper), second = voice.mm(lower))
        }
    };
    let id = match answer.state {
        State::Met | State::MetAfterWork => "steerer-size-met",
        State::NotKnown | State::NotMet => "steerer-size-not-met",
    };
    say!(voice, id, found = found, upper = wanted_upper, lower = wanted_lower)
}

pub(super) fn hoses(context: &CheckContext<'_>, kit: &Kit) -> String {
    context.voice.text(match (context.facts.hoses, kit.hoses) {
        (Some(false), _) => "hoses-none",
        (_, true) => "hoses-room",
        (Some(true), false) => "hoses-in-the-way",
        (None, false) => "hoses-unknown",
    })
}

pub(super) fn steering_stop(context: &CheckContext<'_>, kit: &Kit) -> String {
    context.voice.text(match (context.facts.steering_stop, kit.steering_stop) {
        (Some(false), _) => "stop-none",
        (_, true) => "stop-works",
        (Some(true), false) => "stop-lost",
        (None, false) => "stop-unknown",
    })
}

pub(super) fn down_tube(voice: Voice<'_>, answer: &Answer) -> String {
    let Some((left, spare, least, _)) = limit(answer) else { return voice.text("down-tube-unknown") };
    let (gap, needed) = (voice.mm(left), voice.length(least, 1));
    match answer.state {
        State::Met | State::MetAfterWork => say!(voice, "down-tube-met", gap = gap, needed = needed),
        State::NotKnown => say!(voice, "down-tube-close", gap = gap, needed = needed),
        State::NotMet => {
            say!(voice, "down-tube-not-met", gap = gap, short = voice.length(-spare.value, 1))
        }
    }
}

/// The ends whose own bearing is another size than the kit's.
fn mismatched_bearings(context: &CheckContext<'_>, prepared: &PreparedKit) -> Option<String> {
    let voice = context.voice;
    let told: Vec<String> = End::BOTH
        .into_iter()
        .filter(|end| context.facts.bearing_mismatches(*end, prepared))
        .filter_map(|end| {
            let read =
                [SeatDimension::BearingOuter, SeatDimension::BearingInner, SeatDimension::BearingHeight]
                    .map(|dimension| context.known.get(dimension.quantity(end)));
            let own =
                read.map(|read| read.map_or_else(|| "?".to_owned(), |read| voice.number(read.value, 2)));
            let part = prepared.end(end).bearings.first()?.map(|mm| voice.number(mm, 2));
            let (own, part) = (own.join(" × "), part.join(" × "));
            Some(say!(voice, "bearing-mismatch-item", end = end.name(), own = own, part = part))
        })
        .collect();
    (!told.is_empty()).then(|| voice.and(&told))
}

pub(super) fn bearing_condition(context: &CheckContext<'_>, kit: &Kit, prepared: &PreparedKit) -> String {
    let voice = context.voice;
    let spares = || {
        let [upper, lower] = End::BOTH.map(|end| {
            let measured = context.known.get(SeatDimension::BearingOuter.quantity(end));
            spare_bearing(kit, end, measured, context.catalogue).map(|bearing| bearing.sku.clone())
        });
        upper.zip(lower)
    };
    if let Some(mismatch) = mismatched_bearings(context, prepared) {
        return match spares() {
            Some((upper, lower)) => {
                say!(voice, "bearing-mismatch", what = mismatch, upper = upper, lower = lower)
            }
            None => say!(voice, "bearing-mismatch-none", what = mismatch),
        };
    }
    let (with, without) = match context.facts.bearings {
        Some(Bearings::Good) => return voice.text("bearing-good"),
        Some(Bearings::Rough) => ("bearing-rough", "bearing-rough-none"),
        Some(Bearings::NotKnown) | None => ("bearing-unknown", "bearing-unknown-none"),
    };
    match spares() {
        Some((upper, lower)) => say!(voice, with, upper = upper, lower = lower),
        None => voice.text(without),
    }
}
