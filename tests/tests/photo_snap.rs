//! Rough taps on pictures drawn here: the positions of the marks, and the refusals.
//!
//! The pictures are drawn from independent formulas: each pixel is the mean of sixteen samples, blurred by an error
//! function across the edge, encoded as sRGB, with noise from a seed.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

use proptest::prelude::*;
use rand_xoshiro::Xoshiro256PlusPlus;
use rand_xoshiro::rand_core::{Rng, SeedableRng};
use std::f64::consts::TAU;
use steerwright_core::photogrammetry::edges::{Grey, SnapFailure, SnappedLine, Tube, snap_line, snap_tyre};
use steerwright_core::photogrammetry::measure::{Ellipse, Pixel, foot};

/// Light of a soft edge as a function of the distance to its bright side, in deviations of its blur: the normal
/// distribution function, by the logistic of J. Page's cubic (Applied Statistics 26 (1977) 75; **M**, within 0.0002).
fn soft(z: f64) -> f64 {
    1.0 / (1.0 + (-(1.595_769_1 * z + 0.070_565_99 * z.powi(3)).clamp(-500.0, 500.0)).exp())
}

/// sRGB's value of light between 0 and 1 (IEC 61966-2-1; **M**).
fn encoded(light: f64) -> f64 {
    255.0 * if light <= 0.003_130_8 { 12.92 * light } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 }
}

