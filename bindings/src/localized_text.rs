//! Translatable sentences: a stable id, parameters and the English text.

use crate::Amount;
use serde::Serialize;
use serde_json::Value;
use steerwright_core::sentence::{Sentence, SentenceParam};

/// A sentence for the user: English text plus an id with parameters for translation.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct LocalizedText {
    /// Stable id, such as `requirement.upper_seat.met`. It does not change when the English text does.
    pub id: String,
    /// The parameters of the sentence, by name.
    pub params: Vec<Param>,
    /// English text, with numbers in mm and a decimal point.
    pub english: String,
}

/// A parameter of a sentence.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct Param {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: ParamValue,
}

/// Value of a parameter.
#[derive(Debug, Clone, PartialEq, uniffi::Enum)]
pub enum ParamValue {
    /// A word or free text.
    Word {
        /// The text.
        word: String,
    },
    /// A plain number.
    Number {
        /// The number.
        number: f64,
    },
    /// A probability, 0 to 1; format it with `format_probability`.
    Chance {
        /// The probability.
        p: f64,
    },
    /// A measured or computed quantity; format it with `format_amount`.
    Quantity {
        /// The quantity.
        amount: Amount,
    },
}

impl From<Sentence> for LocalizedText {
    fn from(it: Sentence) -> Self {
        let value = |held| match held {
            SentenceParam::Number(number) => ParamValue::Number { number },
            SentenceParam::Word(word) => ParamValue::Word { word },
            SentenceParam::Quantity { value, u, unit } => {
                ParamValue::Quantity { amount: Amount { value, u, unit } }
            }
            SentenceParam::Chance { p } => ParamValue::Chance { p },
        };
        let params =
            it.params.into_iter().map(|(name, held)| Param { name: name.into(), value: value(held) });
        Self { id: it.id.into(), params: params.collect(), english: it.text }
    }
}

impl LocalizedText {
    pub(crate) fn new(id: impl Into<String>, english: impl Into<String>) -> Self {
        Self { id: id.into(), params: Vec::new(), english: english.into() }
    }

    fn with(mut self, name: &str, value: ParamValue) -> Self {
        self.params.push(Param { name: name.to_owned(), value });
        self
    }

    pub(crate) fn word(self, name: &str, word: impl Into<String>) -> Self {
        self.with(name, ParamValue::Word { word: word.into() })
    }

    pub(crate) fn number(self, name: &str, number: f64) -> Self {
        self.with(name, ParamValue::Number { number })
    }

    pub(crate) fn chance(self, name: &str, p: f64) -> Self {
        self.with(name, ParamValue::Chance { p })
    }

    pub(crate) fn amount(self, name: &str, amount: impl Into<Amount>) -> Self {
        self.with(name, ParamValue::Quantity { amount: amount.into() })
    }

    pub(crate) fn maybe<T>(self, value: Option<T>, put: impl FnOnce(Self, T) -> Self) -> Self {
        match value {
            Some(value) => put(self, value),
            None => self,
        }
    }

    /// The text for a variant of an internally tagged core enum: the tag becomes the id, scalar fields become
    /// parameters.
    pub(crate) fn tagged(prefix: &str, tag: &str, it: &impl Serialize, english: &str) -> Self {
        let tree = serde_json::to_value(it).unwrap_or_default();
        let name = tree.get(tag).and_then(Value::as_str).unwrap_or("other");
        let mut text = Self::new(format!("{prefix}.{name}"), english);
        for (name, value) in tree.as_object().into_iter().flatten().filter(|(name, _)| *name != tag) {
            text = match value {
                Value::String(word) => text.word(name, word),
                Value::Bool(yes) => text.word(name, if *yes { "true" } else { "false" }),
                Value::Number(number) => text.maybe(number.as_f64(), |text, it| text.number(name, it)),
                // Lists and nested objects appear only in the English sentence.
                Value::Null | Value::Array(_) | Value::Object(_) => text,
            };
        }
        text
    }
}
