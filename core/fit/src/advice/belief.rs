//! A bike with missing readings replaced by usual values, only to compare measurements.

use super::OpenKit;
use crate::bike::{Observable, observing};
use crate::judgement::requirement::{Question, Rework};
use crate::judgement::{Answer, BikeKnowledge, Cutting, Direction, Facts, Requirement, judge};
use steerwright_metrology::quantity::{Estimate, Quantity, quantity_info};

/// What is expected of a bike, gaps filled.
pub(super) struct Belief {
    pub(super) known: BikeKnowledge,
    pub(super) direction: Direction,
    pub(super) facts: Facts,
}

/// What is expected of one kit on it.
pub(super) struct KitBelief<'a> {
    pub(super) open: OpenKit<'a>,
    /// The requirements in doubt.
    pub(super) doubts: Vec<Doubt>,
}

/// One requirement, or one part of it, as believed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Doubt {
    pub(super) requirement: Requirement,
    pub(super) question: Question,
    /// Probability that it is met.
    pub(super) p: f64,
    /// Probability that work could mend it.
    pub(super) reworkable: f64,
    /// What could.
    pub(super) rework: Rework,
}

impl Belief {
    pub(super) fn new(known: &BikeKnowledge, direction: Direction) -> Self {
        let filled = Quantity::ALL.iter().fold(known.clone(), |known, &what| {
            match (known.get(what), quantity_info(what).expected) {
                (None, Some([mean, sd])) => known.with(what, Some(Estimate::new(mean, sd))),
                _ => known,
            }
        });
        let facts = without_contradictions(Facts::new(&filled, direction));
        Self { known: filled, direction, facts }
    }

    pub(super) fn of_kit<'a>(&self, open: OpenKit<'a>) -> KitBelief<'a> {
        let answers = judge(open.kit, &self.facts).answers;
        let doubts = answers.iter().filter_map(|answer| doubt(answer, &self.facts)).collect();
        KitBelief { open, doubts }
    }

    /// What the requirements would rest on, were `what` measured to within `u_after`.
    pub(super) fn measured(&self, what: Quantity, u_after: f64) -> Option<Facts> {
        let now = self.known.get(what)?;
        let then = self.known.with(what, Some(Estimate::new(now.value, u_after)));
        Some(without_contradictions(Facts::new(&then, self.direction)))
    }
}

/// The estimates of contradicting readings, which are widened, only weigh measurements here.
fn without_contradictions(mut facts: Facts) -> Facts {
    facts.contradicted.clear();
    facts
}

impl KitBelief<'_> {
    pub(super) fn doubt(&self, requirement: Requirement) -> Option<&Doubt> {
        self.doubts.iter().find(|doubt| doubt.requirement == requirement)
    }
}

/// Probability that the head tube is of a metal that may be cut.
pub(super) fn metal(cutting: Cutting) -> f64 {
    match cutting {
        Cutting::Possible => 1.0,
        Cutting::Forbidden => 0.0,
        Cutting::NotKnown => 1.0 - unfavourable(Observable::FrameMaterial),
    }
}

/// Probability that cups may be pressed in: in metal always, in carbon where the frame's maker allows it. While the
/// material is not known, carbon counts as refused, so that finding it out is worth something.
fn pressing(cutting: Cutting) -> f64 {
    match cutting {
        Cutting::Forbidden => 1.0 - unfavourable(Observable::MakerAllowsPressing),
        Cutting::Possible | Cutting::NotKnown => metal(cutting),
    }
}

/// The probability of the answer that rules a kit out.
pub(super) fn unfavourable(observable: Observable) -> f64 {
    observing(observable).prior.clamp(0.0, 1.0)
}

fn doubt(answer: &Answer, facts: &Facts) -> Option<Doubt> {
    let p = match answer.requirement {
        _ if !answer.p.is_nan() => answer.p,
        Requirement::Hoses => 1.0 - unfavourable(Observable::HosesThroughHeadset),
        Requirement::SteeringStop => 1.0 - unfavourable(Observable::SteeringStop),
        Requirement::PressingConsent => pressing(facts.cutting),
        Requirement::BearingCondition => 1.0 - unfavourable(Observable::Bearings),
        // Without a usual value, the value of measuring it is not known.
        _ => return None,
    };
    let reworkable = match answer.rework {
        Rework::Nothing | Rework::Forbidden => 0.0,
        Rework::Replace => 1.0,
        Rework::Cut => metal(facts.cutting),
    };
    Some(Doubt {
        requirement: answer.requirement,
        question: answer.question,
        p,
        reworkable,
        rework: answer.rework,
    })
}
