//! The order of work: what is measured first, and when the bike is taken further apart.
//!
//! A greedy order, not the best of all. In turn, for every state of dismantling the bike could be brought to, the
//! set of readings is formed that is worth most a minute there: readings are added while that raises the set's gain over
//! its minutes, those to reach the state included. The set that is worth most a minute comes next, in the order in which
//! the bike comes apart. What stands on the list already counts: of one requirement of one kit, only what a reading tells
//! beyond the best one before it. That way two readings that tell the same are not both worth going on for. What is on the
//! list and has to be measured with the fork in is measured before the fork comes out; where it is out already, last.

use super::next::NextMeasurement;
use super::value::Gain;
use super::{case, next::Subject};
use crate::bike::Observable;
use crate::judgement::Requirement;
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};
use steerwright_metrology::quantity::{Dismantling, ForkPosition};

/// The bike while the list is worked through.
struct Bench<'w> {
    /// Each kit's share in the value of a reading; they sum to 1.
    shares: &'w [f64],
    /// The state it was brought to last.
    state: Dismantling,
    /// Every state it is in: that one, what it includes, and the other cup.
    reached: BTreeSet<Dismantling>,
    /// The most that a reading on the list so far tells on one requirement of one kit.
    told: BTreeMap<(usize, Requirement), f64>,
}

/// A set of readings, by their places, with what it is worth a minute.
struct Set {
    worth: f64,
    members: Vec<usize>,
}

/// Puts readings in the order of work, and adds the minutes to reach a state to the first reading there.
pub(super) fn in_order(
    mut left: Vec<NextMeasurement>,
    shares: &[f64],
    now: Dismantling,
) -> Vec<NextMeasurement> {
    let mut bench = Bench { shares, state: now, reached: now.included().collect(), told: BTreeMap::new() };
    let mut list = Vec::with_capacity(left.len());
    // What contradicts itself and what decides whether a cup may come out go before any other consideration.
    let mut urgent: Vec<NextMeasurement> = left.extract_if(.., |next| next.is_urgent()).collect();
    urgent.sort_by_key(|next| (!next.is_contradiction(), next.guidance.instruction.state));
    for next in urgent {
        list.push(bench.take(next));
    }
    while !left.is_empty() {
        let mut members = bench.best_set(&left).members;
        if members.is_empty() || bench.takes_the_fork_out(&left, &members) {
            // What needs the fork in goes before; or, where only that is left, the fork goes back in.
            let needs_fork_in = |place: &usize| {
                left.get(*place).is_some_and(|next| next.guidance.instruction.fork == ForkPosition::In)
            };
            let before: Vec<usize> = (0..left.len()).filter(needs_fork_in).collect();
            members.retain(|place| !needs_fork_in(place));
            members.splice(0..0, before);
        }
        // In the order in which the bike comes apart; what can be measured as it stands comes first.
        members.sort_by_key(|place| {
            let state = left.get(*place).map(|next| next.guidance.instruction.state);
            state.filter(|state| !bench.reached.contains(state))
        });
        let mut parts: Vec<Option<NextMeasurement>> = left.into_iter().map(Some).collect();
        for place in members {
            let chosen = parts.get_mut(place).and_then(Option::take);
            list.extend(chosen.map(|next| bench.take(next)));
        }
        left = parts.into_iter().flatten().collect();
    }
    list
}

