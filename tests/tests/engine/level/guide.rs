//! The guided session.

use super::phone::{Draw, Sensor, Stand, axes};
use std::collections::BTreeSet;
use steerwright_core::level::{Bearing, Guide, GuideRefusal, LevelPriors, Pose, Sample, Step, Unsteady};
use steerwright_core::quantity::Quantity;

const ANGLE: f64 = 65.4;

fn samples(step: Step, sensor: &Sensor, draw: &mut Draw) -> Vec<Sample> {
    let stand = Stand { angle: ANGLE, slope: 0.7, lean: 1.0 };
    let roll = if step.pose == Pose::Along { draw.normal(5.0) } else { 0.0 };
    sensor.samples(axes(stand, step.bearing, step.pose, step.top_up, step.screen_left, roll), 40, draw)
}

#[test]
fn leads_from_the_first_reading_to_a_sure_angle() {
    let known = LevelPriors::default();
    let mut draw = Draw::new(31);
    let sensor = Sensor::drawn(&mut draw, &known);
    let mut guide = Guide::new(Quantity::HeadAngle, known, Guide::USUAL);
    let (mut turns, mut widths, mut enough) = (0, Vec::new(), None);
    let mut ids = BTreeSet::new();
    while let Some(step) = guide.next() {
        turns += usize::from(guide.progress().turn_round);
        ids.insert(step.text(Quantity::HeadAngle).id);
        let progress = guide.take(&samples(step, &sensor, &mut draw)).unwrap();
        let width = progress.level.as_ref().unwrap().angle.expanded();
        if progress.enough && enough.is_none() {
            enough = Some(progress.done);
        }
        // Uncertainty decreases; reading a lean may move its expectation slightly.
        assert!(widths.last().is_none_or(|last| width <= last + 0.02), "{widths:?} {width}");
        widths.push(width);
    }
    assert_eq!((turns, widths.len(), ids.len()), (1, Step::all().len(), 5));
    // Before the bike is turned round the floor's slope is included; afterwards the accuracy is sufficient
    // before the last step.
    assert!(widths[4] > 2.0, "{widths:?}");
    assert!(enough.is_some_and(|steps| (6..10).contains(&steps)), "{enough:?} {widths:?}");
    let level = guide.progress().level.unwrap();
    assert!((level.angle.value - ANGLE).abs() <= 3.0 * level.angle.u, "{level:?}");
    assert_eq!(guide.take(&[]), Err(GuideRefusal::Finished));
    assert_eq!(guide.progress().left, 0);
    assert_eq!(guide.undo().left, 1);
}

#[test]
fn what_was_not_asked_for_is_not_taken() {
    let mut draw = Draw::new(32);
    let sensor = Sensor { noise: 0.02, ..Sensor::perfect() };
    let mut guide = Guide::new(Quantity::HeadAngle, LevelPriors::default(), Guide::USUAL);
    let first = guide.next().unwrap();
    assert_eq!((first.bearing, first.pose), (Bearing::OneWay, Pose::Along));
    let of = |step: Step, draw: &mut Draw| samples(step, &sensor, draw);
    let wrong_end = of(Step { top_up: !first.top_up, ..first }, &mut draw);
    assert_eq!(guide.take(&wrong_end), Err(GuideRefusal::OtherEnd { top_up: false }));
    let wrong_side = of(Step { screen_left: false, ..first }, &mut draw);
    assert_eq!(guide.take(&wrong_side), Err(GuideRefusal::OtherSide { left: true }));
    let rim = of(Step { pose: Pose::LeanLeft, ..first }, &mut draw);
    assert!(matches!(guide.take(&rim), Err(GuideRefusal::Elsewhere { part: "long edge", .. })));
    assert_eq!(guide.take(&[]), Err(GuideRefusal::Unsteady(Unsteady::TooFew { count: 0 })));
    assert_eq!(guide.progress().done, 0);
    for _ in 0..4 {
        let step = guide.next().unwrap();
        guide.take(&of(step, &mut draw)).unwrap();
    }
    let step = guide.next().unwrap();
    assert_eq!(step.pose, Pose::LeanLeft);
    let along = of(Step { pose: Pose::Along, ..step }, &mut draw);
    // The phone's back is vertical along a fork leg as well, so this one cannot be distinguished from a rim.
    assert!(guide.take(&along).is_ok());
    let flat = [Sample::new(0.0, 0.1, 9.8), Sample::new(0.01, 0.1, 9.81)].repeat(10);
    let mut again = guide.clone();
    again.undo();
    assert!(matches!(again.take(&flat), Err(GuideRefusal::Elsewhere { part: "back", .. })));
}

/// Every text has its own id for both angles.
#[test]
fn texts_have_names() {
    let texts = |what: Quantity| -> BTreeSet<(&str, &str)> {
        Step::all().into_iter().map(|step| (step.text(what).id, step.text(what).text)).collect()
    };
    let (head, seat) = (texts(Quantity::HeadAngle), texts(Quantity::SeatAngle));
    assert_eq!((head.len(), seat.len(), head.intersection(&seat).count()), (5, 5, 1));
    assert!(head.union(&seat).all(|(id, text)| id.starts_with("level.") && text.ends_with('.')));
}
