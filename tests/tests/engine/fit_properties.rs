//! Properties of every verdict, for any bike and kit.

use super::fit_cases::{CaseCounter, case, over_cases, reading};
use proptest::prelude::*;
use std::cell::Cell;
use steerwright_core::bike::{Material, Measurement, Observed};
use steerwright_core::clearance::Side;
use steerwright_core::conformity::{joint_bounds, margin};
use steerwright_core::judgement::requirement::{Question, Rework};
use steerwright_core::judgement::{
    CONFIDENT, Cutting, Direction, Facts, Place, PreparedKit, State, TargetChange, Task, Verdict, Work,
    judge, work_for,
};
use steerwright_core::quantity::{Estimate, Instrument, Quantity};
use steerwright_core::report::KitReport;
use steerwright_core::tilt::installed;

/// The verdicts are varied, or every other property here would cover one verdict only.
#[test]
fn the_cases_are_near_their_limits() {
    let (verdicts, states) = (CaseCounter::default(), CaseCounter::default());
    over_cases(1000, case(), |case| {
        let judged = judge(&case.prepared(), &Facts::new(&case.known(), case.direction));
        verdicts.saw(judged.verdict);
        for answer in &judged.answers {
            let near = (0.02..0.98).contains(&answer.p);
            states.saw((answer.requirement, answer.state));
            states.saw(near);
        }
        Ok(())
    });
    for verdict in [Verdict::GoesIn, Verdict::GoesInAfterWork, Verdict::MeasureFirst, Verdict::WillNotGo] {
        verdicts.at_least(&format!("{verdict:?}"), 50);
    }
    states.at_least("true", 200);
    for (requirement, state) in [
        ("UpperSeat", "NotKnown"),
        ("HeadTubeLength", "NotKnown"),
        ("HeadTubeLength", "NotMet"),
        ("UpperThroat", "MetAfterWork"),
        ("UpperThroat", "NotMet"),
        ("UpperThroat", "NotKnown"),
        ("LowerBoreDepth", "MetAfterWork"),
        ("UpperPressFit", "NotMet"),
        ("UpperPressFit", "MetAfterWork"),
        ("SteererLength", "NotMet"),
        ("SteererLength", "NotKnown"),
        ("SteererSize", "NotMet"),
        ("BearingRecess", "NotMet"),
        ("BearingCondition", "MetAfterWork"),
        ("BearingCondition", "NotKnown"),
        ("Hoses", "NotMet"),
        ("SteeringStop", "NotKnown"),
        ("DownTubeClearance", "NotMet"),
    ] {
        states.at_least(&format!("({requirement}, {state})"), 2);
    }
}

/// Quantities with a default value if not measured, so that a measurement can be worse than none: a bore is within its
/// size's limits, a wall is 3 mm, a throat's edge is anywhere near its face, a taper starts and a fork travels in the
/// way least favourable to the kit.
const ASSUMED: [Quantity; 3] =
    [Quantity::UpperBoreDiameter, Quantity::LowerBoreDiameter, Quantity::HeadTubeWall];

/// Removing a reading never improves a verdict: not measured is never as good as measured.
#[test]
fn no_verdict_turns_to_the_better_for_want_of_a_reading() {
    let taken = CaseCounter::default();
    over_cases(600, case(), |case| {
        let (kit, known) = (case.prepared(), case.known());
        let before = judge(&kit, &Facts::new(&known, case.direction)).verdict;
        for row in &case.bike.measured {
            if ASSUMED.contains(&row.what) {
                continue;
            }
            let without = known.with(row.what, None);
            let after = judge(&kit, &Facts::new(&without, case.direction)).verdict;
            taken.saw((before, after));
            let goes = |verdict| matches!(verdict, Verdict::GoesIn | Verdict::GoesInAfterWork);
            prop_assert!(!goes(after) || after >= before, "{}: {before:?} to {after:?}", row.what);
        }
        Ok(())
    });
    taken.at_least("(GoesIn, MeasureFirst)", 100);
    taken.at_least("(GoesInAfterWork, MeasureFirst)", 50);
    taken.at_least("(WillNotGo, MeasureFirst)", 20);
}