/// A picture of light given as a function of position, with noise of the given deviation in grey levels.
fn drawn(width: u32, height: u32, noise: f64, light: impl Fn(Pixel) -> f64) -> Grey {
    let mut source = Xoshiro256PlusPlus::seed_from_u64(5);
    let mut uniform = || (source.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    let mut data = Vec::new();
    for y in 0..height {
        for x in 0..width {
            // The sum of twelve uniform numbers has the deviation 1 and the mean 6.
            let off: f64 = (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
            let value = encoded(light([f64::from(x) + 0.5, f64::from(y) + 0.5]).clamp(0.0, 1.0));
            data.push((value + noise * off).round().clamp(0.0, 255.0) as u8);
        }
    }
    Grey::new(width, height, data).unwrap()
}

/// Signed distance to an ellipse's edge, positive outside.
fn distance(ellipse: &Ellipse, place: Pixel) -> f64 {
    let foot = foot(ellipse, place);
    let length = (place[0] - foot[0]).hypot(place[1] - foot[1]);
    let from = |p: Pixel| (p[0] - ellipse.centre[0]).hypot(p[1] - ellipse.centre[1]);
    if from(place) < from(foot) { -length } else { length }
}

const WHEEL: Ellipse = Ellipse { centre: [203.3, 151.8], major: 120.4, minor: 108.9, turn_deg: 84.0 };

/// A dark tyre, a bright rim inside it, ground and sky behind.
fn wheel(blur: f64, noise: f64) -> Grey {
    drawn(400, 300, noise, |place| {
        let out = distance(&WHEEL, place);
        let ground = if place[1] < 200.0 { 0.6 } else { 0.25 };
        let spread = blur.max(0.3);
        let tyre = soft((-out) / spread) - soft((-out - 17.0) / spread);
        let rim = soft((-out - 17.0) / spread) - soft((-out - 22.0) / spread);
        ground * (1.0 - tyre - rim) + 0.03 * tyre + 0.5 * rim
    })
}

/// Three taps about the outline, off by these distances outwards.
fn taps(off: [f64; 3]) -> Vec<Pixel> {
    [0.4, 2.3, 4.6]
        .into_iter()
        .zip(off)
        .map(|(t, off)| {
            let [x, y] = WHEEL.at(t);
            let [cx, cy] = WHEEL.centre;
            let length = (x - cx).hypot(y - cy);
            [x + off * (x - cx) / length, y + off * (y - cy) / length]
        })
        .collect()
}

/// A tenth of a pixel is a thousandth of this wheel's radius, plus the error of a blurred edge on two backgrounds.
#[test]
fn three_taps_become_the_outline() {
    for (blur, noise) in [(0.5, 1.0), (1.2, 3.0), (2.0, 4.0)] {
        let picture = wheel(blur, noise);
        for off in [[0.0, 0.0, 0.0], [4.0, -4.0, 4.0], [-5.0, 5.0, 2.0], [5.0, 4.0, 5.0]] {
            let found = snap_tyre(&picture, &taps(off)).unwrap_or_else(|why| panic!("{blur} {off:?}: {why}"));
            let errors: Vec<f64> =
                (0..60).map(|i| distance(&found.ellipse, WHEEL.at(f64::from(i) * TAU / 60.0))).collect();
            let rms = (errors.iter().map(|it| it * it).sum::<f64>() / 60.0).sqrt();
            assert!(rms < 0.1, "{blur} {off:?}: {rms}");
            assert!(found.sure > 0.8, "{blur} {off:?}: {}", found.sure);
            assert!(found.marks.len() >= 40, "{}", found.marks.len());
            for mark in &found.marks {
                assert!(distance(&WHEEL, *mark).abs() < 4.0 * found.noise_px, "{blur} {off:?} {mark:?}");
            }
            assert!((found.sharpness.blur_px - blur).abs() < 0.35, "{blur}: {}", found.sharpness.blur_px);
        }
    }
}

#[test]
fn a_soft_edge_is_less_certain_and_a_very_soft_one_refused() {
    let noise = |blur: f64| snap_tyre(&wheel(blur, 2.0), &taps([2.0, -2.0, 1.0])).map(|it| it.noise_px);
    let (sharp, soft) = (noise(0.6).unwrap(), noise(1.8).unwrap());
    assert!(soft > 1.5 * sharp, "{sharp} {soft}");
    let refused = noise(6.0).unwrap_err();
    assert!(matches!(refused, SnapFailure::TooBlurred { width_px } if width_px > 6.0), "{refused}");
}

#[test]
fn what_is_no_wheel_is_refused() {
    let plain = drawn(400, 300, 2.0, |_| 0.4);
    let refused = snap_tyre(&plain, &taps([0.0; 3])).unwrap_err();
    assert!(matches!(refused, SnapFailure::NoEdge | SnapFailure::TooLittle { .. }), "{refused:?}");
    // A quarter of a wheel, the rest covered.
    let quarter = drawn(400, 300, 2.0, |place| {
        let [x, y] = place;
        let [cx, cy] = WHEEL.centre;
        let out = distance(&WHEEL, place);
        if x > cx && y > cy && (-17.0..0.0).contains(&out) { 0.03 } else { 0.4 }
    });
    let refused = snap_tyre(&quarter, &taps([0.0; 3])).unwrap_err();
    assert!(matches!(refused, SnapFailure::TooLittle { .. } | SnapFailure::Doubtful { .. }), "{refused:?}");
    let picture = wheel(1.0, 2.0);
    type Case = (Vec<Pixel>, fn(&SnapFailure) -> bool);
    let cases: [Case; 7] = [
        (vec![], |why| matches!(why, SnapFailure::TooFewTaps { taps: 0, needed: 3 })),
        (vec![[1.0, 1.0]; 2], |why| matches!(why, SnapFailure::TooFewTaps { taps: 2, .. })),
        (vec![[100.0, 100.0]; 5], |why| matches!(why, SnapFailure::NoShape)),
        (vec![[100.0, 100.0], [150.0, 150.0], [200.0, 200.0]], |why| matches!(why, SnapFailure::NoShape)),
        (vec![[f64::NAN, 1.0], [2.0, 200.0], [300.0, 5.0]], |why| matches!(why, SnapFailure::NoShape)),
        (vec![[500.0, 1.0], [2.0, 200.0], [300.0, 5.0]], |why| matches!(why, SnapFailure::Outside)),
        (vec![[100.0, 100.0], [104.0, 100.0], [102.0, 103.0]], |why| {
            matches!(why, SnapFailure::TooSmall { .. })
        }),
    ];
    for (taps, expected) in cases {
        let why = snap_tyre(&picture, &taps).unwrap_err();
        assert!(expected(&why), "{taps:?}: {why:?}");
    }
    let one = Grey::new(1, 1, vec![9]).unwrap();
    assert!(matches!(
        snap_tyre(&one, &[[0.2, 0.2], [0.9, 0.1], [0.5, 0.8]]),
        Err(SnapFailure::TooSmall { .. })
    ));
}

/// A leaning tube 24 pixels wide, with sky on its left and a dark wall or the same sky on its right.
fn tube(right: f64, stripe: bool) -> Grey {
    drawn(200, 200, 2.0, |place| {
        let t = across(place);
        let shine = if stripe { 0.25 * (-((t - 3.0) / 2.0).powi(2)).exp() } else { 0.0 };
        let (left_edge, right_edge) = (soft((t + 12.0) / 1.1), soft((t - 12.0) / 1.1));
        0.6 * (1.0 - left_edge) + (0.25 + shine) * (left_edge - right_edge) + right * right_edge
    })
}

/// Ends of the drawn tube's centre line.
const MIDDLE: [Pixel; 2] = [[80.0, 30.0], [120.0, 170.0]];

/// Offset of a position across the tube.
fn across([x, y]: Pixel) -> f64 {
    let [[ax, ay], [bx, by]] = MIDDLE;
    let length = (bx - ax).hypot(by - ay);
    ((x - ax) * (by - ay) - (y - ay) * (bx - ax)) / length
}

fn rough(a: f64, b: f64) -> Tube {
    let [[ax, ay], [bx, by]] = MIDDLE;
    Tube { from: [ax + a, ay], to: [bx + b, by], wide: [19.0, 30.0], off: 4.0 }
}

/// Both edges to a twentieth of a pixel are a thirtieth of a degree on this line.
#[test]
fn a_rough_line_becomes_the_middle_of_a_tube() {
    for (right, stripe) in [(0.6, false), (0.05, false), (0.6, true), (0.05, true)] {
        let picture = tube(right, stripe);
        for (a, b) in [(0.0, 0.0), (4.0, -3.0), (-5.0, 5.0), (5.0, 4.0)] {
            let found =
                snap_line(&picture, &rough(a, b)).unwrap_or_else(|why| panic!("{right} {a} {b}: {why}"));
            for (i, end) in found.ends.into_iter().enumerate() {
                assert!(across(end).abs() < 0.08, "{right} {stripe} {a} {b}: {}", across(end));
                assert!(across(end).abs() < 4.0 * found.covariance[(i, i)].sqrt());
            }
            assert!(turned(&found).abs() < 4.0 * found.noise_px, "{}", turned(&found));
            assert!((found.wide_px - 24.0).abs() < 0.15, "{}", found.wide_px);
            assert!(found.sure > 0.6, "{right} {stripe} {a} {b}: {}", found.sure);
        }
    }
}

/// Difference of the two ends' offsets across, over the root of two: the quantity of which `noise_px` is the deviation.
fn turned(found: &SnappedLine) -> f64 {
    let [a, b] = found.ends.map(across);
    (b - a) / 2f64.sqrt()
}

/// Distance of a position along the tube, from its first end.
fn along([x, y]: Pixel) -> f64 {
    let [[ax, ay], [bx, by]] = MIDDLE;
    let length = (bx - ax).hypot(by - ay);
    ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / length
}

/// A tube is followed beyond the taps as far as it goes on, at most 0.4 of the line, and not into a thicker part or past
/// its end: the same taps on a tube that goes on tell its direction more accurately than on one that does not.
#[test]
fn a_tube_is_followed_as_far_as_it_goes_on() {
    // Half the width at a position along it; no tube where it is zero.
    let picture = |half: &dyn Fn(f64) -> f64| {
        drawn(200, 200, 2.0, |place| {
            let (t, half) = (across(place), half(along(place)));
            let inside = if half > 0.0 { soft((t + half) / 1.1) - soft((t - half) / 1.1) } else { 0.0 };
            0.6 - 0.4 * inside
        })
    };
    let at = |s: f64| {
        let [[ax, ay], [bx, by]] = MIDDLE;
        let length = (bx - ax).hypot(by - ay);
        [ax + s / length * (bx - ax), ay + s / length * (by - ay)]
    };
    // 66 pixels, so that 26 may be added at either end.
    let tapped = Tube { from: at(40.0), to: at(106.0), ..rough(0.0, 0.0) };
    let between = |from: f64, to: f64| move |s: f64| if (from..to).contains(&s) { 12.0 } else { 0.0 };
    let thicker = |s: f64| if (40.0..116.0).contains(&s) { 12.0 } else { 18.0 };
    type Case<'a> = (&'a str, &'a dyn Fn(f64) -> f64, [f64; 2]);
    let cases: [Case<'_>; 4] = [
        ("goes on", &|_| 12.0, [14.0, 132.0]),
        ("ends", &between(30.0, 118.0), [30.0, 118.0]),
        ("ends where it was tapped", &between(40.0, 106.0), [40.0, 106.0]),
        ("grows thicker", &thicker, [40.0, 116.0]),
    ];
    let mut direction = Vec::new();
    for (name, half, expected) in cases {
        let found = snap_line(&picture(half), &tapped).unwrap_or_else(|why| panic!("{name}: {why}"));
        let ends = found.ends.map(along);
        for (end, expected) in ends.iter().zip(expected) {
            // A smoothed edge continues for some pixels beyond its end.
            assert!((end - expected).abs() < 5.0, "{name}: {ends:?}");
        }
        assert!(turned(&found).abs() < 3.0 * found.noise_px, "{name}: {}", turned(&found));
        direction.push(found.noise_px / (ends[1] - ends[0]));
    }
    let [on, short, tapped, thick] = direction[..] else { panic!("{direction:?}") };
    assert!(on < short && short < tapped && thick < tapped, "{direction:?}");
    assert!(on < 0.6 * tapped, "{direction:?}");
}

/// A far leg of the tube's own colour emerges from behind it on one side, as of a fork seen from the side and ahead:
/// along half of that side the visible edge is the far leg's, up to two pixels off. Nothing in the picture shows which
/// side is the tube's, so the line may follow, but no further than its u states.
#[test]
fn a_far_leg_that_looks_out_makes_a_line_less_certain() {
    let picture = |out: f64| {
        drawn(200, 200, 2.0, |place| {
            let (t, ahead) = (across(place), 12.0 + if place[1] > 100.0 { out } else { 0.0 });
            let inside = soft((t + 12.0) / 1.1) - soft((t - ahead) / 1.1);
            0.6 - 0.4 * inside
        })
    };
    let alone = snap_line(&picture(0.0), &rough(1.0, -1.0)).unwrap();
    for out in [1.0, 1.5, 2.0] {
        let found = snap_line(&picture(out), &rough(1.0, -1.0)).unwrap();
        let off = turned(&found);
        println!("{out}: {off} +- {}, alone {}", found.noise_px, alone.noise_px);
        assert!(off.abs() < 2.0 * found.noise_px, "{out}: {off} +- {}", found.noise_px);
        assert!(
            found.noise_px > 2.0 * alone.noise_px,
            "{out}: {} and {} alone",
            found.noise_px,
            alone.noise_px
        );
    }
}

/// The blur of a tube's edges makes its direction less certain, and at half of its width no direction is determined.
#[test]
fn a_blurred_tube_is_less_certain_and_a_very_blurred_one_refused() {
    let picture = |blur: f64| {
        drawn(200, 200, 2.0, |place| {
            let t = across(place);
            0.6 - 0.4 * (soft((t + 12.0) / blur) - soft((t - 12.0) / blur))
        })
    };
    let noise = |blur: f64| snap_line(&picture(blur), &rough(1.0, -1.0)).map(|it| it.noise_px);
    let (sharp, blurred) = (noise(0.6).unwrap(), noise(2.4).unwrap());
    // The constant part of the sharpest edge's noise is also part of the blurred one's.
    assert!(blurred > 1.25 * sharp, "{sharp} {blurred}");
    let refused = noise(6.5).unwrap_err();
    assert!(matches!(refused, SnapFailure::TooBlurred { .. }), "{refused}");
    assert!(refused.remedy().contains("take the photo again"), "{}", refused.remedy());
}

#[test]
fn what_is_no_tube_is_refused() {
    let plain = drawn(200, 200, 2.0, |_| 0.4);
    assert_eq!(snap_line(&plain, &rough(0.0, 0.0)).unwrap_err(), SnapFailure::NoEdge);
    // One edge only.
    let step = drawn(200, 200, 2.0, |place| 0.2 + 0.5 * soft(across(place)));
    assert_eq!(snap_line(&step, &rough(0.0, 0.0)).unwrap_err(), SnapFailure::NoEdge);
    // Three similar bars, the line between two of them.
    let bars = drawn(200, 200, 2.0, |place| if across(place).rem_euclid(48.0) < 24.0 { 0.1 } else { 0.6 });
    let twice = Tube { off: 14.0, ..rough(24.0, 24.0) };
    assert!(
        matches!(snap_line(&bars, &twice), Err(SnapFailure::TwoAlike { .. })),
        "{:?}",
        snap_line(&bars, &twice)
    );
    let picture = tube(0.6, false);
    let good = rough(0.0, 0.0);
    let wrong = [
        (Tube { to: good.from, ..good }, SnapFailure::NoShape),
        (Tube { from: [f64::NAN, 3.0], ..good }, SnapFailure::NoShape),
        (Tube { wide: [30.0, 20.0], ..good }, SnapFailure::NoShape),
        (Tube { off: -1.0, ..good }, SnapFailure::NoShape),
        (Tube { from: [-1.0, 3.0], ..good }, SnapFailure::Outside),
        (Tube { wide: [1.0, 2.0], ..good }, SnapFailure::TooSmall { across_px: 1.0 }),
    ];
    for (tube, why) in wrong {
        assert_eq!(snap_line(&picture, &tube).unwrap_err(), why, "{tube:?}");
    }
}

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![8 => -10.0..80.0, 1 => Just(f64::NAN), 1 => Just(f64::INFINITY), 1 => Just(1e300), 1 => -1e9..1e9]
}

proptest! {
    /// For any taps on any picture: sound numbers or a reason.
    #[test]
    fn any_taps_on_any_picture(
        (width, height, data) in (1_u32..70, 1_u32..70).prop_flat_map(|(width, height)| {
            let count = (width * height) as usize;
            (Just(width), Just(height), proptest::collection::vec(any::<u8>(), count))
        }),
        taps in proptest::collection::vec([number(), number()], 0..9),
        wide in [number(), number()],
        off in number(),
    ) {
        let grey = Grey::new(width, height, data).unwrap();
        match snap_tyre(&grey, &taps) {
            Ok(it) => {
                prop_assert!(it.marks.iter().flatten().all(|value| value.is_finite()));
                prop_assert!(it.covariance.iter().all(|value| value.is_finite()));
                prop_assert!(it.noise_px > 0.0 && it.noise_px < 100.0 && (0.0..=1.0).contains(&it.sure));
            }
            Err(why) => prop_assert!(!why.to_string().is_empty() && !why.remedy().is_empty()),
        }
        if let [from, to, ..] = *taps.as_slice() {
            match snap_line(&grey, &Tube { from, to, wide, off }) {
                Ok(it) => {
                    prop_assert!(it.ends.iter().flatten().all(|value| value.is_finite()));
                    prop_assert!(it.noise_px > 0.0 && (0.0..=1.0).contains(&it.sure));
                }
                Err(why) => prop_assert!(!why.to_string().is_empty()),
            }
        }
    }
}
