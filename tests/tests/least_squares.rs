//! Weighted least squares against arithmetic with many digits, a published hard case, and the core's own other ways.
#![expect(clippy::indexing_slicing, reason = "a helper of tests may panic like a test")]

use nalgebra::DMatrix;
use proptest::prelude::*;
use serde::Deserialize;
use steerwright_core::quantity::{
    Estimate, LeastSquaresError, combine, least_squares, least_squares_with_covariance,
    propagate_with_covariance,
};

#[derive(Deserialize)]
struct Oracle {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    design: Vec<Vec<f64>>,
    observed: Vec<f64>,
    covariance: Vec<Vec<f64>>,
    undetermined: Vec<usize>,
    places: Vec<usize>,
    parameters: Vec<f64>,
    parameter_covariance: Vec<Vec<f64>>,
    chi_square: f64,
    degrees_of_freedom: usize,
    normalised_residuals: Vec<Option<f64>>,
}

fn matrix(rows: &[Vec<f64>]) -> DMatrix<f64> {
    DMatrix::from_fn(rows.len(), rows[0].len(), |i, j| rows[i][j])
}

fn assert_close(case: &str, got: f64, want: f64, scale: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance * scale.max(want.abs()), "{case}: {got}, not {want}");
}

/// Solved with mpmath at 50 digits (`oracle/least_squares.py`).
#[test]
fn agrees_with_many_digits() {
    let oracle: Oracle = serde_json::from_str(include_str!("../data/oracle/least_squares.json")).unwrap();
    assert_eq!(oracle.cases.len(), 9);
    for case in oracle.cases {
        let name = case.name.as_str();
        let (design, covariance) = (matrix(&case.design), matrix(&case.covariance));
        let fit = least_squares_with_covariance(&design, &case.observed, &covariance).unwrap();
        // Weights that differ by 1e5, squared in the normal equations' condition, cost that many digits.
        let tolerance = if name.starts_with("uneven") { 1e-10 } else { 1e-12 };

        assert_eq!(fit.undetermined, case.undetermined, "{name}");
        assert_eq!(fit.degrees_of_freedom, case.degrees_of_freedom, "{name}");
        assert_close(name, fit.chi_square, case.chi_square, 1.0, tolerance);
        for (i, place) in case.places.iter().enumerate() {
            if case.undetermined.contains(place) {
                continue;
            }
            assert_close(name, fit.parameters[*place], case.parameters[i], 0.0, tolerance);
            for (j, other) in case.places.iter().enumerate() {
                if !case.undetermined.contains(other) {
                    let scale = (case.parameter_covariance[i][i] * case.parameter_covariance[j][j]).sqrt();
                    let want = case.parameter_covariance[i][j];
                    assert_close(name, fit.covariance[(*place, *other)], want, scale, tolerance);
                }
            }
        }
        for place in &case.undetermined {
            assert!(fit.parameters[*place].is_nan(), "{name}");
            assert!(fit.covariance.row(*place).iter().all(|entry| entry.is_nan()), "{name}");
        }
        // The far more certain observation, 3.0, lies off by 1e-5 of its u of 1e-5: rounding of 3.0 is 4e-6 of that.
        // Elsewhere observations reach 1e5 u, whose rounding is 1e-11 u.
        let tolerance = if name.starts_with("uneven") { 3e-5 } else { 1e-9 };
        assert_eq!(fit.normalised_residuals.len(), case.normalised_residuals.len(), "{name}");
        for (got, want) in fit.normalised_residuals.iter().zip(&case.normalised_residuals) {
            match (got, want) {
                (Some(got), Some(want)) => assert_close(name, *got, *want, 1.0, tolerance),
                _ => assert_eq!(got.is_some(), want.is_some(), "{name}"),
            }
        }
    }
}

