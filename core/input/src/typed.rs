//! Numbers as a person types them, with a decimal point or a decimal comma.

/// Reads a typed number: `112.5` and `112,5` are the same. Neither separator groups digits, so a text that
/// could mean two numbers is refused instead of guessed.
///
/// # Errors
/// What is wrong and what was expected, to follow the name of the value.
pub fn typed_number(text: &str) -> Result<f64, String> {
    let text = text.trim();
    let points = text.matches('.').count();
    let commas = text.matches(',').count();
    if points + commas > 1 {
        return Err(format!(
            "`{text}` has more than one decimal point or comma; expected a number with one of them and no separator of \
             thousands, such as 1234.5 or 1234,5"
        ));
    }
    if let Some((whole, places)) = text.split_once(',') {
        let digits = |part: &str| !part.is_empty() && part.chars().all(|c| c.is_ascii_digit());
        let whole = whole.trim_start_matches(['+', '-']);
        // "1,234" is a thousand in one country and one and a bit in another; "0,125" is no thousand anywhere.
        if digits(whole) && !whole.starts_with('0') && whole.len() <= 3 && digits(places) && places.len() == 3
        {
            return Err(format!(
                "`{text}` could be {whole}{places} or {whole}.{places}; expected one of these two spellings"
            ));
        }
    }
    let value: Option<f64> = text.replace(',', ".").parse().ok();
    match value {
        Some(value) if value.is_finite() => Ok(value),
        _ => Err(format!("`{text}` is not a number; expected digits such as 112.5 or 112,5")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_comma_is_a_decimal_point() {
        assert_eq!(typed_number("33,4"), Ok(33.4));
        assert_eq!(typed_number(" -1,5 "), Ok(-1.5));
        assert_eq!(typed_number("1210"), Ok(1210.0));
        assert_eq!(typed_number("0,125"), Ok(0.125));
        assert_eq!(typed_number("1.234"), Ok(1.234));
        assert_eq!(typed_number("1234,5"), Ok(1234.5));
    }

    #[test]
    fn what_could_be_two_numbers_is_refused() {
        for text in ["1,234.5", "1.234,5", "1,234,567", "1.2.3"] {
            let why = typed_number(text).unwrap_err();
            assert!(why.contains(text) && why.contains("1234.5 or 1234,5"), "{why}");
        }
        assert_eq!(
            typed_number("1,210").unwrap_err(),
            "`1,210` could be 1210 or 1.210; expected one of these two spellings"
        );
    }

    #[test]
    fn what_is_no_number_is_refused() {
        for text in ["", "nan", "inf", "-inf", "1e999", "12 5", "twelve", ","] {
            assert!(typed_number(text).unwrap_err().contains("not a number"), "{text}");
        }
    }
}
