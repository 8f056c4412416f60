//! How far a verdict holds: the stretch of each quantity in which it stays the same.

use crate::judgement::{BikeKnowledge, Direction, Facts, PreparedKit, Verdict, judge};
use serde::{Deserialize, Serialize};
use steerwright_metrology::quantity::{Estimate, Quantity, Unit, quantity_info, shown};
use steerwright_metrology::voice::Voice;
use steerwright_words::say;

/// The stretch of one quantity in which a kit's verdict stays the same, everything else as it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Holds {
    /// The quantity.
    pub what: Quantity,
    /// Its value now.
    pub value: f64,
    /// Its standard uncertainty now.
    pub u: f64,
    /// Unit of every number here.
    pub unit: Unit,
    /// Where the verdict becomes another one below the value; absent: nowhere that is plausible.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from: Option<Turn>,
    /// Where the verdict becomes another one above the value; absent: nowhere that is plausible.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<Turn>,
    /// The same in a sentence.
    pub text: String,
}

/// Where a verdict turns into another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Turn {
    /// The last value at which the verdict is the same, rounded towards the present value.
    pub at: f64,
    /// The verdict beyond it.
    pub verdict: Verdict,
}

impl Holds {
    /// Distance of the nearer end, in standard uncertainties.
    fn closeness(&self) -> f64 {
        let ends = [self.from, self.to].into_iter().flatten();
        ends.map(|turn| (turn.at - self.value).abs() / self.u.max(1e-9)).fold(f64::INFINITY, f64::min)
    }
}

/// The stretches of every measured quantity that can change this kit's verdict, the tightest in standard uncertainties
/// first.
pub(super) fn holds(
    voice: Voice<'_>,
    known: &BikeKnowledge,
    direction: Direction,
    kit: &PreparedKit,
) -> Vec<Holds> {
    let mut all: Vec<Holds> =
        Quantity::ALL.iter().filter_map(|what| stretch(voice, known, direction, kit, *what)).collect();
    all.sort_by(|a, b| a.closeness().total_cmp(&b.closeness()));
    all
}

fn stretch(
    voice: Voice<'_>,
    known: &BikeKnowledge,
    direction: Direction,
    kit: &PreparedKit,
    what: Quantity,
) -> Option<Holds> {
    let now = known.get(what).filter(|_| known.contradiction(what).is_none())?;
    let verdict_at = |value: f64| {
        let then = known.with(what, Some(Estimate::new(value, now.u)));
        judge(kit, &Facts::new(&then, direction)).verdict
    };
    let verdict = verdict_at(now.value);
    let plausible = quantity_info(what).plausible;
    // Most quantities decide nothing for one kit: then not even their extremes do. Where it does not fit, a value between
    // two extremes that do not fit either may.
    if verdict != Verdict::WillNotGo && plausible.iter().all(|extreme| verdict_at(*extreme) == verdict) {
        return None;
    }
    let [from, to] = [-1.0, 1.0].map(|way| turn(now, way, plausible, verdict, verdict_at));
    let unit = what.base_unit();
    let text = text(voice, what, now, verdict, from, to)?;
    Some(Holds { what, value: now.value, u: now.u, unit, from, to, text })
}

/// Where the verdict first changes in one direction: steps that double until it does, then bisection.
fn turn(
    now: Estimate,
    way: f64,
    [low, high]: [f64; 2],
    verdict: Verdict,
    verdict_at: impl Fn(f64) -> Verdict,
) -> Option<Turn> {
    /// Decimals of the answer: hundredths of a millimetre and of a degree.
    const STEP: f64 = 0.01;
    // Where the kit does not fit, the stretch in which it does has two ends: steps are short enough to meet it.
    let longest = if verdict == Verdict::WillNotGo { (high - low) / 64.0 } else { f64::INFINITY };
    let (mut same, mut step) = (now.value, (now.u / 2.0).clamp(STEP, longest));
    let beyond = loop {
        let next = (same + way * step).clamp(low, high);
        if verdict_at(next) != verdict {
            break next;
        }
        if next <= low || next >= high {
            return None;
        }
        (same, step) = (next, (step * 2.0).min(longest));
    };
    let mut other = beyond;
    while (other - same).abs() > STEP {
        let middle = f64::midpoint(same, other);
        if verdict_at(middle) == verdict { same = middle } else { other = middle }
    }
    // Towards the present value, so that the stated end itself still holds.
    let at = if way > 0.0 { (same / STEP).floor() * STEP } else { (same / STEP).ceil() * STEP };
    let at = if (at - now.value) * way < 0.0 { now.value } else { at };
    Some(Turn { at, verdict: verdict_at(other) })
}

fn text(
    voice: Voice<'_>,
    what: Quantity,
    now: Estimate,
    verdict: Verdict,
    from: Option<Turn>,
    to: Option<Turn>,
) -> Option<String> {
    let number = |value: f64| shown(Estimate::exact(value), what.base_unit(), voice.notation);
    let word = |verdict: Verdict| voice.text(verdict.id());
    let (label, now, verdict) = (voice.quantity(what), number(now.value).text, word(verdict));
    let ends = |from: Turn, to: Turn| (number(from.at).value, number(to.at).text);
    Some(match (from, to) {
        (Some(a), Some(b)) if a.verdict == b.verdict => {
            let (from, to) = ends(a, b);
            let below = word(a.verdict);
            say!(
                voice,
                "holds-outside",
                what = label,
                now = now,
                verdict = verdict,
                from = from,
                to = to,
                below = below
            )
        }
        (Some(a), Some(b)) => {
            let (from, to) = ends(a, b);
            let (below, above) = (word(a.verdict), word(b.verdict));
            say!(
                voice,
                "holds-between",
                what = label,
                now = now,
                verdict = verdict,
                from = from,
                to = to,
                below = below,
                above = above
            )
        }
        (Some(from), None) => {
            let (at, below) = (number(from.at).text, word(from.verdict));
            say!(voice, "holds-from", what = label, now = now, verdict = verdict, from = at, below = below)
        }
        (None, Some(to)) => {
            let (at, above) = (number(to.at).text, word(to.verdict));
            say!(voice, "holds-to", what = label, now = now, verdict = verdict, to = at, above = above)
        }
        (None, None) => return None,
    })
}
