//! Which kit first.

use super::work::jobs_for;
use super::{Answer, Facts, PreparedKit, Verdict};
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
pub struct RankKey {
    // The order of the fields is the order in which they count.
    little_hope: bool,
    /// How far the change is off the target, in steps of [`STEP_DEG`].
    off_steps: u32,
    verdict: Verdict,
    /// What an open verdict lacks of certainty, in tenths.
    doubt: u8,
    ease: Ease,
    /// Tenths of a millimetre taken off, and one more for each piece of work.
    work: u32,
    price_cents: u32,
}

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
    pub(super) pieces: usize,
}

impl Labour {
    /// The work that a judgement's answers ask for.
    pub(super) fn of(answers: &[Answer], kit: &PreparedKit, facts: &Facts) -> Self {
        let jobs = jobs_for(answers, kit, facts);
        jobs.fold(Self::default(), |sum, job| Self { mm: sum.mm + job.amount_mm(), pieces: sum.pieces + 1 })
    }
}

impl RankKey {
    /// The standing of a kit that may go in: how far its change is off the target (degrees; `None` without a target or where
    /// it cannot be told), its verdict and the upper bound of its chance, ease (`None`: not known, taken as fiddly), the
    /// work it takes and its price in hundredths.
    ///
    /// What an open verdict lacks of certainty counts in tenths; one that is settled is sure enough.
    pub(super) fn new(
        off_deg: Option<f64>,
        verdict: Verdict,
        chance: f64,
        ease: Option<Ease>,
        work: Labour,
        price_cents: u32,
    ) -> Self {
        let is_open = verdict == Verdict::MeasureFirst;
        // `as` saturates, and takes NaN to 0.
        Self {
            little_hope: is_open && chance < LITTLE_HOPE,
            off_steps: (off_deg.unwrap_or(0.0).abs() / STEP_DEG).round() as u32,
            verdict,
            doubt: if is_open { (10.0 * (1.0 - chance)).round() as u8 } else { 0 },
            ease: ease.unwrap_or(Ease::Fiddly),
            work: (work.mm * 10.0 + work.pieces as f64).round() as u32,
            price_cents,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EASY: Option<Ease> = Some(Ease::Easy);
    const NONE: Labour = Labour { mm: 0.0, pieces: 0 };

    /// Each field outweighs all that come after it.
    #[test]
    fn fields_count_in_their_order() {
        let heavy = Labour { mm: 1e9, pieces: 9 };
        let rising = [
            RankKey::new(Some(0.1), Verdict::GoesIn, 0.96, EASY, NONE, 1),
            RankKey::new(Some(0.12), Verdict::GoesIn, 1.0, EASY, NONE, u32::MAX),
            RankKey::new(None, Verdict::GoesIn, 1.0, EASY, Labour { mm: 0.1, pieces: 0 }, 0),
            RankKey::new(None, Verdict::GoesIn, 1.0, EASY, Labour { mm: 0.1, pieces: 1 }, 0),
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
