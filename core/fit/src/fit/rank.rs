//! Which kit first.

use super::Verdict;
use steerwright_mechanics::tilt::Ease;

/// What puts one kit before another: how close its change comes to the target, then the verdict, how likely an open one
/// is to turn out well, the ease of installation, the work it takes, the price; less is better.
///
/// An open verdict with little hope behind it stands behind all others, however close the kit comes: on a bike of which
/// little is known, the first kit should be one that bikes like it take.
///
/// A kit that will not go has none: it is never the answer to a target, however close its tilt. Closeness counts in steps
/// of a quarter of a degree: nobody feels less.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct RankKey(u64);

/// Differences smaller than half of this are not felt, degrees.
const STEP_DEG: f64 = 0.25;

/// Below this chance of turning out well, an open verdict has little hope.
const LITTLE_HOPE: f64 = 0.2;

/// How much work a kit takes.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Labour {
    /// Material taken off, mm.
    pub(super) mm: f64,
    /// Pieces of work.
    pub(super) pieces: f64,
}

impl RankKey {
    const OFF_BITS: u32 = 10;
    const VERDICT_BITS: u32 = 2;
    const DOUBT_BITS: u32 = 4;
    const EASE_BITS: u32 = 2;
    const WORK_BITS: u32 = 16;
    const PRICE_BITS: u32 = 28;

    /// The standing of a kit that may go in: how far its change is off the target (degrees; `None` without a target or where
    /// it cannot be told), its verdict and the upper bound of its chance, ease (`None`: not known, taken as fiddly), the
    /// work it takes and its price in hundredths.
    ///
    /// What an open verdict lacks of certainty counts in tenths; one that is settled is sure enough.
    /// Work counts in tenths of a millimetre taken off, and each piece of it as one more, however small.
    #[inline]
    pub(super) fn new(
        off_deg: Option<f64>,
        verdict: Verdict,
        chance: f64,
        ease: Option<Ease>,
        work: Labour,
        price_cents: u32,
    ) -> Self {
        const MOST_OFF: u64 = (1 << RankKey::OFF_BITS) - 1;
        const DEAREST: u32 = (1 << RankKey::PRICE_BITS) - 1;
        let is_open = verdict == Verdict::MeasureFirst;
        let little_hope = u64::from(is_open && chance < LITTLE_HOPE);
        let doubt = if is_open { (10.0 * (1.0 - chance)).round().clamp(0.0, 10.0) as u64 } else { 0 };
        // `as` saturates, and takes NaN to 0.
        let off = ((off_deg.unwrap_or(0.0).abs() / STEP_DEG).round() as u64).min(MOST_OFF);
        let fields = [
            (off, Self::OFF_BITS),
            (u64::from(verdict as u8), Self::VERDICT_BITS),
            (doubt, Self::DOUBT_BITS),
            (u64::from(ease.unwrap_or(Ease::Fiddly) as u8), Self::EASE_BITS),
            (u64::from((work.mm * 10.0 + work.pieces).round() as u16), Self::WORK_BITS),
            (u64::from(price_cents.min(DEAREST)), Self::PRICE_BITS),
        ];
        Self(fields.into_iter().fold(little_hope, |packed, (field, bits)| packed << bits | field))
    }
}

/// The order of kits of these standings and places, best first, as indices; equal ones in the order of their places.
pub(super) fn best_first(kits: impl ExactSizeIterator<Item = (RankKey, u32)>) -> impl Iterator<Item = usize> {
    // All in one number: comparing is one step, and with the place in it no two are equal.
    let mut keys = Vec::with_capacity(kits.len());
    keys.extend(kits.zip(0u32..).map(|((rank_key, place), index)| {
        u128::from(rank_key.0) << 64 | u128::from(place) << 32 | u128::from(index)
    }));
    keys.sort_unstable();
    keys.into_iter().map(|key| key as u32 as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    const EASY: Option<Ease> = Some(Ease::Easy);
    const NONE: Labour = Labour { mm: 0.0, pieces: 0.0 };

    /// Each field outweighs all that come after it.
    #[test]
    fn fields_count_in_their_order() {
        let heavy = Labour { mm: 1e9, pieces: 9.0 };
        let rising = [
            RankKey::new(Some(0.1), Verdict::GoesIn, 0.96, EASY, NONE, 1),
            RankKey::new(Some(0.12), Verdict::GoesIn, 1.0, EASY, NONE, u32::MAX),
            RankKey::new(None, Verdict::GoesIn, 1.0, EASY, Labour { mm: 0.1, pieces: 0.0 }, 0),
            RankKey::new(None, Verdict::GoesIn, 1.0, EASY, Labour { mm: 0.1, pieces: 1.0 }, 0),
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
        let backwards = rising.iter().enumerate().rev().map(|(place, rank_key)| (*rank_key, place as u32));
        let expected: Vec<_> = (0..rising.len()).rev().collect();
        assert_eq!(best_first(backwards).collect::<Vec<_>>(), expected);
    }

    #[test]
    fn equal_kits_are_in_the_order_of_their_places() {
        let [plain, dear] =
            [100, 200].map(|cents| RankKey::new(None, Verdict::GoesIn, 1.0, None, NONE, cents));
        let kits = [(dear, 7), (plain, 9), (dear, 3), (plain, 2)];
        assert_eq!(best_first(kits.into_iter()).collect::<Vec<_>>(), [3, 1, 2, 0]);
    }
}
