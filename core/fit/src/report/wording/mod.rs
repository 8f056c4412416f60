//! Verdicts and requirements in sentences that a rider understands.

mod ends;
mod readings;
mod seats;
mod whole;

pub(super) use readings::{readings, tall_lower_stack, usual_values};

use super::RequirementReport;
use super::kit::CheckContext;
use crate::bike::Material;
use crate::catalogue::Kit;
use crate::judgement::requirement::Question;
use crate::judgement::{Answer, Cutting, Facts, PreparedKit, Requirement, State, Task, Verdict, Work};
use ends::{bearing_recess, bore_depth, press_fit, throat};
use seats::seat;
use steerwright_mechanics::headset::End;
use steerwright_metrology::conformity::margin;
use steerwright_metrology::quantity::Estimate;
use steerwright_metrology::voice::Voice;
use steerwright_words::say;
use whole::{
    bearing_condition, down_tube, head_tube_length, hoses, steerer_length, steerer_size, steering_stop,
};

/// Why the verdict is what it is.
pub(super) fn verdict(
    voice: Voice<'_>,
    verdict: Verdict,
    requirements: &[RequirementReport],
    work: &[Work],
) -> String {
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
        voice.and(&telling.map(|line| voice.named("claim", line.requirement.name())).collect::<Vec<_>>())
    };
    match verdict {
        Verdict::GoesIn if work.iter().any(|work| work.task == Task::CheckBore) => {
            voice.text("verdict-fits-if-bore")
        }
        Verdict::GoesIn => voice.text("verdict-fits"),
        Verdict::GoesInAfterWork => {
            let jobs = work.iter().filter(|work| work.task != Task::CheckBore).count();
            say!(voice, "verdict-fits-after", jobs = jobs, what = named(State::MetAfterWork))
        }
        Verdict::MeasureFirst => match named(State::NotKnown) {
            open if open.is_empty() => voice.text("verdict-not-together"),
            open => say!(voice, "verdict-open", what = open),
        },
        Verdict::WillNotGo => say!(voice, "verdict-does-not-fit", what = named(State::NotMet)),
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
    let voice = context.voice;
    match answer.requirement {
        Requirement::PressingConsent => pressing_consent(voice, context.facts),
        Requirement::UpperSeat => seat(context, kit.upper.seat, End::Upper, answer),
        Requirement::LowerSeat => seat(context, kit.lower.seat, End::Lower, answer),
        Requirement::HeadTubeLength => head_tube_length(voice, answer, kit.head_tube_length_mm),
        Requirement::UpperBoreDepth => bore_depth(context, End::Upper, answer),
        Requirement::LowerBoreDepth => bore_depth(context, End::Lower, answer),
        Requirement::UpperPressFit => press_fit(context, End::Upper, prepared, answer),
        Requirement::LowerPressFit => press_fit(context, End::Lower, prepared, answer),
        Requirement::UpperThroat => throat(context, End::Upper, prepared, answer),
        Requirement::LowerThroat => throat(context, End::Lower, prepared, answer),
        Requirement::SteererLength => steerer_length(context, answer),
        Requirement::SteererSize => steerer_size(context, kit, answer),
        Requirement::BearingRecess => bearing_recess(voice, answer),
        Requirement::Hoses => hoses(context, kit),
        Requirement::SteeringStop => steering_stop(context, kit),
        Requirement::DownTubeClearance => down_tube(voice, answer),
        Requirement::BearingCondition => bearing_condition(context, kit, prepared),
        Requirement::FrameMaterial => String::new(),
    }
}

/// Which readings contradict each other, and that they come first.
fn contradicted(context: &CheckContext<'_>, requirement: Requirement) -> String {
    let voice = context.voice;
    let named: Vec<_> = requirement
        .reads()
        .iter()
        .filter_map(|what| {
            let [least, most] = context.known.contradiction(*what)?.map(|reading| voice.mm(reading));
            Some(say!(voice, "contradicted-item", what = voice.quantity(*what), least = least, most = most))
        })
        .collect();
    say!(voice, "contradicted", what = voice.and(&named))
}

/// Whether cups may be pressed into a frame that is not known to be of metal.
fn pressing_consent(voice: Voice<'_>, facts: &Facts) -> String {
    let frame = match facts.cutting {
        Cutting::Forbidden => "carbon",
        Cutting::Possible | Cutting::NotKnown => "unknown",
    };
    let id = match facts.pressing_allowed {
        Some(true) => "consent-given",
        Some(false) => "consent-refused",
        None => "consent-open",
    };
    say!(voice, id, frame = frame)
}

/// A limit's estimate, its margin, and both ends.
fn limit(answer: &Answer) -> Option<(Estimate, Estimate, f64, f64)> {
    let Question::Limit { of, within } = answer.question else { return None };
    Some((of, margin(of, within), within.lower, within.upper))
}

/// Whether the frame may be cut where the other requirements ask for it.
///
/// `work` says whether something has to be cut; `None` while that is not known.
pub(super) fn frame_material(
    voice: Voice<'_>,
    cutting: Cutting,
    work: Option<bool>,
    material: Option<Material>,
) -> String {
    let material = match material {
        Some(Material::Aluminium) => "aluminium",
        Some(Material::Steel) => "steel",
        Some(Material::Titanium) => "titanium",
        Some(Material::Carbon) => "carbon",
        Some(Material::NotKnown) | None => "not_known",
    };
    match (cutting, work) {
        (_, Some(false)) => voice.text("material-nothing-cut"),
        (Cutting::Possible, Some(true)) => say!(voice, "material-can-be-cut", material = material),
        (Cutting::Possible, None) => say!(voice, "material-could-be-cut", material = material),
        (Cutting::Forbidden, _) => voice.text("material-carbon"),
        (Cutting::NotKnown, _) => voice.text("material-unknown"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_must_not_be_cut_is_said_plainly() {
        assert!(
            frame_material(Voice::english(), Cutting::Forbidden, Some(true), Some(Material::Carbon))
                .contains("written consent")
        );
        assert_eq!(
            frame_material(Voice::english(), Cutting::Forbidden, Some(false), Some(Material::Carbon)),
            "Nothing has to be cut."
        );
    }
}
