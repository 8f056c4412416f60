//! Thousands of kits for one bike: judged, and in order.

use super::kit_batch::{KitBatch, RuledOut};
use super::kit_totals::KitTotals;
use super::rank::{Labour, best_first};
use super::requirement::seats;
use super::{Direction, Facts, KitIndex, PreparedKit, RankKey, TargetChange, Verdict};
use steerwright_mechanics::geometry::Survey;
use steerwright_mechanics::headset::End;
use steerwright_mechanics::tilt::Ease;
use steerwright_metrology::conformity::Bounds;

/// The kits that may go in one bike.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shortlist {
    /// Those that may go in, the best first; equal ones in the order of their places.
    pub ranked: Vec<Ranked>,
    /// Places on the shelf of those that will not, rising.
    pub hopeless: Vec<usize>,
}

/// One kit of a shortlist.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranked {
    /// Its place on the shelf.
    pub kit: usize,
    /// As [`judge`](super::judge()) says.
    pub verdict: Verdict,
    /// As [`judge`](super::judge()) says.
    pub bounds: Bounds,
    /// What its place in the list rests on.
    pub rank_key: RankKey,
}

/// Judges every kit of a shelf against a bike and puts the best first.
///
/// `facts` and `survey` are of the same bike; kits that steepen are turned round already. How close a kit comes to the
/// wish is taken from the change of the head angle on the ground, or where the readings do not tell that, from its tilt
/// in this head tube. Without a target all are equally close.
///
/// The bike's seats are asked once for each pair of seats on the shelf, so a kit that fails there costs next to
/// nothing.
pub fn shortlist(
    kit_index: &KitIndex,
    facts: &Facts,
    survey: &Survey,
    target: Option<TargetChange>,
) -> Shortlist {
    let kits = kit_index.kits();
    let mut hopeless = vec![true; kits.len()];
    let mut judged: Vec<(u32, &PreparedKit, KitTotals)> = Vec::new();
    let mut batch = KitBatch::default();
    for group in kit_index.groups() {
        let mut ruled_out = RuledOut::default();
        let _ = seats(group.seats, facts, &mut ruled_out);
        if ruled_out.0 {
            continue;
        }
        for places in group.places.chunks(KitBatch::KITS) {
            let some = || places.iter().filter_map(|&place| Some((place, kits.get(place as usize)?)));
            let totals = batch.judge(some().map(|(_, kit)| kit), facts);
            for (lane, (place, kit)) in some().enumerate() {
                let kit_totals = totals.get(lane);
                if kit_totals.verdict() == Verdict::WillNotGo {
                    continue;
                }
                judged.push((place, kit, kit_totals));
                if let Some(hopeless) = hopeless.get_mut(place as usize) {
                    *hopeless = false;
                }
            }
        }
    }
    let mut off =
        target.map(|target| off_target(target, &judged, facts, survey)).unwrap_or_default().into_iter();
    let ranked: Vec<Ranked> = judged
        .iter()
        .map(|(place, kit, kit_totals)| {
            let (verdict, labour) =
                (kit_totals.verdict(), Labour { mm: kit_totals.work_mm, pieces: kit_totals.pieces });
            let (bounds, off) = (kit_totals.bounds(), off.next().flatten());
            let rank_key = RankKey::new(off, verdict, bounds.high, ease(kit, facts), labour, kit.price_cents);
            Ranked { kit: *place as usize, verdict, bounds, rank_key }
        })
        .collect();
    let order = best_first(ranked.iter().zip(&judged).map(|(ranked, (place, ..))| (ranked.rank_key, *place)));
    let hopeless = hopeless.iter().enumerate().filter(|(_, hopeless)| **hopeless).map(|(place, _)| place);
    Shortlist {
        ranked: order.filter_map(|index| ranked.get(index).copied()).collect(),
        hopeless: hopeless.collect(),
    }
}

fn ease(kit: &PreparedKit, facts: &Facts) -> Option<Ease> {
    let length = facts.head_tube_length.filter(|length| length.is_sound())?;
    Ease::of(kit.range, &kit.offsets, length.value).ok()
}

/// How far each kit's change is off the target, degrees; `None` where nothing can be said.
fn off_target(
    target: TargetChange,
    kits: &[(u32, &PreparedKit, KitTotals)],
    facts: &Facts,
    survey: &Survey,
) -> Vec<Option<f64>> {
    let changes: Vec<_> = kits.iter().map(|(_, kit, _)| (kit.offsets, kit.end(End::Lower).stack)).collect();
    let moved = survey.head_angle_moved(&changes);
    let wanted = match target {
        TargetChange::Change(by) => match facts.direction {
            Direction::Slacker => Some(-by),
            Direction::Steeper => Some(by),
        },
        TargetChange::HeadAngle(wanted) => survey.head_angle_now().map(|now| wanted - now.value),
    };
    let off = |(moved, (_, kit, _)): (Option<f64>, &(u32, &PreparedKit, KitTotals))| {
        Some(moved.or_else(|| by_tilt(kit, facts))? - wanted?)
    };
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
