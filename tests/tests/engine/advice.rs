//! The value of a measurement, compared with independent computations.

use serde::Deserialize;
use std::f64::consts::PI;
use steerwright_core::advice::{NextMeasurement, Subject, expected_gain, next, wrong};
use steerwright_core::bike::{Bearings, Bike, Material, Observable, Observed, demo_bikes_json, observing};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::conformity::{Limits, probability};
use steerwright_core::headset::{End, SeatDimension, size};
use steerwright_core::judgement::{
    BikeKnowledge, Direction, Facts, PreparedKit, Requirement, Verdict, judge, steerer_readings,
};
use steerwright_core::quantity::{Estimate, ForkPosition, Instruments, Quantity, quantity_info};
use steerwright_core::report::{Options, check};
use steerwright_core::steerer::{Available, available};

fn demo() -> Catalogue {
    Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap()
}

fn kit(sku: &str) -> PreparedKit {
    let demo = demo();
    PreparedKit::new(demo.kit(sku).unwrap(), &demo).unwrap()
}

/// Hire bike 01, fully measured, on which TT-4180-15 fits.
fn sound_bike() -> BikeKnowledge {
    let (file, text) = demo_bikes_json()[0];
    let bike = Bike::from_json(text.as_bytes(), file).unwrap();
    BikeKnowledge::new(&bike, &bike.findings())
}

#[track_caller]
fn of(list: &[NextMeasurement], subject: Subject) -> NextMeasurement {
    let found = list.iter().find(|next| next.subject == subject);
    *found.unwrap_or_else(|| panic!("{subject:?} is not in {list:?}"))
}

#[derive(Deserialize)]
struct Oracle {
    rows: Vec<(f64, f64, f64, Option<f64>, f64)>,
}

/// Compared with Owen's T function and integrals of 20 digits (`oracle/advice.py`), off the limit and on it, for one
/// limit and two, with and without rework. The trapezoidal sum crosses one or two kinks: its error there is h^2/8 times
/// the change of slope, at most 2 phi(0) sd/ratio for h = 0.015, weighted with the density 0.4 at most, so
/// 0.015^2 / 8 * 0.8 / 0.1 * 0.4 = 9e-5 for the least ratio of 0.1, and twice that for two limits.
#[test]
fn gains_agree_with_owens_t() {
    let oracle: Oracle = serde_json::from_str(include_str!("../../data/oracle/advice.json")).unwrap();
    assert!(oracle.rows.len() >= 300);
    for &(margin, ratio, reworkable, width, expected) in &oracle.rows {
        // In mm: u is 0.4 and the limit 34.
        let u = 0.4;
        let before = Estimate::new(34.0 + margin * u, u);
        let within = match width {
            None => Limits::at_least(34.0),
            Some(width) => Limits::between(34.0, 34.0 + width * u),
        };
        let gain = expected_gain(before, ratio * u, within, reworkable);
        let tolerance = 9e-6 / ratio * if width.is_some() { 2.0 } else { 1.0 };
        assert!(
            (gain - expected).abs() <= tolerance,
            "margin {margin}, ratio {ratio}, reworkable {reworkable}, width {width:?}: {gain}, not {expected}"
        );
        assert!(gain >= 0.0 && gain <= wrong(probability(before, within), reworkable));
    }
}

/// An exact measurement leaves no risk: it is worth min(p, 1 - p), whatever the limits. The sum's step between two
/// nodes 0.015 apart is off by half a node's weight, 0.4 * 0.015 / 2 = 0.003 at each limit.
#[test]
fn an_exact_instrument_takes_the_whole_risk() {
    for margin in [-2.0, -0.5, 0.0, 0.2, 1.0, 3.0] {
        let before = Estimate::new(120.0 + margin, 1.0);
        for (within, tolerance) in [
            (Limits::at_least(120.0), 0.003),
            (Limits::at_most(120.0), 0.003),
            (Limits::between(120.0, 121.5), 0.006),
        ] {
            let p = probability(before, within);
            let gain = expected_gain(before, 0.0, within, 0.0);
            assert!((gain - p.min(1.0 - p)).abs() <= tolerance, "{margin} {within:?}: {gain} for {p}");
        }
    }
}

