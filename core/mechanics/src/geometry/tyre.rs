//! Outer diameters of tyres from their marking (ISO 5775).

use serde::Deserialize;
use std::sync::LazyLock;
use steerwright_input::typed_number;
use steerwright_metrology::quantity::{Estimate, Instrument, Measurement, Quantity, Unit};
use thiserror::Error;

/// Why a marking gives no diameter.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum TyreError {
    /// The bead seat is not in the list of sizes.
    #[error("no tyre size with a bead seat of {0} mm")]
    UnknownBeadSeat(f64),
    /// The rule for the height does not hold for this width.
    #[error("a width of {width} mm; the rule holds from {} to {} mm", range[0], range[1])]
    Width {
        /// The width given, mm.
        width: f64,
        /// Where the rule holds, mm.
        range: [f64; 2],
    },
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    sizes: Vec<Size>,
    names: Vec<Name>,
    height_is_width_from_mm: Rule,
    widest_mm: Rule,
    #[cfg_attr(not(test), expect(dead_code, reason = "the evidence for the spread, checked by the test"))]
    circumference_chart: Vec<Entry>,
    radius_spread_mm: Rule,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Size {
    bead_seat_mm: f64,
    #[serde(rename = "source")]
    _source: String,
}

/// What a rim is called on a tyre, and in which unit the width follows.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Name {
    name: String,
    bead_seat_mm: f64,
    width_unit: Unit,
    #[serde(rename = "source")]
    _source: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Rule {
    value: f64,
    #[serde(rename = "source")]
    _source: String,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(not(test), expect(dead_code, reason = "the evidence for the spread, checked by the test"))]
struct Entry {
    width_mm: f64,
    bead_seat_mm: f64,
    circumference_mm: f64,
    #[serde(rename = "source")]
    _source: String,
}

static TABLE: LazyLock<Table> =
    LazyLock::new(|| steerwright_input::embedded::table(include_str!("../../data/tyres.json")));

/// Outer diameter of a tyre from its marking, such as 60-622, mm: `bead seat + 2 width`.
///
/// The usual circumference chart differs from that rule by up to 3 mm of radius, taken as the half-width of a
/// rectangular distribution (JCGM 100:2008, 4.3.7). A measured diameter is much more accurate.
///
/// # Errors
/// For a bead seat outside the table, and for widths under 28 mm, where the height is no longer the width.
pub fn overall_diameter(bead_seat_mm: f64, width_mm: f64) -> Result<Estimate, TyreError> {
    let table = &*TABLE;
    if !table.sizes.iter().any(|size| (size.bead_seat_mm - bead_seat_mm).abs() < 0.5) {
        return Err(TyreError::UnknownBeadSeat(bead_seat_mm));
    }
    let range = [table.height_is_width_from_mm.value, table.widest_mm.value];
    let [least, most] = range;
    if !(least..=most).contains(&width_mm) {
        return Err(TyreError::Width { width: width_mm, range });
    }
    let diameter = bead_seat_mm + 2.0 * width_mm;
    let half_width = 2.0 * table.radius_spread_mm.value;
    Ok(Estimate::between(diameter - half_width, diameter + half_width))
}

/// What a person may write for a tyre, for messages.
const SPELLINGS: &str = "a size such as 29x2.4, 27.5x2.6, 700x45c or 50-622";

/// A tyre by the size that is printed on it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TyreSize {
    /// Bead seat diameter of its rim (ISO 5775), mm.
    pub bead_seat_mm: f64,
    /// Nominal section width, mm.
    pub width_mm: f64,
    /// The outer diameter that follows, mm: a first estimate ([`overall_diameter`]).
    pub diameter: Estimate,
}

/// Why a text gives no tyre size.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum TyreSizeError {
    /// It is not written as a size.
    #[error("`{0}` is not a tyre size; expected {SPELLINGS}")]
    Spelling(String),
    /// The rim has a name that the table does not list.
    #[error(
        "`{text}`: no rim is called {name} here; expected one of {known}, or the ISO 5775 marking such as 50-622"
    )]
    Rim {
        /// The whole text.
        text: String,
        /// The name of the rim in it.
        name: String,
        /// The names of the table.
        known: String,
    },
    /// Bead seat and width in the wrong order.
    #[error("`{text}` has its numbers the wrong way round; did you mean `{meant}` (width, then bead seat)?")]
    Order {
        /// The whole text.
        text: String,
        /// What was probably meant.
        meant: String,
    },
    /// The numbers are understood and give no diameter.
    #[error("`{text}`: {error}")]
    Tyre {
        /// The whole text.
        text: String,
        /// Why.
        error: TyreError,
    },
}

