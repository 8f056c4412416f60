//! Intact entries with invalid content: refused, with the entry's name and the reason.

use super::hostile::{Fixture, entries, sound};
use super::party::picture;
use serde_json::{Value, json};
use std::io::Cursor;
use steerwright_core::book::{Bundle, BundleProblem as P};
use steerwright_tests::parcel::{self, Item, zip};

type Entries = Vec<(String, Vec<u8>)>;

fn packed(entries: &Entries) -> Vec<u8> {
    zip(&parcel::bundle(entries))
}

/// The first entry with this name prefix and a nonempty field of this name.
fn find(entries: &Entries, start: &str, field: &str) -> usize {
    let holds = |bytes: &[u8]| {
        let value: Value = serde_json::from_slice(bytes).unwrap();
        field.is_empty() || value[field].as_array().is_some_and(|list| !list.is_empty())
    };
    entries.iter().position(|(name, bytes)| name.starts_with(start) && holds(bytes)).unwrap()
}

/// The bundle with one entry's JSON changed, its hash and length updated; and the entry's name.
fn changed(start: &str, field: &str, change: impl Fn(&mut Value)) -> (Vec<u8>, String) {
    let mut entries = entries();
    let place = find(&entries, start, field);
    let (name, bytes) = &mut entries[place];
    let name = name.clone();
    let mut value: Value = serde_json::from_slice(bytes).unwrap();
    let before = value.clone();
    change(&mut value);
    assert_ne!(value, before);
    *bytes = value.to_string().into_bytes();
    (packed(&entries), name)
}