/// On the limit, 1/2 - arccos(r)/pi (Sheppard 1899, from memory), r^2 = 1 - (u after / u)^2.
fn on_the_limit(ratio: f64) -> f64 {
    0.5 - (1.0 - ratio * ratio).sqrt().acos() / PI
}

/// A measurement as good as the present knowledge gives the joint u of both.
fn joint_ratio(u: f64, u_tool: f64) -> f64 {
    u_tool / u.hypot(u_tool)
}

/// Two requirements on their limits, all others settled.
///
/// Head tube 125 of at most 125, u 1; the steel rule's is 0.25, both together 0.2425: r = 0.97014, so 0.5 - 0.24498/pi
/// = 0.4220 in 3 minutes, 0.1407 a minute. Upper throat 34.0 of at least 34.0, u 0.5; the caliper's is 0.025, both
/// together 0.02497: 0.5 - 0.04996/pi = 0.4841 in 16 minutes, 0.0303 a minute with the fork in. With the fork out
/// already, 15 of the 16 minutes are saved: 0.4841 a minute, and now the throat comes first.
#[test]
fn worth_a_minute_orders_the_list() {
    let known = sound_bike()
        .with(Quantity::HeadTubeLength, Some(Estimate::new(125.0, 1.0)))
        .with(Quantity::UpperThroatDiameter, Some(Estimate::new(34.0, 0.5)));
    let (length, throat) =
        (Subject::Quantity(Quantity::HeadTubeLength), Subject::Quantity(Quantity::UpperThroatDiameter));
    let mut orders = Vec::new();
    for fork_out in [false, true] {
        let seen = Observed { fork_out: Some(fork_out), ..known.observed.clone() };
        let list = next(&known.seeing(seen), Direction::Slacker, &kit("TT-4180-15"), &Instruments::default());
        let (a, b) = (of(&list, length), of(&list, throat));
        for (found, u, u_tool, by_hand, requirement) in [
            (a, 1.0, 0.25, 0.4220, Requirement::HeadTubeLength),
            (b, 0.5, 0.025, 0.4841, Requirement::UpperThroat),
        ] {
            let expected = on_the_limit(joint_ratio(u, u_tool));
            assert!((expected - by_hand).abs() < 5e-5, "the figures above: {expected}");
            // The trapezoidal sum's error is 9e-6 / ratio: 2e-4 for the caliper's.
            assert!((found.gain - expected).abs() < 2e-4, "{found:?}");
            assert!((found.risk - 0.5).abs() < 1e-9, "{found:?}");
            assert_eq!((found.requirement, found.needed), (requirement, false));
        }
        let minutes = if fork_out { [3.0, 1.0] } else { [3.0, 16.0] };
        assert!((a.minutes - minutes[0]).abs() < 1e-12 && (b.minutes - minutes[1]).abs() < 1e-12);
        let place = |subject| list.iter().position(|next| next.subject == subject).unwrap();
        orders.push(place(length) < place(throat));
        let worth: Vec<f64> = list.iter().map(|next| next.gain / next.minutes).collect();
        assert!(worth.is_sorted_by(|a, b| a >= b), "{worth:?}");
    }
    assert_eq!(orders, [true, false], "the head tube first with the fork in, the throat first with it out");
}