/// J. W. Longley 1967, J. Am. Stat. Assoc. 62:819-841, certified by NIST's Statistical Reference Datasets: data and
/// certified values M (from memory), recomputed. Nearly dependent columns; the certified residual standard deviation is
/// 304.854073561965.
#[test]
fn longley() {
    #[rustfmt::skip]
    let rows = [
        [60323.0, 83.0, 234289.0, 2356.0, 1590.0, 107608.0, 1947.0], [61122.0, 88.5, 259426.0, 2325.0, 1456.0, 108632.0, 1948.0],
        [60171.0, 88.2, 258054.0, 3682.0, 1616.0, 109773.0, 1949.0], [61187.0, 89.5, 284599.0, 3351.0, 1650.0, 110929.0, 1950.0],
        [63221.0, 96.2, 328975.0, 2099.0, 3099.0, 112075.0, 1951.0], [63639.0, 98.1, 346999.0, 1932.0, 3594.0, 113270.0, 1952.0],
        [64989.0, 99.0, 365385.0, 1870.0, 3547.0, 115094.0, 1953.0], [63761.0, 100.0, 363112.0, 3578.0, 3350.0, 116219.0, 1954.0],
        [66019.0, 101.2, 397469.0, 2904.0, 3048.0, 117388.0, 1955.0], [67857.0, 104.6, 419180.0, 2822.0, 2857.0, 118734.0, 1956.0],
        [68169.0, 108.4, 442769.0, 2936.0, 2798.0, 120445.0, 1957.0], [66513.0, 110.8, 444546.0, 4681.0, 2637.0, 121950.0, 1958.0],
        [68655.0, 112.6, 482704.0, 3813.0, 2552.0, 123366.0, 1959.0], [69564.0, 114.2, 502601.0, 3931.0, 2514.0, 125368.0, 1960.0],
        [69331.0, 115.7, 518173.0, 4806.0, 2572.0, 127852.0, 1961.0], [70551.0, 116.9, 554894.0, 4007.0, 2827.0, 130081.0, 1962.0f64],
    ];
    let certified = [
        -3_482_258.634_595_82,
        15.061_872_271_373_3,
        -0.035_819_179_292_591_0,
        -2.020_229_803_816_83,
        -1.033_226_867_173_59,
        -0.051_104_105_653_580_7,
        1_829.151_464_613_55,
    ];
    let design = DMatrix::from_fn(16, 7, |i, j| if j == 0 { 1.0 } else { rows[i][j] });
    let observed = rows.map(|row| row[0]);
    let fit = least_squares(&design, &observed, &[1.0; 16]).unwrap();
    assert!(fit.undetermined.is_empty());
    assert_eq!(fit.degrees_of_freedom, 9);
    // Nine digits: the scaled columns are dependent to about 1e-5, which costs as many of the sixteen, and more in the sum.
    assert_close("sd", (fit.chi_square / 9.0).sqrt(), 304.854_073_561_965, 0.0, 1e-10);
    for (got, want) in fit.parameters.iter().zip(certified) {
        assert_close("parameter", *got, want, 0.0, 1e-9);
    }
}

#[test]
fn unsound_questions_have_a_reason() {
    let design = DMatrix::from_row_slice(2, 1, &[1.0, 1.0]);
    let reason =
        |design: &DMatrix<f64>, observed: &[f64], u: &[f64]| least_squares(design, observed, u).unwrap_err();
    assert!(matches!(reason(&design, &[1.0], &[1.0, 1.0]), LeastSquaresError::Shape { .. }));
    assert!(matches!(reason(&design, &[1.0, 2.0], &[1.0]), LeastSquaresError::Shape { .. }));
    assert!(matches!(reason(&DMatrix::zeros(0, 0), &[], &[]), LeastSquaresError::Shape { .. }));
    assert_eq!(reason(&design, &[1.0, f64::NAN], &[1.0, 1.0]), LeastSquaresError::NotFinite);
    assert_eq!(reason(&design, &[1.0, 2.0], &[1.0, f64::NAN]), LeastSquaresError::NotFinite);
    assert_eq!(reason(&design, &[1.0, 2.0], &[1.0, 0.0]), LeastSquaresError::Uncertainty(1));
    assert_eq!(reason(&DMatrix::zeros(2, 1), &[1.0, 2.0], &[1.0, 1.0]), LeastSquaresError::Idle);
    let lopsided = DMatrix::from_row_slice(2, 2, &[1.0, 0.5, 0.0, 1.0]);
    let impossible = DMatrix::from_row_slice(2, 2, &[1.0, 2.0, 2.0, 1.0]);
    for covariance in [lopsided, impossible] {
        let error = least_squares_with_covariance(&design, &[1.0, 2.0], &covariance).unwrap_err();
        assert_eq!(error, LeastSquaresError::Covariance);
    }
}

