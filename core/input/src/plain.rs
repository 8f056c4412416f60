//! Characters of untrusted text that a reader does not see, or that change how the text around them is shown.
//!
//! A terminal obeys control characters. A bidirectional override shows a text in another order than it has: `gpj.exe`
//! can look like `exe.jpg`. Two names that differ in an invisible character alone look the same. Such characters are
//! refused where text is taken in and escaped where it is shown; both ask here.

use icu_properties::props::{
    BinaryProperty, DefaultIgnorableCodePoint, GeneralCategory, PrependedConcatenationMark, VariationSelector,
};
use icu_properties::{CodePointMapData, CodePointSetData};
use std::borrow::Cow;
use std::fmt::Write;

/// The zero-width non-joiner and joiner: Persian and the scripts of India are not spelt right without them, and emoji of
/// several people are made with them (Unicode 16.0, 9.2, 12.1 and 23.2).
const JOINERS: [char; 2] = ['\u{200c}', '\u{200d}'];

fn has<P: BinaryProperty>(c: char) -> bool {
    CodePointSetData::new::<P>().contains(c)
}

/// True for a character that is not seen or that changes how its neighbours are shown, by its Unicode properties:
///
/// - controls (Cc), line and paragraph separators (Zl, Zp);
/// - format characters (Cf), such as bidirectional controls, zero-width spaces, interlinear annotations and tags, except
///   the signs that enclose Arabic numbers, which are seen;
/// - other characters that are ignored when shown, such as the Hangul fillers, except variation selectors, which choose
///   between two looks of the character before them;
/// - the joiners U+200C and U+200D, which [`first_hidden`] accepts inside words that need them;
/// - private use characters, whose look nobody knows.
pub fn is_hidden(c: char) -> bool {
    if c.is_ascii() {
        return c.is_ascii_control();
    }
    match CodePointMapData::<GeneralCategory>::new().get(c) {
        GeneralCategory::Control
        | GeneralCategory::LineSeparator
        | GeneralCategory::ParagraphSeparator
        | GeneralCategory::PrivateUse => true,
        GeneralCategory::Format => !has::<PrependedConcatenationMark>(c),
        GeneralCategory::Unassigned => has::<DefaultIgnorableCodePoint>(c),
        _ => has::<DefaultIgnorableCodePoint>(c) && !has::<VariationSelector>(c),
    }
}

/// The hidden characters of a text with their places. A joiner after a letter or sign beyond ASCII is not one of them.
fn hidden(text: &str) -> impl Iterator<Item = (usize, char)> {
    let mut before = ' ';
    text.char_indices().filter(move |(_, c)| {
        let joins = JOINERS.contains(c) && !before.is_ascii() && !is_hidden(before);
        before = *c;
        is_hidden(*c) && !joins
    })
}

/// The first hidden character of a text of one line.
pub fn first_hidden(text: &str) -> Option<char> {
    hidden(text).map(|(_, c)| c).next()
}

/// The first hidden character of a text of several lines, in which line breaks and tabs are seen.
pub fn first_hidden_in_lines(text: &str) -> Option<char> {
    hidden(text).map(|(_, c)| c).find(|c| !matches!(c, '\n' | '\t'))
}

/// What a hidden character is, for a message: "a control character", "an invisible character (U+202E)".
pub fn hidden_words(c: char) -> String {
    if c.is_control() {
        "a control character".to_owned()
    } else {
        format!("an invisible character (U+{:04X})", u32::from(c))
    }
}

/// The text with every hidden character escaped, such as `\u{202e}`: fit for one line of a terminal, page or print.
pub fn printable(text: &str) -> Cow<'_, str> {
    escaped(text, |_| false)
}

/// [`printable`] for text of several lines: line breaks and tabs stay.
pub fn printable_lines(text: &str) -> Cow<'_, str> {
    escaped(text, |c| matches!(c, '\n' | '\t'))
}

