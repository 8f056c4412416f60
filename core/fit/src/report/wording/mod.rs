//! Verdicts and requirements in sentences that a rider understands.

mod ends;
mod readings;
mod seats;
mod whole;

pub(super) use readings::{readings, tall_lower_stack, usual_values};

use super::RequirementReport;
use super::kit::CheckContext;
use super::words::{list, millimetres, percent};
use crate::bike::Material;
use crate::catalogue::Kit;
use crate::judgement::requirement::Question;
use crate::judgement::{Answer, Cutting, Facts, PreparedKit, Requirement, State, Task, Verdict, Work};
use ends::{bearing_recess, bore_depth, press_fit, throat};
use seats::seat;
use steerwright_mechanics::headset::End;
use steerwright_metrology::conformity::margin;
use steerwright_metrology::quantity::{Estimate, quantity_info};
use whole::{
    bearing_condition, down_tube, head_tube_length, hoses, steerer_length, steerer_size, steering_stop,
};

/// Why the verdict is what it is.
pub(super) fn verdict(verdict: Verdict, requirements: &[RequirementReport], work: &[Work]) -> String {
    let named = |state: State| {
        let all: Vec<_> = requirements.iter().filter(|line| line.state == state).collect();
        let is_seat = |line: &&RequirementReport| {
            matches!(line.requirement, Requirement::UpperSeat | Requirement::LowerSeat)
        };
        // A wrong seat decides alone. The frame's material is a cause, not a requirement to name.
        let seats = state == State::NotMet && all.iter().copied().any(|line| is_seat(&line));
        let telling = all.iter().filter(|line| {
            if seats { is_seat(line) } else { line.requirement != Requirement::FrameMaterial }
        });
        list(&telling.map(|line| label(line.requirement).to_owned()).collect::<Vec<_>>(), "and")
    };
    match verdict {
        Verdict::GoesIn if work.iter().any(|work| work.task == Task::CheckBore) => {
            "Fits as the bike is, if the bore turns out as it should: see the stop under the work.".to_owned()
        }
        Verdict::GoesIn => "Fits as the bike is.".to_owned(),
        Verdict::GoesInAfterWork => {
            let jobs = match work.iter().filter(|work| work.task != Task::CheckBore).count() {
                1 => "one job".to_owned(),
                n => format!("{n} jobs"),
            };
            format!("Fits after {jobs}: {}.", named(State::MetAfterWork))
        }
        Verdict::MeasureFirst => match named(State::NotKnown).as_str() {
            "" => "Each requirement is met well enough by itself, but not all of them together; measure the \
                   closest ones more accurately."
                .to_owned(),
            open => format!("Not decided yet: {open}."),
        },
        Verdict::WillNotGo => format!("Does not fit: {}.", named(State::NotMet)),
    }
}

/// A requirement in two or three words.
pub(super) fn label(requirement: Requirement) -> &'static str {
    match requirement {
        Requirement::UpperSeat => "upper seat",
        Requirement::LowerSeat => "lower seat",
        Requirement::HeadTubeLength => "head tube length",
        Requirement::UpperBoreDepth => "upper bore depth",
        Requirement::LowerBoreDepth => "lower bore depth",
        Requirement::UpperPressFit => "upper press fit",
        Requirement::LowerPressFit => "lower press fit",
        Requirement::UpperThroat => "upper throat",
        Requirement::LowerThroat => "lower throat",
        Requirement::SteererLength => "steerer length",
        Requirement::SteererSize => "steerer size",
        Requirement::BearingRecess => "bearing recess",
        Requirement::Hoses => "hoses",
        Requirement::SteeringStop => "steering stop",
        Requirement::FrameMaterial => "frame material",
        Requirement::DownTubeClearance => "down tube clearance",
        Requirement::BearingCondition => "bearing condition",
        Requirement::PressingConsent => "frame maker's consent to pressing",
    }
}