/// A throat of an unknown metal: met 0.2, else opened if it is not carbon, 0.65 of the time. Three answers: met 0.2,
/// reworked 0.8 * 0.65 = 0.52, failed 0.28, so the likeliest is wrong with 0.48. Once the material is known: metal
/// (0.65) leaves min(0.2, 0.8) = 0.2, carbon (0.35) leaves min(0.2, 0.8) = 0.2. Worth 0.28.
///
/// p = 0.2 is 0.8416 u below the limit (standard normal table).
#[test]
fn a_look_at_the_material_by_hand() {
    let u = 0.5;
    let known = sound_bike()
        .with(Quantity::UpperThroatDiameter, Some(Estimate::new(34.0 - 0.841_621_233_572_914_3 * u, u)));
    let known = known.seeing(Observed { frame_material: None, ..known.observed.clone() });
    let list = next(&known, Direction::Slacker, &kit("TT-4180-15"), &Instruments::default());
    let look = of(&list, Subject::Look(Observable::FrameMaterial));
    assert!((look.gain - 0.28).abs() < 1e-9 && (look.risk - 0.48).abs() < 1e-9, "{look:?}");
    assert_eq!(look.requirement, Requirement::UpperThroat);
    assert!((look.minutes - 2.0).abs() < 1e-12);
    // A known metal need not be inspected.
    let known = known.seeing(Observed { frame_material: Some(Material::Steel), ..known.observed.clone() });
    let list = next(&known, Direction::Slacker, &kit("TT-4180-15"), &Instruments::default());
    assert!(list.iter().all(|next| next.subject != Subject::Look(Observable::FrameMaterial)), "{list:?}");
}

/// Hoses (prior 0.2) and a stop (0.08) were not inspected: an inspection settles either for certain, a minute each.
#[test]
fn looks_that_settle_a_requirement_are_worth_its_prior() {
    let known = sound_bike();
    let seen = Observed { hoses_through_headset: None, steering_stop: None, ..known.observed.clone() };
    let list = next(&known.seeing(seen), Direction::Slacker, &kit("TT-4180-15"), &Instruments::default());
    for (what, prior) in [(Observable::HosesThroughHeadset, 0.2), (Observable::SteeringStop, 0.08)] {
        let look = of(&list, Subject::Look(what));
        assert!((look.gain - prior).abs() < 1e-12 && (look.minutes - 1.0).abs() < 1e-12, "{look:?}");
    }
    // The kit that accepts both needs neither.
    let list = next(
        &known.seeing(Observed::default()),
        Direction::Slacker,
        &kit("TT-4180-10H"),
        &Instruments::default(),
    );
    let asked = |what| list.iter().any(|next| next.subject == Subject::Look(what));
    assert!(!asked(Observable::HosesThroughHeadset) && !asked(Observable::SteeringStop), "{list:?}");
}

