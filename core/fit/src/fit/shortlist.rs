//! A batch of kits for one bike: judged, and in order.

use super::rank::Labour;
use super::{Direction, Facts, Judgement, PreparedKit, RankKey, Verdict, TargetChange, judge};
use steerwright_mechanics::geometry::Survey;
use steerwright_mechanics::headset::End;
use steerwright_mechanics::tilt::Ease;
use steerwright_metrology::conformity::Bounds;

/// The kits that may go in one bike.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shortlist {
    /// Those that may go in, the best first; equal ones in the order given.
    pub ranked: Vec<Ranked>,
    /// Indices of those that will not, rising.
    pub hopeless: Vec<usize>,
}

/// One kit of a shortlist.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranked {
    /// Its index among the kits judged.
    pub kit: usize,
    /// As [`judge`](super::judge()) says.
    pub verdict: Verdict,
    /// As [`judge`](super::judge()) says.
    pub bounds: Bounds,
    /// What its place in the list rests on.
    pub rank_key: RankKey,
}

/// Judges a batch of kits against a bike and puts the best first.
///
/// `facts` and `survey` are of the same bike; kits that steepen are turned round already. How close a kit comes to the
/// wish is taken from the change of the head angle on the ground, or where the readings do not tell that, from its tilt
/// in this head tube. Without a target all are equally close.
pub fn shortlist(kits: &[PreparedKit], facts: &Facts, survey: &Survey, target: Option<TargetChange>) -> Shortlist {
    let judgements = kits.iter().map(|kit| judge(kit, facts)).enumerate();
    let (hopeless, judged): (Vec<_>, Vec<_>) =
        judgements.partition(|(_, judgement)| judgement.verdict == Verdict::WillNotGo);
    let judged: Vec<(usize, &PreparedKit, Judgement)> = judged
        .into_iter()
        .filter_map(|(place, judgement)| Some((place, kits.get(place)?, judgement)))
        .collect();
    let off = match target {
        Some(target) => off_target(target, judged.iter().map(|(_, kit, _)| *kit), facts, survey),
        None => vec![None; judged.len()],
    };
    let mut ranked: Vec<Ranked> = judged
        .into_iter()
        .zip(off)
        .map(|((place, kit, Judgement { verdict, bounds, answers }), off)| {
            let labour = Labour::of(&answers, kit, facts);
            let rank_key =
                RankKey::new(off, verdict, bounds.high, ease(kit, facts), labour, kit.price_cents);
            Ranked { kit: place, verdict, bounds, rank_key }
        })
        .collect();
    // Stable: equal kits stay in their order.
    ranked.sort_by_key(|ranked| ranked.rank_key);
    Shortlist { ranked, hopeless: hopeless.into_iter().map(|(place, _)| place).collect() }
}

fn ease(kit: &PreparedKit, facts: &Facts) -> Option<Ease> {
    let length = facts.head_tube_length.filter(|length| length.is_sound())?;
    Ease::of(kit.range, &kit.offsets, length.value).ok()
}

/// How far each kit's change is off the target, degrees; `None` where nothing can be said.
fn off_target<'a>(
    target: TargetChange,
    kits: impl Iterator<Item = &'a PreparedKit> + Clone,
    facts: &Facts,
    survey: &Survey,
) -> Vec<Option<f64>> {
    let changes: Vec<_> = kits.clone().map(|kit| (kit.offsets, kit.end(End::Lower).stack)).collect();
    let moved = survey.head_angle_moved(&changes);
    let wanted = match target {
        TargetChange::Change(by) => match facts.direction {
            Direction::Slacker => Some(-by),
            Direction::Steeper => Some(by),
        },
        TargetChange::HeadAngle(wanted) => survey.head_angle_now().map(|now| wanted - now.value),
    };
    moved
        .into_iter()
        .zip(kits)
        .map(|(moved, kit)| Some(moved.or_else(|| by_tilt(kit, facts))? - wanted?))
        .collect()
}

/// The change that the kit's tilt alone would make, degrees, steeper positive.
fn by_tilt(kit: &PreparedKit, facts: &Facts) -> Option<f64> {
    let tilt = match facts.head_tube_length {
        Some(length) => kit.offsets.tilt_deg(length.value).ok()?,
        None => kit.nominal_deg.copysign(kit.offsets.total()),
    };
    Some(-tilt)
}
