//! The words of a language with the numbers of a notation: what sentences are made with.

use crate::quantity::{
    DecimalMark, Estimate, FormattedEstimate, Instrument, LengthUnit, Notation, Quantity, Unit, shown,
    trimmed,
};
use steerwright_words::{Amount, Language, Words};

/// A language and how numbers are written in it.
#[derive(Debug, Clone, Copy)]
pub struct Voice<'a> {
    /// The texts.
    pub words: &'a Words,
    /// How numbers are written.
    pub notation: Notation,
}

impl Notation {
    /// How numbers are written in a language; lengths are in millimetres.
    pub fn of(language: Language) -> Self {
        let mark = match language {
            Language::English => DecimalMark::Point,
            Language::German => DecimalMark::Comma,
        };
        Self { mark, ..Self::default() }
    }
}

impl Voice<'_> {
    /// English with a decimal point, as reports are stored.
    pub fn english() -> Voice<'static> {
        Voice { words: Words::of(Language::English), notation: Notation::default() }
    }

    /// A text without amounts.
    pub fn text(&self, id: &str) -> String {
        self.words.text(id)
    }

    /// A text with its amounts.
    pub fn with(&self, id: &str, amounts: &[(&'static str, Amount<'_>)]) -> String {
        self.words.with(id, amounts)
    }

    /// The text whose id ends in a name of the file formats.
    pub fn named(&self, kind: &str, name: &str) -> String {
        self.words.text(&id(kind, name))
    }

    /// A number that is written with a decimal point, in the notation.
    pub fn mark(&self, text: String) -> String {
        match self.notation.mark {
            DecimalMark::Point => text,
            DecimalMark::Comma => text.replace('.', ","),
        }
    }

    /// An estimate with its unit, rounded to the digits that its uncertainty supports.
    pub fn estimate(&self, estimate: Estimate, unit: Unit) -> String {
        shown(estimate, unit, self.notation).text
    }

    /// A length in mm as an estimate.
    pub fn mm(&self, estimate: Estimate) -> String {
        self.estimate(estimate, Unit::Mm)
    }

    /// A number without trailing zeros.
    pub fn number(&self, value: f64, decimals: usize) -> String {
        self.mark(trimmed(value, decimals))
    }

    /// A number with a fixed count of decimals.
    pub fn fixed(&self, value: f64, decimals: usize) -> String {
        self.mark(format!("{value:.decimals$}"))
    }

    /// A length of so many mm with its unit, without trailing zeros.
    pub fn length(&self, mm: f64, decimals: usize) -> String {
        self.in_unit(mm, decimals, &|value, decimals| trimmed(value, decimals))
    }

    /// A length of so many mm with its unit and a fixed count of decimals, those of mm.
    pub fn fixed_length(&self, mm: f64, decimals: usize) -> String {
        self.in_unit(mm, decimals, &|value, decimals| format!("{value:.decimals$}"))
    }

    /// The number of such a length, without its unit: for the first of a range.
    pub fn bare(&self, mm: f64, decimals: usize) -> String {
        without_unit(self.length(mm, decimals))
    }

    /// The same with a fixed count of decimals.
    pub fn fixed_bare(&self, mm: f64, decimals: usize) -> String {
        without_unit(self.fixed_length(mm, decimals))
    }

    /// An estimate in mm or degrees without its unit: "112.0 ± 0.5".
    pub fn digits(&self, estimate: Estimate) -> String {
        let notation = Notation { length: LengthUnit::Millimetre, ..self.notation };
        let FormattedEstimate { value, plus_minus, .. } = shown(estimate, Unit::Mm, notation);
        plus_minus.map_or_else(|| value.clone(), |half_width| format!("{value} ± {half_width}"))
    }

    fn in_unit(&self, mm: f64, decimals: usize, write: &dyn Fn(f64, usize) -> String) -> String {
        let (value, decimals, unit) = match self.notation.length {
            LengthUnit::Millimetre => (mm, decimals, "mm"),
            // An inch is 25.4 mm: two digits more lose nothing.
            LengthUnit::Inch => (mm / Unit::In.in_base(), decimals + 2, "in"),
        };
        format!("{} {unit}", self.mark(write(value, decimals)))
    }

    /// A probability; one between 0 and 1 is never shown as 0 % or 100 %.
    pub fn percent(&self, p: f64) -> String {
        match p {
            p if p.is_nan() => self.text("percent-unknown"),
            p if p >= 1.0 => "100 %".to_owned(),
            p if p > 0.995 => self.text("percent-over-99"),
            p if p <= 0.0 => "0 %".to_owned(),
            p if p < 0.005 => self.text("percent-under-1"),
            p => format!("{:.0} %", p * 100.0),
        }
    }

    /// "a, b and c".
    pub fn and(&self, items: &[String]) -> String {
        self.list(items, "list-and")
    }

    /// "a, b or c".
    pub fn or(&self, items: &[String]) -> String {
        self.list(items, "list-or")
    }

    fn list(&self, items: &[String], id: &str) -> String {
        match items {
            [] => String::new(),
            [one] => one.clone(),
            [all @ .., end] => self.with(id, &[("all", (&all.join(", ")).into()), ("last", end.into())]),
        }
    }

    /// A quantity's name.
    pub fn quantity(&self, what: Quantity) -> String {
        self.named("quantity", what.name())
    }

    /// The names of quantities, with "and" before the last.
    pub fn quantities(&self, all: &[Quantity]) -> String {
        self.and(&all.iter().map(|what| self.quantity(*what)).collect::<Vec<_>>())
    }

    /// Where to place the tool for a quantity and the usual mistake; `variant` is the name of a case of the seat.
    pub fn measuring(&self, what: Quantity, variant: Option<&str>) -> [String; 2] {
        self.place_and_trap("measuring", what.name(), variant)
    }

    /// The text for a place to measure or look, and the one for its trap.
    pub fn place_and_trap(&self, kind: &str, name: &str, variant: Option<&str>) -> [String; 2] {
        let place = id(kind, &variant.map_or_else(|| name.to_owned(), |variant| format!("{name}_{variant}")));
        [self.text(&place), self.text(&format!("{place}-trap"))]
    }

    /// A tool's name within a sentence.
    pub fn instrument(&self, tool: Instrument) -> String {
        self.named("instrument", tool.name())
    }
}