impl TyreSizeError {
    /// What was expected instead, to follow "expected".
    pub fn expected(&self) -> String {
        match self {
            Self::Spelling(_) => SPELLINGS.to_owned(),
            Self::Rim { known, .. } => {
                format!("a rim called one of {known}, or the ISO 5775 marking such as 50-622")
            }
            Self::Order { meant, .. } => format!("{meant} (width, then bead seat)"),
            Self::Tyre { error: TyreError::UnknownBeadSeat(_), .. } => {
                let sizes: Vec<String> =
                    TABLE.sizes.iter().map(|size| size.bead_seat_mm.to_string()).collect();
                format!("a bead seat of one of {} mm", sizes.join(", "))
            }
            Self::Tyre { error: TyreError::Width { range: [least, most], .. }, .. } => {
                format!("a width from {least} to {most} mm")
            }
        }
    }
}

impl TyreSize {
    /// Whether a text is meant as a size and not as a number.
    pub fn is_written_as_one(text: &str) -> bool {
        let text = text.trim();
        let size = |cross: char| text.contains(cross);
        let inner = text.get(1..).unwrap_or_default();
        let digits = text.starts_with(|c: char| c.is_ascii_digit());
        digits && (size('x') || size('X') || size('×') || (inner.contains('-') && !inner.contains("e-")))
    }

    /// Reads a size as it is printed on a tyre: `29x2.4`, `29 x 2,4`, `700x45c`, `27.5x2.6`, `50-622`.
    ///
    /// # Errors
    /// What is wrong with the text, or why its numbers give no diameter.
    pub fn read(text: &str) -> Result<Self, TyreSizeError> {
        let plain: String =
            text.to_lowercase().replace('×', "x").chars().filter(|c| !c.is_whitespace()).collect();
        let shown: String = text.trim().chars().take(40).collect();
        let spelling = || TyreSizeError::Spelling(shown.clone());
        let number = |text: &str| typed_number(text).map_err(|_| spelling());
        let (bead_seat_mm, width_mm) = if let Some((rim, width)) = plain.split_once('x') {
            let rim = rim.trim_end_matches(['"', '″', '”', '\'']).replace(',', ".");
            let width = width.trim_end_matches(|c: char| matches!(c, 'a'..='c' | '"' | '″' | '”' | '\''));
            let names = &TABLE.names;
            let name = names.iter().find(|it| it.name == rim).ok_or_else(|| {
                number(&rim).map_or_else(
                    |error| error,
                    |_| TyreSizeError::Rim {
                        text: shown.clone(),
                        name: rim.clone(),
                        known: names.iter().map(|it| it.name.as_str()).collect::<Vec<_>>().join(", "),
                    },
                )
            })?;
            (name.bead_seat_mm, number(width)? * name.width_unit.in_base())
        } else if let Some((width, bead_seat)) = plain.split_once('-') {
            let (width, bead_seat) = (number(width)?, number(bead_seat)?);
            let is_bead_seat = |mm: f64| TABLE.sizes.iter().any(|size| (size.bead_seat_mm - mm).abs() < 0.5);
            if is_bead_seat(width) && !is_bead_seat(bead_seat) {
                return Err(TyreSizeError::Order {
                    text: shown.clone(),
                    meant: format!("{bead_seat}-{width}"),
                });
            }
            (bead_seat, width)
        } else {
            return Err(spelling());
        };
        let diameter = overall_diameter(bead_seat_mm, width_mm)
            .map_err(|error| TyreSizeError::Tyre { text: shown.clone(), error })?;
        Ok(Self { bead_seat_mm, width_mm, diameter })
    }

    /// The size as a reading of a tyre's diameter: a figure printed by the maker, with the rule's own uncertainty unless
    /// another is given, and a note that says how it follows from `text`.
    pub fn reading(
        &self,
        what: Quantity,
        text: &str,
        plus_minus: Option<f64>,
        note: Option<&str>,
    ) -> Measurement {
        let tenth = |mm: f64| (mm * 10.0).round() / 10.0;
        let derived = format!("size {}: {}", text.trim(), self.derivation());
        Measurement {
            what,
            value: tenth(self.diameter.value),
            unit: Unit::Mm,
            with: Instrument::MakerSheet,
            plus_minus: plus_minus.or(Some(tenth(self.diameter.expanded()))),
            at: None,
            note: Some(note.map_or(derived.clone(), |own| format!("{own}; {derived}"))),
        }
    }