/// One requirement's answer.
pub(super) fn requirement(
    context: &CheckContext<'_>,
    kit: &Kit,
    prepared: &PreparedKit,
    answer: &Answer,
) -> String {
    if answer.contradicted && answer.state == State::NotKnown {
        return contradicted(context, answer.requirement);
    }
    match answer.requirement {
        Requirement::PressingConsent => pressing_consent(context.facts),
        Requirement::UpperSeat => seat(context, kit.upper.seat, End::Upper, answer),
        Requirement::LowerSeat => seat(context, kit.lower.seat, End::Lower, answer),
        Requirement::HeadTubeLength => head_tube_length(answer, kit.head_tube_length_mm),
        Requirement::UpperBoreDepth => bore_depth(context, End::Upper, answer),
        Requirement::LowerBoreDepth => bore_depth(context, End::Lower, answer),
        Requirement::UpperPressFit => press_fit(context, End::Upper, prepared, answer),
        Requirement::LowerPressFit => press_fit(context, End::Lower, prepared, answer),
        Requirement::UpperThroat => throat(context, End::Upper, prepared, answer),
        Requirement::LowerThroat => throat(context, End::Lower, prepared, answer),
        Requirement::SteererLength => steerer_length(context, answer),
        Requirement::SteererSize => steerer_size(context, kit, answer),
        Requirement::BearingRecess => bearing_recess(answer),
        Requirement::Hoses => hoses(context, kit),
        Requirement::SteeringStop => steering_stop(context, kit),
        Requirement::DownTubeClearance => down_tube(answer),
        Requirement::BearingCondition => bearing_condition(context, kit, prepared),
        Requirement::FrameMaterial => String::new(),
    }
}

/// Which readings contradict each other, and that they come first.
fn contradicted(context: &CheckContext<'_>, requirement: Requirement) -> String {
    let named: Vec<_> = requirement
        .reads()
        .iter()
        .filter_map(|what| {
            let [smallest, largest] = context.known.contradiction(*what)?;
            let label = &quantity_info(*what).label;
            Some(format!("{label} ({} and {})", millimetres(smallest), millimetres(largest)))
        })
        .collect();
    format!(
        "Readings contradict each other: {}. Measure again and strike the wrong one out before this is decided.",
        list(&named, "and")
    )
}

/// Whether cups may be pressed into a frame that is not known to be of metal.
fn pressing_consent(facts: &Facts) -> String {
    let frame = match facts.cutting {
        Cutting::Forbidden => "The head tube is carbon",
        Cutting::Possible | Cutting::NotKnown => "It is not known what the head tube is made of",
    };
    match facts.pressing_allowed {
        Some(true) => format!("{frame}, and the frame's maker allows pressing cups."),
        Some(false) => format!("{frame}, and the frame's maker does not allow pressing cups."),
        None => format!(
            "{frame}, and the kit's cups are pressed in: ask the frame's maker first, also before any cup comes out. Bonded \
             cups stay."
        ),
    }
}

fn limit(answer: &Answer) -> Option<(Estimate, Estimate, f64, f64)> {
    let Question::Limit { of, within } = answer.question else { return None };
    Some((of, margin(of, within), within.lower, within.upper))
}

/// The probability that a limit is met, in words.
fn doubt(answer: &Answer) -> String {
    format!("chance that it is enough: {}", percent(answer.p))
}

/// Whether the frame may be cut where the other requirements ask for it.
///
/// `work` says whether something has to be cut; `None` while that is not known.
pub(super) fn frame_material(cutting: Cutting, work: Option<bool>, material: Option<Material>) -> String {
    let name = match material {
        Some(Material::Aluminium) => "aluminium",
        Some(Material::Steel) => "steel",
        Some(Material::Titanium) => "titanium",
        Some(Material::Carbon) => "carbon",
        Some(Material::NotKnown) | None => "an unknown material",
    };
    match (cutting, work) {
        (_, Some(false)) => "Nothing has to be cut.".to_owned(),
        (Cutting::Possible, Some(true)) => format!("The head tube is {name}: a trained mechanic can cut it."),
        (Cutting::Possible, None) => {
            format!("The head tube is {name}: should something have to be cut, a trained mechanic can.")
        }
        (Cutting::Forbidden, _) => {
            "The head tube is carbon: no cutting without the frame maker's written consent.".to_owned()
        }
        (Cutting::NotKnown, _) => {
            "Something may have to be cut: find out first what the head tube is made of.".to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_must_not_be_cut_is_said_plainly() {
        assert!(
            frame_material(Cutting::Forbidden, Some(true), Some(Material::Carbon))
                .contains("written consent")
        );
        assert_eq!(
            frame_material(Cutting::Forbidden, Some(false), Some(Material::Carbon)),
            "Nothing has to be cut."
        );
    }
}
