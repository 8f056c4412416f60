//! What a reading or a look is worth for one kit.

use super::belief::{Belief, Doubt, KitBelief, metal, unfavourable};
use super::gain::{expected_gain, wrong};
use crate::bike::{Observable, Observed, ObservedSeat};
use crate::judgement::requirement::{Question, Rework};
use crate::judgement::{BikeKnowledge, Cutting, Facts, Requirement, evidence, judge};
use steerwright_mechanics::headset::{End, Posterior, SeatDimension, identify};
use steerwright_metrology::quantity::Estimate;

/// A requirement with what it gains and what is at risk in it now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gain {
    /// The kit, by its place among the open ones.
    pub kit: usize,
    /// The requirement.
    pub requirement: Requirement,
    /// What is expected to come off the chance of judging it wrongly.
    pub gain: f64,
    /// That chance now.
    pub risk: f64,
}

/// A risk below this is not worth a computation.
const NO_RISK: f64 = 1e-4;

/// What a reading is worth for the requirements whose limits it enters; `then` is what the bike would be with it.
pub(super) fn reading_gains(kit: usize, belief: &KitBelief<'_>, then: &Facts) -> Vec<Gain> {
    let then = judge(belief.open.kit, then).answers;
    let mut places = Vec::new();
    let gain = |doubt: &Doubt| {
        // The same part of the same requirement, by its place among that requirement's parts.
        let place = places.iter().filter(|earlier| **earlier == doubt.requirement).count();
        places.push(doubt.requirement);
        let risk = wrong(doubt.p, doubt.reworkable);
        let same = then.iter().filter(|answer| answer.requirement == doubt.requirement).nth(place)?;
        let (Question::Limit { of, within }, Question::Limit { of: later, .. }) =
            (doubt.question, same.question)
        else {
            return None;
        };
        let gain = if risk < NO_RISK { 0.0 } else { expected_gain(of, later.u, within, doubt.reworkable) };
        Some(Gain { kit, requirement: doubt.requirement, gain, risk })
    };
    belief.doubts.iter().filter_map(gain).collect()
}

pub(super) fn seat_requirement(end: End) -> Requirement {
    match end {
        End::Upper => Requirement::UpperSeat,
        End::Lower => Requirement::LowerSeat,
    }
}

/// What may be known of a seat after one more reading or look, with the probability of each outcome.
pub(super) struct SeatOutlook {
    end: End,
    /// The dimension, if it is a reading.
    dimension: Option<SeatDimension>,
    outcomes: Vec<(f64, Posterior)>,
}

impl SeatOutlook {
    /// A dimension is read that becomes known to within `u_after`: over the mixture of what it may read.
    ///
    /// A first reading lies about the nominal value `n, t` of each size. Where there was one before, `m, u`, the part's
    /// own diameter is known from both, `d = (n u^2 + m t^2)/(u^2 + t^2)` with variance `t^2 u^2/(u^2 + t^2)`. The further
    /// reading lies about `d`, and the joint estimate moves from `m` by the share `k = u_after^2/u_x^2` of the way to it.
    pub(super) fn reading(
        known: &BikeKnowledge,
        belief: &Belief,
        end: End,
        dimension: SeatDimension,
        u_after: f64,
    ) -> Option<Self> {
        /// Points across each component of the mixture, in its standard deviations, with their normal weights.
        const POINTS: [(f64, f64); 5] =
            [(-2.0, 0.0545), (-1.0, 0.2442), (0.0, 0.4026), (1.0, 0.2442), (2.0, 0.0545)];
        let now = evidence(known, end);
        let posterior = belief.facts.posterior(end);
        let components: Vec<(f64, Estimate)> = match now.reading(dimension) {
            None => {
                let predicted = posterior.predictive(dimension, u_after)?.components;
                predicted.iter().map(|part| (part.weight, Estimate::new(part.mean, part.sd))).collect()
            }
            Some(before) => {
                let (old, new) = (before.u * before.u, u_after * u_after);
                // The variance of the further reading: 1/new = 1/old + 1/further.
                let further = old * new / (old - new);
                if !further.is_finite() || further <= 0.0 {
                    return None;
                }
                let share = new / further;
                let nominal = posterior.predictive(dimension, 0.0)?.components;
                let joint = |mean: f64, spread: f64| {
                    let diameter = (mean * old + before.value * spread) / (old + spread);
                    let sd = (spread * old / (old + spread) + further).sqrt();
                    Estimate::new(before.value + share * (diameter - before.value), share * sd)
                };
                nominal.iter().map(|part| (part.weight, joint(part.mean, part.sd * part.sd))).collect()
            }
        };
        let outcomes = components
            .iter()
            .flat_map(|(part, at)| POINTS.map(|(z, weight)| (part * weight, at.value + z * at.u)))
            .map(|(p, value)| (p, identify(&now.with(dimension, Estimate::new(value, u_after)))))
            .collect();
        Some(Self { end, dimension: Some(dimension), outcomes })
    }