    /// How the diameter follows from the size, in a sentence.
    pub fn derivation(&self) -> String {
        let Self { bead_seat_mm, width_mm, diameter } = self;
        format!(
            "bead seat {bead_seat_mm:.0} mm (ISO 5775) plus twice the section width of {width_mm:.1} mm gives {:.0} mm, a \
             first estimate good to ± {:.0} mm",
            diameter.value,
            diameter.expanded()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rule against chart: each entry is within the limits that the estimate claims, and the worst of them nearly
    /// reaches them, so the claim is no larger than the evidence.
    #[test]
    fn the_spread_is_that_between_rule_and_chart() {
        let worst = TABLE
            .circumference_chart
            .iter()
            .map(|entry| {
                let rule = overall_diameter(entry.bead_seat_mm, entry.width_mm).unwrap();
                let off = entry.circumference_mm / std::f64::consts::PI - rule.value;
                assert!(off.abs() <= rule.u * 3f64.sqrt(), "{entry:?}: {off}");
                off.abs() / 2.0
            })
            .fold(0.0, f64::max);
        let claimed = TABLE.radius_spread_mm.value;
        assert!(worst > claimed - 0.1, "{worst} of {claimed} mm");
    }

    #[test]
    fn a_marking_the_rule_does_not_cover() {
        assert_eq!(overall_diameter(600.0, 50.0), Err(TyreError::UnknownBeadSeat(600.0)));
        assert!(matches!(overall_diameter(622.0, 23.0), Err(TyreError::Width { .. })));
        assert!(matches!(overall_diameter(622.0, f64::NAN), Err(TyreError::Width { .. })));
        assert!(matches!(overall_diameter(f64::NAN, 50.0), Err(TyreError::UnknownBeadSeat(_))));
    }

    /// Each spelling against its ISO 5775 marking: bead seat, width, and twice the one plus the other.
    #[test]
    fn a_size_as_it_is_printed() {
        for (text, bead_seat, width) in [
            ("29x2.4", 622.0, 2.4 * 25.4),
            ("29 x 2,4", 622.0, 2.4 * 25.4),
            ("29\" X 2.4\"", 622.0, 2.4 * 25.4),
            ("27.5x2.6", 584.0, 2.6 * 25.4),
            ("27,5 × 2,6", 584.0, 2.6 * 25.4),
            ("26x2.3", 559.0, 2.3 * 25.4),
            ("700x45c", 622.0, 45.0),
            ("650x47b", 584.0, 47.0),
            ("50-622", 622.0, 50.0),
            (" 60 - 584 ", 584.0, 60.0),
        ] {
            let size = TyreSize::read(text).unwrap();
            assert!(TyreSize::is_written_as_one(text), "{text}");
            assert!((size.bead_seat_mm - bead_seat).abs() < 1e-9, "{text}: {size:?}");
            assert!((size.width_mm - width).abs() < 1e-9, "{text}: {size:?}");
            assert!((size.diameter.value - bead_seat - 2.0 * width).abs() < 1e-9, "{text}: {size:?}");
            assert!(size.diameter.u > 3.0, "{text}: a size is a first estimate, {size:?}");
        }
        assert_eq!(
            TyreSize::read("29x2.4").unwrap().derivation(),
            "bead seat 622 mm (ISO 5775) plus twice the section width of 61.0 mm gives 744 mm, a first estimate good to \
             ± 7 mm"
        );
    }

    #[test]
    fn a_text_that_is_no_size() {
        for text in ["", "29", "29x", "x2.4", "-5", "700", "29x1 1/2", "axb", "1e-3"] {
            assert!(matches!(TyreSize::read(text), Err(TyreSizeError::Spelling(_))), "{text}");
        }
        assert!(!TyreSize::is_written_as_one("-5") && !TyreSize::is_written_as_one("740"));
        let told = |text: &str| TyreSize::read(text).unwrap_err().to_string();
        assert!(told("31x2.4").contains("no rim is called 31") && told("31x2.4").contains("29, 28, 27.5"));
        assert!(told("622-50").contains("did you mean `50-622`"), "{}", told("622-50"));
        assert!(told("700x23c").contains("from 28 to 130 mm"), "{}", told("700x23c"));
        assert!(told("50-600").contains("bead seat of 600 mm"), "{}", told("50-600"));
    }
}
