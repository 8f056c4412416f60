//! Suggestions for misspelt words.

/// Minimum similarity of a suggestion, 0 to 1.
const ALIKE: f64 = 0.55;

/// The most similar of `words`, if any is similar enough, by the normalised Damerau-Levenshtein distance: a swapped
/// pair of letters counts as one error.
pub fn nearest<'w>(word: &str, words: &[&'w str]) -> Option<&'w str> {
    // No name is that long, and the cost of the distance is the product of the lengths.
    if word.len() > 64 {
        return None;
    }
    // Case and kind of separator are ignored.
    let plain = |word: &str| word.trim().to_lowercase().replace([' ', '-'], "_");
    let word = plain(word);
    words
        .iter()
        .map(|&candidate| {
            let name = plain(candidate);
            // A prefix of a name, such as one without its unit, counts as similar.
            let begins = word.len() >= 3 && name.starts_with(&word);
            let alike = strsim::normalized_damerau_levenshtein(&word, &name);
            (if begins { alike.max(ALIKE) } else { alike }, candidate)
        })
        .filter(|(alike, _)| *alike >= ALIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_slips_and_leaves_other_words_alone() {
        let words = ["head_tube_length", "head_angle", "reach"];
        assert_eq!(nearest("head_tube_lenght", &words), Some("head_tube_length"));
        assert_eq!(nearest("Head Tube Length", &words), Some("head_tube_length"));
        assert_eq!(nearest("headangle", &words), Some("head_angle"));
        assert_eq!(nearest("head", &words), Some("head_angle"));
        assert_eq!(nearest("saddle", &words), None);
        assert_eq!(nearest("", &words), None);
        assert_eq!(nearest(&"reach".repeat(100), &words), None);
    }
}