    /// A look, with the fork in or out; it replaces an earlier one. `None` where there was one as good.
    pub(super) fn look(known: &BikeKnowledge, end: End, fork_out: bool) -> Option<Self> {
        let seen = seen(&known.observed, end);
        if seen && (known.observed.fork_out == Some(true) || !fork_out) {
            return None;
        }
        let blind = Observed {
            upper_seat: known.observed.upper_seat.filter(|_| end == End::Lower),
            lower_seat: known.observed.lower_seat.filter(|_| end == End::Upper),
            ..known.observed.clone()
        };
        let without = identify(&evidence(&known.seeing(blind), end));
        let now = evidence(known, end);
        let outcomes =
            without.predicted_look(fork_out).map(|(seen, p)| (p, identify(&now.looked(seen, fork_out))));
        Some(Self { end, dimension: None, outcomes: outcomes.into() })
    }

    /// What it is worth for a kit. A reading that fits no size rules the kit out for certain, so it leaves no risk.
    pub(super) fn gain(&self, kit: usize, belief: &KitBelief<'_>) -> Option<Gain> {
        let requirement = seat_requirement(self.end);
        let half = belief.open.kit.end(self.end);
        // A cup that was seen speaks against a drop-in kit, whatever its diameter.
        if self.dimension == Some(SeatDimension::CupOuter) && !half.pressed {
            return None;
        }
        let risk = wrong(belief.doubt(requirement)?.p, 0.0);
        let chance_wrong = |then: &Posterior| wrong(then.probability_of_frame_seat(half.code), 0.0);
        let left: f64 = self.outcomes.iter().map(|(p, then)| p * chance_wrong(then)).sum();
        Some(Gain { kit, requirement, gain: (risk - left).max(0.0), risk })
    }
}

/// Whether a seat was looked at with a result.
pub(super) fn seen(observed: &Observed, end: End) -> bool {
    let seat = match end {
        End::Upper => observed.upper_seat,
        End::Lower => observed.lower_seat,
    };
    seat.is_some_and(|seat| seat != ObservedSeat::NotSeen)
}

/// What an observation other than that of a seat is worth.
pub(super) fn look_gains(kit: usize, bike: &Belief, belief: &KitBelief<'_>, look: Observable) -> Vec<Gain> {
    let all_of = |requirement: Requirement| {
        let doubt = belief.doubt(requirement).filter(|doubt| doubt.question == Question::NotKnown);
        let risk = doubt.map(|doubt| wrong(doubt.p, doubt.reworkable));
        risk.map(|risk| Gain { kit, requirement, gain: risk, risk }).into_iter().collect()
    };
    match look {
        Observable::HosesThroughHeadset => all_of(Requirement::Hoses),
        Observable::SteeringStop => all_of(Requirement::SteeringStop),
        Observable::Bearings => all_of(Requirement::BearingCondition),
        Observable::FrameMaterial => {
            let metal = metal(bike.facts.cutting);
            let consent = belief.doubt(Requirement::PressingConsent);
            let consent = consent.filter(|doubt| doubt.question == Question::NotKnown).map(|doubt| {
                let risk = wrong(doubt.p, 0.0);
                // In metal nobody has to be asked; in carbon the maker's answer is open.
                let left = (1.0 - metal) * wrong(1.0 - unfavourable(Observable::MakerAllowsPressing), 0.0);
                Gain { kit, requirement: doubt.requirement, gain: (risk - left).max(0.0), risk }
            });
            let cut = belief.doubts.iter().filter(|doubt| doubt.rework == Rework::Cut);
            cut.map(|doubt| {
                let risk = wrong(doubt.p, metal);
                let left = metal * wrong(doubt.p, 1.0) + (1.0 - metal) * wrong(doubt.p, 0.0);
                Gain { kit, requirement: doubt.requirement, gain: (risk - left).max(0.0), risk }
            })
            .chain(consent)
            .collect()
        }
        Observable::MakerAllowsPressing if bike.facts.cutting == Cutting::Forbidden => {
            all_of(Requirement::PressingConsent)
        }
        // Whether the frame is metal is found out first, and sooner.
        Observable::MakerAllowsPressing => Vec::new(),
        Observable::UpperSeat | Observable::LowerSeat | Observable::DualCrown => Vec::new(),
    }
}
