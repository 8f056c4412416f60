//! Which kit first.

use super::Verdict;
use crate::tilt::Ease;

/// What puts one kit before another: how close its change comes to the wish, then the verdict, the ease of
/// installation, the work it takes, the price; less is better.
///
/// A kit that will not go is never the answer to a wish, however close its tilt. So those come last, and nothing else
/// counts among them: neither the change nor the work will ever happen. Closeness counts in steps of a quarter of a
/// degree: nobody feels less.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Standing(u64);

/// Differences smaller than half of this are not felt, degrees.
const STEP_DEG: f64 = 0.25;

impl Standing {
    /// Of a kit that will not go.
    pub const HOPELESS: Self = Self(1 << Self::BITS);

    const PRICE_BITS: u32 = 32;
    const WORK_BITS: u32 = 16;
    const EASE_BITS: u32 = 2;
    const VERDICT_BITS: u32 = 2;
    const OFF_BITS: u32 = 10;
    const BITS: u32 =
        Self::PRICE_BITS + Self::WORK_BITS + Self::EASE_BITS + Self::VERDICT_BITS + Self::OFF_BITS;

    /// A kit's standing: how far its change is off the wish (degrees; `None` without a wish or where it cannot be
    /// told), its verdict, ease (`None`: not known, taken as fiddly), work and price in hundredths.
    pub fn new(
        off_deg: Option<f64>,
        verdict: Verdict,
        ease: Option<Ease>,
        work: Labour,
        price_cents: u32,
    ) -> Self {
        const MOST_OFF: u64 = (1 << Standing::OFF_BITS) - 1;
        if verdict == Verdict::WillNotGo {
            return Self::HOPELESS;
        }
        // `as` saturates, and takes NaN to 0.
        let off = ((off_deg.unwrap_or(0.0).abs() / STEP_DEG).round() as u64).min(MOST_OFF);
        let fields = [
            (u64::from(verdict as u8), Self::VERDICT_BITS),
            (u64::from(ease.unwrap_or(Ease::Fiddly) as u8), Self::EASE_BITS),
            (u64::from(work.tenths()), Self::WORK_BITS),
            (u64::from(price_cents), Self::PRICE_BITS),
        ];
        Self(fields.into_iter().fold(off, |packed, (field, bits)| packed << bits | field))
    }

    /// True for a kit that will not go.
    pub fn is_hopeless(self) -> bool {
        self == Self::HOPELESS
    }
}

/// How much work a kit takes: material taken off, and something for each piece of work, however small.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Labour {
    mm: f64,
    pieces: u32,
}

impl Labour {
    /// Adds a piece of work that takes off so much, mm.
    #[inline]
    pub fn add(&mut self, mm: f64) {
        self.mm += mm;
        self.pieces += 1;
    }

    /// In tenths of a millimetre; a piece counts as one of them.
    fn tenths(self) -> u16 {
        (self.mm * 10.0 + f64::from(self.pieces)).round() as u16
    }
}

/// The places of the kits in `standings`, best first; equal ones, and all that will not go, stay in their order.
pub fn best_first(standings: &[Standing]) -> Vec<usize> {
    // The place below the standing makes every number different, so that sorting need not be stable.
    let mut keys: Vec<u128> = Vec::with_capacity(standings.len());
    let places = || standings.iter().zip(0u64..);
    keys.extend(
        places()
            .filter(|(standing, _)| !standing.is_hopeless())
            .map(|(standing, place)| u128::from(standing.0) << 64 | u128::from(place)),
    );
    keys.sort_unstable();
    let hopeless = places().filter(|(standing, _)| standing.is_hopeless()).map(|(_, place)| place as usize);
    keys.iter().map(|key| *key as u64 as usize).chain(hopeless).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each field outweighs all that come after it.
    #[test]
    fn fields_count_in_their_order() {
        let heavy = Labour { mm: 1e9, pieces: 9 };
        let none = Labour::default();
        let rising = [
            Standing::new(Some(0.1), Verdict::GoesIn, Some(Ease::Easy), none, 1),
            Standing::new(Some(0.12), Verdict::GoesIn, Some(Ease::Easy), none, u32::MAX),
            Standing::new(None, Verdict::GoesIn, Some(Ease::Easy), Labour { mm: 0.1, pieces: 0 }, 0),
            Standing::new(None, Verdict::GoesIn, Some(Ease::Easy), heavy, 0),
            Standing::new(Some(f64::NAN), Verdict::GoesIn, None, none, 0),
            Standing::new(None, Verdict::GoesIn, Some(Ease::Outside), heavy, u32::MAX),
            Standing::new(None, Verdict::GoesInAfterWork, Some(Ease::Easy), none, 0),
            Standing::new(None, Verdict::MeasureFirst, Some(Ease::Outside), heavy, u32::MAX),
            Standing::new(Some(-0.2), Verdict::GoesIn, Some(Ease::Easy), none, 0),
            Standing::new(Some(1e300), Verdict::GoesIn, Some(Ease::Easy), none, 0),
            Standing::new(None, Verdict::WillNotGo, Some(Ease::Easy), none, 0),
        ];
        for (place, pair) in rising.windows(2).enumerate() {
            assert!(pair[0] < pair[1], "{place}: {pair:?}");
        }
        let backwards: Vec<_> = rising.iter().rev().copied().collect();
        assert_eq!(best_first(&backwards), (0..rising.len()).rev().collect::<Vec<_>>());
    }

    #[test]
    fn equal_kits_stay_in_their_order() {
        let plain = Standing::new(None, Verdict::GoesIn, None, Labour::default(), 100);
        let dear = Standing::new(None, Verdict::GoesIn, None, Labour::default(), 200);
        let never = Standing::HOPELESS;
        let order = best_first(&[dear, never, plain, dear, plain, never]);
        assert_eq!(order, [2, 4, 0, 3, 1, 5]);
    }
}
