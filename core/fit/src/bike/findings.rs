//! Estimates from the readings of one bike.

use super::{Bike, Measurement};
use std::collections::{BTreeMap, BTreeSet};
use steerwright_metrology::quantity::{Combined, Estimate, Instrument, Instruments, Quantity, combine};

/// One reading as an estimate in the core's units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Its place in [`Bike::measured`].
    pub index: usize,
    /// Value and standard uncertainty, mm or degrees.
    pub estimate: Estimate,
    /// The tool or source.
    pub with: Instrument,
}

impl Reading {
    /// A row of a bike file in mm or degrees: u is half the stated `plus_minus`, or half the instrument's own
    /// half-width (both have coverage factor 2, JCGM 100:2008, 6.3.1).
    ///
    /// `None` if the unit does not measure that quantity, the instrument cannot, or a number is not finite or not
    /// positive where it has to be; a bike that was read from a file has no such rows.
    pub fn of(index: usize, row: &Measurement, instruments: &Instruments) -> Option<Self> {
        if row.unit.dimension() != row.what.dimension() {
            return None;
        }
        let usual = instruments.plus_minus(row.what, row.with)?;
        let half_width = row.plus_minus.map_or(usual, |stated| stated * row.unit.in_base());
        let estimate = Estimate::new(row.value * row.unit.in_base(), half_width / 2.0);
        (estimate.is_sound() && estimate.u > 0.0).then_some(Self { index, estimate, with: row.with })
    }
}

/// Two readings of one quantity that differ by more than three standard uncertainties of their difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disagreement {
    /// What was measured.
    pub what: Quantity,
    /// The two readings, the earlier row first.
    pub readings: [Reading; 2],
}

impl Disagreement {
    /// How far apart the two are, never negative, with its u; mm or degrees.
    pub fn difference(&self) -> Estimate {
        let [first, second] = self.readings.map(|reading| reading.estimate);
        let difference = second - first;
        Estimate::new(difference.value.abs(), difference.u)
    }
}

#[derive(Debug, Clone, PartialEq)]
struct Finding {
    readings: Vec<Reading>,
    combined: Combined,
}

/// The estimates that follow from a bike's readings: one for each quantity that was measured.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Findings {
    found: BTreeMap<Quantity, Finding>,
    disagreements: Vec<Disagreement>,
    outvoted: BTreeSet<Quantity>,
    unusable: Vec<usize>,
}

impl Findings {
    /// Combines a bike's readings quantity by quantity with [`combine`]; `instruments` gives the uncertainty of
    /// readings that state none.
    pub fn new(bike: &Bike, instruments: &Instruments) -> Self {
        let mut by_quantity: BTreeMap<Quantity, Vec<Reading>> = BTreeMap::new();
        let mut findings = Self::default();
        for (index, row) in bike.measured.iter().enumerate() {
            match Reading::of(index, row, instruments) {
                Some(reading) => by_quantity.entry(row.what).or_default().push(reading),
                None => findings.unusable.push(index),
            }
        }
        for (what, readings) in by_quantity {
            let estimates: Vec<Estimate> = readings.iter().map(|reading| reading.estimate).collect();
            let Some(combined) = combine(&estimates) else {
                findings.unusable.extend(readings.iter().map(|reading| reading.index));
                continue;
            };
            let pairs = combined.disagreeing.iter().filter_map(|(first, second)| {
                Some(Disagreement { what, readings: [*readings.get(*first)?, *readings.get(*second)?] })
            });
            findings.disagreements.extend(pairs);
            let combined = match majority(&estimates, &combined.disagreeing) {
                Some(agreeing) => {
                    findings.outvoted.insert(what);
                    Combined { estimate: agreeing, ..combined }
                }
                None => combined,
            };
            findings.found.insert(what, Finding { readings, combined });
        }
        findings.unusable.sort_unstable();
        findings.add_stacks(bike);
        findings
    }

    /// Stacks that were not measured and follow from the kit in the bike.
    fn add_stacks(&mut self, bike: &Bike) {
        for what in [Quantity::UpperStack, Quantity::LowerStack] {
            let Some(estimate) = bike.fitted.as_ref().and_then(|kit| kit.stack(what)) else { continue };
            let Some(combined) = combine(&[estimate]) else { continue };
            self.found.entry(what).or_insert(Finding { readings: Vec::new(), combined });
        }
    }

    /// The estimate of a quantity in mm or degrees; `None` if it was not measured.
    pub fn get(&self, what: Quantity) -> Option<Estimate> {
        self.found.get(&what).map(|finding| finding.combined.estimate)
    }

    /// Every quantity with an estimate, in the order of [`Quantity::ALL`].
    pub fn iter(&self) -> impl Iterator<Item = (Quantity, Estimate)> {
        Quantity::ALL.iter().filter_map(|what| Some((*what, self.get(*what)?)))
    }

    /// The readings behind a quantity's estimate, in the order of the file; empty if it was not measured.
    pub fn readings(&self, what: Quantity) -> &[Reading] {
        self.found.get(&what).map_or(&[], |finding| &finding.readings)
    }

    /// How the readings of a quantity combine; `None` if it was not measured.
    pub fn combined(&self, what: Quantity) -> Option<&Combined> {
        self.found.get(&what).map(|finding| &finding.combined)
    }

    /// The pairs of readings that contradict one another.
    pub fn disagreements(&self) -> &[Disagreement] {
        &self.disagreements
    }

    /// Whether readings of this quantity contradict one another and no majority of them agrees: then at least one is
    /// wrong, and which one is not known. Two that agree stand against a single other one, whose reading does not count.
    pub fn is_contradicted(&self, what: Quantity) -> bool {
        !self.outvoted.contains(&what) && self.disagreements.iter().any(|pair| pair.what == what)
    }

    /// Places in [`Bike::measured`] of rows that say nothing: see [`Reading::of`].
    pub fn unusable(&self) -> &[usize] {
        &self.unusable
    }
}

/// The estimate of the readings that agree with one another, if they are two or more, more than all others, and every
/// other one contradicts each of them.
fn majority(readings: &[Estimate], disagreeing: &[(usize, usize)]) -> Option<Estimate> {
    let disagree = |a: usize, b: usize| disagreeing.contains(&(a.min(b), a.max(b)));
    let all = 0..readings.len();
    let group = all.clone().find_map(|first| {
        let (inside, outside): (Vec<usize>, Vec<usize>) =
            all.clone().partition(|other| !disagree(first, *other));
        let is_majority = inside.len() >= 2 && inside.len() > outside.len() && !outside.is_empty();
        let is_one = inside.iter().all(|a| inside.iter().all(|b| !disagree(*a, *b)));
        let is_apart = inside.iter().all(|a| outside.iter().all(|b| disagree(*a, *b)));
        (is_majority && is_one && is_apart).then_some(inside)
    })?;
    let agreeing: Vec<Estimate> = group.iter().filter_map(|place| readings.get(*place).copied()).collect();
    combine(&agreeing).map(|combined| combined.estimate)
}

impl Bike {
    /// The findings with the library's own table of instruments.
    pub fn findings(&self) -> Findings {
        Findings::new(self, &Instruments::default())
    }
}
