//! Propagation of uncertainty through functions, and combination of readings, compared with the worked examples of the
//! guides (JCGM 100, JCGM 101) and measured bicycles.
#![expect(clippy::float_cmp, reason = "these results are exact")]

use proptest::prelude::*;
use std::f64::consts::TAU;
use steerwright_core::quantity::{Estimate, combine, jacobian, propagate};
use steerwright_tests::monte_carlo::{Distribution, MonteCarlo, monte_carlo};

fn assert_within(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "{got}, not {want} within {tolerance}");
}

/// The draws of the worked examples; the guide makes a million or more.
fn draw(inputs: &[Distribution], f: impl Fn(&[f64]) -> f64) -> MonteCarlo {
    monte_carlo(inputs, 1_000_000, 20_260_501, f)
}

/// First order from the same inputs.
fn first_order(inputs: &[Distribution], f: impl Fn(&[f64]) -> f64) -> Estimate {
    let estimates: Vec<Estimate> = inputs.iter().map(|input| input.estimate()).collect();
    propagate(&estimates, f)
}

mod end_gauge {
    use super::*;

    /// JCGM 100:2008, H.1.2, in nanometres: standard's length, difference, difference of expansion, difference of
    /// temperature, temperature's deviation from 20 degrees, expansion.
    fn length(x: &[f64]) -> f64 {
        let [standard, difference, more_expansion, warmer, deviation, expansion] = x else { return f64::NAN };
        standard + difference - standard * (more_expansion * deviation + expansion * warmer)
    }

    /// As H.1.3 derives them; the figures it prints are 25 and 9.7 nm, 0.58e-6, 0.029 and 0.41 degrees, 1.2e-6. The
    /// difference's: five readings with s 13 nm, and the comparator's 10 nm with t 2.57 and 20 nm at three sigma.
    fn inputs() -> [Estimate; 6] {
        let third = 3f64.sqrt();
        let difference = (13.0 / 5f64.sqrt()).hypot(10.0 / 2.57).hypot(20.0 / 3.0);
        [
            Estimate::new(50_000_623.0, 25.0),
            Estimate::new(215.0, difference),
            Estimate::new(0.0, 1e-6 / third),
            Estimate::new(0.0, 0.05 / third),
            Estimate::new(-0.1, 0.41),
            Estimate::new(11.5e-6, 2e-6 / third),
        ]
    }

    /// 50.000838 mm, u 32 nm, its square 1002 nm2. V.
    #[test]
    fn first_order() {
        let result = propagate(&inputs(), length);
        assert_within(result.value, 50_000_838.0, 0.5);
        assert_within(result.u, 32.0, 0.5);
        assert_within(result.u.powi(2), 1002.0, 0.5);
    }

    /// Each input's own share, nm: 25, 9.7, 2.9, 16.6, and none of the last two to first order. V.
    #[test]
    fn shares() {
        for (place, share, half_digit) in [
            (0, 25.0, 0.5),
            (1, 9.7, 0.05),
            (2, 2.9, 0.05),
            (3, 16.6, 0.05),
            (4, 0.0, 0.001),
            (5, 0.0, 0.001),
        ] {
            let mut alone = inputs().map(|input| Estimate::exact(input.value));
            alone[place] = inputs()[place];
            assert_within(propagate(&alone, length).u, share, half_digit);
        }
    }

    /// Effective degrees of freedom 16 and U99 93 nm (2.92 x 32; unrounded 92.5). V; the shares' own degrees of
    /// freedom, 18, 25.6, 50 and 2: M (from memory), recomputed.
    #[test]
    fn expanded_uncertainty() {
        let u = propagate(&inputs(), length).u;
        let shares = [(25.0f64, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)];
        // Welch-Satterthwaite, JCGM 100:2008, G.2b.
        let freedom = u.powi(4) / shares.iter().map(|(share, freedom)| share.powi(4) / freedom).sum::<f64>();
        assert_within(freedom.floor(), 16.0, 0.0);

        // Student's t with 16 degrees of freedom, by Simpson's rule; less than 1e-18 is beyond 60.
        let density = |t: f64| (1.0 + t * t / 16.0f64).powf(-8.5);
        let integral = |to: f64| {
            let h = to / 4000.0;
            let inner = (1..4000)
                .map(|i| if i % 2 == 1 { 4.0 } else { 2.0 } * density(f64::from(i) * h))
                .sum::<f64>();
            (density(0.0) + inner + density(to)) * h / 3.0
        };
        let (mut low, mut high) = (0.0, 60.0);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if integral(middle) < 0.99 * integral(60.0) { low = middle } else { high = middle }
        }
        assert_within(low, 2.92, 0.005);
        assert_within(low * u, 92.5, 0.05);
        assert_within((low * 100.0).round() / 100.0 * u.round(), 93.0, 0.5);
    }

    /// Second-order terms raise u to 34 nm (JCGM 100:2008, H.1.7). M (from memory), recomputed: the draws see them.
    #[test]
    fn second_order_is_seen_by_drawing() {
        let result = draw(&inputs().map(Distribution::from), length);
        assert_within(result.u, 34.0, 0.5);
    }
}

