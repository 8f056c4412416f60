//! Texts that a spreadsheet would interpret as a formula.

/// Whether a spreadsheet interprets a text with this first character as a formula. Programs set to Chinese, Japanese or
/// Korean accept the full-width forms too.
fn dangerous(first: char) -> bool {
    matches!(first, '=' | '+' | '-' | '@' | '＝' | '＋' | '－' | '＠' | '\t' | '\r')
}

/// Whether the text, without leading apostrophes, begins like a formula.
fn like_a_formula(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(dangerous)
}

/// Escapes a text for a cell: an apostrophe before a text that begins like a formula, and one more before a text that
/// already has some, so that [`bare`] restores every text.
pub(super) fn safe(text: &str) -> String {
    if like_a_formula(text) { format!("'{text}") } else { text.to_owned() }
}

/// Reverses [`safe`].
pub(super) fn bare(cell: &str) -> &str {
    match cell.strip_prefix('\'') {
        Some(text) if like_a_formula(text) => text,
        _ => cell,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_text_comes_back_and_none_is_a_formula() {
        for text in ["=1+1", "+1", "-1", "@x", "＝1", "'=1", "''@", "'", "''", "'tis", "a=b", "", "-", "\tx"]
        {
            let cell = safe(text);
            assert!(!cell.starts_with(dangerous), "{cell}");
            assert_eq!(bare(&cell), text);
        }
        // A cell without the apostrophe, typed by hand, is read unchanged.
        assert_eq!(bare("=1+1"), "=1+1");
        assert_eq!(safe("Hire bike 07"), "Hire bike 07");
    }
}
