//! The worked examples of `docs/model.md`, recomputed with the core.
//!
//! An example is a fenced block with the info string `example NAME`. Each of its lines is `key = value`; lines that
//! begin with `#` are comments. A value is a number, a number with its standard uncertainty (`66.0 u 0.15`), or words.
//! The test of that name uses some keys as inputs and computes the others, each to half of its last printed digit. A
//! block without a test, a test without a block, and a key that no test uses fail.

use super::{blocks, document, root};
use std::cell::RefCell;
use std::collections::BTreeSet;
use steerwright_core::advice::expected_gain;
use steerwright_core::clearance::{
    EndParts, HeadTube, HeadTubeParts, Steerer, SteererParts, clearance, rim_per_tenth_degree, throat_needed,
    turned,
};
use steerwright_core::conformity::{Limits, joint_bounds, margin, probability};
use steerwright_core::geometry::{
    Bicycle, Change, Changed, Figure, Offsets, SideView, Statement, changed, overall_diameter, survey,
    tilt_for,
};
use steerwright_core::headset::{End, ObservedSeat, SeatCode, SeatDimension, SeatEvidence, identify};
use steerwright_core::level::{Bearing, LevelPriors, Pose, Reading, Sample, Session, Still};
use steerwright_core::photogrammetry::measure::{Camera, Marks, measure};
use steerwright_core::press::{Diameter, Material, PressInput, press_fit};
use steerwright_core::quantity::{Dismantling, Estimate, Quantity, combine, propagate};
use steerwright_core::steerer::{Plan, Readings, budget};
use steerwright_core::tilt::installed;

type Check = fn(&Example);

const CHECKS: [(&str, Check); 17] = [
    ("readings", readings),
    ("propagation", propagation),
    ("seat", seat),
    ("bore", bore),
    ("limits", limits),
    ("side-view", side_view),
    ("change", change),
    ("inverse", inverse),
    ("tilt", tilt),
    ("clearance", clearance_example),
    ("turning", turning),
    ("press", press),
    ("steerer", steerer),
    ("survey", reconciled),
    ("photo", photo),
    ("level", level),
    ("advice", advice),
];

/// One block of the document.
struct Example {
    name: String,
    pairs: Vec<(String, String)>,
    used: RefCell<BTreeSet<String>>,
    wrong: RefCell<Vec<String>>,
}

/// A printed number and half of its last digit.
fn printed(text: &str) -> (f64, f64) {
    let value = text.parse().unwrap_or_else(|_| panic!("`{text}` is not a number"));
    let decimals = text.split_once('.').map_or(0, |(_, digits)| digits.len());
    (value, 0.5 * 10f64.powi(-i32::try_from(decimals).unwrap()) * (1.0 + 1e-9))
}

impl Example {
    fn words(&self, key: &str) -> &str {
        self.used.borrow_mut().insert(key.to_owned());
        let found = self.pairs.iter().find(|(name, _)| name == key);
        &found.unwrap_or_else(|| panic!("example `{}` has no `{key}`", self.name)).1
    }

    fn number(&self, key: &str) -> f64 {
        printed(self.words(key)).0
    }

    fn pair(&self, key: &str) -> [f64; 2] {
        let (low, high) = self.words(key).split_once(" to ").expect("LOW to HIGH");
        [low, high].map(|text| printed(text).0)
    }

    /// `VALUE u U`, or an exact `VALUE`.
    fn estimate(&self, key: &str) -> Estimate {
        match self.words(key).split_once(" u ") {
            Some((value, u)) => Estimate::new(printed(value).0, printed(u).0),
            None => Estimate::exact(self.number(key)),
        }
    }

    /// Compares a result with the printed one.
    fn gives(&self, key: &str, computed: f64) {
        let (expected, tolerance) = printed(self.words(key));
        let holds = (computed - expected).abs() <= tolerance;
        if !holds {
            self.wrong.borrow_mut().push(format!("{}: {key} = {expected}, computed {computed}", self.name));
        }
    }

