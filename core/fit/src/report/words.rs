//! Numbers in words.

pub(super) use steerwright_metrology::quantity::trimmed;
use steerwright_metrology::quantity::{Estimate, FormattedEstimate, Notation, Unit, shown};

/// A probability in percent; a value between 0 and 1 is never shown as 0 % or 100 %.
pub fn percent(p: f64) -> String {
    if p.is_nan() {
        "unknown".to_owned()
    } else if p >= 1.0 {
        "100 %".to_owned()
    } else if p > 0.995 {
        "over 99 %".to_owned()
    } else if p <= 0.0 {
        "0 %".to_owned()
    } else if p < 0.005 {
        "under 1 %".to_owned()
    } else {
        format!("{:.0} %", p * 100.0)
    }
}

/// A length in mm, rounded to the digits that its uncertainty supports.
pub fn millimetres(estimate: Estimate) -> String {
    shown(estimate, Unit::Mm, Notation::default()).text
}

/// An angle in degrees, rounded to the digits that its uncertainty supports.
pub fn degrees(estimate: Estimate) -> String {
    shown(estimate, Unit::Deg, Notation::default()).text
}

/// "112.0 ± 0.5": the same without a unit.
pub(super) fn with_digits(estimate: Estimate) -> String {
    let FormattedEstimate { value, plus_minus, .. } = shown(estimate, Unit::Mm, Notation::default());
    plus_minus.map_or_else(|| value.clone(), |half_width| format!("{value} ± {half_width}"))
}

/// "a, b and c".
pub(super) fn list(items: &[String], last: &str) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [all @ .., end] => format!("{} {last} {end}", all.join(", ")),
    }
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
        assert_eq!(trimmed(-0.001, 1), "0");
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