/// JCGM 100:2008, 5.2.2, note 1: fully correlated inputs add their uncertainties, not their squares.
#[test]
fn correlation_counts() {
    let correlated = DMatrix::from_row_slice(2, 2, &[0.09, 0.12, 0.12, 0.16]);
    let sum = propagate_with_covariance(&[10.0, 20.0], &correlated, |x| x[0] + x[1]);
    assert_close("sum", sum.u, 0.7, 0.0, 1e-10);
    let difference = propagate_with_covariance(&[10.0, 20.0], &correlated, |x| x[0] - x[1]);
    assert_close("difference", difference.u, 0.1, 0.0, 1e-8);
    let impossible = DMatrix::from_row_slice(2, 2, &[0.09, 0.5, 0.5, 0.16]);
    assert!(propagate_with_covariance(&[10.0, 20.0], &impossible, |x| x[0] - x[1]).u.is_nan());
    assert!(propagate_with_covariance(&[10.0], &correlated, |x| x[0]).value.is_nan());
}

proptest! {
    /// A constant fitted to readings is their weighted mean.
    #[test]
    fn one_parameter_is_the_weighted_mean(readings in prop::collection::vec((90.0..130.0f64, 0.01..2.0f64), 1..12)) {
        let (values, u): (Vec<f64>, Vec<f64>) = readings.iter().copied().unzip();
        let fit = least_squares(&DMatrix::from_element(values.len(), 1, 1.0), &values, &u).unwrap();
        let estimates: Vec<Estimate> = readings.iter().map(|(value, u)| Estimate::new(*value, *u)).collect();
        let combined = combine(&estimates).unwrap();
        prop_assert!((fit.parameters[0] - combined.estimate.value).abs() <= 1e-11);
        prop_assert!((fit.chi_square - combined.chi_square).abs() <= 1e-9 * (1.0 + combined.chi_square));
        let u = fit.covariance[(0, 0)].sqrt() * combined.birge_ratio.max(1.0);
        prop_assert!((u / combined.estimate.u - 1.0).abs() <= 1e-11);
    }

    /// A gross error in one observation has the largest normalised residual there, as the theory of data snooping says
    /// it must when nothing else is wrong.
    #[test]
    fn the_wrong_observation_is_named(wrong in 0..8usize, by in 5.0..50.0f64, slope in -3.0..3.0f64) {
        let design = DMatrix::from_fn(8, 2, |i, j| if j == 0 { 1.0 } else { i as f64 });
        let mut observed: Vec<f64> = (0..8).map(|i| 2.0 + slope * f64::from(i)).collect();
        observed[wrong] += by;
        let fit = least_squares(&design, &observed, &[0.5; 8]).unwrap();
        let size = |place: usize| fit.normalised_residuals[place].unwrap().abs();
        for place in (0..8).filter(|place| *place != wrong) {
            prop_assert!(size(place) < size(wrong), "{:?}", fit.normalised_residuals);
        }
    }

    #[test]
    fn no_number_makes_it_panic_or_pretend(bits in any::<[u64; 12]>()) {
        let numbers = bits.map(f64::from_bits);
        let design = DMatrix::from_row_slice(3, 2, &numbers[..6]);
        if let Ok(fit) = least_squares(&design, &numbers[6..9], &numbers[9..12]) {
            for (place, parameter) in fit.parameters.iter().enumerate() {
                prop_assert_eq!(parameter.is_nan(), fit.undetermined.contains(&place));
            }
            prop_assert!(fit.chi_square >= 0.0);
        }
        let covariance = DMatrix::from_row_slice(3, 3, &numbers[3..12]);
        let result = propagate_with_covariance(&numbers[..3], &covariance, |x| x.iter().sum());
        prop_assert!(result.is_sound() || result.u.is_nan());
    }
}
