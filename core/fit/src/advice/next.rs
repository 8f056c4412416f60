//! What is worth finding out, in the order of work.

use super::again::{contradiction, tool_for, u_after};
use super::belief::{Belief, KitBelief};
use super::case::{Guidance, looks_with_fork_out, of_look, of_quantity};
use super::gain::wrong;
use super::plan;
use super::value::{Gain, SeatOutlook, look_gains, reading_gains};
use super::words::is_visible;
use crate::bike::{Disagreement, Findings, Material, Observable};
use crate::judgement::requirement::Question;
use crate::judgement::{BikeKnowledge, Direction, Facts, PreparedKit, Requirement, judge, steerer_missing};
use std::collections::BTreeSet;
use steerwright_mechanics::headset::{End, SeatDimension};
use steerwright_mechanics::steerer::Missing;
use steerwright_metrology::quantity::{
    Dismantling, ForkPosition, Instrument, Instruments, Quantity, SeatCase, quantity_info,
};

/// The bike that is asked about, and the accuracy of the tools.
#[derive(Debug, Clone, Copy)]
pub struct Inquiry<'a> {
    /// What is known of the bike.
    pub known: &'a BikeKnowledge,
    /// The readings behind it.
    pub findings: &'a Findings,
    /// Which way the angle is to move.
    pub direction: Direction,
    /// A reading is as sure as its tool in this table.
    pub instruments: &'a Instruments,
}

/// A kit that may still become the best.
#[derive(Debug, Clone, Copy)]
pub struct OpenKit<'a> {
    /// Its order code.
    pub sku: &'a str,
    /// The kit.
    pub kit: &'a PreparedKit,
    /// How much it counts: the upper bound of the probability that it goes in. A reading that decides on a kit which
    /// hardly goes in is hardly worth taking.
    pub weight: f64,
}

/// What could be found out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// Measure it.
    Quantity(Quantity),
    /// Look at it.
    Look(Observable),
}

/// Why something is on the list.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Reason {
    /// It lowers the chance of a wrong verdict.
    Doubt,
    /// The first kit's verdict waits for it, however sure the outcome seems.
    Waits,
    /// It was read before, and not surely enough.
    Again,
    /// It was read before, and the readings contradict one another.
    Contradiction(Disagreement),
    /// It decides whether a cup may come out for another reading.
    MaterialFirst,
}

/// One thing to find out, with what it is worth.
#[derive(Debug, Clone, PartialEq)]
pub struct NextMeasurement {
    /// What to find out.
    pub subject: Subject,
    /// With which tool; absent for a look.
    pub tool: Option<Instrument>,
    /// How to do it on this bike.
    pub guidance: Guidance,
    /// The state of the bike when it is done: the one that it needs, or one that includes it.
    pub state: Dismantling,
    /// The states the bike is brought to for it, beyond where it was left by the one before.
    pub reached: Vec<Dismantling>,
    /// Whether the fork has to be put back in for it.
    pub refit: bool,
    /// Minutes it takes, those to reach the state included.
    pub minutes: f64,
    /// What it is expected to take off the chance of a wrong verdict: the mean over the open kits by their weight.
    pub gain: f64,
    /// The chance that the requirements it bears on are judged wrongly now, the same mean.
    pub risk: f64,
    /// The requirement that gains most.
    pub requirement: Requirement,
    /// Whether the first kit's verdict waits for it, however sure the outcome seems.
    pub needed: bool,
    /// Why it is on the list.
    pub reason: Reason,
    /// What it gains kit by kit.
    pub gains: Vec<Gain>,
}

impl NextMeasurement {
    /// Minutes it takes once the bike is in the state it needs.
    pub fn own_minutes(&self) -> f64 {
        self.guidance.instruction.minutes
    }

    pub(super) fn is_contradiction(&self) -> bool {
        matches!(self.reason, Reason::Contradiction(_))
    }

    pub(super) fn is_urgent(&self) -> bool {
        self.is_contradiction() || self.reason == Reason::MaterialFirst
    }
}

/// Least gain that is listed ...
pub(super) const LEAST_GAIN: f64 = 0.002;

/// ... and least share of the greatest gain on the list.
const LEAST_SHARE: f64 = 0.05;

