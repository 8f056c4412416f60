//! Reports of unusual bikes and catalogues: no check, handling report, picture or list of measurements fails, every
//! number can be serialized, and a report is equal after a round trip.

use proptest::prelude::*;
use proptest::sample::{Index, select};
use steerwright_core::advice::{Inquiry, OpenKit, Reason, measure_next, next};
use steerwright_core::bike::{Bike, Measurement, Observed, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::drawing::SvgOptions;
use steerwright_core::geometry::Figure;
use steerwright_core::judgement::{
    BikeKnowledge, Direction, HOPELESS, PreparedKit, Requirement, State, TargetChange,
};
use steerwright_core::quantity::{Dismantling, Estimate, Instrument, Instruments, Quantity, quantity_info};
use steerwright_core::report::{
    CheckError, Handling, Modification, Options, Report, check, handling, pictures, side_view_picture,
};
use steerwright_tests::any;

/// A demo bike with some readings replaced by any that its file may contain: enough is known for every result, and the
/// readings need not be consistent.
fn spoilt_bike() -> impl Strategy<Value = Bike> {
    let change = (any::<Index>(), 0.0..=1.0f64, prop::option::of(1e-6..=1.0f64));
    (select(demo_bikes_json().to_vec()), prop::collection::vec(change, 0..8), any::observed(), any::<bool>())
        .prop_map(|((file, text), changes, observed, seen_otherwise)| {
            let mut bike = Bike::from_json(text.as_bytes(), file).unwrap();
            for (row, place, part) in changes {
                let row: &mut Measurement = row.get_mut(&mut bike.measured);
                let [low, high] = quantity_info(row.what).plausible;
                row.unit = row.what.base_unit();
                row.value = low + place * (high - low);
                row.plus_minus = part.map(|part| part * (high - low));
            }
            if seen_otherwise {
                bike.observed = observed;
            }
            bike
        })
}

/// Every quantity read once, anywhere in its range, most of them with small uncertainty.
fn fully_read_bike() -> impl Strategy<Value = Bike> {
    let readings =
        prop::collection::vec((0.0..=1.0f64, prop::option::weighted(0.2, 1e-6..=1.0f64)), Quantity::COUNT);
    (readings, any::observed()).prop_map(|(readings, observed)| {
        let measured = Quantity::ALL.iter().zip(readings).map(|(&what, (place, part))| {
            let [low, high] = quantity_info(what).plausible;
            Measurement {
                what,
                value: low + place * (high - low),
                unit: what.base_unit(),
                with: Instrument::MakerSheet,
                plus_minus: part.map(|part| part * (high - low)),
                at: None,
                note: None,
            }
        });
        let (measured, bike) = (measured.collect(), demo_bikes_json()[0].1);
        Bike { measured, observed, ..Bike::from_json(bike.as_bytes(), "b").unwrap() }
    })
}

fn bike() -> impl Strategy<Value = Bike> {
    prop_oneof![any::bike(), spoilt_bike(), fully_read_bike()]
}

fn catalogue() -> impl Strategy<Value = Catalogue> {
    let demo = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap();
    prop_oneof![any::catalogue(), Just(demo)]
}

fn direction() -> impl Strategy<Value = Direction> {
    select(vec![Direction::Slacker, Direction::Steeper])
}

fn target() -> impl Strategy<Value = Option<TargetChange>> {
    prop::option::of(prop_oneof![
        (0.0..=10.0f64).prop_map(TargetChange::Change),
        (45.0..=90.0f64).prop_map(TargetChange::HeadAngle)
    ])
}

fn modification() -> impl Strategy<Value = Modification> {
    use prop::option::of;
    let kit = of((any::<Index>(), any::<bool>()));
    let lengths = (
        of(200.0..1000.0f64),
        of(-100.0..120.0f64),
        of(200.0..1000.0f64),
        of(200.0..1000.0f64),
        of(0.0..80.0f64),
    );
    let target = of((select(&Figure::ALL[..]), 0.0..1500.0f64));
    (of(-5.0..=5.0f64), target, kit, lengths, any::<bool>()).prop_map(
        |(tilt_deg, target, kit, (axle_to_crown, fork_offset, front_tyre, rear_tyre, lower_stack), sag)| {
            let demo = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap();
            let kit = kit.map(|(index, steepen)| {
                let offsets = PreparedKit::new(index.get(&demo.kits), &demo).unwrap().offsets;
                if steepen { offsets.mirrored() } else { offsets }
            });
            Modification {
                tilt_deg: tilt_deg.filter(|_| kit.is_none()),
                target,
                kit,
                axle_to_crown,
                fork_offset,
                front_tyre: front_tyre.map(Estimate::exact),
                rear_tyre: rear_tyre.map(Estimate::exact),
                lower_stack,
                sag,
            }
        },
    )
}

/// Every number of a JSON document is finite: `null` stands for those that are not.
fn no_nulls(value: &serde_json::Value, at: &str) -> Result<(), TestCaseError> {
    match value {
        serde_json::Value::Null => Err(TestCaseError::fail(format!("{at} is null"))),
        serde_json::Value::Array(list) => list.iter().try_for_each(|item| no_nulls(item, &format!("{at}[]"))),
        serde_json::Value::Object(map) => {
            map.iter().try_for_each(|(key, item)| no_nulls(item, &format!("{at}.{key}")))
        }
        _ => Ok(()),
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bike_is_checked_against_any_catalogue(
        bike in bike(),
        catalogue in catalogue(),
        direction in direction(),
        target in target(),
    ) {
        let instruments = Instruments::default();
        let options = Options { direction, target, only: None };
        let report = check(&bike, &catalogue, &instruments, &options).unwrap();
        prop_assert_eq!(report.kits.len() + report.left_out.len(), catalogue.kits.len());

        let text = serde_json::to_string(&report).unwrap();
        no_nulls(&serde_json::from_str(&text).unwrap(), "report")?;
        prop_assert_eq!(&serde_json::from_str::<Report>(&text).unwrap(), &report);

        for kit in &report.kits {
            prop_assert!(0.0 <= kit.p_low && kit.p_low <= kit.p_high && kit.p_high <= 1.0, "{kit:?}");
            for line in &kit.requirements {
                prop_assert!(!line.text.is_empty() && !line.text.contains("NaN") && !line.text.contains("inf "));
                prop_assert!(line.p.is_none_or(|p| (0.0..=1.0).contains(&p)), "{line:?}");
            }
        }
        for (name, drawing) in pictures(&bike, &catalogue, &instruments, &report) {
            prop_assert!(!name.is_empty() && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-'), "{name}");
            let svg = drawing.to_svg(&SvgOptions::default());
            prop_assert!(roxmltree::Document::parse(&svg).is_ok(), "{name}");
            prop_assert!(!svg.contains("NaN") && !svg.contains("inf"), "{name}");
        }
    }

    #[test]
    fn any_kits_have_a_list_of_what_to_measure(
        bike in bike(), catalogue in catalogue(), direction in direction(), weight in 0.0..=1.0f64,
    ) {
        let (findings, instruments) = (bike.findings(), Instruments::default());
        let known = BikeKnowledge::new(&bike, &findings);
        let prepared: Vec<PreparedKit> =
            catalogue.kits.iter().take(3).filter_map(|kit| PreparedKit::new(kit, &catalogue).ok()).collect();
        let kits: Vec<OpenKit<'_>> =
            prepared.iter().map(|kit| OpenKit { sku: "K", kit, weight }).collect();
        let inquiry = Inquiry { known: &known, findings: &findings, direction, instruments: &instruments };
        let list = next(&inquiry, &kits);
        let (mut subjects, mut refits) = (Vec::new(), 0);
        let mut reached: Vec<Dismantling> = Vec::new();
        for next in &list {
            prop_assert!(next.gain >= 0.0 && next.gain.is_finite() && next.gain.is_sign_positive(), "{next:?}");
            // No more can be gained than is at risk; the sum over a posterior rounds.
            prop_assert!(next.gain <= next.risk + 1e-9, "{next:?}");
            prop_assert!(!subjects.contains(&next.subject), "{next:?} stands twice");
            subjects.push(next.subject);
            refits += usize::from(next.refit);
            let reach: f64 = next.reached.iter().map(|state| state.row().minutes).sum();
            prop_assert!(next.own_minutes() >= 1.0 && (next.minutes - reach - next.own_minutes()).abs() < 1e-9);
            prop_assert!(next.state.includes(next.guidance.instruction.state) || list.iter().any(|other| {
                matches!(other.state, Dismantling::UpperCupOut | Dismantling::LowerCupOut)
            }), "{next:?}");
            if !next.refit {
                prop_assert!(next.reached.iter().all(|state| !reached.contains(state)), "twice: {next:?}");
            }
            reached.extend(&next.reached);
        }
        let contradicted = list.iter().filter(|next| matches!(next.reason, Reason::Contradiction(_))).count();
        prop_assert!(refits <= 1 + contradicted, "the fork goes in once: {list:?}");
        let words = measure_next(&inquiry, &kits);
        prop_assert_eq!(words.len(), list.len());
        for next in words {
            prop_assert!(!next.text.contains("NaN") && !next.of_kits.is_empty(), "{next:?}");
        }
    }

    #[test]
    fn any_bike_has_a_handling_report(bike in bike(), modification in modification()) {
        let Ok(report) = handling(&bike, &Instruments::default(), &modification) else { return Ok(()) };
        let text = serde_json::to_string(&report).unwrap();
        no_nulls(&serde_json::from_str(&text).unwrap(), "handling")?;
        // The side views are for drawing and not serialized.
        let read = Handling { views: report.views.clone(), ..serde_json::from_str(&text).unwrap() };
        prop_assert_eq!(&read, &report);
        if let Some(drawing) = side_view_picture(&report) {
            let svg = drawing.to_svg(&SvgOptions::default());
            prop_assert!(roxmltree::Document::parse(&svg).is_ok());
            prop_assert!(!svg.contains("NaN") && !svg.contains("inf"));
        }
    }

    /// A target outside the range of a bike is refused in words, and so is an unknown kit.
    #[test]
    fn senseless_wishes_are_refused(
        value in prop_oneof![any::<f64>(), Just(f64::NAN), -1.0..0.0f64, 10.1..45.0f64],
        sku in "[A-Z0-9-]{1,10}",
    ) {
        let demo = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap();
        let bike = Bike::from_json(demo_bikes_json()[0].1.as_bytes(), "b").unwrap();
        let ask = |options: &Options| check(&bike, &demo, &Instruments::default(), options);
        let sensible = [(TargetChange::Change(value), 0.0..=10.0), (TargetChange::HeadAngle(value), 45.0..=90.0)];
        for (target, range) in sensible {
            let answer = ask(&Options { target: Some(target), ..Options::default() });
            prop_assert_eq!(answer.is_ok(), range.contains(&value));
            if let Err(error) = answer {
                prop_assert!(error.to_string().contains("expected"), "{error}");
            }
        }
        let answer = ask(&Options { only: Some(sku.clone()), ..Options::default() });
        match demo.kit(&sku) {
            Some(_) => prop_assert_eq!(answer.unwrap().kits.len(), 1),
            None => {
                let refused = matches!(answer, Err(CheckError::NoSuchKit { .. }));
                prop_assert!(refused);
            }
        }
    }
}

/// The generator covers results that need a well known bike: pictures, a change of the head angle, measurements.
#[test]
fn spoilt_bikes_still_have_answers() {
    use proptest::strategy::ValueTree;
    let mut runner = proptest::test_runner::TestRunner::deterministic();
    let demo = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap();
    let instruments = Instruments::default();
    let (mut drawn, mut changed, mut measured, mut odd) = (0, 0, 0, 0);
    for _ in 0..60 {
        let bike = spoilt_bike().new_tree(&mut runner).unwrap().current();
        let report = check(&bike, &demo, &instruments, &Options::default()).unwrap();
        drawn += usize::from(!pictures(&bike, &demo, &instruments, &report).is_empty());
        changed += usize::from(report.kits.iter().any(|kit| kit.change.head_angle.is_some()));
        measured += usize::from(!report.measure_next.is_empty());
        odd += usize::from(!report.readings.is_empty());
    }
    assert!(
        drawn >= 15 && changed >= 15 && measured >= 10 && odd >= 15,
        "{drawn} {changed} {measured} {odd}"
    );
    let blank = Bike {
        measured: Vec::new(),
        observed: Observed::default(),
        ..spoilt_bike().new_tree(&mut runner).unwrap().current()
    };
    let report = check(&blank, &demo, &instruments, &Options::default()).unwrap();
    assert!(report.kits.iter().all(|kit| kit.ease.is_none()));
    // The head angle is a range that usual values give, and says so.
    let angles = || report.kits.iter().map(|kit| kit.change.head_angle.as_ref());
    assert!(
        angles().all(|it| it.is_none_or(|it| it.assumed.contains(&Quantity::HeadAngle) && it.u_after > 0.5))
    );
}

/// A bike with no data except these measurements.
fn bike_with(measured: serde_json::Value) -> Bike {
    let bike = serde_json::json!({"schema": "steerwright.bike/1", "name": "Bare", "measured": measured});
    Bike::from_json(bike.to_string().as_bytes(), "bare.json").unwrap()
}

fn demo_report(bike: &Bike, options: &Options) -> Report {
    let catalogue = Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap();
    check(bike, &catalogue, &Instruments::default(), options).unwrap()
}

/// The same for a requirement with two parts: a probability of zero would mean that it is certainly not met.
#[test]
fn what_was_not_measured_has_no_probability() {
    let upper = serde_json::json!([
        {"what": "steerer_upper_diameter", "value": 28.6, "unit": "mm", "with": "caliper"}
    ]);
    for measured in [serde_json::json!([]), upper] {
        let report = demo_report(&bike_with(measured), &Options::default());
        for kit in &report.kits {
            let size = kit.requirements.iter().find(|line| line.requirement == Requirement::SteererSize);
            let size = size.unwrap();
            // A kit for another steerer fails on the measured part alone.
            match size.state {
                State::NotMet => assert!(size.p.is_some_and(|p| p <= HOPELESS), "{}: {size:?}", kit.sku),
                state => assert_eq!((state, size.p), (State::NotKnown, None), "{}: {size:?}", kit.sku),
            }
        }
    }
}

/// The stem's clamp cancels from the parts on the steerer: with the fork in, it need not be measured.
#[test]
fn the_steerer_asks_for_no_more_than_it_needs() {
    let report = demo_report(&bike_with(serde_json::json!([])), &Options::default());
    let line = report.kits[0].requirements.iter().find(|line| line.requirement == Requirement::SteererLength);
    let text = &line.unwrap().text;
    let (inside, out) = text.split_once(" with the fork in; or ").unwrap();
    assert!(inside.contains("gap under the top cap") && !inside.contains("stem clamp"), "{text}");
    assert!(out.contains("stem clamp height") && out.contains("steerer length"), "{text}");
}

/// The bike's own angle determines the direction of a wanted one, whatever direction was requested.
#[test]
fn a_wanted_head_angle_finds_its_direction() {
    let measured =
        serde_json::json!([{"what": "head_angle", "value": 66, "unit": "deg", "with": "maker_sheet"}]);
    for asked in [Direction::Slacker, Direction::Steeper] {
        for (wanted, expected) in [(64.0, Direction::Slacker), (68.0, Direction::Steeper)] {
            let options = Options {
                direction: asked,
                target: Some(TargetChange::HeadAngle(wanted)),
                ..Options::default()
            };
            let report = demo_report(&bike_with(measured.clone()), &options);
            assert_eq!(report.direction, expected, "{wanted} asked {asked:?}");
            let unknown = demo_report(&bike_with(serde_json::json!([])), &options);
            assert_eq!(unknown.direction, asked);
        }
    }
}
