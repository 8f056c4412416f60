//! What depends on one end of the head tube: bore, cup, throat, recess.

use super::super::kit::CheckContext;
use super::limit;
use crate::judgement::requirement::Rework;
use crate::judgement::{Answer, Cutting, PreparedKit, State, clearance_parts};
use steerwright_mechanics::clearance::measured_clearance;
use steerwright_mechanics::headset::End;
use steerwright_metrology::practice::Rule;
use steerwright_metrology::voice::Voice;
use steerwright_words::say;

pub(super) fn bore_depth(context: &CheckContext<'_>, end: End, answer: &Answer) -> String {
    let (voice, name) = (context.voice, end.name());
    let Some((depth, spare, least, _)) = limit(answer) else {
        return say!(voice, "bore-depth-not-measured", end = name);
    };
    let (depth, needed) = (voice.mm(depth), voice.length(least, 1));
    let plain = |id| say!(voice, id, end = name, depth = depth, needed = needed);
    match answer.state {
        State::Met => plain("bore-depth-met"),
        State::MetAfterWork if spare.value < 0.0 => {
            let more = voice.length(-spare.value, 1);
            say!(voice, "bore-depth-ream", end = name, depth = depth, needed = needed, more = more)
        }
        State::MetAfterWork => plain("bore-depth-close-ream"),
        State::NotKnown if answer.rework == Rework::Cut && context.facts.cutting == Cutting::NotKnown => {
            plain("bore-depth-material")
        }
        State::NotKnown => {
            let chance = voice.percent(answer.p);
            say!(voice, "bore-depth-close", end = name, depth = depth, needed = needed, chance = chance)
        }
        State::NotMet => {
            let (why, most) = why_no_work(context, Rule::DeepenAtMost);
            say!(
                voice,
                "bore-depth-not-met",
                end = name,
                depth = depth,
                needed = needed,
                why = why,
                most = most
            )
        }
    }
}

/// Why the frame is not cut: its material, or the amount; and the most that can be cut.
fn why_no_work(context: &CheckContext<'_>, most: Rule) -> (&'static str, String) {
    let why = match context.facts.cutting {
        Cutting::Forbidden => "carbon",
        Cutting::Possible | Cutting::NotKnown => "most",
    };
    (why, context.voice.length(most.value(), 1))
}

pub(super) fn press_fit(
    context: &CheckContext<'_>,
    end: End,
    prepared: &PreparedKit,
    answer: &Answer,
) -> String {
    let (voice, name) = (context.voice, end.name());
    let cup = prepared.end(end).cup.map(|cup| cup.estimate().value);
    let bore = context.facts.bore(end).map(|bore| bore.estimate());
    let (Some(cup), Some(bore)) = (cup, bore) else {
        return match answer.state {
            State::NotKnown => say!(voice, "press-fit-unknown", end = name),
            _ => say!(voice, "press-fit-likely", end = name, chance = voice.percent(answer.p)),
        };
    };
    let id = match (answer.state, answer.rework) {
        (State::Met, _) => "press-fit-met",
        (State::MetAfterWork, _) => "press-fit-ream",
        (State::NotMet, Rework::Forbidden) => "press-fit-loose",
        (State::NotMet, _) => "press-fit-tight",
        (State::NotKnown, _) => "press-fit-close",
    };
    let interference = voice.length(cup - bore.value, 2);
    let (cup, bore) = (voice.length(cup, 2), voice.mm(bore));
    say!(voice, id, end = name, cup = cup, bore = bore, interference = interference)
}

pub(super) fn throat(
    context: &CheckContext<'_>,
    end: End,
    prepared: &PreparedKit,
    answer: &Answer,
) -> String {
    let (voice, name) = (context.voice, end.name());
    let Some((diameter, spare, least, _)) = limit(answer) else {
        return match context.facts.throat_needed(end, prepared) {
            Some(least) => say!(voice, "throat-not-measured", end = name, needed = voice.length(least, 1)),
            None => say!(voice, "throat-not-stated", end = name),
        };
    };
    let (diameter, needed) = (voice.mm(diameter), voice.length(least, 1));
    let short = voice.length((-spare.value).max(0.0), 1);
    let plain = |id| say!(voice, id, end = name, diameter = diameter, needed = needed);
    let text = match answer.state {
        State::Met => plain("throat-met"),
        State::MetAfterWork if spare.value >= 0.0 => plain("throat-close-open"),
        State::MetAfterWork => {
            say!(voice, "throat-open", end = name, diameter = diameter, needed = needed, short = short)
        }
        State::NotKnown if answer.rework == Rework::Cut && context.facts.cutting == Cutting::NotKnown => {
            plain("throat-material")
        }
        State::NotKnown => {
            let chance = voice.percent(answer.p);
            return say!(
                voice,
                "throat-close",
                end = name,
                diameter = diameter,
                needed = needed,
                chance = chance
            );
        }
        State::NotMet => {
            let (why, most) = why_no_work(context, Rule::OpenAtMost);
            say!(
                voice,
                "throat-not-met",
                end = name,
                diameter = diameter,
                needed = needed,
                short = short,
                why = why,
                most = most
            )
        }
    };
    match least_room(context, voice, end, prepared, spare.value < 0.0) {
        Some(room) => format!("{text} {room}"),
        None => text,
    }
}

/// The least clearance near that end by the model, where enough was measured. It explains the answer; the maker's figure
/// decides.
fn least_room(
    context: &CheckContext<'_>,
    voice: Voice<'_>,
    end: End,
    prepared: &PreparedKit,
    too_narrow: bool,
) -> Option<String> {
    let (head_tube, steerer) = clearance_parts(context.known, prepared)?;
    let clearance = prepared.end(end).running_clearance;
    let found = measured_clearance(&head_tube, &steerer, &prepared.offsets, clearance).ok()?;
    // Where the model finds clearance although the maker asks for more, the sentence says which one counts.
    let counts = if too_narrow && found.least.value > 0.0 { "maker" } else { "readings" };
    (found.clearance.end == end).then(|| {
        say!(
            voice,
            "throat-room",
            least = voice.mm(found.least),
            side = found.clearance.side.name(),
            at = voice.length(found.clearance.at_z, 0),
            counts = counts
        )
    })
}

pub(super) fn bearing_recess(voice: Voice<'_>, answer: &Answer) -> String {
    let Some((depth, _, _, most)) = limit(answer) else { return voice.text("recess-not-measured") };
    let id = match answer.state {
        State::Met | State::MetAfterWork => "recess-met",
        State::NotKnown => "recess-close",
        State::NotMet => "recess-not-met",
    };
    say!(voice, id, depth = voice.mm(depth), most = voice.length(most, 1))
}
