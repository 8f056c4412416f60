//! A shortlist of many kits says what judging each by itself and sorting says, and reports follow it.

use proptest::prelude::*;
use std::cell::Cell;
use steerwright_core::bike::{Bike, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, Kit, demo_catalogue_json};
use steerwright_core::conformity::Bounds;
use steerwright_core::geometry::{Change, Figure, Statement, Survey, UncertainChange, survey};
use steerwright_core::headset::End;
use steerwright_core::judgement::{
    BikeKnowledge, Direction, Facts, PreparedKit, Ranked, Shortlist, TargetChange, Verdict, judge, shortlist,
    work_for,
};
use steerwright_core::quantity::Instruments;
use steerwright_core::report::{Options, check};
use steerwright_core::tilt::{Ease, installed};
use steerwright_tests::any;

fn demo() -> (Catalogue, Vec<Bike>) {
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap();
    let bike = |(file, text): (&str, &str)| Bike::from_json(text.as_bytes(), file).unwrap();
    (catalogue, demo_bikes_json().into_iter().map(bike).collect())
}

fn survey_of(bike: &Bike) -> Survey {
    let findings = bike.findings();
    let statements: Vec<_> = findings.iter().map(|(what, estimate)| Statement { what, estimate }).collect();
    survey(&statements)
}

fn change(kit: &PreparedKit) -> UncertainChange {
    let lower_stack = Some(kit.end(End::Lower).stack);
    Change { kit: Some(kit.offsets), lower_stack, ..Change::default() }.into()
}

/// How far a kit is off the target, in whole steps of a quarter of a degree: the full comparison of the side view, or
/// else the tilt.
fn steps_off(target: Option<TargetChange>, kit: &PreparedKit, facts: &Facts, survey: &Survey) -> u64 {
    let on_ground = survey.compare(&change(kit)).ok().and_then(|it| it.difference.get(Figure::HeadAngle));
    let tilt = match facts.head_tube_length {
        Some(length) => kit.offsets.tilt_deg(length.value).ok(),
        None => Some(kit.nominal_deg.copysign(kit.offsets.total())),
    };
    let moved = on_ground.map(|it| it.value).or(tilt.map(|tilt| -tilt));
    let now = || survey.before().get(Figure::HeadAngle).map(|it| it.value);
    let wanted = match (target, facts.direction) {
        (None, _) => return 0,
        (Some(TargetChange::Change(by)), Direction::Slacker) => Some(-by),
        (Some(TargetChange::Change(by)), Direction::Steeper) => Some(by),
        (Some(TargetChange::HeadAngle(angle)), _) => now().map(|now| angle - now),
    };
    moved.zip(wanted).map_or(0, |(moved, wanted)| ((moved - wanted).abs() / 0.25).round() as u64)
}

/// What counts for one kit that may go in, in the order in which it counts.
fn plainly(
    target: Option<TargetChange>,
    kit: &PreparedKit,
    facts: &Facts,
    survey: &Survey,
) -> (bool, bool, u64, Verdict, u64, Ease, u64, u32) {
    let judgement = judge(kit, facts);
    if judgement.verdict == Verdict::WillNotGo {
        return (true, false, 0, judgement.verdict, 0, Ease::Easy, 0, 0);
    }
    let work = work_for(&judgement.answers, kit, facts);
    let mm: f64 = work.iter().map(steerwright_core::judgement::Work::amount_mm).sum();
    let here = |length| installed(kit.nominal_deg, kit.range, &kit.offsets, length).ok();
    let ease = facts.head_tube_length.and_then(here).map_or(Ease::Fiddly, |it| it.ease);
    let labour = (mm * 10.0 + work.len() as f64).round() as u64;
    let (verdict, chance) = (judgement.verdict, judgement.bounds.high);
    let is_open = verdict == Verdict::MeasureFirst;
    let doubt = if is_open { (10.0 * (1.0 - chance)).round() as u64 } else { 0 };
    let off = steps_off(target, kit, facts, survey);
    (false, is_open && chance < 0.2, off, verdict, doubt, ease, labour, kit.price_cents)
}

/// Judging one by one and sorting.
fn one_by_one(
    target: Option<TargetChange>,
    kits: &[PreparedKit],
    facts: &Facts,
    survey: &Survey,
) -> Vec<usize> {
    let mut order: Vec<usize> = (0..kits.len()).collect();
    order.sort_by_cached_key(|&place| plainly(target, &kits[place], facts, survey));
    order
}