/// The same for observations, except for the appearance of a seat: an observation that contradicts a diameter counts
/// against the kit.
#[test]
fn no_verdict_turns_to_the_better_for_not_looking() {
    let taken = CaseCounter::default();
    over_cases(600, case(), |case| {
        let (kit, known) = (case.prepared(), case.known());
        let before = judge(&kit, &Facts::new(&known, case.direction)).verdict;
        let seen = &known.observed;
        let blinder = [
            Observed { hoses_through_headset: None, ..seen.clone() },
            Observed { steering_stop: None, ..seen.clone() },
            Observed { frame_material: None, ..seen.clone() },
            Observed { frame_material: Some(Material::NotKnown), ..seen.clone() },
        ];
        for blinder in blinder {
            let after = judge(&kit, &Facts::new(&known.seeing(blinder.clone()), case.direction)).verdict;
            taken.saw((before, after));
            let goes = |verdict| matches!(verdict, Verdict::GoesIn | Verdict::GoesInAfterWork);
            prop_assert!(!goes(after) || after >= before, "{blinder:?}: {before:?} to {after:?}");
        }
        Ok(())
    });
    taken.at_least("(GoesIn, MeasureFirst)", 20);
    taken.at_least("(WillNotGo, MeasureFirst)", 10);
}

/// Of two bikes that differ in one value, the one further inside a limit meets it with higher probability.
#[test]
fn probability_rises_with_the_margin() {
    let rose = CaseCounter::default();
    over_cases(600, (case(), -3.0..3.0f64), |(case, by)| {
        let (kit, known) = (case.prepared(), case.known());
        let before = judge(&kit, &Facts::new(&known, case.direction)).answers;
        for row in &case.bike.measured {
            let Some(now) = known.get(row.what) else { continue };
            let moved = known.with(row.what, Some(Estimate::new(now.value + by * now.u, now.u)));
            let after = judge(&kit, &Facts::new(&moved, case.direction)).answers;
            prop_assert_eq!(before.len(), after.len());
            for (a, b) in before.iter().zip(&after) {
                let (Question::Limit { of: x, within }, Question::Limit { of: y, within: then }) =
                    (a.question, b.question)
                else {
                    continue;
                };
                if within != then || (x.u - y.u).abs() > 0.0 {
                    continue;
                }
                let (m, n) = (margin(x, within).value, margin(y, within).value);
                let (less, more) = if m <= n { (a.p, b.p) } else { (b.p, a.p) };
                prop_assert!(less <= more, "{:?}: {m} {} and {n} {}", a.requirement, a.p, b.p);
                if less + 1e-6 < more {
                    rose.saw(a.requirement);
                }
            }
        }
        Ok(())
    });
    for requirement in [
        "HeadTubeLength",
        "SteererSize",
        "SteererLength",
        "UpperThroat",
        "LowerThroat",
        "UpperBoreDepth",
        "LowerBoreDepth",
        "BearingRecess",
        "DownTubeClearance",
        "UpperPressFit",
    ] {
        rose.at_least(requirement, 5);
    }
}

/// Bounds and probabilities are in order, and where nothing is fixed the bounds are those of the probabilities.
#[test]
fn bounds_are_those_of_the_requirements() {
    let compared = CaseCounter::default();
    over_cases(1000, case(), |case| {
        let facts = Facts::new(&case.known(), case.direction);
        let judged = judge(&case.prepared(), &facts);
        let bounds = judged.bounds;
        prop_assert!(0.0 <= bounds.low && bounds.low <= bounds.high && bounds.high <= 1.0, "{bounds:?}");
        for answer in &judged.answers {
            prop_assert!(answer.p.is_nan() || (0.0..=1.0).contains(&answer.p), "{answer:?}");
            prop_assert!(!answer.p.is_nan() || answer.state == State::NotKnown, "{answer:?}");
        }
        // Required or possible work excludes a requirement's own probability from the bounds.
        let mended = judged.answers.iter().any(|answer| {
            answer.state == State::MetAfterWork
                || (answer.rework == Rework::Cut
                    && facts.cutting == Cutting::NotKnown
                    && answer.p < CONFIDENT)
        });
        let own = joint_bounds(judged.answers.iter().map(|answer| answer.p));
        if mended {
            prop_assert!(bounds.low >= own.low - 1e-12 && bounds.high >= own.high - 1e-12);
        } else {
            prop_assert!((bounds.low - own.low).abs() <= 1e-12, "{bounds:?} {own:?}");
            prop_assert!((bounds.high - own.high).abs() <= 1e-12, "{bounds:?} {own:?}");
        }
        compared.saw((mended, judged.verdict));
        // The verdict follows from bounds and states.
        let has = |state| judged.answers.iter().any(|answer| answer.state == state);
        let expected = if has(State::NotMet) {
            Verdict::WillNotGo
        } else if has(State::NotKnown) || bounds.low < 0.95 {
            Verdict::MeasureFirst
        } else if has(State::MetAfterWork) {
            Verdict::GoesInAfterWork
        } else {
            Verdict::GoesIn
        };
        prop_assert_eq!(judged.verdict, expected);
        Ok(())
    });
    for seen in ["(false, GoesIn)", "(false, MeasureFirst)", "(false, WillNotGo)", "(true, GoesInAfterWork)"]
    {
        compared.at_least(seen, 30);
    }
}