#[test]
fn hashes_and_the_list() {
    let mut fixture = Fixture::new();
    let sound_items = || parcel::bundle(&entries());
    let listing = |change: &dyn Fn(&mut Value)| {
        let mut items = sound_items();
        let mut manifest: Value = serde_json::from_slice(&items[0].bytes).unwrap();
        change(&mut manifest);
        items[0] = Item::stored("manifest.json", manifest.to_string().as_bytes());
        zip(&items)
    };
    // An entry with a changed byte and correct checksum; a hash with a changed digit.
    for place in 1..sound_items().len() {
        let mut items = sound_items();
        let name = String::from_utf8(items[place].name.clone()).unwrap();
        let mut bytes = items[place].bytes.clone();
        *bytes.last_mut().unwrap() ^= 1;
        items[place] = Item::stored(&name, &bytes);
        assert_eq!(fixture.refused(&zip(&items)), P::WrongHash { name: name.clone() });
        let digit = listing(&|manifest| {
            let hash = manifest["entries"][place - 1]["sha256"].as_str().unwrap().to_owned();
            let other = if hash.starts_with('0') { "1" } else { "0" };
            manifest["entries"][place - 1]["sha256"] = format!("{other}{}", &hash[1..]).into();
        });
        assert_eq!(fixture.refused(&digit), P::WrongHash { name: name.clone() });
        let length = listing(&|manifest| manifest["entries"][place - 1]["bytes"] = 1.into());
        assert_eq!(fixture.refused(&length), P::WrongSize { name: name.clone(), declared: 1 });
        // Not listed; listed but missing; listed twice.
        let unlisted = listing(&|manifest| {
            manifest["entries"].as_array_mut().unwrap().remove(place - 1);
        });
        assert_eq!(fixture.refused(&unlisted), P::Unlisted { name: name.clone() });
        let mut items = sound_items();
        items.remove(place);
        assert_eq!(fixture.refused(&zip(&items)), P::Missing { name: name.clone() });
        let twice = listing(&|manifest| {
            let row = manifest["entries"][place - 1].clone();
            manifest["entries"].as_array_mut().unwrap().push(row);
        });
        assert_eq!(fixture.refused(&twice), P::Duplicate { name });
    }
    // A photo's file under the hash of another.
    let mut entries = entries();
    let place = entries.iter().position(|(name, _)| name.starts_with("photos/")).unwrap();
    entries[place].1 = picture("another");
    assert_eq!(fixture.refused(&packed(&entries)), P::WrongHash { name: entries[place].0.clone() });

    // The manifest itself.
    assert_eq!(fixture.refused(&zip(&sound_items()[1..])), P::Missing { name: "manifest.json".into() });
    let later = listing(&|manifest| manifest["schema"] = "steerwright.bundle/2".into());
    assert_eq!(fixture.refused(&later), P::OtherFormat { found: "steerwright.bundle/2".into() });
    let bike = listing(&|manifest| manifest["schema"] = "steerwright.bike/1".into());
    assert_eq!(fixture.refused(&bike), P::OtherFormat { found: "steerwright.bike/1".into() });
    let lists_itself = listing(&|manifest| {
        let row = json!({"name": "manifest.json", "bytes": 1, "sha256": "0".repeat(64)});
        manifest["entries"].as_array_mut().unwrap().push(row);
    });
    assert_eq!(fixture.refused(&lists_itself), P::Missing { name: "manifest.json".into() });
    let texts = [
        ("[]", "it is no object"),
        ("{", "EOF"),
        ("{}", "missing field `schema`"),
        ("\u{feff}{}", "it is no object"),
        (
            r#"{"schema": "steerwright.bundle/1", "made_at": "", "made_by": "", "entries": [], "more": 1}"#,
            "unknown field",
        ),
        (
            r#"{"schema": "steerwright.bundle/1", "made_at": "", "made_by": "", "entries": [], "entries": []}"#,
            "duplicate",
        ),
        (
            r#"{"schema": "steerwright.bundle/1", "made_at": "", "made_by": "", "entries": [{"name": "x"}]}"#,
            "missing field",
        ),
        (r#"{"schema": "steerwright.bundle/1", "made_at": 5, "made_by": "", "entries": []}"#, "invalid type"),
        (
            r#"{"schema": "steerwright.bundle/1", "made_at": "", "made_by": "", "entries": [{"name": "x", "bytes": -1, "sha256": ""}]}"#,
            "invalid value",
        ),
        (r#"{"schema": 1, "made_at": "", "made_by": "", "entries": []}"#, ""),
    ];
    for (text, why) in texts {
        let mut items = sound_items();
        items[0] = Item::stored("manifest.json", text.as_bytes());
        match fixture.refused(&zip(&items)) {
            P::Content { name, why: told } if name == "manifest.json" => {
                assert!(told.contains(why), "{text}: {told}");
            }
            other => panic!("{text}: {other:?}"),
        }
    }
}

/// Each changes one field of one entry; the reason names the problem.
#[test]
fn fields_that_make_no_sense() {
    let mut fixture = Fixture::new();
    let other = "018f3b6e-8f00-7000-8000-000000000001";
    let fourth = "018f3b6e-8f00-4000-8000-000000000001";
    type Change = Box<dyn Fn(&mut Value)>;
    let set = |path: &'static str, value: Value| -> Change {
        Box::new(move |it: &mut Value| match it.pointer_mut(path) {
            Some(place) => *place = value.clone(),
            None => {
                let (parent, field) = path.rsplit_once('/').unwrap();
                it.pointer_mut(parent).unwrap()[field] = value.clone();
            }
        })
    };
    let again = |path: &'static str| -> Change {
        Box::new(move |it: &mut Value| {
            let list = it.pointer_mut(path).unwrap().as_array_mut().unwrap();
            list.push(list[0].clone());
        })
    };
    let cases: Vec<(&str, &str, Change, &str)> = vec![
        ("bikes/", "log", set("/schema", 1.into()), "unknown field `schema`"),
        ("bikes/", "log", set("/a\u{1b}[2Jb", 1.into()), "unknown field `a\\u{1b}[2Jb`"),
        ("bikes/", "log", set("/bike/schema", "steerwright.bike/2".into()), "unknown variant"),
        ("bikes/", "log", set("/bike/colour", "red".into()), "unknown field `colour`"),
        ("bikes/", "log", set("/id", other.into()), "its name is another"),
        ("bikes/", "log", set("/id", "seven".into()), "UUID"),
        ("bikes/", "log", set("/bike/name", "".into()), "name"),
        ("bikes/", "log", set("/bike/name", "a\u{7}b".into()), "name"),
        ("bikes/", "log", set("/bike/name", "x".repeat(121).into()), "name"),
        ("bikes/", "log", set("/bike/owner", "".into()), "owner"),
        ("bikes/", "log", set("/bike/observed", json!({"bearings": "mint"})), "unknown variant"),
        ("bikes/", "log", set("/notes", "a\u{1b}b".into()), "the notes has a control character"),
        ("bikes/", "log", set("/notes", "x".repeat(20_001).into()), "the most is 20000"),
        ("bikes/", "log", set("/tags", json!([""])), "a tag is empty"),
        ("bikes/", "log", set("/tags", json!(["hire", "Hire"])), "a tag is there twice"),
        ("bikes/", "log", set("/tags", (0..51).map(|n| json!(n.to_string())).collect()), "at most 50 tags"),
        ("bikes/", "log", set("/created_at", "yesterday".into()), "no date and time"),
        ("bikes/", "log", set("/created_at", 5.into()), "invalid type"),
        ("bikes/", "log", set("/archived_at", "2026-13-01T00:00:00Z".into()), "no date and time"),
        (
            "bikes/",
            "log",
            set("/bike/measured", json!([{"what": "reach", "value": 450, "unit": "mm", "with": "tape"}])),
            "`measured` is not empty",
        ),
        ("bikes/", "log", set("/log/0/measurement/value", (-1).into()), "value"),
        ("bikes/", "log", set("/log/0/measurement/value", "120".into()), "invalid type"),
        ("bikes/", "log", set("/log/0/measurement/unit", "deg".into()), "unit"),
        ("bikes/", "log", set("/log/0/measurement/with", "phone_level".into()), "with"),
        ("bikes/", "log", set("/log/0/measurement/what", "weight".into()), "unknown variant"),
        ("bikes/", "log", set("/log/0/id", fourth.into()), "no UUID of version 7"),
        (
            "bikes/",
            "log",
            set("/log/0/id", "00000000-0000-0000-0000-000000000000".into()),
            "no UUID of version 7",
        ),
        ("bikes/", "log", set("/log/0/who", "".into()), "who did it is empty"),
        ("bikes/", "log", set("/log/0/since", other.into()), "belongs to a check that is not there"),
        ("bikes/", "log", set("/log/0/photo", other.into()), "names the photo"),
        ("bikes/", "log", set("/log/0/place", 0.into()), "unknown field `place`"),
        (
            "bikes/",
            "log",
            set("/log/0/struck", json!({"at": "2026-05-01T08:00:00Z", "who": null, "why": ""})),
            "the reason is empty",
        ),
        ("bikes/", "log", again("/log"), "is there twice"),
        ("bikes/", "checks", again("/checks"), "is there twice"),
        ("bikes/", "photos", again("/photos"), "is there twice"),
        ("bikes/", "photos", set("/photos/0/bike", other.into()), "is another bike's"),
        ("bikes/", "photos", set("/photos/0/bike", Value::Null), "is another bike's"),
        ("bikes/", "photos", set("/photos/0/original_kept", true.into()), "bundles have none"),
        ("bikes/", "photos", set("/photos/0/kind", "gif".into()), "of no kind that is known"),
        ("bikes/", "photos", set("/photos/0/width", 0.into()), "a size that makes no sense"),
        ("bikes/", "photos", set("/photos/0/height", 0.into()), "a size that makes no sense"),
        ("bikes/", "photos", set("/photos/0/bytes", u64::MAX.into()), "a size that makes no sense"),
        ("bikes/", "photos", set("/photos/0/focal_length_mm", (-4.0).into()), "a focal length"),
        ("bikes/", "photos", set("/photos/0/focal_length_35mm", 1e9.into()), "a focal length"),
        ("bikes/", "photos", set("/photos/0/sha256", "00".into()), "64 digits"),
        ("bikes/", "photos", set("/photos/0/note", "x".repeat(501).into()), "the most is 500"),
        ("bikes/", "photos", set("/photos/0/camera", "a\nb".into()), "control character"),
        ("bikes/", "photos", set("/photos/0/id", fourth.into()), "no UUID of version 7"),
        (
            "bikes/",
            "photos",
            set("/photos/0/working", "0".repeat(64).into()),
            "no photo of the bundle has this file",
        ),
        ("photos.json", "", set("/0/bike", other.into()), "is another bike's"),
        ("photos.json", "", set("/0/place", "57.1,-4.7".into()), "unknown field `place`"),
        ("checks/", "", set("/id", other.into()), "its name is another"),
        ("checks/", "", set("/number", (-1).into()), "invalid value"),
        ("checks/", "", set("/predicted", json!({"value": 66.0, "u": -0.1})), "an uncertainty is negative"),
        ("checks/", "", set("/sku", Value::Null), "no kit was chosen"),
        ("checks/", "", set("/bike_json", "{".into()), "the frozen bike is no JSON"),
        ("checks/", "", set("/report_json", "{} {}".into()), "the report is no JSON"),
        ("checks/", "", set("/comparison", Value::Null), "unknown field `comparison`"),
        ("checks/", "", set("/note", "a\u{0}b".into()), "control character"),
        (
            "checks/",
            "",
            Box::new(|it| {
                it["fitted_at"] = Value::Null;
                it["removed_at"] = "2026-05-01T08:00:00Z".into();
            }),
            "never went in",
        ),
    ];
    for (start, field, change, expected) in cases {
        let (bytes, entry) = changed(start, field, change);
        match fixture.refused(&bytes) {
            P::Content { name, why } => {
                assert!(why.contains(expected), "{expected}: {why}");
                assert!(name == entry || expected.starts_with("no photo"), "{expected}: {name}");
            }
            other => panic!("{expected}: {other:?}"),
        }
    }
    // A log longer than a bike file may be.
    let (bytes, _) = changed("bikes/", "log", |it| {
        let row = it["log"][0].clone();
        it["log"] = vec![row; 2_001].into();
    });
    assert!(matches!(fixture.refused(&bytes), P::Content { why, .. } if why.contains("the most is 2000")));
}