fn prepared(catalogue: &Catalogue, kits: &[Kit], direction: Direction) -> Vec<PreparedKit> {
    let prepared = kits.iter().filter_map(|kit| PreparedKit::new(kit, catalogue).ok());
    match direction {
        Direction::Slacker => prepared.collect(),
        Direction::Steeper => prepared.map(PreparedKit::turned_round).collect(),
    }
}

fn agrees(
    bike: &Bike,
    kits: &[PreparedKit],
    direction: Direction,
    target: Option<TargetChange>,
) -> Shortlist {
    let facts = Facts::new(&BikeKnowledge::new(bike, &bike.findings()), direction);
    let survey = survey_of(bike);
    let list = shortlist(kits, &facts, &survey, target);
    let order: Vec<usize> =
        list.ranked.iter().map(|ranked| ranked.kit).chain(list.hopeless.clone()).collect();
    assert_eq!(order, one_by_one(target, kits, &facts, &survey), "{target:?}");
    for Ranked { kit, verdict, bounds, .. } in &list.ranked {
        let full = judge(&kits[*kit], &facts);
        assert_eq!(*verdict, full.verdict);
        let bits = |bounds: Bounds| [bounds.low, bounds.high].map(f64::to_bits);
        assert_eq!(bits(*bounds), bits(full.bounds), "{bounds:?} {:?}", full.bounds);
    }
    for &kit in &list.hopeless {
        assert_eq!(judge(&kits[kit], &facts).verdict, Verdict::WillNotGo);
    }
    assert!(list.ranked.is_sorted_by_key(|ranked| ranked.rank_key));
    list
}

fn target() -> impl Strategy<Value = Option<TargetChange>> {
    prop_oneof![
        Just(None),
        (0.0..3.0f64).prop_map(|by| Some(TargetChange::Change(by))),
        (62.0..70.0f64).prop_map(|angle| Some(TargetChange::HeadAngle(angle))),
    ]
}

fn direction() -> impl Strategy<Value = Direction> {
    prop_oneof![3 => Just(Direction::Slacker), 1 => Just(Direction::Steeper)]
}

#[test]
fn the_demo_bikes_rank_the_demo_kits_as_one_by_one() {
    let (catalogue, bikes) = demo();
    let mut seen = std::collections::BTreeSet::new();
    for bike in &bikes {
        for direction in [Direction::Slacker, Direction::Steeper] {
            // Every kit occurs several times: equal ones have to stay in their order.
            let many: Vec<Kit> = catalogue.kits.iter().cycle().take(400).cloned().collect();
            let kits = prepared(&catalogue, &many, direction);
            for target in [None, Some(TargetChange::Change(1.0)), Some(TargetChange::HeadAngle(65.0))] {
                let Shortlist { ranked, hopeless } = agrees(bike, &kits, direction, target);
                seen.extend(ranked.iter().map(|ranked| ranked.verdict));
                seen.extend(hopeless.first().map(|_| Verdict::WillNotGo));
                // Equal kits stay in their order.
                for pair in ranked.windows(2).filter(|pair| pair[0].rank_key == pair[1].rank_key) {
                    assert!(pair[0].kit < pair[1].kit, "{pair:?}");
                }
            }
        }
    }
    assert_eq!(seen.len(), 4, "every verdict occurs: {seen:?}");
}

/// Demo kits with other figures: near enough to the demo bikes that every verdict occurs.
fn near_kits() -> impl Strategy<Value = Vec<Kit>> {
    let (catalogue, _) = demo();
    let kit = (
        proptest::sample::select(catalogue.kits),
        prop::array::uniform6(-3.0..3.0f64),
        any::<[bool; 6]>(),
        0..4u32,
    );
    let kit = kit.prop_map(|(mut kit, by, keep, price)| {
        let [short, long] = kit.head_tube_length_mm;
        kit.head_tube_length_mm = [short + 3.0 * by[0], long + 3.0 * by[1]];
        kit.upper.stack_mm = (kit.upper.stack_mm + by[2]).max(0.0);
        kit.lower.stack_mm = (kit.lower.stack_mm + by[3]).max(0.0);
        for (half, by) in [(&mut kit.upper, by[4]), (&mut kit.lower, by[5])] {
            half.throat_min_mm = half.throat_min_mm.filter(|_| keep[0]).map(|mm| mm + by);
            half.bore_depth_min_mm = half.bore_depth_min_mm.filter(|_| keep[1]).map(|mm| mm + by);
            half.cup_mm = half.cup_mm.filter(|_| keep[2]);
        }
        kit.hoses = keep[3];
        kit.steering_stop = keep[4];
        kit.price = (100 + price).into();
        kit
    });
    prop::collection::vec(kit, 1..150)
}

