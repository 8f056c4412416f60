//! Numbers in English words.

use steerwright_metrology::quantity::{Estimate, Unit};
use steerwright_metrology::voice::Voice;

/// A probability in percent; a value between 0 and 1 is never shown as 0 % or 100 %.
pub fn percent(p: f64) -> String {
    Voice::english().percent(p)
}

/// A length in mm, rounded to the digits that its uncertainty supports.
pub fn millimetres(estimate: Estimate) -> String {
    Voice::english().mm(estimate)
}

/// An angle in degrees, rounded to the digits that its uncertainty supports.
pub fn degrees(estimate: Estimate) -> String {
    Voice::english().estimate(estimate, Unit::Deg)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_show_no_more_digits_than_they_have() {
        assert_eq!(millimetres(Estimate::new(112.04, 0.25)), "112.0 ± 0.5 mm");
        assert_eq!(millimetres(Estimate::new(41.803, 0.025)), "41.80 ± 0.05 mm");
        assert_eq!(millimetres(Estimate::exact(34.0)), "34 mm");
        assert_eq!(degrees(Estimate::new(66.41, 0.15)), "66.4 ± 0.3°");
    }

    #[test]
    fn nothing_short_of_certain_reads_as_certain() {
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.9999), "over 99 %");
        assert_eq!(percent(0.5), "50 %");
        assert_eq!(percent(0.0001), "under 1 %");
        assert_eq!(percent(f64::NAN), "unknown");
    }
}