/// JCGM 100:2008, 4.4.3, twenty temperatures: mean 100.145, s 1.489, u 0.333. V.
#[test]
fn twenty_temperatures() {
    let temperatures = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42, 100.68,
        100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
    ];
    // Whatever smaller u a thermometer claims, the scatter dominates.
    for claimed in [0.01, 0.3, 1.0] {
        let combined = combine(&temperatures.map(|value| Estimate::new(value, claimed))).unwrap();
        assert_within(combined.estimate.value, 100.145, 0.0005);
        assert_within(combined.estimate.u, 0.333, 0.0005);
        assert_within(combined.birge_ratio * claimed, 1.489, 0.0005);
    }
    // A larger one is kept.
    let combined = combine(&temperatures.map(|value| Estimate::new(value, 3.0))).unwrap();
    assert_within(combined.estimate.u, 3.0 / 20f64.sqrt(), 1e-15);
    assert!(combined.disagreeing.is_empty());
    // Exact readings that contradict each other have only their scatter.
    let combined = combine(&temperatures.map(Estimate::exact)).unwrap();
    assert_within(combined.estimate.value, 100.145, 0.0005);
    assert_within(combined.estimate.u, 0.333, 0.0005);
    assert_eq!(combined.disagreeing.len(), 20 * 19 / 2);
}

/// JCGM 101:2008, 9.2: sums of four. V. The draws' own noise: u 0.0014 and interval ends 0.005 (a quantile at 2.5 % of
/// a million), the latter as much as half the last digit, so both are allowed for.
#[test]
fn sums_of_four() {
    let sum = |x: &[f64]| x.iter().sum::<f64>();
    let normal = draw(&[Distribution::Normal { mean: 0.0, sd: 1.0 }; 4], sum);
    assert_within(normal.mean, 0.0, 0.01);
    assert_within(normal.u, 2.0, 0.01);
    let half = 3f64.sqrt();
    let flat = draw(&[Distribution::Rectangular { low: -half, high: half }; 4], sum);
    assert_within(flat.u, 2.0, 0.01);
    for (result, end) in [(normal, 3.92), (flat, 3.88)] {
        for [low, high] in [result.interval, result.shortest] {
            assert_within(f64::midpoint(high, -low), end, 0.01);
        }
        assert_within(result.interval[0], -end, 0.02);
        assert_within(result.interval[1], end, 0.02);
    }
}

/// JCGM 101:2008, 9.3: calibration of a mass. M (from memory), recomputed.
#[test]
fn mass_whose_uncertainty_is_of_second_order() {
    let inputs = [
        Distribution::Normal { mean: 100_000.0, sd: 0.05 },
        Distribution::Normal { mean: 1.234, sd: 0.020 },
        Distribution::Rectangular { low: 1.1, high: 1.3 },
        Distribution::Rectangular { low: 7000.0, high: 9000.0 },
        Distribution::Rectangular { low: 7950.0, high: 8050.0 },
    ];
    let deviation = |x: &[f64]| {
        let [reference, small, air, weight, standard] = x else { return f64::NAN };
        (reference + small) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / standard)) - 100_000.0
    };
    let drawn = draw(&inputs, deviation);
    assert_within(drawn.mean, 1.2341, 0.0003);
    assert_within(drawn.u, 0.0754, 0.0002);
    assert_within(drawn.shortest[0], 1.0834, 0.002);
    assert_within(drawn.shortest[1], 1.3825, 0.002);
    let first = first_order(&inputs, deviation);
    assert_within(first.value, 1.2340, 0.00005);
    assert_within(first.u, 0.0539, 0.00005);
}

