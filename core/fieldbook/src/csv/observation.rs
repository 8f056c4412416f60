//! Observations as one word per field: the names and words of the bike file, read and written as it does.

use serde_json::{Map, Value};
use steerwright_fit::bike::Observed;

/// The fields of [`Observed`].
pub(super) const FIELDS: [&str; 11] = [
    "upper_seat",
    "lower_seat",
    "fork_out",
    "frame_material",
    "steerer_material",
    "hoses_through_headset",
    "steering_stop",
    "dual_crown",
    "bearings",
    "cups_changed",
    "maker_allows_pressing",
];

/// The known fields, with their words.
pub(super) fn field_words(observed: &Observed) -> Vec<(&'static str, String)> {
    let Ok(Value::Object(fields)) = serde_json::to_value(observed) else { return Vec::new() };
    let word = |value: &Value| match value {
        Value::String(word) => Some(word.clone()),
        Value::Bool(flag) => Some(flag.to_string()),
        _ => None,
    };
    FIELDS.into_iter().filter_map(|name| Some((name, word(fields.get(name)?)?))).collect()
}

/// The observation of one field's word; the error lists the accepted words.
pub(super) fn read(field: &str, word: &str) -> Result<Observed, &'static [&'static str]> {
    let flag = match word.to_ascii_lowercase().as_str() {
        "true" => Some(true),
        "false" => Some(false),
        _ => None,
    };
    let value = flag.map_or_else(|| Value::String(word.to_owned()), Value::Bool);
    let fields = Map::from_iter([(field.to_owned(), value)]);
    serde_json::from_value(Value::Object(fields)).map_err(|_| words(field))
}

/// The words of a field.
fn words(field: &str) -> &'static [&'static str] {
    match field {
        "upper_seat" | "lower_seat" => &["drop_in", "thin_lip", "external_cup", "not_seen"],
        "frame_material" | "steerer_material" => &["aluminium", "carbon", "steel", "titanium", "not_known"],
        "bearings" => &["good", "rough", "not_known"],
        _ => &["true", "false"],
    }
}

/// Merges two observations; fields of `over` take precedence.
pub(super) fn merge_observed(under: &Observed, over: &Observed) -> Observed {
    Observed {
        upper_seat: over.upper_seat.or(under.upper_seat),
        lower_seat: over.lower_seat.or(under.lower_seat),
        fork_out: over.fork_out.or(under.fork_out),
        frame_material: over.frame_material.or(under.frame_material),
        steerer_material: over.steerer_material.or(under.steerer_material),
        hoses_through_headset: over.hoses_through_headset.or(under.hoses_through_headset),
        steering_stop: over.steering_stop.or(under.steering_stop),
        dual_crown: over.dual_crown.or(under.dual_crown),
        bearings: over.bearings.or(under.bearings),
        cups_changed: over.cups_changed.or(under.cups_changed),
        maker_allows_pressing: over.maker_allows_pressing.or(under.maker_allows_pressing),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use steerwright_metrology::quantity::Quantity;

    /// Each field accepts its words and nothing else; each error lists the accepted words.
    #[test]
    fn every_field_and_every_word() {
        for field in FIELDS {
            assert!(Quantity::from_name(field).is_none(), "{field} would be a quantity as well");
            for word in words(field) {
                let observed = read(field, word).unwrap();
                assert_eq!(field_words(&observed), [(field, (*word).to_owned())]);
                assert_eq!(merge_observed(&Observed::default(), &observed), observed);
                assert_eq!(merge_observed(&observed, &Observed::default()), observed);
            }
            assert_eq!(read(field, "maybe"), Err(words(field)));
        }
        assert!(read("colour", "red").is_err());
    }
}
