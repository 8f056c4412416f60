//! Sentences for the user with an id and parameters, so that they can be translated.

use crate::quantity::{Estimate, Unit};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt;
use steerwright_input::printable;

/// A sentence for the user: in English, and as an id with parameters for translation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(from = "Written")]
pub struct Sentence {
    /// Stable id, such as `reading.left_out`; `told` for a stored sentence without one.
    pub id: Cow<'static, str>,
    /// Parameters by name.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub params: BTreeMap<Cow<'static, str>, SentenceParam>,
    /// In English, with a decimal point.
    pub text: String,
}

/// A parameter of a sentence.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(untagged)]
pub enum SentenceParam {
    /// A plain number.
    Number(f64),
    /// A text.
    Word(String),
    /// A measured or computed quantity.
    Quantity {
        /// Value in `unit`.
        value: f64,
        /// Standard uncertainty in `unit`; 0 where it is not known.
        u: f64,
        /// Unit of both.
        unit: Unit,
    },
    /// A probability, 0 to 1.
    Chance {
        /// The probability.
        p: f64,
    },
}

/// The stored form: reports of the first versions contain only the English text. A stored report can be a stranger's, so
/// its hidden characters are escaped.
#[derive(Deserialize, schemars::JsonSchema)]
#[serde(untagged)]
enum Written {
    Words(String),
    Whole {
        id: String,
        #[serde(default)]
        params: BTreeMap<String, SentenceParam>,
        text: String,
    },
}

impl From<Written> for Sentence {
    fn from(written: Written) -> Self {
        match written {
            Written::Words(text) => Self::new("told", printable(&text)),
            Written::Whole { id, params, text } => Self {
                id: id.into(),
                params: params.into_iter().map(|(name, value)| (name.into(), value.printable())).collect(),
                text: printable(&text).into_owned(),
            },
        }
    }
}

impl fmt::Display for Sentence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text)
    }
}

impl Sentence {
    /// A sentence without parameters.
    pub fn new(id: &'static str, text: impl Into<String>) -> Self {
        Self { id: id.into(), params: BTreeMap::new(), text: text.into() }
    }

    /// Adds a parameter.
    #[must_use]
    pub fn with(mut self, name: &'static str, value: impl Into<SentenceParam>) -> Self {
        self.params.insert(name.into(), value.into());
        self
    }
}

impl SentenceParam {
    /// With every hidden character of a text escaped.
    fn printable(self) -> Self {
        match self {
            Self::Word(word) => Self::Word(printable(&word).into_owned()),
            other => other,
        }
    }

    /// An estimate in a unit.
    pub fn quantity(estimate: Estimate, unit: Unit) -> Self {
        Self::Quantity { value: estimate.value, u: estimate.u, unit }
    }

    /// A length without an uncertainty, mm.
    pub fn mm(value: f64) -> Self {
        Self::Quantity { value, u: 0.0, unit: Unit::Mm }
    }
}

impl From<f64> for SentenceParam {
    fn from(number: f64) -> Self {
        Self::Number(number)
    }
}

impl From<usize> for SentenceParam {
    /// Exact below 2^53.
    fn from(number: usize) -> Self {
        Self::Number(number as f64)
    }
}

impl From<u32> for SentenceParam {
    fn from(number: u32) -> Self {
        Self::Number(f64::from(number))
    }
}

impl From<&str> for SentenceParam {
    fn from(word: &str) -> Self {
        Self::Word(word.to_owned())
    }
}

impl From<String> for SentenceParam {
    fn from(word: String) -> Self {
        Self::Word(word)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_and_back() {
        let sentence = Sentence::new("note.spacers", "3 mm of spacers.")
            .with("spacers", SentenceParam::mm(3.0))
            .with("kit", "TT-15")
            .with("row", 2_usize)
            .with("p", SentenceParam::Chance { p: 0.25 });
        let json = serde_json::to_string(&sentence).unwrap();
        assert_eq!(serde_json::from_str::<Sentence>(&json).unwrap(), sentence);
        assert!(json.contains(r#""p":{"p":0.25}"#), "{json}");
        assert_eq!(
            serde_json::from_str::<Sentence>(r#""Just words.""#).unwrap(),
            Sentence::new("told", "Just words.")
        );
    }
}
