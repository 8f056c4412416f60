//! What depends on one end of the head tube: bore, cup, throat, recess.

use super::super::kit::CheckContext;
use super::super::words::{millimetres, trimmed};
use super::{doubt, limit};
use crate::judgement::requirement::Rework;
use crate::judgement::{Answer, Cutting, PreparedKit, State, clearance_parts};
use steerwright_mechanics::clearance::measured_clearance;
use steerwright_mechanics::headset::End;
use steerwright_metrology::practice::Rule;

pub(super) fn bore_depth(context: &CheckContext<'_>, end: End, answer: &Answer) -> String {
    let name = end.name();
    let Some((depth, spare, least, _)) = limit(answer) else {
        return format!("The {name} bore's depth was not measured.");
    };
    let (depth, needed) = (millimetres(depth), trimmed(least, 1));
    match answer.state {
        State::Met => format!("The {name} bore is {depth} deep, the cup needs {needed} mm."),
        State::MetAfterWork if spare.value < 0.0 => format!(
            "The {name} bore is {depth} deep and the cup needs {needed} mm; it has to be reamed {} mm deeper.",
            trimmed(-spare.value, 1)
        ),
        State::MetAfterWork => format!(
            "The {name} bore is {depth} deep and the cup needs {needed} mm: too close to tell, but it can be reamed."
        ),
        State::NotKnown if answer.rework == Rework::Cut && context.facts.cutting == Cutting::NotKnown => {
            format!(
                "The {name} bore is {depth} deep and the cup needs {needed} mm; whether it can be reamed deeper depends on \
             what the head tube is made of."
            )
        }
        State::NotKnown => format!(
            "The {name} bore is {depth} deep and the cup needs {needed} mm: too close to tell ({}).",
            doubt(answer)
        ),
        State::NotMet => format!(
            "The {name} bore is only {depth} deep; the cup needs {needed} mm, and {}.",
            why_no_work(context, "reamed", Rule::DeepenAtMost)
        ),
    }
}

/// Why the frame is not cut: its material, or the amount.
fn why_no_work(context: &CheckContext<'_>, done: &str, most: Rule) -> String {
    match context.facts.cutting {
        Cutting::Forbidden => format!("carbon is not {done}"),
        Cutting::Possible | Cutting::NotKnown => {
            format!("no more than {} mm can be {done}", trimmed(most.value(), 1))
        }
    }
}

pub(super) fn press_fit(
    context: &CheckContext<'_>,
    end: End,
    prepared: &PreparedKit,
    answer: &Answer,
) -> String {
    let name = end.name();
    let cup = prepared.end(end).cup.map(|cup| cup.estimate().value);
    let bore = context.facts.bore(end).map(|bore| bore.estimate());
    let (Some(cup), Some(bore)) = (cup, bore) else {
        return match answer.state {
            State::NotKnown => {
                format!("The {name} bore's diameter was not measured, and the cup's is not known.")
            }
            _ => format!(
                "The {name} bore was not measured; one within its size's limits holds the cup. Measure it before \
                 pressing."
            ),
        };
    };
    let interference = cup - bore.value;
    let sizes = format!(
        "a cup of {} mm in a bore of {} has {} mm of interference",
        trimmed(cup, 2),
        millimetres(bore),
        trimmed(interference, 2)
    );
    match (answer.state, answer.rework) {
        (State::Met, _) => format!("At the {name} end {sizes}: it holds and the tube bears it."),
        (State::MetAfterWork, _) => {
            format!("At the {name} end {sizes}: too tight or close to it, the bore has to be reamed.")
        }
        (State::NotMet, Rework::Forbidden) => {
            format!("At the {name} end {sizes}: too loose. A cup that can move is dangerous.")
        }
        (State::NotMet, _) => {
            format!("At the {name} end {sizes}: too tight, and this head tube cannot be reamed.")
        }
        (State::NotKnown, _) => format!("At the {name} end {sizes}: measure the bore more accurately."),
    }
}

