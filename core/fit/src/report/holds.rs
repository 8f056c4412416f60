//! How far a verdict holds: the stretch of each quantity in which it stays the same.

use crate::judgement::{BikeKnowledge, Direction, Facts, PreparedKit, Verdict, judge};
use serde::{Deserialize, Serialize};
use steerwright_metrology::quantity::{Estimate, Notation, Quantity, Unit, quantity_info, shown};

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
pub(super) fn holds(known: &BikeKnowledge, direction: Direction, kit: &PreparedKit) -> Vec<Holds> {
    let mut all: Vec<Holds> =
        Quantity::ALL.iter().filter_map(|what| stretch(known, direction, kit, *what)).collect();
    all.sort_by(|a, b| a.closeness().total_cmp(&b.closeness()));
    all
}

fn stretch(known: &BikeKnowledge, direction: Direction, kit: &PreparedKit, what: Quantity) -> Option<Holds> {
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
    if from.is_none() && to.is_none() {
        return None;
    }
    let unit = what.base_unit();
    let text = text(what, now, verdict, from, to);
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

fn text(what: Quantity, now: Estimate, verdict: Verdict, from: Option<Turn>, to: Option<Turn>) -> String {
    let number = |value: f64| shown(Estimate::new(value, 0.0), what.base_unit(), Notation::default());
    let with_unit = |value: f64| number(value).text;
    let holds = match (from, to) {
        (Some(from), Some(to)) => format!("from {} to {}", number(from.at).value, with_unit(to.at)),
        (Some(from), None) => format!("from {} up", with_unit(from.at)),
        (None, Some(to)) => format!("up to {}", with_unit(to.at)),
        (None, None) => "everywhere".to_owned(),
    };
    let then = |turn: Option<Turn>, side: &str| turn.map(|turn| format!("{side}: {}", turn.verdict.words()));
    let beyond: Vec<String> = match (from, to) {
        (Some(a), Some(b)) if a.verdict == b.verdict => vec![format!("outside: {}", a.verdict.words())],
        _ => [then(from, "below"), then(to, "above")].into_iter().flatten().collect(),
    };
    format!(
        "{} {}: \u{201c}{}\u{201d} holds {holds}; {}.",
        quantity_info(what).label,
        with_unit(now.value),
        verdict.words(),
        beyond.join(", ")
    )
}