/// Between entries: a row in two bikes, a check of no bike, a missing check, a file of no photo or that is not a
/// picture.
#[test]
fn entries_that_do_not_fit_together() {
    let mut fixture = Fixture::new();
    let both: Vec<usize> = entries()
        .iter()
        .enumerate()
        .filter(|(_, (name, _))| name.starts_with("bikes/"))
        .map(|(n, _)| n)
        .collect();
    let [one, two] = both[..] else { panic!("two bikes") };
    let json_of =
        |entries: &Entries, place: usize| -> Value { serde_json::from_slice(&entries[place].1).unwrap() };
    // The log's first row without its check, in the other bike's log too.
    let mut twice = entries();
    let mut row = json_of(&twice, one)["log"][0].clone();
    (row["since"], row["photo"]) = (Value::Null, Value::Null);
    let mut bike = json_of(&twice, two);
    bike["log"].as_array_mut().unwrap().push(row);
    twice[two].1 = bike.to_string().into_bytes();
    assert!(
        matches!(fixture.refused(&packed(&twice)), P::Content { why, .. } if why.contains("is there twice"))
    );

    // A check that no bike has; and the converse.
    let (bytes, _) = changed("bikes/", "checks", |it| {
        it["checks"] = json!([]);
        it["log"] = json!([]);
    });
    let problem = fixture.refused(&bytes);
    assert!(
        matches!(&problem, P::Content { why, .. } if why == "no bike of the bundle has this check"),
        "{problem:?}"
    );
    let mut without = entries();
    let place = find(&without, "checks/", "");
    let (name, _) = without.remove(place);
    assert_eq!(fixture.refused(&packed(&without)), P::Missing { name });

    // A photo in two places; a picture of no photo; a photo that is not a picture.
    let (bytes, _) = {
        let mut entries = entries();
        let photos = find(&entries, "bikes/", "photos");
        let mut loose = json_of(&entries, find(&entries, "photos.json", ""));
        let mut photo = json_of(&entries, photos)["photos"][0].clone();
        photo["bike"] = Value::Null;
        loose.as_array_mut().unwrap().push(photo);
        let place = find(&entries, "photos.json", "");
        entries[place].1 = loose.to_string().into_bytes();
        (packed(&entries), ())
    };
    assert!(matches!(fixture.refused(&bytes), P::Content { why, .. } if why.contains("is there twice")));
    for (bytes, expected) in [
        (picture("stray"), "no photo of the bundle has this file"),
        (b"#!/bin/sh".to_vec(), "it is no picture"),
    ] {
        let mut more = entries();
        let manifest: Value =
            serde_json::from_str(&parcel::manifest(&[(String::new(), bytes.clone())])).unwrap();
        let name = format!("photos/{}", manifest["entries"][0]["sha256"].as_str().unwrap());
        more.push((name.clone(), bytes));
        match fixture.refused(&packed(&more)) {
            P::Content { name: told, why } => assert_eq!((told, why.as_str()), (name, expected)),
            other => panic!("{other:?}"),
        }
    }
    // An id of version 4, everything else valid.
    let fourth = "018f3b6e-8f00-4000-8000-000000000001";
    let mut entries = entries();
    let old = entries[two].0["bikes/".len()..].trim_end_matches(".json").to_owned();
    entries[two].0 = format!("bikes/{fourth}.json");
    let text = String::from_utf8(entries[two].1.clone()).unwrap().replace(&old, fourth);
    entries[two].1 = text.into_bytes();
    assert!(
        matches!(fixture.refused(&packed(&entries)), P::Content { why, .. } if why.contains("version 7"))
    );
}

/// Deep and long JSON is refused without a crash.
#[test]
fn json_without_an_end() {
    let mut fixture = Fixture::new();
    let mut entries = entries();
    let place = find(&entries, "bikes/", "log");
    for text in ["[".repeat(1 << 20), "{\"a\":".repeat(1 << 18), format!("\"{}\"", "x".repeat(1 << 20))] {
        entries[place].1 = text.into_bytes();
        assert!(matches!(fixture.refused(&packed(&entries)), P::Content { .. }));
    }
    assert!(Bundle::check(Cursor::new(sound())).is_ok());
}