    fn gives_estimate(&self, key: &str, computed: Estimate) {
        let (value, u) = self.words(key).split_once(" u ").expect("VALUE u U");
        let [value, u] = [value, u].map(printed);
        let holds = (computed.value - value.0).abs() <= value.1 && (computed.u - u.0).abs() <= u.1;
        if !holds {
            let Estimate { value, u } = computed;
            let text = format!("{}: {key} = {}, computed {value} u {u}", self.name, self.words(key));
            self.wrong.borrow_mut().push(text);
        }
    }

    fn gives_words(&self, key: &str, computed: &str) {
        let expected = self.words(key);
        if expected != computed {
            self.wrong.borrow_mut().push(format!("{}: {key} = {expected}, computed {computed}", self.name));
        }
    }
}

fn examples() -> Vec<Example> {
    let examples = blocks(&document("model.md"), "example").into_iter().map(|(name, text)| {
        let pairs = text.lines().filter(|line| !line.starts_with('#') && !line.is_empty()).map(|line| {
            let (key, value) =
                line.split_once('=').unwrap_or_else(|| panic!("`{name}`: `{line}` has no `=`"));
            (key.trim().to_owned(), value.trim().to_owned())
        });
        let pairs = pairs.collect();
        Example { name, pairs, used: RefCell::default(), wrong: RefCell::default() }
    });
    examples.collect()
}

#[test]
fn every_example_has_its_check() {
    let written: Vec<String> = examples().into_iter().map(|example| example.name).collect();
    let checked: Vec<&str> = CHECKS.iter().map(|(name, _)| *name).collect();
    assert_eq!(written, checked, "examples of docs/model.md (left) and checks here (right), in order");
}