/// While the verdict waits for readings, other ones are named from this gain on.
const TRIFLE: f64 = 0.02;

/// What is worth finding out, in the order of work; the first of `kits` is the one that stands first now.
pub fn next(bike: &Inquiry<'_>, kits: &[OpenKit<'_>]) -> Vec<NextMeasurement> {
    let Some(first) = kits.first() else { return Vec::new() };
    let belief = Belief::new(bike.known, bike.direction);
    let search = Search {
        bike,
        shares: shares(kits),
        kits: kits.iter().map(|kit| belief.of_kit(*kit)).collect(),
        needed: needed(bike.known, bike.direction, first.kit),
        belief,
    };
    let mut found: Vec<NextMeasurement> =
        search.quantities().into_iter().filter_map(|what| search.quantity(what)).collect();
    found.extend(Observable::ALL.into_iter().filter_map(|look| search.look(look)));
    // Readings without which there is no verdict are listed whatever they gain.
    let most = found.iter().map(|next| next.gain).fold(0.0, f64::max);
    let least = if search.needed.is_empty() { LEAST_GAIN } else { TRIFLE };
    found.retain(|next| {
        let is_worth_it = next.gain >= least.max(LEAST_SHARE * most);
        next.needed || next.is_contradiction() || (is_worth_it && next.gains.iter().any(is_visible_gain))
    });
    search.material_first(&mut found);
    plan::in_order(found, &search.shares, present_state(bike.known))
}

fn is_visible_gain(gain: &Gain) -> bool {
    is_visible(gain.risk, gain.gain)
}

/// The state that the bike's file tells of.
fn present_state(known: &BikeKnowledge) -> Dismantling {
    if known.observed.fork_out == Some(true) { Dismantling::ForkOut } else { Dismantling::Assembled }
}

/// Each kit's share in the value of a reading.
fn shares(kits: &[OpenKit<'_>]) -> Vec<f64> {
    /// Kits that cannot go in count a little, so that there is something to divide by.
    const LEAST: f64 = 1e-6;
    let weights: Vec<f64> = kits.iter().map(|kit| kit.weight.clamp(LEAST, 1.0)).collect();
    let total: f64 = weights.iter().sum();
    weights.iter().map(|weight| weight / total).collect()
}

struct Search<'a> {
    bike: &'a Inquiry<'a>,
    belief: Belief,
    kits: Vec<KitBelief<'a>>,
    shares: Vec<f64>,
    /// What the first kit's verdict waits for.
    needed: Vec<(Quantity, Requirement)>,
}