/// An upper bearing of 41.8 mm, with an unknown seat.
///
/// Weights of the table's upper seats times the share of them that hold a 41.8: drop-in IS42 4; zero stack 7 * 0.5 +
/// 0.3 * 0.4 + 0.5 * 0.05 = 3.645; external 2 * 0.4 + 0.4 * 0.15 + 0.1 * 0.15 = 0.875; together 8.52. For an IS42 kit p
/// = 4 / 8.52 = 0.4695, and as much is at risk.
///
/// Inspected with the fork out (drop-in, thin lip, external cup): IS 0.985, 0.01, 0.005; ZS 0.01, 0.985, 0.005; EC
/// 0.002, 0.008, 0.99. The remaining risk after each answer is the lesser of drop-in and cup: "drop-in" min(3.94,
/// 0.03645 + 0.00175 = 0.0382), "thin lip" min(0.04, 3.6), "external" min(0.02, 0.88): together 0.0982 / 8.52 = 0.0115.
/// Worth 0.4580.
///
/// A bore gauge distinguishes 42.0 from every cup's bore at once and is worth the whole 0.4695.
///
/// Neglected: no standard size (0.01 * 1/60 per mm against 0.99 * 8.52/20.7 * 10.4 per mm, 4e-5) and outliers.
#[test]
fn a_look_at_a_seat_by_hand() {
    use Quantity as Q;
    let unmeasured = [Q::UpperBearingInnerDiameter, Q::UpperBearingHeight, Q::UpperBoreDiameter];
    let known = unmeasured.into_iter().fold(sound_bike(), |known, what| known.with(what, None));
    let known = known.with(Q::UpperBearingOuterDiameter, Some(Estimate::new(41.8, 0.025)));
    let known = known.seeing(Observed { upper_seat: None, fork_out: Some(false), ..known.observed.clone() });
    let list = next(&known, Direction::Slacker, &kit("TT-4180-15"), &Instruments::default());
    let look = of(&list, Subject::Look(Observable::UpperSeat));
    assert!((look.risk - 0.4695).abs() < 1.5e-4, "{look:?}");
    assert!((look.gain - 0.4580).abs() < 1.5e-4, "{look:?}");
    assert_eq!(look.requirement, Requirement::UpperSeat);
    let gauge = of(&list, Subject::Quantity(Q::UpperBoreDiameter));
    assert!((gauge.gain - 0.4695).abs() < 1.5e-4, "{gauge:?}");
    // The bearing has been measured: measuring it again gives no information.
    assert!(list.iter().all(|next| next.subject != Subject::Quantity(Q::UpperBearingOuterDiameter)));

    // An inspection with the fork in showed "thin lip": 0.05 for drop-in, 0.87 for zero stack, 0.04 for external,
    // masses 0.2, 3.171 and 0.035, so p = 0.2 / 3.406 = 0.0587. An inspection with the fork out replaces it in the
    // file, so that it leaves the risk of 0.0115 from above.
    let lip = Observed {
        upper_seat: Some(steerwright_core::bike::ObservedSeat::ThinLip),
        ..known.observed.clone()
    };
    let list = next(&known.seeing(lip), Direction::Slacker, &kit("TT-4180-15"), &Instruments::default());
    let look = of(&list, Subject::Look(Observable::UpperSeat));
    assert!((look.risk - 0.0587).abs() < 1e-4, "{look:?}");
    assert!((look.gain - (0.0587 - 0.0115)).abs() < 1e-4, "{look:?}");
}

/// A settled verdict needs no measurement: a kit that fits, and one that never will.
#[test]
fn a_settled_kit_asks_nothing() {
    let (catalogue, mut settled) = (demo(), 0);
    for (file, text) in demo_bikes_json() {
        let bike = Bike::from_json(text.as_bytes(), file).unwrap();
        for kit in &catalogue.kits {
            let options = Options { only: Some(kit.sku.clone()), ..Options::default() };
            let report = check(&bike, &catalogue, &Instruments::default(), &options).unwrap();
            let open = report.kits[0].verdict == Verdict::MeasureFirst;
            assert_eq!(report.measure_next.is_empty(), !open, "{file}, {}", kit.sku);
            settled += usize::from(!open);
        }
    }
    assert!(settled > 200);
}

/// Whatever a verdict depends on is on the list, even if nearly every bike passes: measuring everything it names leaves
/// nothing unknown.
#[test]
fn the_list_names_all_that_is_missing() {
    let catalogue = demo();
    let blank = sound_bike();
    let blank = Quantity::ALL.iter().fold(blank, |known, &what| known.with(what, None));
    let blank = blank.seeing(Observed::default());
    for listed in &catalogue.kits {
        // Without the maker's throats the model needs the steerer's shape.
        for throats in [true, false] {
            let mut listed = listed.clone();
            if !throats {
                (listed.upper.throat_min_mm, listed.lower.throat_min_mm) = (None, None);
            }
            let kit = PreparedKit::new(&listed, &catalogue).unwrap();
            let (mut known, full) = (blank.clone(), sound_bike());
            let mut seen = Observed::default();
            for next in next(&blank, Direction::Slacker, &kit, &Instruments::default()) {
                match next.subject {
                    Subject::Quantity(what) => {
                        let typical = full.get(what).or(Some(Estimate::new(16.0, 0.1)));
                        known = known.with(what, typical);
                    }
                    Subject::Look(Observable::HosesThroughHeadset) => {
                        seen.hoses_through_headset = Some(false)
                    }
                    Subject::Look(Observable::SteeringStop) => seen.steering_stop = Some(false),
                    Subject::Look(Observable::Bearings) => seen.bearings = Some(Bearings::Good),
                    Subject::Look(Observable::FrameMaterial) => seen.frame_material = Some(Material::Steel),
                    Subject::Look(_) => {}
                }
            }
            let judged = judge(&kit, &Facts::new(&known.seeing(seen), Direction::Slacker));
            let open: Vec<_> = judged.answers.iter().filter(|answer| answer.p.is_nan()).collect();
            assert!(open.is_empty(), "{} throats {throats}: {open:?}", listed.sku);
        }
    }
}

