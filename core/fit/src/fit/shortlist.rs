//! Thousands of kits for one bike: judged, and in order.

use super::lot::{Lot, RuledOut};
use super::rank::{Labour, best_first};
use super::requirement::seats;
use super::tally::Tally;
use super::{Direction, Facts, PreparedKit, Shelf, Standing, Verdict, Wish};
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
    pub standing: Standing,
}

/// Judges every kit of a shelf against a bike and puts the best first.
///
/// `facts` and `survey` are of the same bike; kits that steepen are turned round already. How close a kit comes to the
/// wish is taken from the change of the head angle on the ground, or where the readings do not tell that, from its tilt
/// in this head tube. Without a wish all are equally close.
///
/// The bike's seats are asked once for each pair of seats on the shelf, so a kit that fails there costs next to
/// nothing.
pub fn shortlist(shelf: &Shelf, facts: &Facts, survey: &Survey, wish: Option<Wish>) -> Shortlist {
    let kits = shelf.kits();
    let mut hopeless = vec![true; kits.len()];
    let mut judged: Vec<(u32, &PreparedKit, Tally)> = Vec::new();
    let mut lot = Lot::default();
    for group in shelf.groups() {
        let mut ruled_out = RuledOut::default();
        let _ = seats(group.seats, facts, &mut ruled_out);
        if ruled_out.0 {
            continue;
        }
        for places in group.places.chunks(Lot::KITS) {
            let some = || places.iter().filter_map(|&place| Some((place, kits.get(place as usize)?)));
            let tallies = lot.judge(some().map(|(_, kit)| kit), facts);
            for (lane, (place, kit)) in some().enumerate() {
                let tally = tallies.get(lane);
                if tally.verdict() == Verdict::WillNotGo {
                    continue;
                }
                judged.push((place, kit, tally));
                if let Some(hopeless) = hopeless.get_mut(place as usize) {
                    *hopeless = false;
                }
            }
        }
    }
    let mut off = wish.map(|wish| off_wish(wish, &judged, facts, survey)).unwrap_or_default().into_iter();
    let ranked: Vec<Ranked> = judged
        .iter()
        .map(|(place, kit, tally)| {
            let (verdict, labour) = (tally.verdict(), Labour { mm: tally.work_mm, pieces: tally.pieces });
            let (bounds, off) = (tally.bounds(), off.next().flatten());
            let standing =
                Standing::new(off, verdict, bounds.high, ease(kit, facts), labour, kit.price_cents);
            Ranked { kit: *place as usize, verdict, bounds, standing }
        })
        .collect();
    let order = best_first(ranked.iter().zip(&judged).map(|(ranked, (place, ..))| (ranked.standing, *place)));
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

/// How far each kit's change is off the wish, degrees; `None` where nothing can be said.
fn off_wish(
    wish: Wish,
    kits: &[(u32, &PreparedKit, Tally)],
    facts: &Facts,
    survey: &Survey,
) -> Vec<Option<f64>> {
    let changes: Vec<_> = kits.iter().map(|(_, kit, _)| (kit.offsets, kit.end(End::Lower).stack)).collect();
    let moved = survey.head_angle_moved(&changes);
    let wanted = match wish {
        Wish::Change(by) => match facts.direction {
            Direction::Slacker => Some(-by),
            Direction::Steeper => Some(by),
        },
        Wish::HeadAngle(wanted) => survey.head_angle_now().map(|now| wanted - now.value),
    };
    let off = |(moved, (_, kit, _)): (Option<f64>, &(u32, &PreparedKit, Tally))| {
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
