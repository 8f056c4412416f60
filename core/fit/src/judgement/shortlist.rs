//! The kits of a batch that may go in one bike, best first.

use super::{BatchResult, Direction, Facts, PreparedKit, RankKey, TargetChange, Verdict, judge_batch};
use steerwright_mechanics::geometry::Survey;
use steerwright_mechanics::headset::End;
use steerwright_mechanics::tilt::Ease;
use steerwright_metrology::conformity::Bounds;

/// The kits that may go in one bike.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shortlist {
    /// Those that may go in, the best first; equal ones in the order of their indices.
    pub ranked: Vec<Ranked>,
    /// Indices of those that do not fit in, rising.
    pub hopeless: Vec<usize>,
}

/// One kit of a shortlist.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranked {
    /// Its index in the batch.
    pub kit: usize,
    /// As [`judge`](super::judge()) says.
    pub verdict: Verdict,
    /// As [`judge`](super::judge()) says.
    pub bounds: Bounds,
    /// What the order of the list rests on.
    pub rank_key: RankKey,
}

/// Judges every kit of a batch against a bike and puts the best first.
///
/// `facts` and `survey` are of the same bike; kits that steepen are turned round already. How close a kit comes to the
/// wish is taken from the change of the head angle on the ground. Where the readings do not determine that, it is taken
/// from the kit's tilt in this head tube. Without a target all kits are equally close.
pub fn shortlist(
    kits: &[PreparedKit],
    facts: &Facts,
    survey: &Survey,
    target: Option<TargetChange>,
) -> Shortlist {
    let results = kits.iter().zip(judge_batch(kits, facts)).enumerate();
    let (candidates, hopeless): (Vec<_>, Vec<_>) =
        results.partition(|(_, (_, result))| result.verdict != Verdict::WillNotGo);
    let candidate_kits: Vec<&PreparedKit> = candidates.iter().map(|(_, (kit, _))| *kit).collect();
    let mut off = target
        .map(|target| off_target(target, &candidate_kits, facts, survey))
        .unwrap_or_default()
        .into_iter();
    let mut ranked: Vec<Ranked> = candidates
        .into_iter()
        .map(|(index, (kit, BatchResult { verdict, bounds, work }))| {
            let off = off.next().flatten();
            let rank_key = RankKey::new(off, verdict, bounds.high, ease(kit, facts), work, kit.price_cents);
            Ranked { kit: index, verdict, bounds, rank_key }
        })
        .collect();
    // A stable sort keeps equal kits in the order of their indices.
    ranked.sort_by_key(|ranked| ranked.rank_key);
    Shortlist { ranked, hopeless: hopeless.into_iter().map(|(index, _)| index).collect() }
}

fn ease(kit: &PreparedKit, facts: &Facts) -> Option<Ease> {
    let length = facts.head_tube_length.filter(|length| length.is_sound())?;
    Ease::of(kit.range, &kit.offsets, length.value).ok()
}

/// How far each kit's change of the head angle is off the target, degrees; `None` where it is not known.
fn off_target(
    target: TargetChange,
    kits: &[&PreparedKit],
    facts: &Facts,
    survey: &Survey,
) -> Vec<Option<f64>> {
    let wanted = match (target, facts.direction) {
        (TargetChange::Change(by), Direction::Slacker) => Some(-by),
        (TargetChange::Change(by), Direction::Steeper) => Some(by),
        (TargetChange::HeadAngle(wanted), _) => survey.head_angle_now().map(|now| wanted - now.value),
    };
    let changes: Vec<_> =
        kits.iter().map(|kit| (kit.relative_offsets(facts), kit.end(End::Lower).stack)).collect();
    let on_ground = survey.head_angle_moved(&changes);
    let off = |(on_ground, kit): (Option<f64>, &&PreparedKit)| {
        Some(on_ground.or_else(|| change_by_tilt(kit, facts))? - wanted?)
    };
    on_ground.into_iter().zip(kits).map(off).collect()
}

/// The change of the head angle that the kit's tilt alone makes, degrees, steeper positive.
fn change_by_tilt(kit: &PreparedKit, facts: &Facts) -> Option<f64> {
    let tilt = match facts.head_tube_length {
        Some(length) => kit.relative_offsets(facts).tilt_deg(length.value).ok()?,
        None => {
            let [shortest, longest] = kit.range;
            kit.relative_offsets(facts).tilt_deg(f64::midpoint(shortest, longest)).ok()?
        }
    };
    Some(-tilt)
}
