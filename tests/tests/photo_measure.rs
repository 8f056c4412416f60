//! Measuring on a photo, compared with pictures computed independently (`tests/oracle/photo_measure.py`).

use nalgebra::{DMatrix, DVector, Vector3};
use proptest::prelude::*;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;
use steerwright_core::photogrammetry::measure::{
    Axis, Doubt, Marks, PhotoMeasurement, Pixel, Refusal, WheelEnd, measure,
};
use steerwright_core::quantity::{Estimate, Quantity};

static ORACLE: LazyLock<Value> = LazyLock::new(|| {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/oracle/photo_measure.json");
    serde_json::from_str(&fs::read_to_string(file).unwrap()).unwrap()
});

fn oracle(name: &str) -> &'static [Value] {
    ORACLE[name].as_array().unwrap()
}

fn marks(picture: &Value) -> Marks {
    Marks::from_json(picture["marks"].to_string().as_bytes(), "marks").unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn near(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance, "{what}: {found}, expected {expected} +- {tolerance}");
}

#[derive(Default)]
struct ErrorStatistics {
    count: usize,
    inside: usize,
    squares: f64,
    sum: f64,
    u_squares: f64,
}

impl ErrorStatistics {
    fn rms(&self) -> f64 {
        (self.squares / self.count as f64).sqrt()
    }
}

fn tally(pictures: &[Value]) -> BTreeMap<Quantity, ErrorStatistics> {
    let mut tallies: BTreeMap<Quantity, ErrorStatistics> = BTreeMap::new();
    for picture in pictures {
        let seen = measure(&marks(picture)).unwrap();
        for (what, estimate) in &seen.values {
            let Some(truth) = picture["truth"][what.name()].as_f64() else { continue };
            let off = estimate.value - truth;
            let tally = tallies.entry(*what).or_default();
            tally.count += 1;
            tally.inside += usize::from(off.abs() <= 2.0 * estimate.u);
            tally.squares += off * off;
            tally.sum += off;
            tally.u_squares += estimate.u * estimate.u;
        }
    }
    tallies
}

const QUANTITIES: [Quantity; 11] = [
    Quantity::HeadAngle,
    Quantity::SeatAngle,
    Quantity::Wheelbase,
    Quantity::ChainstayLength,
    Quantity::BottomBracketHeight,
    Quantity::FrontCentre,
    Quantity::AxleToCrown,
    Quantity::HeadTubeLength,
    Quantity::LowerStack,
    Quantity::Reach,
    Quantity::Stack,
];

/// 400 pictures, turned up to 30 degrees, wheels equal and unequal, a quarter without a focal length, half of them
/// heading left. Twice u covers 95.4 % of normal errors; of 400 pictures, 1.05 % is one standard deviation of that
/// share, and 92.2 to 98.6 % three.
#[test]
fn two_standard_uncertainties_cover_the_truth() {
    let tallies = tally(oracle("pictures"));
    for what in QUANTITIES {
        let t = &tallies[&what];
        let n = t.count as f64;
        let share = t.inside as f64 / n;
        println!("{what:24} rms {:7.3} bias {:7.3} covered {share:.3}", t.rms(), t.sum / n);
        assert_eq!(t.count, oracle("pictures").len(), "{what}");
        assert!((0.922..=0.986).contains(&share), "{what}: {share}");
        // Errors average out to four standard deviations of their mean, and are of the claimed size.
        assert!((t.sum / n).abs() < 4.0 * t.rms() / n.sqrt(), "{what}: bias {}", t.sum / n);
        let claimed = (t.u_squares / n).sqrt();
        assert!((0.88..1.14).contains(&(t.rms() / claimed)), "{what}: {} but {claimed}", t.rms());
    }
    assert!(tallies[&Quantity::HeadAngle].rms() <= 0.25);
}

