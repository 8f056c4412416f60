//! Work that a verdict names: amount, position and wording.

use steerwright_core::bike::{Bike, Material, Observed, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::headset::End;
use steerwright_core::judgement::{
    BikeKnowledge, Direction, Facts, PreparedKit, State, Task, Verdict, Work, judge, work_for,
};
use steerwright_core::press::{Diameter, PressInput, PressVerdict, press_fit};
use steerwright_core::quantity::{Estimate, Instruments, Quantity};
use steerwright_core::report::{KitReport, Options, check};

fn demo() -> Catalogue {
    Catalogue::from_json(demo_catalogue_json().as_bytes(), "catalogue.json").unwrap()
}

fn bike(number: usize) -> Bike {
    let (file, text) = demo_bikes_json()[number - 1];
    Bike::from_json(text.as_bytes(), file).unwrap()
}

/// The report on one kit for a demo bike with one reading changed; the half-width is stated.
fn report(
    number: usize,
    sku: &str,
    what: Quantity,
    value: f64,
    half_width: f64,
    seen: Observed,
) -> KitReport {
    let mut bike = bike(number);
    bike.observed = seen;
    for row in bike.measured.iter_mut().filter(|row| row.what == what) {
        (row.value, row.plus_minus) = (value, Some(half_width));
    }
    let options = Options { only: Some(sku.to_owned()), ..Options::default() };
    let report = check(&bike, &demo(), &Instruments::default(), &options).unwrap();
    report.kits.into_iter().next().unwrap()
}

#[track_caller]
fn says(kit: &KitReport, name: &str) -> (State, String) {
    let line = kit.requirements.iter().find(|line| line.requirement.name() == name).unwrap();
    (line.state, line.text.clone())
}

/// Throat 34.2 of at least 34.0 with u = 0.5: p = 0.66, so it is undecided whether it has to be opened, but it can be.
#[test]
fn too_close_to_tell_is_not_too_narrow() {
    let seen = bike(1).observed;
    let kit = report(1, "TT-4180-15", Quantity::UpperThroatDiameter, 34.2, 1.0, seen.clone());
    assert_eq!(kit.verdict, Verdict::GoesInAfterWork);
    let (state, words) = says(&kit, "upper_throat");
    assert_eq!(state, State::MetAfterWork);
    assert!(words.contains("too close to the 34 mm") && words.contains("can be opened"), "{words}");
    let [work] = kit.work.as_slice() else { panic!("{:?}", kit.work) };
    let expected = "Measure the upper throat's diameter again: 34.2 mm is too close to the 34.0 mm needed. If it is less, \
                    open it to 34.0 mm.";
    assert_eq!(work.text, expected);
    assert!(work.amount_mm() == 0.0 && work.remove_mm == Some(0.0));

    // The same of a bore: 16.1 deep of at least 16, u 0.25.
    let kit = report(7, "TT-4444-15", Quantity::UpperBoreDepth, 16.1, 0.5, bike(7).observed);
    assert!(kit.work[0].text.starts_with("Measure the upper bore's depth again: 16.1 mm"), "{:?}", kit.work);

    // Clearly too narrow, it is opened by the missing amount, half of it on one side.
    let kit = report(1, "TT-4180-15", Quantity::UpperThroatDiameter, 31.4, 0.05, seen);
    let expected =
        "Open the upper throat from 31.4 to 34.0 mm; relieving only its rear side by 1.3 mm is enough.";
    assert_eq!(kit.work[0].text, expected);
    assert!((kit.work[0].amount_mm() - 2.6).abs() < 1e-9);
}

/// Why no material is removed: carbon, or more than the rule of 3 mm on a throat and 5 mm of depth allows.
#[test]
fn the_reason_for_no_work_is_the_true_one() {
    let metal = bike(1).observed;
    let carbon = Observed { frame_material: Some(Material::Carbon), ..metal.clone() };
    let throat = |value, seen| {
        says(&report(1, "TT-4180-15", Quantity::UpperThroatDiameter, value, 0.05, seen), "upper_throat")
    };
    let (state, words) = throat(30.9, metal.clone());
    assert!(state == State::NotMet && words.contains("no more than 3 mm can be opened"), "{words}");
    let (state, words) = throat(32.6, carbon);
    assert!(state == State::NotMet && words.contains("carbon is not opened"), "{words}");
    assert_eq!(throat(31.1, metal).0, State::MetAfterWork);

    let depth = |value, seen| {
        says(&report(7, "TT-4444-15", Quantity::UpperBoreDepth, value, 0.2, seen), "upper_bore_depth")
    };
    let metal = bike(7).observed;
    let (state, words) = depth(10.5, metal.clone());
    assert!(state == State::NotMet && words.contains("no more than 5 mm can be reamed"), "{words}");
    let carbon = Observed { frame_material: Some(Material::Carbon), ..metal };
    let (state, words) = depth(12.0, carbon);
    assert!(state == State::NotMet && words.contains("carbon is not reamed"), "{words}");
}

/// A bore that is too tight for the head tube's wall is reamed to what that wall bears, and never so far that the cup
/// is loose: judged again after the work, the fit is right. Walls down to the least accepted by the press module, 0.2
/// mm.
#[test]
fn a_tight_bore_is_reamed_to_what_the_wall_bears() {
    let catalogue = demo();
    let kit = PreparedKit::new(catalogue.kit("TT-4456-15").unwrap(), &catalogue).unwrap();
    let known = BikeKnowledge::new(&bike(4), &bike(4).findings());
    let cup = kit.end(End::Upper).cup.unwrap();
    let (mut usual, mut less) = (0, 0);
    let metals = [Material::Aluminium, Material::Steel, Material::Titanium];
    for (tenths, metal) in (2..=60).flat_map(|tenths| metals.map(|metal| (tenths, metal))) {
        // 0.12 mm of interference is too much for any wall (0.1 mm), and for a thin one far less is.
        let wall = Estimate::new(f64::from(tenths) / 10.0, 0.02);
        let bore = Estimate::new(cup.estimate().value - 0.12, 0.002);
        let known =
            known.with(Quantity::HeadTubeWall, Some(wall)).with(Quantity::UpperBoreDiameter, Some(bore));
        let seen = Observed { frame_material: Some(metal), ..known.observed.clone() };
        let facts = Facts::new(&known.seeing(seen), Direction::Slacker);
        let judged = judge(&kit, &facts);
        let work: Vec<Work> = work_for(&judged.answers, &kit, &facts);
        let widen = work.iter().find(|work| work.task == Task::Widen).unwrap();
        let to = widen.to_mm.unwrap();
        assert!(to > bore.value, "{widen:?}");
        let reamed = Diameter::measured(Estimate::new(to, 0.002));
        let fit = press_fit(&PressInput {
            wall: Some(wall),
            material: Some(metal),
            ..PressInput::new(cup, reamed)
        })
        .unwrap();
        assert_eq!(fit.verdict, PressVerdict::Right, "wall {wall:?}: {fit:?}");
        let interference = cup.estimate().value - to;
        if (interference - 0.06).abs() < 1e-9 {
            usual += 1
        } else {
            less += 1
        }
        assert!(interference <= 0.06 + 1e-9, "{interference}");
    }
    assert!(usual > 10 && less > 3, "{usual} {less}");
}