impl Search<'_> {
    /// The quantities that bear on what is in doubt.
    fn quantities(&self) -> BTreeSet<Quantity> {
        let doubts = self.kits.iter().flat_map(|kit| &kit.doubts);
        let in_doubt = doubts.filter(|doubt| wrong(doubt.p, doubt.reworkable) > LEAST_GAIN);
        let read = in_doubt.flat_map(|doubt| doubt.requirement.reads());
        let asked = self.kits.iter().flat_map(|kit| &kit.doubts).flat_map(|doubt| doubt.requirement.reads());
        let contradicted = asked.filter(|what| contradiction(self.bike.findings, **what).is_some());
        read.chain(contradicted).copied().chain(self.needed.iter().map(|(what, _)| *what)).collect()
    }

    fn quantity(&self, what: Quantity) -> Option<NextMeasurement> {
        let Inquiry { known, findings, instruments, .. } = *self.bike;
        let guidance = of_quantity(what, known, &self.belief.facts);
        let is_cup = matches!(SeatDimension::of(what), Some((_, SeatDimension::CupOuter)));
        // Whether there is a cup at all, a look tells first.
        if is_cup && guidance.variant.is_none_or(|variant| variant == SeatCase::DropIn.name()) {
            return None;
        }
        let readings = findings.readings(what);
        let tool = tool_for(what, guidance.instruction.tool?, readings, instruments);
        let u_tool = instruments.plus_minus(what, tool)? / 2.0;
        let u_after = match self.belief.known.get(what) {
            Some(now) => u_after(now, readings, tool, u_tool),
            None => u_tool,
        };
        let mut gains = Vec::new();
        if let Some(then) = self.belief.measured(what, u_after) {
            let kits = self.kits.iter().enumerate();
            gains.extend(kits.flat_map(|(place, kit)| reading_gains(place, kit, &then)));
        }
        let outlook = SeatDimension::of(what)
            .and_then(|(end, dimension)| SeatOutlook::reading(known, &self.belief, end, dimension, u_after));
        gains.extend(self.seat_gains(outlook.as_ref()));
        let waits =
            self.needed.iter().find(|(needed, _)| *needed == what).map(|(_, requirement)| *requirement);
        let reason = match contradiction(findings, what) {
            Some(apart) => Reason::Contradiction(*apart),
            None if known.get(what).is_some() => Reason::Again,
            None if waits.is_some() => Reason::Waits,
            None => Reason::Doubt,
        };
        self.candidate(Subject::Quantity(what), Some(tool), guidance, gains, waits, reason)
    }

    fn look(&self, look: Observable) -> Option<NextMeasurement> {
        let known = self.bike.known;
        let end = match look {
            Observable::UpperSeat => Some(End::Upper),
            Observable::LowerSeat => Some(End::Lower),
            _ => None,
        };
        let fork_out = end.is_some_and(|end| looks_with_fork_out(known, end));
        let gains = match end {
            Some(end) => self.seat_gains(SeatOutlook::look(known, end, fork_out).as_ref()),
            None => {
                let kits = self.kits.iter().enumerate();
                kits.flat_map(|(place, kit)| look_gains(place, &self.belief, kit, look)).collect()
            }
        };
        self.candidate(Subject::Look(look), None, of_look(look, fork_out), gains, None, Reason::Doubt)
    }

    fn seat_gains(&self, outlook: Option<&SeatOutlook>) -> Vec<Gain> {
        let Some(outlook) = outlook else { return Vec::new() };
        self.kits.iter().enumerate().filter_map(|(place, kit)| outlook.gain(place, kit)).collect()
    }

    fn share(&self, kit: usize) -> f64 {
        self.shares.get(kit).copied().unwrap_or(0.0)
    }

    fn candidate(
        &self,
        subject: Subject,
        tool: Option<Instrument>,
        guidance: Guidance,
        gains: Vec<Gain>,
        waits: Option<Requirement>,
        reason: Reason,
    ) -> Option<NextMeasurement> {
        let gains = together(gains);
        let share = |gain: &Gain| self.share(gain.kit) * gain.gain;
        let most = gains.iter().max_by(|a, b| share(a).total_cmp(&share(b))).map(|gain| gain.requirement);
        // Not `sum()`: of nothing at all that is -0.
        let gain = gains.iter().map(share).fold(0.0, |sum, part| sum + part);
        let risk =
            gains.iter().map(|gain| self.share(gain.kit) * gain.risk).fold(0.0, |sum, part| sum + part);
        let requirement = most.or(waits).or_else(|| match subject {
            Subject::Quantity(what) => self.asking(what),
            Subject::Look(_) => None,
        })?;
        Some(NextMeasurement {
            subject,
            tool,
            guidance,
            state: guidance.instruction.state,
            reached: Vec::new(),
            refit: false,
            minutes: guidance.instruction.minutes,
            gain,
            risk,
            requirement,
            needed: waits.is_some(),
            reason,
            gains,
        })
    }

    /// The first requirement that asks for a quantity.
    fn asking(&self, what: Quantity) -> Option<Requirement> {
        let doubts = self.kits.iter().flat_map(|kit| &kit.doubts);
        doubts.map(|doubt| doubt.requirement).find(|requirement| requirement.reads().contains(&what))
    }

    /// Where a reading would need a cup to come out of a head tube of unknown material, the material comes first.
    fn material_first(&self, found: &mut Vec<NextMeasurement>) {
        let is_known = !matches!(self.bike.known.observed.frame_material, None | Some(Material::NotKnown));
        let unknown = Some(SeatCase::CupUnknownMaterial.name());
        let Some(blocked) = found.iter().find(|next| next.guidance.variant == unknown) else { return };
        if is_known {
            return;
        }
        let (subject, waits) = (Subject::Look(Observable::FrameMaterial), Some(blocked.requirement));
        match found.iter_mut().find(|next| next.subject == subject) {
            Some(look) => look.reason = Reason::MaterialFirst,
            None => {
                let guidance = of_look(Observable::FrameMaterial, false);
                let reason = Reason::MaterialFirst;
                found.extend(self.candidate(subject, None, guidance, Vec::new(), waits, reason));
            }
        }
    }
}

