//! Thousands of kits for one bike: judged, and in order.

use super::lot::{Lot, Outcome};
use super::{Direction, Facts, PreparedKit, Standing, Verdict, Wish, best_first};
use crate::conformity::Bounds;
use crate::geometry::Survey;
use crate::headset::End;
use crate::tilt::Ease;

/// One kit of a shortlist.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranked {
    /// Its place in the slice handed in.
    pub kit: usize,
    /// As [`judge`](super::judge()) says.
    pub verdict: Verdict,
    /// As [`judge`](super::judge()) says, except for a kit that will not go: asking it stops at the first requirement
    /// that settles this, so the bounds are wider then; the lower one is 0.
    pub bounds: Bounds,
    /// What its place rests on.
    pub standing: Standing,
}

/// Judges every kit against a bike and puts the best first; equal ones stay in their order, and so do those that will
/// not go, at the end.
///
/// `facts` and `survey` are of the same bike; kits that steepen are turned round already. How close a kit comes to the
/// wish is taken from the change of the head angle on the ground, or where the readings do not tell that, from its tilt
/// in this head tube. Without a wish all are equally close.
pub fn shortlist(kits: &[PreparedKit], facts: &Facts, survey: &Survey, wish: Option<Wish>) -> Vec<Ranked> {
    let mut outcomes = Vec::with_capacity(kits.len());
    let mut lot = Lot::default();
    for some in kits.chunks(Lot::KITS) {
        lot.judge(some, facts, &mut outcomes);
    }
    let in_question = || {
        let judged = kits.iter().zip(&outcomes);
        judged.filter(|(_, outcome)| outcome.verdict != Verdict::WillNotGo).map(|(kit, _)| kit)
    };
    let mut off =
        wish.map(|wish| off_wish(wish, in_question(), facts, survey)).unwrap_or_default().into_iter();
    let standing = |(kit, outcome): (&PreparedKit, &Outcome)| {
        if outcome.verdict == Verdict::WillNotGo {
            return Standing::HOPELESS;
        }
        let off = off.next().flatten();
        Standing::new(off, outcome.verdict, ease(kit, facts), outcome.labour, kit.price_cents)
    };
    let standings: Vec<Standing> = kits.iter().zip(&outcomes).map(standing).collect();
    let row = |kit: usize| {
        let (&Outcome { verdict, bounds, .. }, &standing) = (outcomes.get(kit)?, standings.get(kit)?);
        Some(Ranked { kit, verdict, bounds, standing })
    };
    best_first(&standings).into_iter().filter_map(row).collect()
}

fn ease(kit: &PreparedKit, facts: &Facts) -> Option<Ease> {
    let length = facts.head_tube_length.filter(|length| length.is_sound())?;
    Ease::of(kit.range, &kit.offsets, length.value).ok()
}

/// How far each kit's change is off the wish, degrees; `None` where nothing can be said.
fn off_wish<'a>(
    wish: Wish,
    kits: impl Iterator<Item = &'a PreparedKit> + Clone,
    facts: &Facts,
    survey: &Survey,
) -> Vec<Option<f64>> {
    let changes: Vec<_> = kits.clone().map(|kit| (kit.offsets, kit.end(End::Lower).stack)).collect();
    let moved = survey.head_angle_moved(&changes);
    let wanted = match wish {
        Wish::Change(by) => match facts.direction {
            Direction::Slacker => Some(-by),
            Direction::Steeper => Some(by),
        },
        Wish::HeadAngle(wanted) => survey.head_angle_now().map(|now| wanted - now.value),
    };
    let off =
        |(moved, kit): (Option<f64>, &PreparedKit)| Some(moved.or_else(|| by_tilt(kit, facts))? - wanted?);
    moved.into_iter().zip(kits).map(off).collect()
}

/// The change that the kit's tilt alone would make, degrees, steeper positive.
fn by_tilt(kit: &PreparedKit, facts: &Facts) -> Option<f64> {
    let tilt = match facts.head_tube_length {
        Some(length) => kit.offsets.tilt_deg(length.value).ok()?,
        None => kit.nominal_deg.copysign(kit.offsets.total()),
    };
    Some(-tilt)
}