#[test]
fn every_result_is_what_the_core_computes() {
    let mut wrong = Vec::new();
    for example in examples() {
        let Some((_, check)) = CHECKS.iter().find(|(name, _)| *name == example.name) else { continue };
        check(&example);
        let used = example.used.borrow();
        let unused = example.pairs.iter().filter(|(key, _)| !used.contains(key));
        wrong.extend(unused.map(|(key, _)| format!("{}: nothing checks `{key}`", example.name)));
        wrong.extend(example.wrong.borrow().iter().cloned());
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

fn readings(it: &Example) {
    let combined = combine(&["reading_1", "reading_2", "reading_3"].map(|key| it.estimate(key))).unwrap();
    it.gives_estimate("combined", combined.estimate);
    it.gives("chi_square", combined.chi_square);
    it.gives("birge_ratio", combined.birge_ratio);
}

fn propagation(it: &Example) {
    let inputs = ["radius", "head_angle", "fork_offset"].map(|key| it.estimate(key));
    let trail = propagate(&inputs, |at| match at {
        [radius, angle, offset] => {
            let (sin, cos) = angle.to_radians().sin_cos();
            (radius * cos - offset) / sin
        }
        _ => f64::NAN,
    });
    it.gives_estimate("trail", trail);
}

fn limits(it: &Example) {
    let [low, high] = it.pair("range");
    let (length, within) = (it.estimate("head_tube_length"), Limits::between(low, high));
    let p = probability(length, within);
    it.gives("p", p);
    it.gives_estimate("margin", margin(length, within));
    let bounds = joint_bounds([p, it.number("p_throat"), it.number("p_steerer")]);
    it.gives("p_low", bounds.low);
    it.gives("p_high", bounds.high);
}

fn code(text: &str) -> SeatCode {
    text.parse().unwrap()
}

fn seat(it: &Example) {
    assert_eq!((it.words("end"), it.words("looks")), ("lower", "drop_in"));
    let seen = SeatEvidence::none(End::Lower).looked(ObservedSeat::DropIn, it.words("fork_out") == "true");
    let p = |evidence: &SeatEvidence, size| identify(evidence).probability_of(code(size));
    it.gives("p_IS52_looked", p(&seen, "IS52"));
    it.gives("p_ZS56_looked", p(&seen, "ZS56"));
    let measured = seen.with(SeatDimension::BearingOuter, it.estimate("bearing_outer"));
    it.gives("p_IS52", p(&measured, "IS52"));
    it.gives("p_ZS56", p(&measured, "ZS56"));
    it.gives("p_no_standard", identify(&measured).probability_no_standard());
}

fn bore(it: &Example) {
    let evidence = SeatEvidence::none(End::Upper).with(SeatDimension::Bore, it.estimate("bore"));
    let posterior = identify(&evidence);
    it.gives("p_ZS44", posterior.probability_of(code("ZS44")));
    it.gives("p_EC44", posterior.probability_of(code("EC44")));
    it.gives("p_frame_seat_44", posterior.probability_of_frame_seat(code("ZS44")));
    it.gives_words("identified", &posterior.identified().unwrap().to_string());
}

fn bicycle(it: &Example) -> Bicycle {
    Bicycle {
        wheelbase: it.number("wheelbase"),
        head_angle: it.number("head_angle"),
        axle_to_crown: it.number("axle_to_crown"),
        fork_offset: it.number("fork_offset"),
        lower_stack: it.number("lower_stack"),
        head_tube_length: it.number("head_tube_length"),
        front_radius: it.number("front_radius"),
        rear_radius: it.number("rear_radius"),
        chainstay: it.number("chainstay"),
        bottom_bracket_height: it.number("bottom_bracket_height"),
        seat_angle: it.number("seat_angle"),
    }
}

fn figures(it: &Example, view: &SideView, figures: &[Figure], prefix: &str) {
    for figure in figures {
        it.gives(&format!("{prefix}{figure}"), view.get(*figure));
    }
}

fn side_view(it: &Example) {
    let view = bicycle(it).side_view().unwrap();
    use Figure as F;
    let told = [F::Reach, F::Stack, F::FrontCentre, F::Trail, F::MechanicalTrail, F::WheelFlop];
    figures(it, &view, &told, "");
    let marking = it.words("tyre");
    let (width, bead) = marking.split_once('-').unwrap();
    it.gives_estimate("tyre_diameter", overall_diameter(printed(bead).0, printed(width).0).unwrap());
}

/// The bicycle of the example `side-view`, on which the next two are based.
fn standing() -> Bicycle {
    let examples = examples();
    bicycle(examples.iter().find(|example| example.name == "side-view").expect("the side view comes first"))
}

fn change(it: &Example) {
    let bike = standing();
    let [upper_plane, lower_plane] = ["upper_plane", "lower_plane"].map(|key| it.number(key));
    let kit = Offsets::for_tilt(it.number("tilt"), bike.head_tube_length, upper_plane, lower_plane).unwrap();
    let change =
        Change { kit: Some(kit), lower_stack: Some(it.number("new_lower_stack")), ..Change::default() };
    let Changed { after, pitch_deg, .. } = changed(&bike, &change).unwrap();
    it.gives("pitch", pitch_deg);
    figures(it, &after, &Figure::ALL, "");
}

fn inverse(it: &Example) {
    let bike = standing();
    let tilt = tilt_for(
        &bike,
        &Change::default(),
        Figure::HeadAngle,
        it.number("wanted_head_angle"),
        it.pair("tilts"),
    );
    it.gives("tilt", tilt.unwrap());
}

fn tilt(it: &Example) {
    let (nominal, range, length) = (it.number("nominal"), it.pair("range"), it.estimate("head_tube_length"));
    let [upper, lower] = ["upper_plane", "lower_plane"].map(|key| it.number(key));
    let offsets = Offsets::from_range(nominal, range, upper, lower).unwrap();
    let found = installed(nominal, range, &offsets, length).unwrap();
    it.gives("total_offset", offsets.total());
    it.gives_estimate("real", found.real_deg);
    it.gives_estimate("misalignment", found.misalignment_deg);
    it.gives("range_position", found.range_position);
    it.gives_words("ease", found.ease.name());
}

fn clearance_example(it: &Example) {
    let end = |diameter: &str| EndParts {
        throat_diameter: Some(it.estimate(diameter)),
        throat_depth: Some(it.estimate("throat_depth")),
        ..EndParts::default()
    };
    let length = it.number("head_tube_length");
    let parts = HeadTubeParts {
        length: Estimate::exact(length),
        lower: end("lower_throat"),
        upper: end("upper_throat"),
        inside_diameter: None,
    };
    let steerer = Steerer::from_parts(&SteererParts {
        lower_diameter: it.estimate("steerer"),
        upper_diameter: it.estimate("steerer"),
        taper_start: None,
        taper_end: None,
        lower_stack: it.estimate("lower_stack"),
    })
    .unwrap();
    let [upper, lower] = ["upper_offset", "lower_offset"].map(|key| it.number(key));
    let offsets = Offsets { upper_plane: 0.0, lower_plane: 0.0, upper, lower };
    let running = it.number("running_clearance");
    let found = clearance(&HeadTube::from_parts(&parts).unwrap(), &steerer, &offsets, running).unwrap();
    it.gives("least_clearance", found.least);
    it.gives("at_height", found.at_z);
    it.gives_words("side", found.side.name());
    it.gives("relieve", found.relieve_mm);
    it.gives("bore_to", found.bore_to_mm);
    let depth = it.number("throat_depth");
    let needed = throat_needed(End::Upper, length, &steerer, &offsets, [depth, depth], running).unwrap();
    it.gives("throat_needed", needed.diameter_mm);
}

fn turning(it: &Example) {
    let (tilt, off) = (it.number("tilt"), it.number("marks_off"));
    let found = turned(tilt, off).unwrap();
    it.gives("in_line", found.in_line_deg);
    it.gives("lean", found.lean_deg);
    it.gives("rim_per_tenth_degree", rim_per_tenth_degree(it.number("rim_diameter"), tilt).unwrap());
}

fn press(it: &Example) {
    assert_eq!(it.words("head_tube"), "aluminium");
    let measured = |key| Diameter::measured(it.estimate(key));
    let fit = press_fit(&PressInput {
        wall: Some(it.estimate("wall")),
        cup_wall: Some(it.estimate("cup_wall")),
        material: Some(Material::Aluminium),
        ..PressInput::new(measured("cup"), measured("bore"))
    })
    .unwrap();
    it.gives_estimate("interference", fit.interference);
    it.gives("p_loose", fit.p_loose);
    it.gives("p_tight", fit.p_tight);
    let stress = fit.stress.unwrap();
    it.gives_estimate("pressure", stress.pressure_mpa);
    it.gives_estimate("hoop_stress", stress.hoop_stress_mpa);
    it.gives("allowed", stress.allowed_mpa);
}

fn steerer(it: &Example) {
    let some = |key| Some(it.estimate(key));
    let found = Readings {
        head_tube_length: some("head_tube_length"),
        steerer_length: None,
        lower_stack: some("lower_stack"),
        upper_stack: some("upper_stack"),
        spacers_below: some("spacers_below"),
        spacers_above: some("spacers_above"),
        stem_clamp_height: some("stem_clamp"),
        cap_gap: some("cap_gap"),
    };
    let plan = Plan::new(it.estimate("kit_lower_stack"), it.estimate("kit_upper_stack"), it.number("tilt"));
    let budget = budget(&found, &plan).unwrap();
    it.gives_estimate("needed", budget.needed.unwrap());
    it.gives_estimate("available", budget.available.unwrap());
    it.gives_estimate("margin", budget.margin);
    it.gives_estimate("tallest_spacers", budget.tallest_spacers.unwrap());
}

fn reconciled(it: &Example) {
    let says = |what, key: &str| Statement { what, estimate: it.estimate(key) };
    let found = survey(&[
        says(Quantity::HeadAngle, "head_angle_1"),
        says(Quantity::HeadAngle, "head_angle_2"),
        says(Quantity::ForkOffset, "fork_offset"),
        says(Quantity::FrontTyreDiameter, "front_tyre_diameter"),
    ]);
    let before = found.before();
    it.gives("chi_square", found.chi_square().unwrap());
    it.gives("degrees_of_freedom", found.degrees_of_freedom() as f64);
    it.gives("probability", found.probability().unwrap());
    it.gives("birge_ratio", found.birge_ratio());
    it.gives("normalised_residual_1", found.residuals()[0].normalised.unwrap());
    it.gives_estimate("head_angle", before.get(Figure::HeadAngle).unwrap());
    it.gives_estimate("trail", before.get(Figure::Trail).unwrap());
    let missing = before.missing.iter().find(|missing| missing.result == Figure::WheelFlop);
    assert!(missing.is_none(), "{missing:?}");
    let reach = before.missing.iter().find(|missing| missing.result == Figure::Reach).unwrap();
    it.gives("readings_missing_for_reach", reach.needs.len() as f64);
}

fn photo(it: &Example) {
    let camera = Camera {
        focal_px: it.number("focal_px"),
        axis: [it.number("axis_x"), it.number("axis_y")],
        distortion: it.number("distortion"),
        half_diagonal: it.number("half_diagonal"),
    };
    let point = ["point_x", "point_y", "point_z"].map(|key| it.number(key));
    let [x, y] = camera.project(point.into()).unwrap();
    it.gives("pixel_x", x);
    it.gives("pixel_y", y);
    let file = it.words("marks");
    let marks = Marks::from_json(&std::fs::read(root().join(file)).unwrap(), file).unwrap();
    let seen = measure(&marks).unwrap();
    it.gives_estimate("head_angle", seen.get(Quantity::HeadAngle).unwrap());
    it.gives_estimate("wheelbase", seen.get(Quantity::Wheelbase).unwrap());
    it.gives("degrees_of_freedom", seen.degrees_of_freedom as f64);
    it.gives("chi_square", seen.chi_square);
}

fn level(it: &Example) {
    let u = it.number("mean_u");
    let reading = |key: &str| {
        let (bearing, mean) = it.words(key).split_once(' ').expect("BEARING X Y Z");
        let bearing = Bearing::ALL.into_iter().find(|it| it.name() == bearing).expect("a bearing");
        let mean: Vec<f64> = mean.split_whitespace().map(|number| printed(number).0).collect();
        let [x, y, z] = mean.try_into().expect("three numbers");
        let still = Still { mean: Sample::new(x, y, z), u: Sample::new(u, u, u), count: 100 };
        Reading { bearing, pose: Pose::Along, still }
    };
    let readings = ["reading_1", "reading_2", "reading_3", "reading_4"].map(reading);
    for (key, reading) in ["elevation_1", "elevation_2", "elevation_3", "elevation_4"].iter().zip(&readings) {
        it.gives(key, reading.still.mean.elevation());
    }
    let session = Session { what: Quantity::HeadAngle, readings: readings.to_vec() };
    let found = session.level(&LevelPriors::default()).unwrap();
    it.gives_estimate("angle", found.angle);
    it.gives_estimate("slope", found.slope);
    it.gives("doubts", found.doubts.len() as f64);
}

fn advice(it: &Example) {
    // Further readings that agree: the joint estimate's value stays.
    let worth = |of: &str, tool: &str, within: Limits| {
        let first = it.estimate(of);
        let further = Estimate::new(first.value, it.number(tool));
        let joint = combine(&[first, further]).unwrap().estimate;
        (joint.u, expected_gain(first, joint.u, within, 0.0))
    };
    let (u, gain) = worth("length", "rule_u", Limits::at_most(it.number("at_most")));
    it.gives("length_u", u);
    it.gives("length_gain", gain);
    let (_, gain) = worth("throat", "caliper_u", Limits::at_least(it.number("at_least")));
    it.gives("throat_gain", gain);
    let (fork, own) = (Dismantling::ForkOut.minutes_from_assembled(), it.number("throat_minutes"));
    it.gives("one_throat_a_minute", gain / (fork + own));
    it.gives("two_throats_a_minute", 2.0 * gain / (fork + 2.0 * own));
}
