//! What a further reading of a quantity is taken with, and how sure the estimate is afterwards.

use crate::bike::{Disagreement, Findings, Reading};
use steerwright_metrology::quantity::{Estimate, Instrument, Instruments, Quantity, quantity_info};

/// The share of a tool's variance that is the same in all its readings of one part: calibration, and the habit of whoever
/// holds it. Our own assumption, without a source. Only the rest shrinks by repetition.
const SYSTEMATIC_SHARE: f64 = 0.5;

/// The tool for the next reading: the usual one, or the guide's better one, if it is finer than whatever was used; else
/// the finest that was used, once more. `usual` is that of the seat's case; a maker's sheet stays one, as the frame must
/// not be taken apart there.
pub(super) fn tool_for(
    what: Quantity,
    usual: Instrument,
    readings: &[Reading],
    instruments: &Instruments,
) -> Instrument {
    let Some(finest) = readings.iter().min_by(|a, b| a.estimate.u.total_cmp(&b.estimate.u)) else {
        return usual;
    };
    if usual == Instrument::MakerSheet {
        return usual;
    }
    let finer = |tool: &Instrument| {
        instruments.plus_minus(what, *tool).is_some_and(|half_width| half_width / 2.0 < finest.estimate.u)
    };
    let fresh = |tool: &Instrument| readings.iter().all(|reading| reading.with != *tool);
    let better = quantity_info(what).better;
    [Some(usual), better].into_iter().flatten().find(|tool| finer(tool) && fresh(tool)).unwrap_or(finest.with)
}

/// The standard uncertainty of the estimate after one more reading with `tool`.
///
/// Readings join with weights `1/u^2`, so that `1/u'^2 = 1/u^2 + 1/u_tool^2` for a tool not used before. `n` readings
/// with one tool count as a single one of variance `u_tool^2 (s + (1 - s)/n)`, `s` the systematic share. `now` may be
/// wider than its readings, where they scatter: it shrinks in the same ratio.
pub(super) fn u_after(now: Estimate, readings: &[Reading], tool: Instrument, u_tool: f64) -> f64 {
    if now.u <= 0.0 {
        return now.u;
    }
    let with_tool = readings.iter().filter(|reading| reading.with == tool).count();
    let weight = |n: usize| {
        let variance = u_tool * u_tool * (SYSTEMATIC_SHARE + (1.0 - SYSTEMATIC_SHARE) / n.max(1) as f64);
        if n == 0 { 0.0 } else { 1.0 / variance }
    };
    let others: f64 = if readings.is_empty() {
        1.0 / (now.u * now.u)
    } else {
        let others = readings.iter().filter(|reading| reading.with != tool);
        others.map(|reading| 1.0 / (reading.estimate.u * reading.estimate.u)).fold(0.0, |sum, one| sum + one)
    };
    let [before, after] = [with_tool, with_tool + 1].map(|n| others + weight(n));
    let ratio = (before / after).sqrt();
    if ratio.is_finite() { now.u * ratio } else { now.u }
}

/// The pair of readings of `what` that contradict one another, while a further reading would tell which is wrong: with
/// two or more others against one, it is that row that has to go and nothing need be measured.
pub(super) fn contradiction(findings: &Findings, what: Quantity) -> Option<&Disagreement> {
    let mut pairs = findings.disagreements().iter().filter(|apart| apart.what == what);
    pairs.next().filter(|_| findings.is_contradicted(what))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(index: usize, u: f64, with: Instrument) -> Reading {
        Reading { index, estimate: Estimate::new(41.5, u), with }
    }

    /// A steel rule's 0.25 and a caliper's 0.025: 1/sqrt(16 + 1600) = 0.024876.
    #[test]
    fn another_tool_joins_harmonically() {
        let rule = [read(0, 0.25, Instrument::SteelRule)];
        let after = u_after(Estimate::new(41.5, 0.25), &rule, Instrument::Caliper, 0.025);
        assert!((after - 0.024_876).abs() < 1e-6, "{after}");
        // What is only expected counts like a reading of another tool.
        let prior = u_after(Estimate::new(112.0, 0.25), &[], Instrument::Caliper, 0.025);
        assert!((prior - after).abs() < 1e-15);
    }

    /// Half of the variance stays: the second reading leaves sqrt(0.5 + 0.25) of u, and ten thousand leave sqrt(0.5).
    #[test]
    fn repetition_takes_only_the_scatter_away() {
        let now = Estimate::new(41.5, 0.25);
        let once = u_after(now, &[read(0, 0.25, Instrument::SteelRule)], Instrument::SteelRule, 0.25);
        assert!((once - 0.25 * 0.75f64.sqrt()).abs() < 1e-12, "{once}");
        let mut all = Vec::new();
        let mut left = now;
        for index in 0..10_000 {
            all.push(read(index, 0.25, Instrument::SteelRule));
            left = Estimate::new(41.5, u_after(left, &all, Instrument::SteelRule, 0.25));
        }
        assert!((left.u - 0.25 * 0.5f64.sqrt()).abs() < 1e-4, "{left:?}");
    }

    #[test]
    fn a_finer_tool_goes_before_the_same_again() {
        let instruments = Instruments::default();
        let tool = |what, usual, readings: &[Reading]| tool_for(what, usual, readings, &instruments);
        let (rule, caliper, gauge) = (Instrument::SteelRule, Instrument::Caliper, Instrument::BoreGauge);
        let bearing = Quantity::UpperBearingOuterDiameter;
        assert_eq!(tool(bearing, caliper, &[read(0, 0.25, rule)]), caliper);
        assert_eq!(tool(bearing, caliper, &[read(0, 0.025, caliper)]), caliper);
        assert_eq!(tool(bearing, caliper, &[read(0, 0.01, gauge)]), gauge);
        assert_eq!(tool(Quantity::HeadTubeLength, rule, &[read(0, 0.25, rule)]), caliper);
        let sheet = Instrument::MakerSheet;
        assert_eq!(tool(Quantity::UpperBoreDiameter, sheet, &[read(0, 0.5, caliper)]), sheet);
    }
}
