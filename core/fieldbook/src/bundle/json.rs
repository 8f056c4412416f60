//! Reading JSON of unknown origin within limits.

use super::BundleProblem;
use serde::Deserializer as _;
use serde::de::{DeserializeOwned, DeserializeSeed, Error, IgnoredAny, MapAccess, SeqAccess, Visitor};
use std::fmt;
use steerwright_input::{first_hidden_in_lines, hidden_words};

/// Reads an entry's JSON straight into its type, without a tree in between: unknown fields are refused before their values
/// are read, and nesting ends with the type.
pub(super) fn parse<T: DeserializeOwned>(name: &str, bytes: &[u8]) -> Result<T, BundleProblem> {
    // A list of the fields' values would deserialize as well.
    let begins = bytes.iter().find(|byte| !byte.is_ascii_whitespace());
    if begins != Some(&b'{') {
        return Err(BundleProblem::content(name, "it is no object"));
    }
    parse_any(name, bytes)
}

/// [`parse`] for an entry that is a list.
pub(super) fn parse_any<T: DeserializeOwned>(name: &str, bytes: &[u8]) -> Result<T, BundleProblem> {
    serde_json::from_slice(bytes).map_err(|error| BundleProblem::content(name, error))
}

/// Counts the values of a JSON text without keeping any; refuses more than `most`.
pub(super) fn count(name: &str, bytes: &[u8], most: usize) -> Result<(), BundleProblem> {
    let mut left = most;
    let mut json = serde_json::Deserializer::from_slice(bytes);
    let walked = Walk { left: &mut left, texts: false }.deserialize(&mut json).and_then(|()| json.end());
    match walked {
        Err(_) if left == 0 => Err(BundleProblem::content(name, format!("it has more than {most} values"))),
        walked => walked.map_err(|error| BundleProblem::content(name, error)),
    }
}

/// Why a text is not JSON whose texts can be shown; `None` if it is.
pub(super) fn fault(text: &str) -> Option<String> {
    let mut left = usize::MAX;
    let mut json = serde_json::Deserializer::from_str(text);
    let walked = Walk { left: &mut left, texts: true }.deserialize(&mut json).and_then(|()| json.end());
    walked.err().map(|error| if error.is_data() { error.to_string() } else { "is no JSON".to_owned() })
}

/// Walks through JSON and keeps nothing.
struct Walk<'w> {
    /// Values that may still come.
    left: &'w mut usize,
    /// Whether hidden characters in texts are refused.
    texts: bool,
}

impl Walk<'_> {
    fn inner(&mut self) -> Walk<'_> {
        Walk { left: self.left, texts: self.texts }
    }

    fn text<E: Error>(&self, text: &str) -> Result<(), E> {
        let hidden = if self.texts { first_hidden_in_lines(text) } else { None };
        hidden.map_or(Ok(()), |hidden| Err(E::custom(format!("has {} in it", hidden_words(hidden)))))
    }
}

impl<'de> DeserializeSeed<'de> for Walk<'_> {
    type Value = ();

    fn deserialize<D: serde::Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        *self.left = self.left.checked_sub(1).ok_or_else(|| D::Error::custom("too many values"))?;
        if *self.left == 0 {
            return Err(D::Error::custom("too many values"));
        }
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Walk<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<(), E> {
        Ok(())
    }

    fn visit_bool<E>(self, _: bool) -> Result<(), E> {
        Ok(())
    }

    fn visit_u64<E>(self, _: u64) -> Result<(), E> {
        Ok(())
    }

    fn visit_i64<E>(self, _: i64) -> Result<(), E> {
        Ok(())
    }

    fn visit_f64<E>(self, _: f64) -> Result<(), E> {
        Ok(())
    }

    fn visit_str<E: Error>(self, text: &str) -> Result<(), E> {
        self.text(text)
    }

    fn visit_seq<A: SeqAccess<'de>>(mut self, mut list: A) -> Result<(), A::Error> {
        while list.next_element_seed(self.inner())?.is_some() {}
        Ok(())
    }

    fn visit_map<A: MapAccess<'de>>(mut self, mut map: A) -> Result<(), A::Error> {
        while map.next_key_seed(Name(self.texts))?.is_some() {
            map.next_value_seed(self.inner())?;
        }
        Ok(())
    }
}

/// A field's name.
struct Name(bool);

impl<'de> DeserializeSeed<'de> for Name {
    type Value = ();

    fn deserialize<D: serde::Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_str(Walk { left: &mut 1, texts: self.0 })
    }
}

/// The format that a manifest names, if it names one; its other fields are passed over.
pub(super) fn schema(bytes: &[u8]) -> Option<String> {
    struct Schema<'f>(&'f mut Option<String>);
    impl<'de> Visitor<'de> for Schema<'_> {
        type Value = ();

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("an object")
        }

        fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
            while let Some(name) = map.next_key::<String>()? {
                if name == "schema" {
                    *self.0 = Some(map.next_value()?);
                    return Ok(());
                }
                map.next_value::<IgnoredAny>()?;
            }
            Ok(())
        }
    }
    let mut found = None;
    // What follows the field is read by the manifest's own type, which tells what is wrong with it.
    let _ = serde_json::Deserializer::from_slice(bytes).deserialize_map(Schema(&mut found));
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_counted_and_none_is_kept() {
        assert!(count("e", b"[1, {\"a\": null}, \"x\"]", 6).is_ok());
        let told = |text: &str, most| count("e", text.as_bytes(), most).unwrap_err().to_string();
        assert!(told("[1, 2, 3]", 3).contains("more than 3 values"));
        assert!(told("[1, 2", 100).contains("EOF"));
        assert!(told("[1] 2", 100).contains("trailing"));
        assert!(told(&"[".repeat(100_000), 1_000).contains("recursion limit"));
    }

    #[test]
    fn texts_in_a_report_are_looked_at() {
        assert_eq!(fault(r#"{"a": ["one\ntwo", 1.5]}"#), None);
        assert_eq!(fault("{"), Some("is no JSON".to_owned()));
        assert!(fault(r#"{"a": "x\u202e"}"#).unwrap().contains("an invisible character (U+202E)"));
        assert!(fault(r#"{"\u001b[2J": 1}"#).unwrap().contains("a control character"));
    }

    #[test]
    fn the_format_is_found_wherever_it_stands() {
        assert_eq!(schema(br#"{"entries": [1, 2], "schema": "x/9", "#), Some("x/9".to_owned()));
        for none in [&b"[]"[..], b"{}", b"{\"schema\": 1}", b"0,0,0", b""] {
            assert_eq!(schema(none), None);
        }
    }
}