/// The gains of one kit's requirement, its parts added up; none of nothing.
fn together(gains: Vec<Gain>) -> Vec<Gain> {
    let mut all: Vec<Gain> = Vec::new();
    for gain in gains.into_iter().filter(|gain| gain.gain > 0.0) {
        match all.iter_mut().find(|known| (known.kit, known.requirement) == (gain.kit, gain.requirement)) {
            Some(known) => {
                known.gain += gain.gain;
                known.risk += gain.risk;
            }
            None => all.push(gain),
        }
    }
    all
}

/// The readings without which a requirement cannot be answered. A verdict never uses usual values, so the list names
/// these readings even where the expected gain is small.
fn needed(known: &BikeKnowledge, direction: Direction, kit: &PreparedKit) -> Vec<(Quantity, Requirement)> {
    let answers = judge(kit, &Facts::new(known, direction)).answers;
    let open = || answers.iter().filter(|answer| answer.question == Question::NotKnown);
    // Where the fork comes out for another requirement, the steerer itself is soon measured.
    let others = open().filter(|answer| answer.requirement != Requirement::SteererLength);
    let mut other_readings = others.flat_map(|answer| answer.requirement.reads());
    let comes_out = other_readings
        .any(|what| known.get(*what).is_none() && quantity_info(*what).state.includes(Dismantling::ForkOut));
    open()
        .flat_map(|answer| {
            // Where the kit's maker states no throat, the clearance model needs the steerer's shape and place.
            let shape: &[Quantity] = match answer.requirement {
                Requirement::UpperThroat if kit.end(End::Upper).throat_min.is_none() => &STEERER_SHAPE,
                Requirement::LowerThroat if kit.end(End::Lower).throat_min.is_none() => &STEERER_SHAPE,
                _ => &[],
            };
            let readings = match answer.requirement {
                Requirement::SteererLength => steerer_way(known, comes_out),
                // Without the fork's travel the answer is only more cautious.
                other => other.reads().iter().copied().filter(|what| *what != Quantity::ForkTravel).collect(),
            };
            let readings = readings.into_iter().chain(shape.iter().copied());
            readings.filter(|what| known.get(*what).is_none()).map(|what| (what, answer.requirement))
        })
        .collect()
}

/// What is missing to know whether the steerer is long enough, by the way that takes less time: its length with the
/// fork out, or the parts on it with the fork in. `comes_out`: the fork comes out for something else.
fn steerer_way(known: &BikeKnowledge, comes_out: bool) -> Vec<Quantity> {
    let Some(Missing { fork_out, fork_in }) = steerer_missing(known) else { return Vec::new() };
    let is_out = present_state(known) == Dismantling::ForkOut;
    let reached = if is_out || comes_out { Dismantling::ForkOut } else { Dismantling::Assembled };
    let [out, within] = [&fork_out, &fork_in].map(|way| way_minutes(way, reached, is_out));
    if out < within { fork_out } else { fork_in }
}

/// Minutes of several measurements, each state reached once beyond `reached`. What needs the fork in while it is out costs
/// what it takes to get it out again.
fn way_minutes(way: &[Quantity], reached: Dismantling, is_out: bool) -> f64 {
    let ways = || way.iter().map(|what| quantity_info(*what));
    let refits = is_out && ways().any(|row| row.fork == ForkPosition::In);
    let states: BTreeSet<Dismantling> = ways().flat_map(|row| row.state.included()).collect();
    let missing = states.into_iter().filter(|state| !reached.includes(*state));
    let reach = missing.map(|state| state.row().minutes).fold(0.0, |sum, minutes| sum + minutes);
    let own = ways().map(|row| row.minutes).fold(0.0, |sum, minutes| sum + minutes);
    reach + own + if refits { reached.minutes_from_assembled() } else { 0.0 }
}

/// What tells how wide a throat the tilted steerer needs.
const STEERER_SHAPE: [Quantity; 4] = [
    Quantity::HeadTubeLength,
    Quantity::SteererUpperDiameter,
    Quantity::SteererLowerDiameter,
    Quantity::SteererTaperEnd,
];
