//! The normal tail compared with multiprecision arithmetic.
#![expect(clippy::unwrap_used, reason = "a helper of tests may panic like a test")]

use proptest::prelude::*;
use serde::Deserialize;
use steerwright_core::conformity::{normal_cdf, normal_tail};

#[derive(Deserialize)]
struct Oracle {
    rows: Vec<(f64, f64)>,
}

/// z and 1 - Phi(z), computed with mpmath at 50 digits (`oracle/normal.py`).
fn oracle() -> Vec<(f64, f64)> {
    let oracle: Oracle = serde_json::from_str(include_str!("../../data/oracle/normal.json")).unwrap();
    oracle.rows
}

/// The bound stated in the doc comment where the tail is a normal number, for `z = 0`.
const RELATIVE: f64 = 4e-16;

/// Half the distance between two subnormal numbers, with a margin for rounding twice.
const SUBNORMAL: f64 = 5e-324;

fn assert_near(z: f64, got: f64, want: f64) {
    let allowed = (RELATIVE * (1.0 + z * z) * want).max(SUBNORMAL);
    assert!((got - want).abs() <= allowed, "z {z}: {got:e}, not {want:e}: off by {:e}", got / want - 1.0);
}

#[test]
fn tail_and_distribution_keep_the_promised_error() {
    let rows = oracle();
    assert_eq!(rows.len(), 1209);
    for (z, tail) in rows {
        assert_near(z, normal_tail(z), tail);
        assert_near(-z, normal_cdf(-z), tail);
    }
}

#[test]
fn both_sides_add_up_to_one() {
    for (z, _) in oracle() {
        // Each side is rounded to within half of 2^-53 near 1.
        assert!((normal_cdf(z) + normal_tail(z) - 1.0).abs() <= f64::EPSILON, "z {z}");
    }
}

/// z for 0.80 0.90 0.95 0.99 0.999 as tables print them, two decimals. M (from memory), recomputed.
#[test]
fn table_of_one_sided_quantiles() {
    for (z, p, decimals) in [
        (0.84, 0.80, 0.002),
        (1.28, 0.90, 0.001),
        (1.64, 0.95, 0.001),
        (2.33, 0.99, 0.0002),
        (3.09, 0.999, 0.00002),
    ] {
        // Half of the last printed digit of z, times the density there.
        let density = (-0.5f64 * z * z).exp() / std::f64::consts::TAU.sqrt();
        assert!(density * 0.005 < decimals, "the tolerance stated is near the printed digit's");
        assert!((normal_cdf(z) - p).abs() <= density * 0.005, "z {z}: {}", normal_cdf(z));
    }
}

proptest! {
    #[test]
    fn no_number_leaves_the_unit_interval(bits in any::<u64>()) {
        let z = f64::from_bits(bits);
        let (cdf, tail) = (normal_cdf(z), normal_tail(z));
        prop_assert_eq!(z.is_nan(), cdf.is_nan());
        prop_assert_eq!(z.is_nan(), tail.is_nan());
        if !z.is_nan() {
            prop_assert!((0.0..=1.0).contains(&cdf) && (0.0..=1.0).contains(&tail));
        }
    }

    #[test]
    fn larger_z_is_likelier_to_be_undercut(z in -40.0..40.0f64, by in 1e-6..1.0f64) {
        // Rounding may reverse the order of neighbours, never of numbers a millionth apart; towards 1 they
        // become equal.
        let (below, above) = (normal_cdf(z), normal_cdf(z + by));
        prop_assert!(above > below || above >= 1.0 - 1e-15 || above <= f64::MIN_POSITIVE, "{} {}", below, above);
        prop_assert!(above >= below);
    }
}
