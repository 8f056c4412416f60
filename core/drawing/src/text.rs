//! Size of a line of text without font metrics: upper bounds.

use super::{Anchor, BoundingBox, Point, Text};
use steerwright_words::SOFT_HYPHEN;

/// Height of letters above the base line as a share of the font size; accents on capitals are slightly higher.
const RISE: f64 = 0.82;
/// Depth of letters below the base line as a share of the font size.
const HANG: f64 = 0.24;
/// Distance between base lines as a share of the font size.
pub(super) const LINE_STEP: f64 = 1.25;
/// Upper bound of the width of bold letters relative to regular ones.
const BOLD: f64 = 1.13;

/// An upper bound of one letter's width as a share of the font size, for any common sans serif font. The values are
/// those of the widest of them in general use.
fn letter_width(letter: char) -> f64 {
    match letter {
        'i' | 'j' | 'l' | '\'' => 0.31,
        ' ' | '\u{a0}' | '.' | ',' | ':' | ';' | '!' | '-' | '/' | '(' | ')' | '[' | ']' | '|' | '"'
        | 'f' | 't' | 'r' | 'I' | 'J' => 0.47,
        'm' | 'M' | 'W' | '%' | '@' | '→' => 1.0,
        'w' | '+' | '=' | '<' | '>' | '±' | '×' | '−' | '#' | '&' => 0.84,
        SOFT_HYPHEN => 0.0,
        'a'..='z'
        | 'ä'
        | 'ö'
        | 'ü'
        | 'ß'
        | '0'..='9'
        | 'E'
        | 'F'
        | 'L'
        | 'P'
        | 'T'
        | '°'
        | '*'
        | '?'
        | '$'
        | '_' => 0.65,
        'A'..='Z' | 'Ä' | 'Ö' | 'Ü' | 'Ø' => 0.82,
        _ => 1.0,
    }
}

/// An upper bound of a line's width, mm, at a font size in mm.
pub fn text_width(text: &str, size_mm: f64, bold: bool) -> f64 {
    let width: f64 = text.chars().map(letter_width).sum();
    width * size_mm * if bold { BOLD } else { 1.0 }
}

/// Wraps text at spaces into lines no wider than `width_mm`; a longer word is broken at its soft hyphens, and without them
/// anywhere. A no-break space keeps a number with its unit.
pub(super) fn wrapped(text: &str, size_mm: f64, bold: bool, width_mm: f64) -> Vec<String> {
    let fits = |line: &str| text_width(line, size_mm, bold) <= width_mm;
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split([' ', '\n', '\t']).filter(|word| !word.is_empty()) {
        let plain = word.replace(SOFT_HYPHEN, "");
        let joined = if line.is_empty() { plain.clone() } else { format!("{line} {plain}") };
        if fits(&joined) {
            line = joined;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        if fits(&plain) {
            line = plain;
            continue;
        }
        let mut parts = word.split(SOFT_HYPHEN).peekable();
        while let Some(part) = parts.next() {
            let hyphen = if parts.peek().is_some() { "-" } else { "" };
            if !line.is_empty() && !fits(&format!("{line}{part}{hyphen}")) {
                lines.push(format!("{}-", std::mem::take(&mut line)));
            }
            for letter in part.chars() {
                line.push(letter);
                if !fits(&line) && line.chars().count() > 1 {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, letter.to_string()));
                }
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

impl Text {
    /// The rectangle that contains the line in any font.
    pub fn extent(&self) -> BoundingBox {
        let width = text_width(&self.text, self.size_mm, self.bold);
        let left = match self.anchor {
            Anchor::Start => self.at.x,
            Anchor::Middle => self.at.x - width / 2.0,
            Anchor::End => self.at.x - width,
        };
        BoundingBox {
            min: Point::new(left, self.at.y - RISE * self.size_mm),
            max: Point::new(left + width, self.at.y + HANG * self.size_mm),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_within_their_width_and_lose_nothing() {
        let text = "open the upper throat to the rear, extraordinarilylongword and the rest";
        let lines = wrapped(text, 3.2, false, 24.0);
        assert!(lines.len() > 3);
        assert!(lines.iter().all(|line| text_width(line, 3.2, false) <= 24.0), "{lines:?}");
        let letters = |text: &str| text.chars().filter(|letter| !letter.is_whitespace()).collect::<String>();
        assert_eq!(letters(&lines.concat()), letters(text));
    }

    #[test]
    fn a_long_word_is_broken_at_its_soft_hyphens() {
        let lines = |text: &str| wrapped(text, 3.2, false, 23.0);
        assert_eq!(lines("Außen\u{ad}durch\u{ad}messer"), ["Außendurch-", "messer"]);
        assert_eq!(lines("Lenk\u{ad}winkel"), ["Lenkwinkel"]);
    }

    #[test]
    fn a_line_lies_to_the_side_its_anchor_says() {
        let text = |anchor| Text {
            at: Point::new(50.0, 10.0),
            text: "44 mm".to_owned(),
            size_mm: 4.0,
            anchor,
            role: crate::Role::Note,
            bold: false,
        };
        assert!((text(Anchor::Start).extent().min.x - 50.0).abs() < 1e-9);
        assert!((text(Anchor::End).extent().max.x - 50.0).abs() < 1e-9);
        assert!((text(Anchor::Middle).extent().centre().x - 50.0).abs() < 1e-9);
    }
}
