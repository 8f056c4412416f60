//! The estimates and observations of one bike that judging uses.

use crate::bike::{Bike, Findings, FittedKit, Observed};
use std::collections::BTreeMap;
use steerwright_mechanics::headset::End;
use steerwright_metrology::quantity::{Estimate, Quantity};

/// At most one estimate for each quantity, and what was observed. [`BikeKnowledge::with`] and [`BikeKnowledge::seeing`] give variants, to
/// find what a reading would change.
#[derive(Debug, Clone)]
pub struct BikeKnowledge {
    /// By the quantity's number.
    estimates: Vec<Option<Estimate>>,
    /// Smallest and largest single reading of the upper and the lower bore: an oval bore holds a cup where it is
    /// narrow and lets it move where it is wide.
    bore_extremes: [Option<[f64; 2]>; 2],
    /// Smallest and largest reading of each quantity whose readings contradict each other.
    contradictions: BTreeMap<Quantity, [Estimate; 2]>,
    /// What was seen.
    pub observed: Observed,
    /// The kit in the bike.
    pub fitted: Option<FittedKit>,
}

impl BikeKnowledge {
    /// What a bike's findings say.
    pub fn new(bike: &Bike, findings: &Findings) -> Self {
        let extremes = |end: End| {
            findings.readings(bore(end)).iter().map(|reading| reading.estimate.value).fold(
                None,
                |seen, value| {
                    let [low, high] = seen.unwrap_or([value; 2]);
                    Some([value.min(low), value.max(high)])
                },
            )
        };
        Self {
            estimates: Quantity::ALL.iter().map(|&what| findings.get(what)).collect(),
            bore_extremes: End::BOTH.map(extremes),
            contradictions: contradictions(findings),
            observed: bike.observed.clone(),
            fitted: bike.fitted.clone(),
        }
    }

    /// The estimate of a quantity, if it was measured.
    pub fn get(&self, what: Quantity) -> Option<Estimate> {
        self.estimates.get(what as usize).copied().flatten()
    }

    /// The same bike, had `what` this estimate; `None` forgets it.
    #[must_use]
    pub fn with(&self, what: Quantity, estimate: Option<Estimate>) -> Self {
        let mut imagined = self.clone();
        if let Some(slot) = imagined.estimates.get_mut(what as usize) {
            *slot = estimate;
        }
        imagined.contradictions.remove(&what);
        for (end, extremes) in End::BOTH.into_iter().zip(&mut imagined.bore_extremes) {
            if what == bore(end) {
                *extremes = estimate.map(|estimate| [estimate.value; 2]);
            }
        }
        imagined
    }

    /// The smallest and the largest reading of a quantity whose readings contradict each other.
    pub fn contradiction(&self, what: Quantity) -> Option<[Estimate; 2]> {
        self.contradictions.get(&what).copied()
    }

    /// The quantities whose readings contradict each other.
    pub fn contradicted(&self) -> impl Iterator<Item = Quantity> {
        self.contradictions.keys().copied()
    }

    /// The same bike, had this been seen.
    #[must_use]
    pub fn seeing(&self, observed: Observed) -> Self {
        Self { observed, ..self.clone() }
    }

    /// Smallest and largest reading of a bore, mm.
    pub fn bore_extremes(&self, end: End) -> Option<[f64; 2]> {
        let [upper, lower] = self.bore_extremes;
        match end {
            End::Upper => upper,
            End::Lower => lower,
        }
    }
}

fn contradictions(findings: &Findings) -> BTreeMap<Quantity, [Estimate; 2]> {
    let mut extremes = BTreeMap::new();
    let contradicted = findings.disagreements().iter().map(|pair| pair.what);
    for what in contradicted.filter(|what| findings.is_contradicted(*what)) {
        let readings = findings.readings(what).iter().map(|reading| reading.estimate);
        let smallest = readings.clone().min_by(|a, b| a.value.total_cmp(&b.value));
        let largest = readings.max_by(|a, b| a.value.total_cmp(&b.value));
        if let Some(ends) = smallest.zip(largest) {
            extremes.insert(what, [ends.0, ends.1]);
        }
    }
    extremes
}

fn bore(end: End) -> Quantity {
    match end {
        End::Upper => Quantity::UpperBoreDiameter,
        End::Lower => Quantity::LowerBoreDiameter,
    }
}
