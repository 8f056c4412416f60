//! Which kit comes first.

use super::{TotalWork, Verdict};
use steerwright_mechanics::tilt::Ease;

/// What puts one kit before another: the fields in their order, less is better.
///
/// An open verdict with little hope behind it comes after all others, however close the kit comes: on a bike of which
/// little is known, the first kit should be one that bikes like it take. A kit that does not fit in has no standing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct RankKey {
    has_little_hope: bool,
    /// How far the change is off the target, in whole steps of [`STEP_DEG`].
    off_steps: u64,
    verdict: Verdict,
    /// What an open verdict lacks of certainty, in tenths; 0 for a settled one.
    doubt_tenths: u8,
    ease: Ease,
    /// Tenths of a millimetre taken off, and one more for each piece of work.
    work: u64,
    price_cents: u32,
}

/// A rider feels no difference smaller than half of this, degrees.
const STEP_DEG: f64 = 0.25;

/// Below this probability of going in, an open verdict has little hope.
const LITTLE_HOPE: f64 = 0.2;

impl RankKey {
    /// The standing of a kit that may go in.
    ///
    /// `off_deg` is how far its change is off the target, degrees; `None` without a target or where it is not known counts
    /// as 0. `p_high` is the upper bound of the probability that it goes in. An ease that is not known counts as fiddly.
    pub(super) fn new(
        off_deg: Option<f64>,
        verdict: Verdict,
        p_high: f64,
        ease: Option<Ease>,
        work: TotalWork,
        price_cents: u32,
    ) -> Self {
        let is_open = verdict == Verdict::MeasureFirst;
        // `as` saturates, and takes NaN to 0.
        Self {
            has_little_hope: is_open && p_high < LITTLE_HOPE,
            off_steps: (off_deg.unwrap_or(0.0).abs() / STEP_DEG).round() as u64,
            verdict,
            doubt_tenths: if is_open { (10.0 * (1.0 - p_high)).round() as u8 } else { 0 },
            ease: ease.unwrap_or(Ease::Fiddly),
            work: (work.removed_mm * 10.0 + work.pieces as f64).round() as u64,
            price_cents,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EASY: Option<Ease> = Some(Ease::Easy);
    const NONE: TotalWork = TotalWork { removed_mm: 0.0, pieces: 0 };

    /// Each field outweighs all that come after it.
    #[test]
    fn fields_count_in_their_order() {
        let heavy = TotalWork { removed_mm: 1e9, pieces: 9 };
        let rising = [
            RankKey::new(Some(0.1), Verdict::GoesIn, 0.96, EASY, NONE, 1),
            RankKey::new(Some(0.12), Verdict::GoesIn, 1.0, EASY, NONE, u32::MAX),
            RankKey::new(None, Verdict::GoesIn, 1.0, EASY, TotalWork { removed_mm: 0.1, pieces: 0 }, 0),
            RankKey::new(None, Verdict::GoesIn, 1.0, EASY, TotalWork { removed_mm: 0.1, pieces: 1 }, 0),
            RankKey::new(None, Verdict::GoesIn, 1.0, EASY, heavy, 0),
            RankKey::new(Some(f64::NAN), Verdict::GoesIn, 1.0, None, NONE, 0),
            RankKey::new(None, Verdict::GoesIn, 1.0, Some(Ease::Outside), heavy, u32::MAX),
            RankKey::new(None, Verdict::GoesInAfterWork, 1.0, EASY, NONE, 0),
            RankKey::new(None, Verdict::MeasureFirst, 0.8, Some(Ease::Outside), heavy, u32::MAX),
            RankKey::new(None, Verdict::MeasureFirst, 0.5, EASY, NONE, 0),
            RankKey::new(Some(-0.2), Verdict::GoesIn, 1.0, EASY, NONE, 0),
            RankKey::new(Some(1e300), Verdict::GoesIn, 1.0, EASY, NONE, 0),
            RankKey::new(None, Verdict::MeasureFirst, 0.1, EASY, NONE, 0),
        ];
        for (place, pair) in rising.windows(2).enumerate() {
            assert!(pair[0] < pair[1], "{place}: {pair:?}");
        }
    }
}