/// The text with every hidden character escaped that `keep` does not spare.
fn escaped(text: &str, keep: fn(char) -> bool) -> Cow<'_, str> {
    let mut places = hidden(text).filter(|(_, c)| !keep(*c)).peekable();
    if places.peek().is_none() {
        return Cow::Borrowed(text);
    }
    let (mut shown, mut rest, mut from) = (String::with_capacity(text.len() + 16), text, 0);
    for (at, c) in places {
        let (seen, after) = rest.split_at_checked(at.saturating_sub(from)).unwrap_or((rest, ""));
        shown.push_str(seen);
        // Writing to a string does not fail.
        let _ = write!(shown, "{}", c.escape_default());
        rest = after.get(c.len_utf8()..).unwrap_or_default();
        from = at + c.len_utf8();
    }
    shown.push_str(rest);
    Cow::Owned(shown)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The names of the characters are those of the Unicode Character Database 16.0 (F).
    #[test]
    fn characters_that_are_not_seen_are_hidden() {
        let ranges = [
            ('\u{0}', '\u{1f}'),        // C0 controls
            ('\u{7f}', '\u{9f}'),       // DELETE and C1 controls
            ('\u{ad}', '\u{ad}'),       // SOFT HYPHEN
            ('\u{34f}', '\u{34f}'),     // COMBINING GRAPHEME JOINER
            ('\u{61c}', '\u{61c}'),     // ARABIC LETTER MARK
            ('\u{115f}', '\u{1160}'),   // HANGUL CHOSEONG FILLER, JUNGSEONG FILLER
            ('\u{180e}', '\u{180e}'),   // MONGOLIAN VOWEL SEPARATOR
            ('\u{200b}', '\u{200f}'),   // ZERO WIDTH SPACE to RIGHT-TO-LEFT MARK
            ('\u{2028}', '\u{202e}'),   // LINE SEPARATOR to RIGHT-TO-LEFT OVERRIDE
            ('\u{2060}', '\u{206f}'),   // WORD JOINER to NOMINAL DIGIT SHAPES, with the isolates
            ('\u{3164}', '\u{3164}'),   // HANGUL FILLER
            ('\u{e000}', '\u{f8ff}'),   // private use
            ('\u{feff}', '\u{feff}'),   // ZERO WIDTH NO-BREAK SPACE
            ('\u{fff9}', '\u{fffb}'),   // interlinear annotation
            ('\u{1d173}', '\u{1d17a}'), // musical format controls
            ('\u{e0000}', '\u{e00ff}'), // tags and what is reserved beside them
        ];
        for (first, last) in ranges {
            for c in first..=last {
                assert!(is_hidden(c), "{:04x}", u32::from(c));
                let text = format!("a{c}b");
                assert_eq!(first_hidden(&text), Some(c), "{:04x}", u32::from(c));
                assert_eq!(printable(&text), format!("a{}b", c.escape_default()));
            }
        }
    }

    #[test]
    fn words_of_any_script_are_plain() {
        for text in [
            "Hire bike 03, 29×2.4″ – 45°",
            "Żółw Größe Ünnepi naïve e\u{301}",
            "велосипед ποδήλατο אופניים دراجة 自行车 自転車 자전거 จักรยาน",
            "می\u{200c}خواهم",                             // Persian with a non-joiner
            "क\u{94d}\u{200d}ष",                           // Devanagari with a joiner
            "\u{1f468}\u{200d}\u{1f527} \u{2764}\u{fe0f}", // emoji with a joiner, and with a variation selector
            "\u{600}\u{661}",                              // ARABIC NUMBER SIGN and a digit
            "a\u{a0}b\u{3000}c",                           // spaces are seen as spaces
        ] {
            assert_eq!(first_hidden(text), None, "{text:?}");
            assert!(matches!(printable(text), Cow::Borrowed(_)));
        }
        // A joiner that joins nothing is hidden.
        for text in ["Wald\u{200c}weg", "\u{200d}a", "क\u{200d}\u{200d}", "\u{202e}\u{200d}"] {
            assert!(first_hidden(text).is_some(), "{text:?}");
        }
    }

    #[test]
    fn hidden_characters_are_escaped_in_their_places() {
        assert_eq!(printable("a\u{202e}gpj.exe\u{1b}[2J"), "a\\u{202e}gpj.exe\\u{1b}[2J");
        assert_eq!(printable("one\n\ttwo\u{2028}"), "one\\n\\ttwo\\u{2028}");
        assert_eq!(printable_lines("one\n\ttwo\u{2028}\r"), "one\n\ttwo\\u{2028}\\r");
        assert_eq!(first_hidden_in_lines("one\n\ttwo"), None);
        assert_eq!(first_hidden_in_lines("one\r\ntwo"), Some('\r'));
        // What was escaped once stays as it is.
        assert_eq!(printable(&printable("\u{200b}é\u{9b}")), "\\u{200b}é\\u{9b}");
        assert_eq!(hidden_words('\u{1b}'), "a control character");
        assert_eq!(hidden_words('\u{200b}'), "an invisible character (U+200B)");
    }
}