/// The share of pictures with and without a focal length that is covered, and near and far from square.
#[test]
fn no_kind_of_picture_is_covered_worse() {
    type Kind = (&'static str, fn(&Value) -> bool);
    let kinds: [Kind; 4] = [
        ("with a focal length", |p| !p["marks"]["lens"]["focal_length_35mm"].is_null()),
        ("without a focal length", |p| p["marks"]["lens"]["focal_length_35mm"].is_null()),
        ("square on", |p| p["yaw"].as_f64().unwrap().abs() < 10.0),
        ("turned", |p| p["yaw"].as_f64().unwrap().abs() > 20.0),
    ];
    for (name, of_kind) in kinds {
        let pictures: Vec<Value> = oracle("pictures").iter().filter(|p| of_kind(p)).cloned().collect();
        let n = pictures.len() as f64;
        // Four standard deviations of the share, as four kinds and eleven quantities are tested.
        let slack = 4.0 * (0.954 * 0.046 / n).sqrt();
        for (what, t) in tally(&pictures) {
            let share = t.inside as f64 / t.count as f64;
            assert!(share > 0.954 - slack, "{name}, {what}: {share} of {n}");
        }
    }
}

/// Errors of several numbers of one picture are correlated as the covariance states: their Mahalanobis distance is
/// chi-square with as many degrees of freedom.
#[test]
fn covariance_holds_between_numbers() {
    let together = [
        Quantity::HeadAngle,
        Quantity::SeatAngle,
        Quantity::Wheelbase,
        Quantity::BottomBracketHeight,
        Quantity::Reach,
        Quantity::Stack,
    ];
    let k = together.len() as f64;
    let mut sum = 0.0;
    let mut chi_square = 0.0;
    let mut freedom = 0;
    for picture in oracle("pictures") {
        let seen = measure(&marks(picture)).unwrap();
        let at = together.map(|what| seen.values.iter().position(|(other, _)| *other == what).unwrap());
        let off = DVector::from_iterator(
            together.len(),
            at.iter().map(|i| {
                let (what, estimate) = seen.values[*i];
                estimate.value - number(&picture["truth"][what.name()])
            }),
        );
        let covariance = DMatrix::from_fn(at.len(), at.len(), |i, j| seen.covariance[(at[i], at[j])]);
        sum += off.dot(&covariance.cholesky().unwrap().solve(&off));
        chi_square += seen.chi_square;
        freedom += seen.degrees_of_freedom;
    }
    let n = oracle("pictures").len() as f64;
    // The variance of a chi-square variable is twice its degrees of freedom; four standard deviations.
    near(sum / n, k, 4.0 * (2.0 * k / n).sqrt(), "mean square of joint errors");
    let freedom = freedom as f64;
    near(chi_square, freedom, 4.0 * (2.0 * freedom).sqrt(), "chi-square of all pictures");
}

#[test]
fn straight_things_tell_how_the_lens_bends_them() {
    let off = oracle("bent").iter().map(|picture| {
        let seen = measure(&marks(picture)).unwrap();
        seen.camera.distortion - number(&picture["distortion"])
    });
    let rms = (off.map(|off| off * off).sum::<f64>() / oracle("bent").len() as f64).sqrt();
    println!("distortion rms {rms:.4}");
    // The statement alone has an uncertainty of 0.05; marks of 1.5 pixels along the edges of a wall are ten times
    // better.
    assert!(rms < 0.005, "{rms}");
    let tallies = tally(oracle("bent"));
    for what in QUANTITIES {
        // 40 pictures: 84.8 % is 95.4 % minus three standard deviations.
        let t = &tallies[&what];
        assert!(t.inside as f64 >= 0.845 * t.count as f64, "{what}: {} of {}", t.inside, t.count);
    }
    assert!(tallies[&Quantity::HeadAngle].rms() <= 0.25);
}

fn refused(marks: &Marks) -> Refusal {
    match measure(marks) {
        Err(refusal) => refusal,
        Ok(seen) => panic!("answered: {:?}", seen.values),
    }
}

#[test]
fn a_turned_front_wheel_is_told_with_its_angle() {
    for picture in oracle("turned") {
        let Refusal::Turned { degrees } = refused(&marks(picture)) else {
            panic!("{:?}", refused(&marks(picture)))
        };
        near(degrees, number(&picture["turn"]).abs(), 2.0, "turn");
    }
}

#[test]
fn too_near_and_too_far_from_square_are_refused() {
    for picture in oracle("close") {
        let Refusal::TooClose { distance_mm } = refused(&marks(picture)) else { panic!() };
        near(distance_mm, number(&picture["distance"]), 60.0, "distance");
    }
    for picture in oracle("oblique") {
        let refusal = refused(&marks(picture));
        assert!(matches!(refusal, Refusal::TooOblique { .. }), "{refusal}");
    }
}

/// Measures and compares every number with the truth: four of its standard uncertainties, which one of 16 000 normal
/// errors exceeds.
fn answered_truly(marks: &Marks, truth: &Value, about: &str) {
    let seen = measure(marks).unwrap_or_else(|refusal| panic!("{about}: {refusal}"));
    let mut compared = 0;
    for (what, estimate) in &seen.values {
        let Some(truth) = truth[what.name()].as_f64() else { continue };
        near(estimate.value, truth, 4.0 * estimate.u, &format!("{about}, {what}"));
        compared += 1;
    }
    assert_eq!(compared, QUANTITIES.len(), "{about}");
}

/// Just inside each limit there is a result, and it is correct.
#[test]
fn what_is_nearly_refused_is_answered() {
    let good = first();
    let truth = &oracle("pictures")[0]["truth"];
    let seen = measure(&good).unwrap();
    let wheel = |marks: &Marks| {
        let [x, y] = seen.pixel(seen.plane.front_axle).unwrap();
        marks.front.tyre.iter().map(|[px, py]| (px - x).hypot(py - y)).fold(0.0, f64::max)
    };
    // A tyre's stated size wrong by its own u, a mark off by its own noise.
    let mut near_size = good.clone();
    let stated = near_size.front.diameter_mm.unwrap();
    near_size.front.diameter_mm = Some(Estimate::new(stated.value - stated.u, stated.u));
    answered_truly(&near_size, truth, "a size off by its u");
    let mut near_mark = good.clone();
    near_mark.front.tyre[3][0] += 1.5;
    answered_truly(&near_mark, truth, "a mark off by its noise");
    // The picture ends just beyond the rightmost tyre.
    let right = good.pixels().map(|[x, _]| x).fold(0.0, f64::max);
    let mut near_edge = good.clone();
    near_edge.image.width = (right + 0.1 * wheel(&good)) as u32;
    near_edge.lens.axis = Some(Axis { at: [2016.0, 1512.0], u_px: 15.0 });
    let diagonal = |marks: &Marks| f64::from(marks.image.width).hypot(f64::from(marks.image.height));
    near_edge.lens.focal_length_35mm =
        good.lens.focal_length_35mm.map(|focal| focal * (diagonal(&good) / diagonal(&near_edge)));
    answered_truly(&near_edge, truth, "a picture that ends beyond the tyre");
    // A front wheel turned by no more than its stated u: the straight pictures of the same kind.
    for picture in oracle("pictures").iter().filter(|it| number(&it["turn"]).abs() <= 0.5).take(20) {
        answered_truly(&marks(picture), &picture["truth"], "a straight wheel");
    }
}

fn first() -> Marks {
    marks(&oracle("pictures")[0])
}

#[test]
fn one_mark_that_slipped_is_named() {
    let mut slipped = first();
    let [x, y] = slipped.front.tyre[3];
    slipped.front.tyre[3] = [x + 40.0, y + 40.0];
    let Refusal::MarkOff { which, off_px } = refused(&slipped) else { panic!("{}", refused(&slipped)) };
    assert_eq!(which, "mark 4 on the front tyre");
    // Only the component of the slip normal to the tyre's edge is visible.
    assert!((15.0..62.0).contains(&off_px), "{off_px}");

    let mut slipped = first();
    let mark = slipped.head_tube_top.as_mut().unwrap();
    mark.at[0] += 60.0;
    let Refusal::MarkOff { which, off_px } = refused(&slipped) else { panic!("{}", refused(&slipped)) };
    assert_eq!(which, "the mark at the head tube's top");
    near(off_px, 60.0, 12.0, "slip");
}

#[test]
fn wheels_that_are_not_as_stated_disagree() {
    let mut wrong = first();
    let stated = wrong.front.diameter_mm.unwrap();
    wrong.front.diameter_mm = Some(Estimate::new(stated.value - 60.0, stated.u));
    let refusal = refused(&wrong);
    assert!(matches!(refusal, Refusal::Disagree { .. }), "{refusal}");
}

#[test]
fn wheels_marked_wrongly_are_refused_each_with_its_reason() {
    let good = first();
    let mut half = good.clone();
    let middle = half.rear.tyre.iter().map(|[x, _]| x).sum::<f64>() / half.rear.tyre.len() as f64;
    half.rear.tyre.retain(|[x, _]| *x < middle + 30.0);
    assert!(half.rear.tyre.len() >= 6);
    assert!(matches!(refused(&half), Refusal::HalfWheel { wheel: WheelEnd::Rear, .. }), "{}", refused(&half));

    let one = Marks { rear: good.front.clone(), ..good.clone() };
    assert_eq!(refused(&one), Refusal::OneWheel);

    let swapped = Marks { rear: good.front.clone(), front: good.rear.clone(), ..good.clone() };
    assert_eq!(refused(&swapped), Refusal::Swapped);

    let mut line = good.clone();
    line.front.tyre = (0..8).map(|i| [1000.0 + 100.0 * f64::from(i), 900.0 + 50.0 * f64::from(i)]).collect();
    assert_eq!(refused(&line), Refusal::NoEllipse { wheel: WheelEnd::Front });
    line.front.tyre = vec![[1000.0, 900.0]; 8];
    assert_eq!(refused(&line), Refusal::NoEllipse { wheel: WheelEnd::Front });
}

#[test]
fn a_wheel_that_the_edge_cuts_is_refused() {
    let good = first();
    let right = good.pixels().map(|[x, _]| x).fold(0.0, f64::max);
    let mut cut = good.clone();
    cut.image.width = right as u32 - 80;
    // The same lens: its axis stays in place, its focal length is stated for another diagonal.
    cut.lens.axis = Some(Axis { at: [2016.0, 1512.0], u_px: 15.0 });
    let diagonal = |marks: &Marks| f64::from(marks.image.width).hypot(f64::from(marks.image.height));
    cut.lens.focal_length_35mm =
        good.lens.focal_length_35mm.map(|focal| focal * (diagonal(&good) / diagonal(&cut)));
    let refusal = refused(&cut);
    assert!(matches!(refusal, Refusal::CutOff { .. }), "{refusal}");
}

fn same(a: &PhotoMeasurement, b: &PhotoMeasurement, tolerance: f64) {
    assert_eq!(a.values.len(), b.values.len());
    for ((what, a), (other, b)) in a.values.iter().zip(&b.values) {
        assert_eq!(what, other);
        near(a.value, b.value, tolerance, what.name());
        near(a.u, b.u, tolerance, what.name());
    }
}

/// The same marks with every position moved.
fn moved(marks: &Marks, to: impl Fn(Pixel) -> Pixel) -> Marks {
    let mut moved = marks.clone();
    let spots =
        [&mut moved.head_tube_top, &mut moved.head_tube_bottom, &mut moved.crown, &mut moved.bottom_bracket];
    for mark in spots.into_iter().flatten() {
        mark.at = to(mark.at);
    }
    let lines = moved.stanchions.iter_mut().chain(&mut moved.seat_tube).map(|line| &mut line.points);
    for points in lines.chain([&mut moved.front.tyre, &mut moved.rear.tyre]).chain(&mut moved.straight) {
        points.iter_mut().for_each(|point| *point = to(*point));
    }
    if let Some(axis) = &mut moved.lens.axis {
        axis.at = to(axis.at);
    }
    moved
}

/// The bike is the same in any transformation of the picture; tolerances are those of the iterations' convergence, far
/// below every u.
#[test]
fn mirrored_turned_and_enlarged_pictures_give_the_same_numbers() {
    for picture in oracle("pictures").iter().take(8) {
        let marks = marks(picture);
        let (w, h) = (f64::from(marks.image.width), f64::from(marks.image.height));
        let seen = measure(&marks).unwrap();
        let mirrored = measure(&moved(&marks, |[x, y]| [w - x, y])).unwrap();
        same(&seen, &mirrored, 1e-3);
        let upside_down = measure(&moved(&marks, |[x, y]| [w - x, h - y])).unwrap();
        same(&seen, &upside_down, 1e-3);
        let mut on_end = moved(&marks, |[x, y]| [h - y, x]);
        (on_end.image.width, on_end.image.height) = (marks.image.height, marks.image.width);
        same(&seen, &measure(&on_end).unwrap(), 1e-3);
        let mut twice = moved(&marks, |[x, y]| [2.0 * x, 2.0 * y]);
        (twice.image.width, twice.image.height) = (2 * marks.image.width, 2 * marks.image.height);
        twice.noise_px = marks.noise_px.map(|noise| 2.0 * noise);
        twice.lens.axis = twice.lens.axis.map(|axis| Axis { u_px: 2.0 * axis.u_px, ..axis });
        same(&seen, &measure(&twice).unwrap(), 1e-3);
    }
}

#[test]
fn a_mirrored_picture_is_doubted_and_answered() {
    let marks = first();
    assert_eq!(marks.shows_drive_side, Some(true));
    let seen = measure(&marks).unwrap();
    assert!(!seen.doubts.contains(&Doubt::Mirrored));
    let width = f64::from(marks.image.width);
    let mirrored = measure(&moved(&marks, |[x, y]| [width - x, y])).unwrap();
    assert!(mirrored.doubts.contains(&Doubt::Mirrored));
}

#[test]
fn what_was_not_told_is_assumed_with_a_doubt_and_a_larger_u() {
    let told = first();
    let mut untold = told.clone();
    untold.front.diameter_mm = None;
    untold.rear.diameter_mm = None;
    untold.fork_offset_mm = None;
    untold.lens.focal_length_35mm = None;
    let (sure, vague) = (measure(&told).unwrap(), measure(&untold).unwrap());
    for doubt in [
        Doubt::DiameterAssumed { wheel: WheelEnd::Front },
        Doubt::DiameterAssumed { wheel: WheelEnd::Rear },
        Doubt::OffsetAssumed,
        Doubt::FocalFound,
    ] {
        assert!(vague.doubts.contains(&doubt), "{doubt}");
        assert!(!sure.doubts.contains(&doubt), "{doubt}");
    }
    for what in [Quantity::Wheelbase, Quantity::HeadAngle, Quantity::Stack] {
        assert!(vague.get(what).unwrap().u > sure.get(what).unwrap().u, "{what}");
    }
    assert!(sure.get(Quantity::ForkOffset).is_none() && vague.get(Quantity::ForkOffset).is_some());
}

#[test]
fn the_plane_goes_both_ways_and_the_overlay_lies_on_the_marks() {
    for picture in oracle("pictures").iter().take(4) {
        let marks = marks(picture);
        let seen = measure(&marks).unwrap();
        for place in [[0.0, 0.0], [1200.0, 0.0], [600.0, 700.0]] {
            let pixel = seen.plane.pixel(place).unwrap();
            let [x, y] = seen.plane.place(pixel).unwrap();
            near(x, place[0], 1e-6, "x");
            near(y, place[1], 1e-6, "y");
            // The homography is the same without the lens's distortion.
            let ideal = seen.plane.homography * Vector3::new(place[0], place[1], 1.0);
            let [ix, iy] = seen.camera.straightened(pixel).unwrap();
            near(ideal.x / ideal.z, ix, 1e-6, "pixel x");
            near(ideal.y / ideal.z, iy, 1e-6, "pixel y");
        }
        let [rear, front] = [&marks.rear, &marks.front].map(|wheel| wheel.tyre.clone());
        let wheels = &seen.overlay.layer("wheels").unwrap().items;
        let scale = seen.overlay.width_mm / f64::from(marks.image.width);
        for (item, tyre) in wheels.iter().zip([rear, front]) {
            let steerwright_core::drawing::Item::Polyline { points, .. } = item else { panic!("{item:?}") };
            for [x, y] in tyre {
                let to = |p: &steerwright_core::drawing::Point| (p.x / scale - x).hypot(p.y / scale - y);
                let nearest = points.iter().map(to).fold(f64::INFINITY, f64::min);
                // Corners of the outline are 5 degrees apart: half of that at a radius below 900 px.
                assert!(nearest < 45.0, "{nearest}");
            }
        }
    }
}

#[test]
fn readings_carry_twice_their_uncertainty() {
    let seen = measure(&first()).unwrap();
    let readings = seen.measurements();
    // Those that follow from the others are omitted.
    let follow = [Quantity::FrontCentre, Quantity::BottomBracketDrop, Quantity::Reach, Quantity::Stack];
    let told = seen.values.iter().filter(|(what, _)| !follow.contains(what));
    assert_eq!(readings.len(), told.clone().count());
    for (reading, (what, estimate)) in readings.iter().zip(told) {
        assert_eq!(reading.what, *what);
        near(reading.value, estimate.value, 0.005, what.name());
        near(reading.plus_minus.unwrap(), 2.0 * estimate.u, 0.005, what.name());
    }
}

#[test]
fn the_example_is_read_and_written_back() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("data/marks/example.json");
    let marks = Marks::from_json(&fs::read(file).unwrap(), "example.json").unwrap();
    assert_eq!(Marks::from_json(marks.to_json().as_bytes(), "again").unwrap(), marks);
    measure(&marks).unwrap();
    let unknown = marks.to_json().replacen("\"noise_px\"", "\"noise\"", 1);
    let errors = Marks::from_json(unknown.as_bytes(), "marks").unwrap_err();
    assert!(errors.to_string().contains("`noise` is not a field"), "{errors}");
}

