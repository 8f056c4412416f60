//! The predictive distribution of a reading not yet taken.

use super::identify::classes;
use super::observation_model::observation_model;
use super::{ObservedSeat, Posterior, SeatDimension};

/// One component of a mixture of normal distributions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Component {
    /// Its weight.
    pub weight: f64,
    /// Its mean, mm.
    pub mean: f64,
    /// Its standard deviation, including the uncertainty of the reading, mm.
    pub sd: f64,
}

/// The distribution of a reading: normal components, and a flat part for "no standard size" and outliers. The weights
/// sum to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Predictive {
    /// The components, the heaviest first.
    pub components: Vec<Component>,
    /// Weight of the flat part.
    pub flat: f64,
    /// The interval of the flat part, mm.
    pub flat_span: [f64; 2],
}

impl Posterior {
    /// The distribution of a reading of one dimension with standard uncertainty `u` (mm), given all evidence.
    ///
    /// The diameter of a cup is predicted on condition that there is a cup. A second reading of a part is predicted as
    /// if of another part of the same size. `None` for a negative or infinite u, and for the inside diameter and height
    /// of the bearing, which do not decide a size.
    pub fn predictive(&self, dimension: SeatDimension, u: f64) -> Option<Predictive> {
        if !u.is_finite() || u < 0.0 {
            return None;
        }
        let slip = observation_model().slip.rate;
        let mut components: Vec<Component> = Vec::new();
        let mut standard = 0.0;
        for hypothesis in self.hypotheses() {
            let class = classes().get(hypothesis.class)?;
            let nominal = match dimension {
                SeatDimension::BearingOuter => Some(class.variants.get(hypothesis.variant)?.outer),
                SeatDimension::Bore => Some(class.bore),
                SeatDimension::CupOuter => class.cup,
                SeatDimension::BearingInner | SeatDimension::BearingHeight => return None,
            };
            let Some(nominal) = nominal else { continue };
            standard += hypothesis.p;
            let new = Component { weight: hypothesis.p, mean: nominal.value, sd: nominal.u.hypot(u) };
            let same = |known: &&mut Component| {
                known.mean.total_cmp(&new.mean).is_eq() && known.sd.total_cmp(&new.sd).is_eq()
            };
            match components.iter_mut().find(same) {
                Some(known) => known.weight += new.weight,
                None => components.push(new),
            }
        }
        let all = standard + self.probability_no_standard();
        if all <= 0.0 {
            return None;
        }
        for component in &mut components {
            component.weight *= (1.0 - slip) / all;
        }
        components.sort_by(|a, b| b.weight.total_cmp(&a.weight));
        let flat = (self.probability_no_standard() + slip * standard) / all;
        // Seats are between 25 and 65 mm; the interval has the flat density's width and is centred on them.
        let half = observation_model().no_standard.flat_mm / 2.0;
        Some(Predictive { components, flat, flat_span: [45.0 - half, 45.0 + half] })
    }

    /// The probabilities of what an observation of the seat would show.
    pub fn predicted_look(&self, fork_out: bool) -> [(ObservedSeat, f64); 3] {
        ObservedSeat::SEEN.map(|seen| {
            let standard = self.entries().iter().filter_map(|(code, p)| {
                Some(p * observation_model().probability(seen, fork_out, (*code)?.style)?)
            });
            (seen, standard.sum::<f64>() + self.probability_no_standard() / ObservedSeat::SEEN.len() as f64)
        })
    }
}
