//! Why nothing was done, in the user's language.

use crate::{Refusal, ScreenError};
use steerwright_fieldbook::BookError;
use steerwright_input::{FileError, FileErrors, Problem};
use steerwright_metrology::quantity::{Measurement, quantity_info};
use steerwright_metrology::sentence::{Sentence, SentenceParam};
use steerwright_metrology::voice::{self, Voice};
use steerwright_words::{Amount, Words, say};

impl Refusal {
    /// In the user's language. What was said when the event was carried out is in it already.
    pub fn in_words(&self, words: &Words) -> String {
        match self {
            Self::Field { message, .. } => message.clone(),
            Self::Question(question) => question.text.clone(),
            Self::Book(error) => book_error(error, words),
            Self::Screen(error) => error.in_words(words),
        }
    }
}

impl ScreenError {
    /// In the user's language.
    pub fn in_words(&self, words: &Words) -> String {
        match self {
            Self::NotThere { what, name } => say!(words, "error-no-such", what = *what, name = name),
            Self::Book(error) => book_error(error, words),
            Self::Check(_) | Self::Handling(_) => self.to_string(),
        }
    }
}

/// What a machine or a file has to say (details of a damaged file, a reading system's error, the problems of a file) is
/// told as it is.
fn book_error(error: &BookError, words: &Words) -> String {
    match error {
        BookError::NotFound { what, name } => say!(words, "error-not-in-book", what = *what, name = name),
        BookError::Refused(sentence) => refused(sentence, words),
        BookError::Busy => words.text("error-busy"),
        BookError::Full => words.text("error-full"),
        other => other.to_string(),
    }
}

/// A rule of the book by its id and parameters; one without a text of its own in its English words.
fn refused(sentence: &Sentence, words: &Words) -> String {
    let id = voice::id("refused", &sentence.id.replace('.', "_"));
    if !words.has(&id) {
        return sentence.text.clone();
    }
    let told = |name: &str| match sentence.params.get(name)? {
        SentenceParam::Word(word) => Some(word.clone()),
        SentenceParam::Number(number) => Some(number.to_string()),
        _ => None,
    };
    const NAMES: [&str; 8] = ["field", "length", "maker", "most", "number", "sku", "used", "verdict"];
    let mut amounts = NAMES.map(|name| (name, told(name).unwrap_or_default()));
    for (name, text) in &mut amounts {
        // A field is named by an English phrase, "the bike's name": its last word chooses the text.
        if *name == "field" {
            *text = text.rsplit(' ').next().unwrap_or_default().to_owned();
        }
    }
    words.with(&id, &amounts.each_ref().map(|(name, text)| (*name, Amount::from(text))))
}

/// Why a text is no number.
pub(crate) fn number(words: &Words, text: &str) -> String {
    let text = text.trim();
    let point = text.replace(',', ".");
    if text.matches(['.', ',']).count() > 1 {
        say!(words, "error-marks", value = text)
    } else if point.parse::<f64>().is_ok_and(f64::is_finite) {
        // "1,234" is a thousand in one country and one and a bit in another.
        say!(words, "error-two-spellings", value = text, whole = text.replace(',', ""), point = point)
    } else {
        say!(words, "error-no-number", value = text)
    }
}

/// What is wrong with a reading.
pub(crate) fn reading(voice: Voice<'_>, reading: &Measurement, errors: &FileErrors) -> String {
    let told: Vec<String> = errors.errors().iter().map(|error| of_reading(voice, reading, error)).collect();
    told.join(" ")
}

/// What is wrong with who asks a shop; `None` for another problem of a request.
pub(crate) fn contact(words: &Words, error: &FileError) -> Option<String> {
    let found = || error.found.clone().unwrap_or_default();
    Some(match (error.field.as_str(), error.problem) {
        ("contact.name", Problem::Missing) => words.text("error-contact-name"),
        ("contact.email", Problem::Missing) => words.text("error-contact-way"),
        ("contact.email", _) => say!(words, "error-contact-email", found = found()),
        ("contact.phone", _) => say!(words, "error-contact-phone", found = found()),
        _ => return None,
    })
}

fn of_reading(voice: Voice<'_>, reading: &Measurement, error: &FileError) -> String {
    // The screen offers only the units and tools that measure the quantity.
    if error.field != "value" {
        return error.to_string();
    }
    let [low, high] = quantity_info(reading.what).plausible.map(|end| voice.number(end, 6));
    let found = voice.mark(error.found.clone().unwrap_or_default());
    let meant = error.did_you_mean.clone().map_or_else(|| "none".to_owned(), |it| voice.mark(it));
    say!(
        voice,
        "error-reading-value",
        found = found,
        low = low,
        high = high,
        unit = reading.what.base_unit().name(),
        what = voice.quantity(reading.what),
        meant = meant
    )
}