/// No material is removed from a carbon frame, and every piece of work is one that a requirement needs.
#[test]
fn carbon_is_never_cut() {
    let seen = CaseCounter::default();
    over_cases(600, (case(), any::<bool>()), |(mut case, carbon)| {
        if carbon {
            case.bike.observed.frame_material = Some(Material::Carbon);
        }
        let facts = Facts::new(&case.known(), case.direction);
        let (kit, carbon) = (case.prepared(), case.bike.observed.frame_material == Some(Material::Carbon));
        let judged = judge(&kit, &facts);
        let work = work_for(&judged.answers, &kit, &facts);
        let asked = judged.answers.iter().filter(|answer| answer.state == State::MetAfterWork).count();
        let is_work = |job: &&Work| job.task != Task::CheckBore;
        prop_assert_eq!(work.iter().filter(is_work).count(), asked);
        for job in work.iter().filter(is_work) {
            prop_assert!(!(carbon && job.task.cuts()), "{job:?}");
            if let (Some(from), Some(to)) = (job.from_mm, job.to_mm) {
                // A bore is widened and a throat opened, or they are too close to decide.
                prop_assert!(to > from || job.text.contains("too close"), "{job:?}");
                prop_assert!(job.text.contains("too close") || !job.text.contains("-0"), "{job:?}");
            }
            seen.saw((carbon, job.task));
        }
        if carbon && judged.verdict == Verdict::GoesInAfterWork {
            prop_assert!(work.iter().all(|job| job.place == Place::Bearings));
        }
        Ok(())
    });
    for work in ["(false, Open)", "(false, Deepen)", "(false, Widen)", "(true, Replace)"] {
        seen.at_least(work, 5);
    }
}

fn order(verdict: Verdict) -> usize {
    let best_first = [Verdict::GoesIn, Verdict::GoesInAfterWork, Verdict::MeasureFirst, Verdict::WillNotGo];
    best_first.iter().position(|it| *it == verdict).unwrap()
}

/// Distance of a kit's change from the target, degrees, by the report's own figures.
fn off(kit: &KitReport, target: TargetChange, now: Option<f64>) -> Option<f64> {
    let tilt = kit.tilt_deg.real.unwrap_or(kit.tilt_deg.nominal);
    // Usual values stand in for the angle; they do not rank.
    let known = kit.change.head_angle.as_ref().filter(|angle| angle.assumed.is_empty());
    let moved = known.map_or(-tilt, |angle| angle.after - angle.before);
    match target {
        TargetChange::Change(by) => Some(if kit.tilt_deg.nominal < 0.0 { moved - by } else { moved + by }),
        TargetChange::HeadAngle(angle) => Some(now? + moved - angle),
    }
}