/// JCGM 101:2008, 9.5: gauge block, deviation from nominal 838 nm with u 36 nm (F); distributions of the inputs: M
/// (from memory).
#[test]
fn gauge_block_with_few_readings() {
    let unit = Distribution::Rectangular { low: 0.0, high: 1.0 };
    let student = |mean, scale, freedom| Distribution::Student { mean, scale, freedom };
    let inputs = [
        student(50_000_623.0, 25.0, 18.0),
        student(215.0, 6.0, 24.0),
        student(0.0, 4.0, 5.0),
        student(0.0, 7.0, 8.0),
        Distribution::Rectangular { low: 9.5e-6, high: 13.5e-6 },
        Distribution::Normal { mean: -0.1, sd: 0.2 },
        unit,
        unit,
        unit,
        unit,
        unit,
    ];
    // A rectangular distribution whose limits are known only to +-d.
    let inexact = |a: f64, d: f64, first: f64, second: f64| {
        let low = -a - d + 2.0 * d * first;
        low + second * -2.0 * low
    };
    let deviation = |x: &[f64]| {
        let [standard, difference, random, systematic, expansion, mean, phase, r1, r2, r3, r4] = x else {
            return f64::NAN;
        };
        let swing = 0.5 * (TAU * phase).sin();
        let more_expansion = inexact(1e-6, 0.1e-6, *r1, *r2);
        let warmer = inexact(0.050, 0.025, *r3, *r4);
        standard + difference + random + systematic
            - standard * (more_expansion * (mean + swing) + expansion * warmer)
            - 50_000_000.0
    };
    let drawn = draw(&inputs, deviation);
    assert_within(drawn.mean, 838.0, 0.5);
    assert_within(drawn.u, 36.0, 0.5);
}

/// Trail of six measured bicycles with 1-sigma uncertainties (J. K. Moore 2012, Human Control of a Bicycle, PhD thesis,
/// UC Davis, data). V, all printed digits.
#[test]
fn trail_of_measured_bicycles() {
    let trail = |x: &[f64]| {
        let [distance, turns, head_angle, offset] = x else { return f64::NAN };
        let radius = distance / (TAU * turns);
        let (sin, cos) = head_angle.to_radians().sin_cos();
        (radius * cos - offset) / sin
    };
    for (distance, turns, head_angle, offset, value, u) in [
        (28.06, 13.0, 67.1, 0.0705, 0.0685808540382, 0.00169464113488),
        (29.366, 14.0, 74.2, 0.0315, 0.0617300113263, 0.00160776211474),
        (29.044, 14.0, 71.1, 0.0385, 0.0723512958768, 0.00162907266827),
        (27.925, 13.0, 72.7, 0.0565, 0.0473057207886, 0.00162727102983),
        (27.925, 13.0, 70.6, -0.0565, 0.180294938773, 0.00176864639495),
        (27.98, 13.0, 69.0, 0.045, 0.0832912572138, 0.0016907620071),
    ] {
        let inputs = [
            Estimate::new(distance, 0.01),
            Estimate::exact(turns),
            Estimate::new(head_angle, 0.2),
            Estimate::new(offset, 0.001),
        ];
        let result = propagate(&inputs, trail);
        // Half of the last printed digit: 12 significant ones of each.
        let half_digit = |printed: f64| 0.5 * 10f64.powf(printed.abs().log10().floor() - 11.0);
        assert_within(result.value, value, half_digit(value));
        assert_within(result.u, u, half_digit(u));
    }
}

#[test]
fn derivatives_are_good_to_eleven_digits() {
    let f = |x: &[f64]| vec![x[0] * x[1].sin() / x[2], x[0].exp() + x[2].powi(3), 7.0];
    let (a, b, c) = (1.3f64, 0.7f64, 2.1f64);
    let want = [
        [b.sin() / c, a * b.cos() / c, -a * b.sin() / (c * c)],
        [a.exp(), 0.0, 3.0 * c * c],
        [0.0, 0.0, 0.0],
    ];
    let got = jacobian(&[a, b, c], &[1e-3, 1e-3, 1e-3], f);
    assert_eq!(got.shape(), (3, 3));
    for (i, row) in want.iter().enumerate() {
        for (j, want) in row.iter().enumerate() {
            assert_within(got[(i, j)], *want, 1e-11 * want.abs().max(1.0));
        }
    }
    let held = jacobian(&[a, b, c], &[1e-3, 0.0, 1e-3], f);
    assert!(held.column(1).iter().all(|entry| *entry == 0.0));
    assert!(jacobian(&[a, b, c], &[1e-3], f).column(2).iter().all(|entry| entry.is_nan()));
    assert_eq!(jacobian(&[], &[], |_| vec![1.0]).shape(), (1, 0));
}