/// Starting with nothing and always following the first entry of the list leads to the verdict of the fully measured
/// bike, and never asks for the same thing twice.
#[test]
fn following_the_list_from_nothing_reaches_the_verdict() {
    let instruments = Instruments::default();
    for (bike, sku) in [(0, "TT-4180-15"), (1, "TT-4100-15"), (3, "TT-4456-15"), (6, "TT-4444-15")] {
        let (file, text) = demo_bikes_json()[bike];
        let bike = Bike::from_json(text.as_bytes(), file).unwrap();
        let (truth, kit) = (BikeKnowledge::new(&bike, &bike.findings()), kit(sku));
        // Measured with the fork in; once it is out, the list asks for the steerer itself.
        let steerer = available(&steerer_readings(&truth), Available::FromOutside).unwrap();
        let truth = truth.with(Quantity::SteererLength, Some(steerer));
        // Not every bore was gauged; it is that of the seat which the kit needs and the bike has.
        let truth = End::BOTH.into_iter().fold(truth, |truth, end| {
            let bore = SeatDimension::Bore.quantity(end);
            let of_size = size(kit.end(end).code).unwrap().bore.estimate();
            let gauged = truth.get(bore).unwrap_or(Estimate::new(of_size.value, 0.01));
            truth.with(bore, Some(gauged))
        });
        let blank = Quantity::ALL.iter().fold(truth.clone(), |known, &what| known.with(what, None));
        let mut known = blank.seeing(Observed::default());
        let mut asked: Vec<Subject> = Vec::new();
        let verdict = loop {
            let verdict = judge(&kit, &Facts::new(&known, Direction::Slacker)).verdict;
            if verdict != Verdict::MeasureFirst {
                break verdict;
            }
            let list = next(&known, Direction::Slacker, &kit, &instruments);
            // The demo bikes lack a few readings that others substitute.
            let can = |next: &&NextMeasurement| match next.subject {
                Subject::Quantity(what) => truth.get(what).is_some(),
                Subject::Look(_) => true,
            };
            let first = *list
                .iter()
                .find(can)
                .unwrap_or_else(|| panic!("{file}: stuck after {asked:?} with {list:?}"));
            assert!(!asked.contains(&first.subject), "{file}: {first:?} again after {asked:?}");
            asked.push(first.subject);
            let mut seen = known.observed.clone();
            let (now, fork) = match first.subject {
                Subject::Quantity(what) => (known.with(what, truth.get(what)), quantity_info(what).fork),
                Subject::Look(look) => {
                    let all = &truth.observed;
                    match look {
                        Observable::UpperSeat => seen.upper_seat = all.upper_seat,
                        Observable::LowerSeat => seen.lower_seat = all.lower_seat,
                        Observable::FrameMaterial => seen.frame_material = all.frame_material,
                        Observable::HosesThroughHeadset => {
                            seen.hoses_through_headset = all.hoses_through_headset
                        }
                        Observable::SteeringStop => seen.steering_stop = all.steering_stop,
                        Observable::DualCrown => seen.dual_crown = all.dual_crown,
                        Observable::Bearings => seen.bearings = all.bearings,
                        Observable::MakerAllowsPressing => {
                            seen.maker_allows_pressing = all.maker_allows_pressing
                        }
                    }
                    (known.clone(), observing(look).fork)
                }
            };
            if fork == ForkPosition::Out {
                seen.fork_out = Some(true);
            }
            known = now.seeing(seen);
        };
        assert_eq!(verdict, judge(&kit, &Facts::new(&truth, Direction::Slacker)).verdict, "{file}");
    }
}