#[test]
fn random_kits_are_ranked_as_one_by_one() {
    let (catalogue, bikes) = demo();
    let strategy = (proptest::sample::select(bikes), near_kits(), direction(), target());
    let counts: [Cell<usize>; 4] = Default::default();
    let mut runner = proptest::test_runner::TestRunner::new(ProptestConfig::with_cases(96));
    let result = runner.run(&strategy, |(bike, kits, direction, target)| {
        let list = agrees(&bike, &prepared(&catalogue, &kits, direction), direction, target);
        let hopeless = list.hopeless.iter().map(|_| Verdict::WillNotGo);
        for verdict in list.ranked.iter().map(|ranked| ranked.verdict).chain(hopeless) {
            let count = &counts[verdict as usize];
            count.set(count.get() + 1);
        }
        Ok(())
    });
    result.unwrap_or_else(|error| panic!("{error}"));
    assert!(counts.iter().all(|count| count.get() >= 20), "every verdict occurs: {counts:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Any bike and catalogue a file may hold, sensible or not.
    #[test]
    fn any_bike_and_catalogue_are_ranked_as_one_by_one(
        bike in any::bike(),
        catalogue in any::catalogue(),
        direction in direction(),
        target in target(),
    ) {
        agrees(&bike, &prepared(&catalogue, &catalogue.kits, direction), direction, target);
    }

    /// The head angle alone is the one of the full comparison, for one kit and for many.
    #[test]
    fn the_head_angle_alone_is_that_of_the_whole_comparison(
        bike in proptest::sample::select(demo().1),
        forgotten in prop::collection::vec(any::<prop::sample::Index>(), 0..4),
        kits in near_kits(),
        direction in direction(),
    ) {
        let mut bike = bike;
        for index in forgotten {
            let what = index.get(&bike.measured).what;
            bike.measured.retain(|measurement| measurement.what != what);
        }
        let survey = survey_of(&bike);
        let kits = prepared(&demo().0, &kits, direction);
        let all: Vec<_> = kits.iter().map(|kit| (kit.offsets, kit.end(End::Lower).stack)).collect();
        let moved = survey.head_angle_moved(&all);
        prop_assert_eq!(survey.head_angle_now(), survey.before().get(Figure::HeadAngle));
        for (kit, moved) in kits.iter().zip(moved) {
            let whole = survey.compare(&change(kit)).unwrap();
            let alone = survey.head_angle(&change(kit)).unwrap();
            prop_assert_eq!(alone.before, whole.before.get(Figure::HeadAngle));
            prop_assert_eq!(alone.after, whole.after.get(Figure::HeadAngle));
            prop_assert_eq!(alone.difference, whole.difference.get(Figure::HeadAngle));
            prop_assert_eq!(moved.map(f64::to_bits), alone.difference.map(|it| it.value.to_bits()));
        }
    }
}

/// The report lists the kits in the shortlist's order, those that do not fit last.
#[test]
fn a_report_follows_the_shortlist() {
    let (catalogue, bikes) = demo();
    for bike in &bikes {
        let options = Options { target: Some(TargetChange::Change(1.5)), ..Options::default() };
        let report = check(bike, &catalogue, &Instruments::default(), &options).unwrap();
        let kits = prepared(&catalogue, &catalogue.kits, Direction::Slacker);
        let Shortlist { ranked, hopeless } = agrees(bike, &kits, Direction::Slacker, options.target);
        let row = |kit: usize, verdict| (catalogue.kits[kit].sku.as_str(), verdict);
        let mut expected: Vec<_> = ranked.iter().map(|ranked| row(ranked.kit, ranked.verdict)).collect();
        expected.extend(hopeless.iter().map(|kit| row(*kit, Verdict::WillNotGo)));
        let told: Vec<_> = report.kits.iter().map(|kit| (kit.sku.as_str(), kit.verdict)).collect();
        assert_eq!(told, expected, "{}", bike.name);
    }
}
