//! Every sentence of screens, reports and drawings, by id (Project Fluent, syntax 1.0).
//!
//! Amounts come in as text: `metrology` rounds and formats them, so that no language file has a rule about digits.

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use fluent_langneg::parse_accepted_languages;
use std::fmt;
use std::sync::LazyLock;
use unic_langid::LanguageIdentifier;

/// A language of the texts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Language {
    /// English.
    #[default]
    English,
    /// German.
    German,
}

impl Language {
    /// Every language.
    pub const ALL: [Self; 2] = [Self::English, Self::German];

    /// Its tag (RFC 5646).
    pub fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// Its texts, as Fluent files: screens, measuring guide, reports, drawings, field book.
    pub fn sources(self) -> [&'static str; 6] {
        match self {
            Self::English => [
                include_str!("../text/en.ftl"),
                include_str!("../text/en-guide.ftl"),
                include_str!("../text/en-report.ftl"),
                include_str!("../text/en-drawing.ftl"),
                include_str!("../text/en-book.ftl"),
                include_str!("../text/en-photo.ftl"),
            ],
            Self::German => [
                include_str!("../text/de.ftl"),
                include_str!("../text/de-guide.ftl"),
                include_str!("../text/de-report.ftl"),
                include_str!("../text/de-drawing.ftl"),
                include_str!("../text/de-book.ftl"),
                include_str!("../text/de-photo.ftl"),
            ],
        }
    }

    /// The first language of a list that has texts: of an `Accept-Language` header, or of a locale such as `de_AT.UTF-8`.
    /// `None` where the list names none of them.
    pub fn first_of(wanted: &str) -> Option<Self> {
        let locale = wanted.split(['.', '@']).next().unwrap_or_default();
        let wanted = parse_accepted_languages(if wanted.contains(',') { wanted } else { locale });
        wanted.iter().find_map(|wanted| {
            Self::ALL.into_iter().find(|language| {
                language.tag().parse::<LanguageIdentifier>().is_ok_and(|it| it.language == wanted.language)
            })
        })
    }
}

/// Stands where a word may be broken, and shows as a hyphen only there.
pub const SOFT_HYPHEN: char = '\u{ad}';

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
        for source in language.sources() {
            let resource = FluentResource::try_new(source.to_owned());
            bundle.add_resource_overriding(resource.unwrap_or_else(|(partial, _)| partial));
        }
        Self { language, bundle }
    }

    /// The texts of a language, made once.
    pub fn of(language: Language) -> &'static Self {
        static ENGLISH: LazyLock<Words> = LazyLock::new(|| Words::new(Language::English));
        static GERMAN: LazyLock<Words> = LazyLock::new(|| Words::new(Language::German));
        match language {
            Language::English => &ENGLISH,
            Language::German => &GERMAN,
        }
    }

    /// The language.
    pub fn language(&self) -> Language {
        self.language
    }

    /// Whether there is a text of this id.
    pub fn has(&self, id: &str) -> bool {
        self.bundle.has_message(id)
    }

    /// A text without amounts. An id that the language lacks gives the id itself.
    pub fn text(&self, id: &str) -> String {
        self.with(id, &[])
    }

    /// A text with its amounts. Where its long words may be broken is left out.
    pub fn with(&self, id: &str, amounts: &[(&'static str, Amount<'_>)]) -> String {
        let Some(pattern) = self.bundle.get_message(id).and_then(|message| message.value()) else {
            return id.to_owned();
        };
        let args: FluentArgs<'_> =
            amounts.iter().map(|(name, amount)| (*name, FluentValue::from(*amount))).collect();
        self.bundle.format_pattern(pattern, Some(&args), &mut Vec::new()).replace(SOFT_HYPHEN, "")
    }

    /// A text without amounts for a narrow place: soft hyphens stand where its long words may be broken.
    pub fn label(&self, id: &str) -> String {
        let pattern = self.bundle.get_message(id).and_then(|message| message.value());
        pattern.map_or_else(
            || id.to_owned(),
            |pattern| self.bundle.format_pattern(pattern, None, &mut Vec::new()).into_owned(),
        )
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

impl<'a> From<&'a &str> for Amount<'a> {
    fn from(text: &'a &str) -> Self {
        Self::Text(text)
    }
}

impl<'a> From<&'a &String> for Amount<'a> {
    fn from(text: &'a &String) -> Self {
        Self::Text(text)
    }
}

impl From<usize> for Amount<'_> {
    fn from(count: usize) -> Self {
        Self::Count(count)
    }
}

impl From<&usize> for Amount<'_> {
    fn from(count: &usize) -> Self {
        Self::Count(*count)
    }
}

/// A text with amounts by name: `say!(words, "question-keep", value = text, unit = "mm")`.
#[macro_export]
macro_rules! say {
    ($words:expr, $id:expr $(, $name:ident = $amount:expr)* $(,)?) => {
        $words.with($id, &[$((stringify!($name), $crate::Amount::from(&$amount))),*])
    };
}