#[test]
fn numbers_that_cannot_be_are_named() {
    type Spoil = (&'static str, fn(&mut Marks));
    let spoil: [Spoil; 7] = [
        ("front.tyre[2][0]", |m| m.front.tyre[2][0] = f64::NAN),
        ("rear.tyre[0][1]", |m| m.rear.tyre[0][1] = 1e12),
        ("rear.tyre", |m| m.rear.tyre.truncate(5)),
        ("rear.diameter_mm.u", |m| m.rear.diameter_mm = Some(Estimate::new(740.0, f64::NAN))),
        ("lens.focal_length_35mm.value", |m| m.lens.focal_length_35mm = Some(Estimate::new(0.0, 1.0))),
        ("noise_px", |m| m.noise_px = Some(0.0)),
        ("head_tube_top.at[1]", |m| m.head_tube_top.as_mut().unwrap().at[1] = f64::INFINITY),
    ];
    for (field, spoil) in spoil {
        let mut marks = first();
        spoil(&mut marks);
        let Refusal::Marks { problems } = refused(&marks) else { panic!("{field}: {}", refused(&marks)) };
        assert!(problems.to_string().contains(&format!("`{field}`")), "{problems}");
    }
}

/// Three taps on a tyre without the rough flag: the message suggests it. Two are too few for either, and a list that is
/// long enough needs no hint.
#[test]
fn few_marks_on_a_tyre_may_be_meant_as_taps() {
    let told = |count: usize| {
        let mut marks = first();
        marks.front.tyre.truncate(count);
        refused(&marks).to_string()
    };
    for count in [3, 5] {
        let told = told(count);
        let hint = told.contains("at least 6 marks") && told.contains("\"rough\": true");
        assert!(hint && told.contains("`front.tyre`"), "{count}: {told}");
    }
    assert!(told(2).contains("at least 6 marks") && !told(2).contains("rough"), "{}", told(2));
    let mut rough = first();
    rough.front.rough = true;
    rough.front.tyre.truncate(2);
    assert!(refused(&rough).to_string().contains("at least 3 marks"), "{}", refused(&rough));
}

fn pixel() -> impl Strategy<Value = Pixel> {
    let value = prop_oneof![
        6 => -2000.0..6000.0f64,
        1 => Just(0.0), 1 => Just(f64::NAN), 1 => Just(f64::INFINITY), 1 => Just(1e300), 1 => Just(2016.0)
    ];
    [value.clone(), value]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 256, failure_persistence: None, ..ProptestConfig::default() })]

    /// For any marks: a sound result, or a reason in words.
    #[test]
    fn anything_marked_is_answered_soundly_or_refused(
        places in proptest::collection::vec((0usize..40, pixel()), 0..30),
        clean in any::<bool>(),
    ) {
        let mut marks = first();
        for (at, place) in places {
            let place = if clean { place.map(|v| if v.is_finite() { v.clamp(0.0, 3000.0) } else { 7.0 }) } else { place };
            let spots = marks.front.tyre.iter_mut().chain(&mut marks.rear.tyre);
            if let Some(spot) = spots.chain(&mut marks.stanchions[0].points).nth(at) {
                *spot = place;
            } else {
                marks.head_tube_top.as_mut().unwrap().at = place;
            }
        }
        match measure(&marks) {
            Ok(seen) => {
                prop_assert!(seen.values.iter().all(|(_, estimate)| estimate.is_sound() && estimate.u > 0.0));
                prop_assert!(seen.covariance.iter().all(|value| value.is_finite()));
            }
            Err(refusal) => {
                prop_assert!(!refusal.to_string().is_empty() && !refusal.remedy().is_empty());
            }
        }
    }
}
