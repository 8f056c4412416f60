//! The tail of the chi-squared distribution.

use statrs::distribution::{ChiSquared, ContinuousCDF};

/// The probability that the sum of squares of as many independent standard normal variables as there are degrees of
/// freedom is `chi_square` or more. `None` without a degree of freedom, and for a NaN.
pub fn chi_square_tail(chi_square: f64, degrees_of_freedom: usize) -> Option<f64> {
    let distribution = ChiSquared::new(degrees_of_freedom as f64).ok()?;
    (!chi_square.is_nan()).then(|| distribution.sf(chi_square))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The 5 % points that tables print for 1, 2 and 10 degrees of freedom: 3.841, 5.991, 18.307. M (from memory).
    #[test]
    fn table_of_five_percent_points() {
        for (point, freedom) in [(3.841, 1), (5.991, 2), (18.307, 10)] {
            let tail = chi_square_tail(point, freedom).unwrap();
            assert!((tail - 0.05).abs() < 2e-5, "{freedom}: {tail}");
        }
        assert_eq!(chi_square_tail(0.0, 3), Some(1.0));
        assert_eq!(chi_square_tail(1.0, 0), None);
        assert_eq!(chi_square_tail(f64::NAN, 1), None);
    }
}