pub(super) fn throat(
    context: &CheckContext<'_>,
    end: End,
    prepared: &PreparedKit,
    answer: &Answer,
) -> String {
    let name = end.name();
    let Some((diameter, spare, least, _)) = limit(answer) else {
        return match context.facts.throat_needed(end, prepared) {
            Some(least) => format!(
                "The {name} throat was not measured; the tilted steerer needs {} mm.",
                trimmed(least, 1)
            ),
            None => format!(
                "The kit states no {name} throat; it follows from head tube length, the steerer's two diameters and \
                 where its taper ends."
            ),
        };
    };
    let (diameter, needed) = (millimetres(diameter), trimmed(least, 1));
    let short = trimmed((-spare.value).max(0.0), 1);
    let clearance = least_clearance(context, end, prepared, spare.value < 0.0).unwrap_or_default();
    match answer.state {
        State::Met => {
            format!(
                "The {name} throat of {diameter} passes the tilted steerer, which needs {needed} mm.{clearance}"
            )
        }
        State::MetAfterWork if spare.value >= 0.0 => format!(
            "The {name} throat of {diameter} is too close to the {needed} mm the tilted steerer needs to tell; the metal \
             can be opened.{clearance}"
        ),
        State::MetAfterWork => format!(
            "The {name} throat of {diameter} is {short} mm narrower than the {needed} mm the tilted steerer needs; the \
             metal can be opened.{clearance}"
        ),
        State::NotKnown if answer.rework == Rework::Cut && context.facts.cutting == Cutting::NotKnown => {
            format!(
                "The {name} throat of {diameter} may be too narrow for the {needed} mm the tilted steerer needs; whether \
             it can be opened depends on what the head tube is made of.{clearance}"
            )
        }
        State::NotKnown => format!(
            "The {name} throat of {diameter} is too close to the {needed} mm the tilted steerer needs to tell ({}).",
            doubt(answer)
        ),
        State::NotMet => format!(
            "The {name} throat of {diameter} is {short} mm narrower than the {needed} mm the tilted steerer needs, and \
             {}.{clearance}",
            why_no_work(context, "opened", Rule::OpenAtMost)
        ),
    }
}

/// The least clearance near that end by the model, where enough was measured. It explains the answer; the maker's figure
/// decides.
fn least_clearance(
    context: &CheckContext<'_>,
    end: End,
    prepared: &PreparedKit,
    too_narrow: bool,
) -> Option<String> {
    let (head_tube, steerer) = clearance_parts(context.known, prepared)?;
    let clearance = prepared.end(end).running_clearance;
    let found = measured_clearance(&head_tube, &steerer, &prepared.offsets, clearance).ok()?;
    // Where the model finds clearance although the maker asks for more, the sentence says which one counts.
    let rules = if too_narrow && found.least.value > 0.0 { "; the kit maker's figure counts" } else { "" };
    (found.clearance.end == end).then(|| {
        format!(
            " By the readings the steerer's least room is {}, on the {} side {} mm above the lower face{rules}.",
            millimetres(found.least),
            found.clearance.side.name(),
            trimmed(found.clearance.at_z, 0)
        )
    })
}

pub(super) fn bearing_recess(answer: &Answer) -> String {
    let Some((depth, _, _, most)) = limit(answer) else {
        return "How deep the upper bearing sits below the face was not measured.".to_owned();
    };
    let (depth, most) = (millimetres(depth), trimmed(most, 1));
    match answer.state {
        State::Met | State::MetAfterWork => {
            format!("The upper bearing sits {depth} below the face; the kit allows {most} mm.")
        }
        State::NotKnown => {
            format!(
                "The upper bearing sits {depth} below the face, too close to the {most} mm allowed to tell."
            )
        }
        State::NotMet => format!(
            "The upper bearing sits {depth} below the face, deeper than the {most} mm the kit reaches."
        ),
    }
}