#[test]
fn a_domain_that_ends_at_the_value_leaves_one_side() {
    let up = propagate(&[Estimate::new(2.0, 0.1)], |x| if x[0] < 2.0 { f64::NAN } else { x[0] * x[0] });
    assert_within(up.u, 0.4, 1e-9);
    let down = propagate(&[Estimate::new(2.0, 0.1)], |x| if x[0] > 2.0 { f64::NAN } else { x[0] * x[0] });
    assert_within(down.u, 0.4, 1e-9);
    let nowhere = propagate(&[Estimate::new(2.0, 0.1)], |x| if x[0] == 2.0 { 1.0 } else { f64::NAN });
    assert!(nowhere.u.is_nan() && !nowhere.is_sound());
    assert!(propagate(&[Estimate::new(2.0, -0.1)], |x| x[0]).value.is_nan());
    assert!(propagate(&[Estimate::new(2.0, 0.1)], |_| f64::INFINITY).value.is_nan());
    assert_eq!(propagate(&[], |_| 3.0), Estimate::exact(3.0));
}

#[test]
fn readings_that_disagree_are_named() {
    let readings = [Estimate::new(113.0, 0.25), Estimate::new(112.6, 0.25), Estimate::new(115.0, 0.25)];
    let combined = combine(&readings).unwrap();
    // 3 u of a difference is 1.06.
    assert_eq!(combined.disagreeing, [(0, 2), (1, 2)]);
    // Mean 113.5333; squares 0.2844, 0.8711, 2.1511 over 0.0625.
    assert_within(combined.chi_square, 3.306_666_666_666_667 / 0.0625, 1e-9);
    assert_within(combined.birge_ratio, (combined.chi_square / 2.0).sqrt(), 1e-12);
    assert_within(combined.estimate.u, 0.25 / 3f64.sqrt() * combined.birge_ratio, 1e-12);
}

#[test]
fn an_exact_reading_outweighs_the_others() {
    let combined = combine(&[Estimate::new(25.6, 0.5), Estimate::exact(25.4)]).unwrap();
    assert_eq!(combined.estimate, Estimate::exact(25.4));
    assert_within(combined.chi_square, 0.16, 1e-12);
    // The same exact length by way of inches differs in the last place only.
    let combined = combine(&[Estimate::exact(28.6), Estimate::exact(28.6 / 25.4 * 25.4 + 4e-15)]).unwrap();
    assert_eq!((combined.estimate.u, combined.chi_square), (0.0, 0.0));
    assert!(combined.disagreeing.is_empty());
}

#[test]
fn unsound_questions_have_no_answer() {
    assert!(combine(&[]).is_none());
    for wrong in [Estimate::new(f64::NAN, 1.0), Estimate::new(1.0, -1.0), Estimate::new(1.0, f64::INFINITY)] {
        assert!(combine(&[Estimate::new(1.0, 1.0), wrong]).is_none(), "{wrong:?}");
    }
}

/// Mean and standard deviation of the draws are those the distribution has by formula.
#[test]
fn draws_follow_their_distribution() {
    for (distribution, kurtosis) in [
        (Distribution::Normal { mean: 5.0, sd: 2.0 }, 3.0),
        (Distribution::Rectangular { low: 5.0, high: 9.0 }, 1.8),
        (Distribution::Student { mean: 3.0, scale: 2.0, freedom: 8.0 }, 4.5),
    ] {
        let want = distribution.estimate();
        let got = draw(&[distribution], |x| x[0]);
        // Five standard errors of a mean and of a standard deviation, of a million draws.
        assert_within(got.mean, want.value, 5.0 * want.u / 1e3);
        assert_within(got.u, want.u, 5.0 * want.u * (kurtosis - 1.0f64).sqrt() / 2e3);
    }
    let exact =
        [Distribution::Normal { mean: 4.0, sd: 0.0 }, Distribution::Rectangular { low: 3.0, high: 3.0 }];
    let got = monte_carlo(&exact, 1000, 1, |x| x[0] * x[1]);
    assert_eq!((got.mean, got.u, got.interval, got.shortest), (12.0, 0.0, [12.0; 2], [12.0; 2]));
}

