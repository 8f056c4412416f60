//! Formats estimates: unit, decimal mark, and no more digits than the uncertainty warrants.

use super::{Estimate, Unit};

/// The unit in which lengths are formatted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum LengthUnit {
    /// Millimetres.
    #[default]
    Millimetre,
    /// Inches of 25.4 mm, as decimal fractions.
    Inch,
}

/// The decimal mark (ISO 80000-1:2022, 7.2.2 allows both).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum DecimalMark {
    /// `112.5`.
    #[default]
    Point,
    /// `112,5`.
    Comma,
}

/// How numbers are formatted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Notation {
    /// Unit of lengths; angles are always in degrees.
    pub length: LengthUnit,
    /// The decimal mark.
    pub mark: DecimalMark,
}

/// A formatted number.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FormattedEstimate {
    /// The number alone: `112.0`.
    pub value: String,
    /// Its expanded uncertainty (k = 2) with as many decimals; `None` where it is too small to show.
    pub plus_minus: Option<String>,
    /// `mm`, `in` or `°`.
    pub unit: &'static str,
    /// The whole: `112.0 ± 0.5 mm`, `66.4 ± 0.3°`; `not known` for a value that is not finite.
    pub text: String,
}

/// A number rounded to `decimals`, without trailing zeros.
pub fn trimmed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// The decimals to show for an expanded uncertainty: at most two of its digits are significant. `Err`: it is too small
/// to show, and the value has at most this many decimals.
fn decimals(half_width: f64, length: bool, unit: LengthUnit) -> Result<usize, usize> {
    match unit {
        LengthUnit::Inch if length => match half_width {
            it if it < 0.000_2 => Err(4),
            it if it < 0.002 => Ok(4),
            it if it < 0.1 => Ok(3),
            _ => Ok(2),
        },
        _ => match half_width {
            it if it < 0.005 => Err(2),
            it if it < 0.1 => Ok(2),
            it if it < 10.0 => Ok(1),
            _ => Ok(0),
        },
    }
}

/// Formats an estimate in `unit`. Lengths are converted to the unit of the notation.
///
/// The expanded uncertainty (k = 2) has at most two significant digits, and the value as many decimals. Without an
/// uncertainty the value is rounded to 0.01 mm, 0.01° or 0.0001 in, without trailing zeros.
pub fn shown(estimate: Estimate, unit: Unit, notation: Notation) -> FormattedEstimate {
    let length = unit.dimension() == super::Dimension::Length;
    let (factor, name) = match notation.length {
        _ if !length => (1.0, "°"),
        LengthUnit::Millimetre => (unit.in_base(), "mm"),
        LengthUnit::Inch => (unit.in_base() / Unit::In.in_base(), "in"),
    };
    let gap = if length { " " } else { "" };
    let mark = |text: String| match notation.mark {
        DecimalMark::Point => text,
        DecimalMark::Comma => text.replace('.', ","),
    };
    let Estimate { value, u } = estimate * factor;
    if !value.is_finite() || u.is_nan() {
        return FormattedEstimate {
            value: "not known".into(),
            plus_minus: None,
            unit: name,
            text: "not known".into(),
        };
    }
    let half_width = 2.0 * u;
    let (value, plus_minus) = match decimals(half_width, length, notation.length) {
        Err(most) => (mark(trimmed(value, most)), None),
        Ok(digits) => {
            let text = format!("{value:.digits$}");
            // Trailing zeros are significant; the sign of zero is not.
            let bare = text.strip_prefix('-').filter(|rest| rest.bytes().all(|b| matches!(b, b'0' | b'.')));
            let text = bare.map_or_else(|| text.clone(), str::to_owned);
            (mark(text), Some(mark(format!("{half_width:.digits$}"))))
        }
    };
    let text = match &plus_minus {
        Some(half_width) => format!("{value} ± {half_width}{gap}{name}"),
        None => format!("{value}{gap}{name}"),
    };
    FormattedEstimate { value, plus_minus, unit: name, text }
}

#[cfg(test)]
mod tests {
    use super::*;

    const INCH: Notation = Notation { length: LengthUnit::Inch, mark: DecimalMark::Point };
    const COMMA: Notation = Notation { length: LengthUnit::Millimetre, mark: DecimalMark::Comma };

    fn text(value: f64, u: f64, unit: Unit, notation: Notation) -> String {
        shown(Estimate::new(value, u), unit, notation).text
    }

    #[test]
    fn numbers_show_no_more_digits_than_they_have() {
        for (value, u, unit, expected) in [
            (112.04, 0.25, Unit::Mm, "112.0 ± 0.5 mm"),
            (41.803, 0.025, Unit::Mm, "41.80 ± 0.05 mm"),
            (34.0, 0.0, Unit::Mm, "34 mm"),
            (1220.4, 6.0, Unit::Mm, "1220 ± 12 mm"),
            (66.41, 0.15, Unit::Deg, "66.4 ± 0.3°"),
            (-0.004, 0.05, Unit::Mm, "0.0 ± 0.1 mm"),
            (-0.001, 0.0, Unit::Mm, "0 mm"),
            (11.2, 0.0, Unit::Cm, "112 mm"),
            (4.5, 0.0, Unit::In, "114.3 mm"),
        ] {
            assert_eq!(text(value, u, unit, Notation::default()), expected);
        }
    }

    /// The inch is 25.4 mm exactly: 41.8 mm = 1.645669 in, 0.025 mm = 0.000984 in.
    #[test]
    fn inches() {
        for (value, u, unit, expected) in [
            (41.8, 0.025, Unit::Mm, "1.6457 ± 0.0020 in"),
            (112.0, 0.25, Unit::Mm, "4.409 ± 0.020 in"),
            (25.4, 0.0, Unit::Mm, "1 in"),
            (1220.0, 6.0, Unit::Mm, "48.03 ± 0.47 in"),
            (66.41, 0.15, Unit::Deg, "66.4 ± 0.3°"),
            (1.125, 0.0, Unit::In, "1.125 in"),
        ] {
            assert_eq!(text(value, u, unit, INCH), expected);
        }
    }

    #[test]
    fn a_comma_where_one_is_read() {
        assert_eq!(text(112.04, 0.25, Unit::Mm, COMMA), "112,0 ± 0,5 mm");
        assert_eq!(text(28.6, 0.0, Unit::Mm, COMMA), "28,6 mm");
        let it = shown(Estimate::new(66.41, 0.15), Unit::Deg, COMMA);
        assert_eq!((it.value.as_str(), it.plus_minus.as_deref(), it.unit), ("66,4", Some("0,3"), "°"));
    }

    #[test]
    fn what_is_no_number_is_not_shown_as_one() {
        for (value, u) in [(f64::NAN, 0.1), (f64::INFINITY, 0.1), (1.0, f64::NAN)] {
            assert_eq!(text(value, u, Unit::Mm, Notation::default()), "not known");
        }
    }
}
