//! Every sentence of the screens, by id (Project Fluent, syntax 1.0).
//!
//! Amounts come in as text: `metrology` rounds and formats them, so that no language file has a rule about digits.

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use std::fmt;
use unic_langid::LanguageIdentifier;

/// A language of the screens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Language {
    /// English.
    #[default]
    English,
}

impl Language {
    /// Every language.
    pub const ALL: [Self; 1] = [Self::English];

    /// Its tag (RFC 5646).
    pub fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
        }
    }

    /// Its texts, as a Fluent file.
    pub fn source(self) -> &'static str {
        match self {
            Self::English => include_str!("../text/en.ftl"),
        }
    }
}

/// The texts of one language.
pub struct Words {
    language: Language,
    bundle: FluentBundle<FluentResource>,
}

impl fmt::Debug for Words {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Words").field("language", &self.language).finish_non_exhaustive()
    }
}

impl Words {
    /// The texts of a language.
    pub fn new(language: Language) -> Self {
        let tag: LanguageIdentifier = language.tag().parse().unwrap_or_default();
        let mut bundle = FluentBundle::new_concurrent(vec![tag]);
        // The marks that isolate an amount from the writing direction around it are control characters, which a
        // terminal shows and a test has to strip. Both directions never meet in the languages there are.
        bundle.set_use_isolating(false);
        // A test reads each file: it has no errors and no id twice.
        let resource = FluentResource::try_new(language.source().to_owned());
        bundle.add_resource_overriding(resource.unwrap_or_else(|(partial, _)| partial));
        Self { language, bundle }
    }

    /// The language.
    pub fn language(&self) -> Language {
        self.language
    }

    /// A text without amounts. An id that the language lacks gives the id itself.
    pub fn text(&self, id: &str) -> String {
        self.with(id, &[])
    }

    /// A text with its amounts.
    pub fn with(&self, id: &str, amounts: &[(&'static str, Amount<'_>)]) -> String {
        let Some(pattern) = self.bundle.get_message(id).and_then(|message| message.value()) else {
            return id.to_owned();
        };
        let args: FluentArgs<'_> =
            amounts.iter().map(|(name, amount)| (*name, FluentValue::from(*amount))).collect();
        self.bundle.format_pattern(pattern, Some(&args), &mut Vec::new()).into_owned()
    }
}

/// What is put into a text.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Amount<'a> {
    /// A word, or a number that is formatted already.
    Text(&'a str),
    /// A count, which chooses between singular and plural.
    Count(usize),
}

impl<'a> From<Amount<'a>> for FluentValue<'a> {
    fn from(amount: Amount<'a>) -> Self {
        match amount {
            Amount::Text(text) => text.into(),
            Amount::Count(count) => count.into(),
        }
    }
}

impl<'a> From<&'a str> for Amount<'a> {
    fn from(text: &'a str) -> Self {
        Self::Text(text)
    }
}

impl<'a> From<&'a String> for Amount<'a> {
    fn from(text: &'a String) -> Self {
        Self::Text(text)
    }
}

impl From<usize> for Amount<'_> {
    fn from(count: usize) -> Self {
        Self::Count(count)
    }
}
