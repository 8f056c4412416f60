//! Which kit first.

use super::{Verdict, Work};
use crate::tilt::Ease;

/// What puts one kit before another. Fields in the order in which they count.
///
/// A kit that will not go is never the answer to a wish, however close its tilt; so those come last, before
/// closeness is asked. Closeness counts in steps of a quarter of a degree: nobody feels less.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Standing {
    hopeless: bool,
    off: u16,
    verdict: Verdict,
    ease: Ease,
    work: u16,
    price_cents: u32,
}

/// Differences smaller than half of this are not felt, degrees.
const STEP_DEG: f64 = 0.25;

impl Standing {
    /// A kit's standing: how far its change is off the wish (degrees; `None` without a wish or where it cannot be
    /// told), its verdict, ease (`None`: not known, taken as fiddly), work and price.
    pub fn new(
        off_deg: Option<f64>,
        verdict: Verdict,
        ease: Option<Ease>,
        work: &[Work],
        price_cents: u32,
    ) -> Self {
        let tenths = work.iter().map(Work::amount_mm).sum::<f64>() * 10.0;
        Self {
            hopeless: verdict == Verdict::WillNotGo,
            // `as` saturates, and takes NaN to 0.
            off: (off_deg.unwrap_or(0.0).abs() / STEP_DEG).round() as u16,
            verdict,
            ease: ease.unwrap_or(Ease::Fiddly),
            work: (tenths + work.len() as f64).round() as u16,
            price_cents,
        }
    }
}

/// The order of the kits, best first; equal ones stay in the catalogue's order.
pub fn best_first(standings: &[Standing]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..standings.len()).collect();
    order.sort_by_key(|&index| standings.get(index).copied());
    order
}