fn readings(values: std::ops::Range<f64>) -> impl Strategy<Value = Vec<Estimate>> {
    prop::collection::vec((values, 0.01..2.0f64).prop_map(|(value, u)| Estimate::new(value, u)), 1..12)
}

proptest! {
    #[test]
    fn order_of_readings_does_not_matter(readings in readings(90.0..130.0), turn in 0..12usize, exact in any::<bool>()) {
        let mut readings = readings;
        if exact { readings[0].u = 0.0; }
        let mut turned = readings.clone();
        turned.rotate_left(turn % readings.len());
        let (a, b) = (combine(&readings).unwrap(), combine(&turned).unwrap());
        prop_assert_eq!(a.estimate, b.estimate);
        prop_assert_eq!(a.chi_square.to_bits(), b.chi_square.to_bits());
        prop_assert_eq!(a.disagreeing.len(), b.disagreeing.len());
    }

    #[test]
    fn combined_lies_among_the_readings_and_claims_no_less_than_scatter_and_weights(readings in readings(90.0..130.0)) {
        let combined = combine(&readings).unwrap();
        let least = readings.iter().map(|r| r.value).fold(f64::INFINITY, f64::min);
        let most = readings.iter().map(|r| r.value).fold(f64::NEG_INFINITY, f64::max);
        prop_assert!(least - 1e-12 <= combined.estimate.value && combined.estimate.value <= most + 1e-12);
        let weight: f64 = readings.iter().map(|r| r.u.powi(-2)).sum();
        let inner = weight.powf(-0.5);
        let n = readings.len() as f64;
        let scatter = readings.iter().map(|r| ((r.value - combined.estimate.value) / r.u).powi(2)).sum::<f64>();
        let outer = if n > 1.0 { inner * (scatter / (n - 1.0)).sqrt() } else { 0.0 };
        let want = inner.max(outer);
        prop_assert!((combined.estimate.u / want - 1.0).abs() < 1e-12, "{} {}", combined.estimate.u, want);
    }

    /// Where the function is smooth over the inputs' uncertainties, first order and drawing agree.
    #[test]
    fn first_order_agrees_with_drawing(length in 300.0..700.0f64, angle in 60.0..75.0f64, offset in 30.0..60.0f64, seed in any::<u64>()) {
        let f = |x: &[f64]| {
            let (sin, cos) = x[1].to_radians().sin_cos();
            (x[0] * cos - x[2]) / sin
        };
        let inputs = [Estimate::new(length, 1.0), Estimate::new(angle, 0.3), Estimate::new(offset, 0.5)];
        let first = propagate(&inputs, f);
        let drawn = monte_carlo(&inputs.map(Distribution::from), 20_000, seed, f);
        // Standard errors of 20 000 draws are u/141 and u/200; five of them, and 0.1 % for nonlinearity.
        prop_assert!((drawn.mean - first.value).abs() <= first.u * (5.0 / 141.0 + 0.001) + 0.01);
        prop_assert!((drawn.u / first.u - 1.0).abs() <= 5.0 / 200.0 + 0.001, "{:?} {:?}", drawn, first);
        prop_assert!((drawn.interval[1] - drawn.interval[0]) / (3.92 * drawn.u) - 1.0 < 0.05);
        prop_assert!(drawn.shortest[1] - drawn.shortest[0] <= drawn.interval[1] - drawn.interval[0]);
    }

    #[test]
    fn no_number_makes_it_panic_or_pretend(bits in prop::collection::vec(any::<[u64; 2]>(), 0..6)) {
        let estimates: Vec<Estimate> =
            bits.iter().map(|[value, u]| Estimate::new(f64::from_bits(*value), f64::from_bits(*u))).collect();
        if let Some(combined) = combine(&estimates) {
            prop_assert!(combined.estimate.is_sound());
            prop_assert!(estimates.iter().all(|estimate| estimate.is_sound()));
        }
        let result = propagate(&estimates, |x| x.iter().sum::<f64>());
        prop_assert!(result.is_sound() || result.u.is_nan());
    }
}