impl Bench<'_> {
    /// Minutes to bring the bike to a state.
    fn minutes_to(&self, state: Dismantling) -> f64 {
        self.missing(state).map(|state| state.row().minutes).fold(0.0, |sum, minutes| sum + minutes)
    }

    fn missing(&self, state: Dismantling) -> impl Iterator<Item = Dismantling> {
        state.included().filter(|state| !self.reached.contains(state))
    }

    /// Whether a reading can be taken once the bike is brought to `state`.
    fn can(&self, next: &NextMeasurement, state: Dismantling) -> bool {
        let is_reached = |wanted| self.reached.contains(&wanted) || state.includes(wanted);
        let instruction = &next.guidance.instruction;
        is_reached(instruction.state)
            && (instruction.fork != ForkPosition::In || !is_reached(Dismantling::ForkOut))
    }

    /// Whether a set of readings has the fork, which is in, come out.
    fn takes_the_fork_out(&self, left: &[NextMeasurement], members: &[usize]) -> bool {
        let needs_it_out = |place: &usize| {
            let state = left.get(*place).map(|next| next.guidance.instruction.state);
            state.is_some_and(|state| state.includes(Dismantling::ForkOut))
        };
        !self.reached.contains(&Dismantling::ForkOut) && members.iter().any(needs_it_out)
    }

    /// What a reading tells beyond the list so far.
    fn adds(&self, next: &NextMeasurement, told: &BTreeMap<(usize, Requirement), f64>) -> f64 {
        let beyond = |gain: &Gain| {
            let before = told.get(&(gain.kit, gain.requirement)).copied().unwrap_or(0.0);
            self.shares.get(gain.kit).copied().unwrap_or(0.0) * (gain.gain - before).max(0.0)
        };
        next.gains.iter().map(beyond).fold(0.0, |sum, gain| sum + gain)
    }

    /// The set that is worth most a minute, over all states; empty if nothing can be measured in any.
    fn best_set(&self, left: &[NextMeasurement]) -> Set {
        let states = Dismantling::ALL.into_iter().filter(|state| {
            *state == self.state
                || (!self.reached.contains(state)
                    && left.iter().any(|next| next.guidance.instruction.state == *state))
        });
        let mut best = Set { worth: f64::NEG_INFINITY, members: Vec::new() };
        // Of equals the least taken apart, and the bike as it stands before all.
        for state in std::iter::once(self.state).chain(states) {
            let set = self.set_in(left, state);
            if !set.members.is_empty() && set.worth > best.worth {
                best = set;
            }
        }
        best
    }

    /// Readings added while they raise the set's gain over its minutes.
    fn set_in(&self, left: &[NextMeasurement], state: Dismantling) -> Set {
        let mut open: Vec<(usize, &NextMeasurement)> =
            left.iter().enumerate().filter(|(_, next)| self.can(next, state)).collect();
        let mut told = self.told.clone();
        let (mut gain, mut minutes) = (0.0, self.minutes_to(state));
        let mut set = Set { worth: f64::NEG_INFINITY, members: Vec::new() };
        let worth = |next: &NextMeasurement, told: &BTreeMap<_, _>| {
            // What tells nothing new still has its own worth as a stand-in for what was listed before.
            (self.adds(next, told) / next.own_minutes(), next.gain / next.own_minutes())
        };
        let order = |a: (f64, f64), b: (f64, f64)| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1));
        loop {
            let mut pick: Option<(usize, (f64, f64))> = None;
            for (at, (_, next)) in open.iter().enumerate() {
                let worth = worth(next, &told);
                if pick.is_none_or(|(_, most)| order(worth, most) == Ordering::Greater) {
                    pick = Some((at, worth));
                }
            }
            let Some((at, _)) = pick else { return set };
            let (place, next) = open.remove(at);
            gain += self.adds(next, &told);
            minutes += next.own_minutes();
            if gain / minutes <= set.worth {
                return set;
            }
            set.worth = gain / minutes;
            set.members.push(place);
            tell(&mut told, next);
        }
    }

    /// Puts a reading on the list: the bike is brought to its state, and its minutes count.
    fn take(&mut self, mut next: NextMeasurement) -> NextMeasurement {
        let fork_out = |bench: &Self| bench.reached.contains(&Dismantling::ForkOut);
        if next.guidance.instruction.fork == ForkPosition::In && fork_out(self) {
            self.put_fork_back();
            next.refit = true;
        }
        let state = next.guidance.instruction.state;
        next.reached = self.missing(state).collect();
        // From the outside in.
        next.reached.reverse();
        next.minutes = self.minutes_to(state) + next.own_minutes();
        if !next.reached.is_empty() {
            self.reached.extend(state.included());
            self.state = state;
        }
        // A seat looked at while the fork is out is looked at with the fork out.
        if let Subject::Look(look @ (Observable::UpperSeat | Observable::LowerSeat)) = next.subject
            && fork_out(self)
        {
            next.guidance = case::of_look(look, true);
        }
        next.state = self.state;
        tell(&mut self.told, &next);
        next
    }

    /// The minutes for it were counted when the fork came out.
    fn put_fork_back(&mut self) {
        self.state = Dismantling::Assembled;
        self.reached = self.state.included().collect();
    }
}

fn tell(told: &mut BTreeMap<(usize, Requirement), f64>, next: &NextMeasurement) {
    for gain in &next.gains {
        let most = told.entry((gain.kit, gain.requirement)).or_insert(0.0);
        *most = most.max(gain.gain);
    }
}