/// No kit that does not fit stands before one that may, and among the others the nearer to the target comes first.
#[test]
fn kits_are_ranked_by_the_wish() {
    let steps = CaseCounter::default();
    let target = prop::option::of(prop_oneof![
        (0.0..2.5f64).prop_map(TargetChange::Change),
        (60.0..70.0f64).prop_map(TargetChange::HeadAngle)
    ]);
    // Enough readings for the head angle on the ground after a change.
    let known_side_view = any::<bool>();
    over_cases(300, (case(), target, known_side_view), |(mut case, target, side_view)| {
        if side_view {
            use Quantity as Q;
            let rows = [
                (Q::HeadAngle, 66.0),
                (Q::SeatAngle, 76.0),
                (Q::Wheelbase, 1220.0),
                (Q::ChainstayLength, 435.0),
                (Q::BottomBracketHeight, 340.0),
                (Q::FrontTyreDiameter, 744.0),
                (Q::RearTyreDiameter, 744.0),
                (Q::ForkOffset, 44.0),
            ];
            case.bike.measured.extend(rows.map(|(what, value)| Measurement {
                with: Instrument::MakerSheet,
                plus_minus: None,
                ..reading(what, value, 1.0)
            }));
        }
        let report = case.report(target);
        let now = side_view.then_some(66.0);
        prop_assert_eq!(report.kits.len() + report.left_out.len(), case.catalogue.kits.len());
        for pair in report.kits.windows(2) {
            let [a, b] = pair else { unreachable!() };
            let hopeless = |kit: &KitReport| kit.verdict == Verdict::WillNotGo;
            prop_assert!(hopeless(b) || !hopeless(a), "{} before {}", a.sku, b.sku);
            // Those that does not fit stay in the catalogue's order.
            if hopeless(b) {
                if hopeless(a) {
                    let place = |sku: &str| case.catalogue.kits.iter().position(|kit| kit.sku == sku);
                    prop_assert!(place(&a.sku) < place(&b.sku), "{} before {}", a.sku, b.sku);
                }
                continue;
            }
            // An undecided verdict with low probability is ranked behind the others.
            let little_hope = |kit: &KitReport| kit.verdict == Verdict::MeasureFirst && kit.p_high < 0.2;
            prop_assert!(little_hope(b) || !little_hope(a), "{} before {}", a.sku, b.sku);
            if little_hope(a) != little_hope(b) {
                continue;
            }
            // Distance counts in steps of a quarter of a degree, so two kits out of order differ by less than one.
            let offs =
                target.and_then(|target| Some([off(a, target, now)?.abs(), off(b, target, now)?.abs()]));
            let [x, y] = offs.unwrap_or([0.0; 2]);
            prop_assert!(x - y < 0.25 + 1e-9, "{}: {x}, {}: {y}", a.sku, b.sku);
            let same = (x - y).abs() < 1e-9;
            if same {
                prop_assert!(order(a.verdict) <= order(b.verdict), "{} before {}", a.sku, b.sku);
            }
            let alike = a.verdict == b.verdict && (a.p_high - b.p_high).abs() < 1e-9;
            if same && alike && (a.ease, a.work.len()) == (b.ease, b.work.len()) {
                prop_assert!(!a.work.is_empty() || a.price <= b.price, "{} before {}", a.sku, b.sku);
                steps.saw("price");
            }
            if y > x + 0.25 {
                steps.saw("closeness");
            }
            if same && a.verdict != b.verdict {
                steps.saw("verdict");
            }
        }
        Ok(())
    });
    for step in ["\"closeness\"", "\"verdict\"", "\"price\""] {
        steps.at_least(step, 10);
    }
}

/// Rotated by 180 degrees, a kit steepens: twice gives the same kit, its tilt changes sign, and so do the sides of
/// work.
#[test]
fn steepening_mirrors() {
    let mirrored = Cell::new(0);
    over_cases(600, case(), |case| {
        let kit = PreparedKit::new(&case.kit, &case.catalogue).unwrap();
        let round = kit.clone().turned_round();
        prop_assert_eq!(round.clone().turned_round().offsets, kit.offsets);
        prop_assert_eq!(format!("{:?}", round.clone().turned_round()), format!("{kit:?}"));
        prop_assert!(kit.offsets.total() > 0.0 && round.offsets.total() < 0.0);
        if let Some(length) = case.known().get(Quantity::HeadTubeLength) {
            let at = |kit: &PreparedKit| installed(kit.nominal_deg, kit.range, &kit.offsets, length).unwrap();
            let (slack, steep) = (at(&kit), at(&round));
            prop_assert!((slack.real_deg.value + steep.real_deg.value).abs() < 1e-12);
            prop_assert!((slack.misalignment_deg.value - steep.misalignment_deg.value).abs() < 1e-12);
            prop_assert_eq!(slack.ease, steep.ease);
        }
        let work = |kit: &PreparedKit, direction| {
            let facts = Facts::new(&case.known(), direction);
            work_for(&judge(kit, &facts).answers, kit, &facts)
        };
        let (slack, steep) = (work(&kit, Direction::Slacker), work(&round, Direction::Steeper));
        prop_assert_eq!(slack.len(), steep.len());
        for (slack, steep) in slack.iter().zip(&steep) {
            let flipped = slack.side.map(|side| match side {
                Side::Front => Side::Rear,
                Side::Rear => Side::Front,
            });
            prop_assert_eq!(steep.side, flipped);
            prop_assert_eq!(
                (slack.place, slack.task, slack.from_mm),
                (steep.place, steep.task, steep.from_mm)
            );
            // The model's throat is the same in either orientation: the opposite side has to be as wide.
            prop_assert!((slack.amount_mm() - steep.amount_mm()).abs() < 1e-9, "{slack:?} {steep:?}");
            match (slack.place, slack.side) {
                (Place::UpperThroat, side) => prop_assert_eq!(side, Some(Side::Rear)),
                (Place::LowerThroat, side) => prop_assert_eq!(side, Some(Side::Front)),
                (_, side) => prop_assert_eq!(side, None),
            }
            mirrored.set(mirrored.get() + usize::from(slack.side.is_some()));
        }
        Ok(())
    });
    assert!(mirrored.get() >= 20, "{} sides of work compared", mirrored.get());
}