fn without_unit(text: String) -> String {
    text.split_once(' ').map_or_else(|| text.clone(), |(number, _)| number.to_owned())
}

/// An id that ends in a name of the file formats.
pub fn id(kind: &str, name: &str) -> String {
    format!("{kind}-{}", name.replace('_', "-"))
}

/// With a capital letter at the beginning.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_show_no_more_digits_than_they_have() {
        let voice = Voice::english();
        assert_eq!(voice.mm(Estimate::new(112.04, 0.25)), "112.0 ± 0.5 mm");
        assert_eq!(voice.mm(Estimate::new(41.803, 0.025)), "41.80 ± 0.05 mm");
        assert_eq!(voice.mm(Estimate::exact(34.0)), "34 mm");
        assert_eq!(voice.estimate(Estimate::new(66.41, 0.15), Unit::Deg), "66.4 ± 0.3°");
        assert_eq!(voice.number(-0.001, 1), "0");
    }

    #[test]
    fn nothing_short_of_certain_reads_as_certain() {
        let voice = Voice::english();
        assert_eq!(voice.percent(1.0), "100 %");
        assert_eq!(voice.percent(0.9999), "over 99 %");
        assert_eq!(voice.percent(0.5), "50 %");
        assert_eq!(voice.percent(0.0001), "under 1 %");
        assert_eq!(voice.percent(f64::NAN), "unknown");
    }

    /// The inch is 25.4 mm exactly.
    #[test]
    fn lengths_and_lists_follow_language_and_notation() {
        let german = Voice { words: Words::of(Language::German), notation: Notation::of(Language::German) };
        assert_eq!(german.length(33.2, 1), "33,2 mm");
        assert_eq!(german.fixed_length(34.0, 1), "34,0 mm");
        let inch = Voice {
            notation: Notation { length: LengthUnit::Inch, ..Notation::default() },
            ..Voice::english()
        };
        assert_eq!(inch.length(25.4, 1), "1 in");
        let names = ["a", "b", "c"].map(str::to_owned);
        assert_eq!(german.and(&names), "a, b und c");
        assert_eq!(Voice::english().or(&names), "a, b or c");
    }
}
