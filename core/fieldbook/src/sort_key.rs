//! Sort keys of names.

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

/// Sorts bikes without owner after every owner.
pub(super) const LAST: &str = "\u{10FFFF}";

/// A text whose byte order is the order of names without regard to case and accents, with numbers by their value: "Bike
/// 9" comes before "bike 10".
pub(super) fn sort_key(name: &str) -> String {
    let folded: String =
        name.nfkd().filter(|c| !is_combining_mark(*c)).flat_map(char::to_lowercase).collect();
    let mut key = String::with_capacity(folded.len() + 2);
    let mut rest = folded.trim();
    while !rest.is_empty() {
        let digits = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
        if digits == 0 {
            let other = rest.find(|c: char| c.is_ascii_digit()).unwrap_or(rest.len());
            let (text, after) = rest.split_at(other);
            key.push_str(text);
            rest = after;
        } else {
            let (number, after) = rest.split_at(digits);
            let number = number.trim_start_matches('0');
            // The number of digits comes first, so that a longer number sorts as a larger one. A name has at most 120
            // characters; three digits are sufficient.
            key.push_str(&format!("{:03}{number}", number.len()));
            rest = after;
        }
    }
    key
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn in_the_order_people_expect() {
        let names = ["", "Bike", "bike 2", "Bike 07", "bike 10", "Bïke 10b", "bike 100", "Émile", "zebra"];
        let keys: Vec<String> = names.iter().map(|name| sort_key(name)).collect();
        assert!(keys.is_sorted_by(|a, b| a < b), "{keys:?}");
        assert_eq!(sort_key(" ÉMILE 007 "), sort_key("émile 7"));
        assert!(keys.iter().all(|key| key.as_str() < LAST));
    }
}
