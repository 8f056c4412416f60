//! Round trips, and two books that converge.

use super::party::{Act, Party, acts, picture, rich, unpack};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Cursor;
use steerwright_core::book::{BookError, Bundle, BundleAcceptance, BundleScope, Manifest, Op};
use steerwright_tests::dump;

fn measurements(known: &BTreeSet<String>) -> usize {
    known.iter().filter(|row| row.starts_with("[Text(\"row\")")).count()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Any book, exported as a bundle and imported into an empty book: all content is transferred. Imported again on
    /// either side, nothing changes; undone, the other book is empty again.
    #[test]
    fn any_book_there_and_back(acts in acts(40)) {
        let (mut one, mut other) = (Party::with(1, &acts), Party::new(2));
        let empty = dump(&other.temp_book.path());
        let path = one.bundle(BundleScope::Book);
        let merged = other.read(&path).unwrap().output;
        let known = one.known();
        prop_assert!(other.known() == known);
        prop_assert_eq!(merged.measurements_added, measurements(&known));
        prop_assert_eq!((merged.bikes_added, merged.bikes_known), (one.bikes().len(), 0));
        for party in [&mut one, &mut other] {
            let before = (dump(&party.temp_book.path()), party.files());
            let again = party.read(&path).unwrap();
            prop_assert!(again.changes.is_empty());
            prop_assert_eq!(again.output.measurements_known, measurements(&known));
            prop_assert_eq!((dump(&party.temp_book.path()), party.files()), before);
        }
        if !known.is_empty() {
            other.book.undo().unwrap().unwrap();
            prop_assert_eq!(dump(&other.temp_book.path()), empty);
            other.book.redo().unwrap().unwrap();
            prop_assert!(other.known_but_touches() == one.known_but_touches());
        }
    }

    /// Two books that share a beginning and then diverge: in either direction of merging, and by way of a third, they
    /// converge to the same content, without duplicate measurements.
    #[test]
    fn whichever_is_merged_into_which(start in acts(20), ours in acts(20), theirs in acts(20)) {
        let (mut one, mut other) = (Party::with(1, &start), Party::new(2));
        let path = one.bundle(BundleScope::Book);
        other.read(&path).unwrap();
        ours.iter().for_each(|act| one.act(act));
        theirs.iter().for_each(|act| other.act(act));
        let both: BTreeSet<_> = one.log().into_iter().chain(other.log()).collect();
        let (mine, yours) = (one.bundle(BundleScope::Book), other.bundle(BundleScope::Book));

        one.read(&yours).unwrap();
        other.read(&mine).unwrap();
        let known = one.known();
        prop_assert!(other.known() == known);
        prop_assert_eq!(measurements(&known), both.len());
        prop_assert_eq!(one.log().into_iter().collect::<BTreeSet<_>>(), both);
        for order in [[&mine, &yours], [&yours, &mine]] {
            let mut third = Party::new(3);
            for path in order {
                third.read(path).unwrap();
            }
            prop_assert!(third.known() == known);
        }
        // Merging again changes nothing.
        let again = one.bundle(BundleScope::Book);
        prop_assert!(other.read(&again).unwrap().changes.is_empty());
        prop_assert!(other.known() == known);
    }
}

/// Struck out, restored, archived, kits fitted and removed: the changes of both sides are present afterwards.
#[test]
fn what_either_side_did_is_there() {
    let mut one = rich();
    let mut other = Party::new(2);
    other.read(&one.bundle(BundleScope::Book)).unwrap();
    let [first, second, ..] = one.bikes()[..] else { panic!("two bikes") };
    let log = |party: &Party| party.book.read().bike_screen(first).unwrap().log;
    let [a, b, ..] =
        &log(&one).iter().filter(|row| row.struck.is_none()).map(|row| row.id).collect::<Vec<_>>()[..]
    else {
        panic!("two rows")
    };
    let (a, b) = (*a, *b);
    one.book.transact(Op::StrikeOut, |work| work.strike_out(a, Some("Wren"), "ours")).unwrap();
    other.book.transact(Op::StrikeOut, |work| work.strike_out(a, Some("Ash"), "theirs, later")).unwrap();
    other.book.transact(Op::StrikeOut, |work| work.strike_out(b, Some("Ash"), "theirs")).unwrap();
    other.wait(20);
    let was = other.book.read().bike_screen(second).unwrap().record.archived_at.is_some();
    assert!(was || one.book.read().bike_screen(first).unwrap().record.archived_at.is_some());
    let archived = if was { second } else { first };
    other.book.transact(Op::RestoreBike, |work| work.restore_bike(archived)).unwrap();
    let check = one.book.read().bike_screen(first).unwrap().checks[0].clone();
    assert!(check.is_fitted());
    other.book.transact(Op::RemoveKit, |work| work.remove_kit(check.id)).unwrap();

    let (mine, yours) = (one.bundle(BundleScope::Book), other.bundle(BundleScope::Book));
    one.read(&yours).unwrap();
    other.read(&mine).unwrap();
    assert_eq!(one.known(), other.known());
    let rows: BTreeMap<_, _> = log(&one).into_iter().map(|row| (row.id, row)).collect();
    let why = |id| rows[&id].struck.as_ref().map(|struck| (struck.why.as_str(), struck.who.as_deref()));
    assert_eq!(why(b), Some(("theirs", Some("Ash"))));
    // Of two reasons the later one stays.
    let at = |party: &Party| log(party).iter().find(|row| row.id == a).unwrap().struck.as_ref().unwrap().at;
    assert_eq!(at(&one), at(&other));
    assert!(matches!(why(a), Some(("ours" | "theirs, later", _))));
    assert_eq!(one.book.read().bike_screen(archived).unwrap().record.archived_at, None);
    let after = one.book.read().bike_screen(first).unwrap().checks[0].clone();
    assert!(after.removed_at.is_some() && !after.is_fitted());
    assert_eq!((after.bike_json, after.report_json), (check.bike_json, check.report_json));
}

/// Each side fitted its own kit: afterwards one is fitted, and the earlier one was removed when it was fitted.
#[test]
fn one_kit_at_a_time() {
    let mut one = Party::with(1, &[Act::Add("one".into(), 1), Act::Keep(0), Act::Keep(0)]);
    let mut other = Party::new(2);
    other.read(&one.bundle(BundleScope::Book)).unwrap();
    let bike = one.bikes()[0];
    let checks = one.book.read().bike_screen(bike).unwrap().checks;
    one.book.transact(Op::FitKit, |work| work.fit_kit(checks[0].id, None)).unwrap();
    other.wait(20);
    other.book.transact(Op::FitKit, |work| work.fit_kit(checks[1].id, None)).unwrap();
    let (mine, yours) = (one.bundle(BundleScope::Book), other.bundle(BundleScope::Book));
    one.read(&yours).unwrap();
    other.read(&mine).unwrap();
    assert_eq!(one.known(), other.known());
    let after = one.book.read().bike_screen(bike).unwrap().checks;
    assert_eq!(after.iter().map(|check| check.id).collect::<Vec<_>>(), [checks[0].id, checks[1].id]);
    assert_eq!(after.iter().filter(|check| check.is_fitted()).count(), 1);
    assert!(after[1].is_fitted());
    assert_eq!(after[0].removed_at, after[1].fitted_at);
}

/// One bike alone: its log, its checks, its photos and the loose ones its log refers to, and nothing of the others.
#[test]
fn one_bike_alone() {
    let mut party = rich();
    let [one, two] = party.bikes()[..] else { panic!("two bikes") };
    let one = if party.book.read().bike_screen(one).unwrap().checks.is_empty() { two } else { one };
    let stray = party.photo(None);
    let path = party.bundle(BundleScope::Bike(one));
    let written = party.book.write_bundle(BundleScope::Bike(one), &path).unwrap();
    assert_eq!((written.bikes, written.checks, written.photos, written.missing.len()), (1, 1, 2, 0));
    assert_eq!(written.bytes, fs::metadata(&path).unwrap().len());
    let mut other = Party::new(2);
    other.read(&path).unwrap();
    assert_eq!(other.bikes(), [one]);
    assert!(!other.photos().contains(&stray));
    let show = |party: &Party| {
        let screen = party.book.read().bike_screen(one).unwrap();
        (screen.record, screen.log, screen.checks)
    };
    assert_eq!(show(&other), show(&party));
    // The bundle of a bike into the book that has it, and the book's bundle into the one with the bike alone.
    assert!(party.read(&path).unwrap().changes.is_empty());
    let all = party.bundle(BundleScope::Book);
    other.read(&all).unwrap();
    assert_eq!(other.known(), party.known());
}

/// Original files are not exported, since they may contain the location; copies and thumbnails are exported once each.
#[test]
fn originals_stay_at_home() {
    let mut party = rich();
    let path = party.bundle(BundleScope::Book);
    let bytes = fs::read(&path).unwrap();
    let entries = unpack(&bytes);
    let photos: BTreeMap<_, _> =
        entries.iter().filter_map(|(name, bytes)| Some((name.strip_prefix("photos/")?, bytes))).collect();
    assert_eq!(photos.len(), 4, "a copy and a thumbnail of each");
    for id in party.photos() {
        let carried = |which: &str| photos.values().any(|bytes| **bytes == picture(&format!("{which} {id}")));
        assert!(!carried("original") && carried("working") && carried("thumbnail"));
    }
    let kept: Vec<&str> = ["original_kept\": true", "original "].into();
    assert!(entries.iter().all(|(_, bytes)| {
        let text = String::from_utf8_lossy(bytes);
        kept.iter().all(|word| !text.contains(word))
    }));
    // Importing a bundle does not lose them where they are stored.
    let conn = rusqlite::Connection::open(party.temp_book.path()).unwrap();
    party.read(&path).unwrap();
    let left: i64 =
        conn.query_row("SELECT count(*) FROM photos WHERE original_kept = 1", [], |row| row.get(0)).unwrap();
    assert_eq!(left, 2);
}

/// A missing photo file is reported and skipped, and is restored by a bundle that has it.
#[test]
fn a_missing_file_is_told_and_can_come_back() {
    let mut party = rich();
    let whole = fs::read(party.bundle(BundleScope::Book)).unwrap();
    let photo = party.photos()[0];
    let files = party.files();
    let lost = |which: &str| {
        let bytes = picture(&format!("{which} {photo}"));
        files.iter().find(|(_, found)| **found == bytes).map(|(name, _)| name.clone()).unwrap()
    };
    fs::remove_file(party.folder().join(lost("working"))).unwrap();
    fs::write(party.folder().join(lost("thumbnail")), b"\xFF\xD8\xFF spoilt").unwrap();
    let path = party.temp_book.folder().join("without.zip");
    let written = party.book.write_bundle(BundleScope::Book, &path).unwrap();
    assert_eq!((written.photos, written.missing.as_slice()), (2, &[photo][..]));
    let mut other = Party::new(2);
    other.read(&path).unwrap();
    assert_eq!(other.known(), party.known());

    for party in [&mut party, &mut other] {
        let before = dump(&party.temp_book.path());
        let bundle = Bundle::check(Cursor::new(&whole)).unwrap();
        assert!(party.book.merge(bundle, BundleAcceptance::ALL).unwrap().changes.is_empty());
        assert_eq!(dump(&party.temp_book.path()), before);
        for which in ["working", "thumbnail"] {
            assert_eq!(party.files()[&lost(which)], picture(&format!("{which} {photo}")));
        }
    }
}

/// Different data under the same id is a conflict: nothing is written, and no file is left.
#[test]
fn another_row_of_the_same_name_is_a_conflict() {
    let mut party = rich();
    let entries = unpack(&fs::read(party.bundle(BundleScope::Book)).unwrap());
    let changes: [(&str, &str, &str, &str); 4] = [
        ("measurement", "bikes/", "\"value\": 120.0,", "\"value\": 121.0,"),
        (
            "measurement",
            "bikes/",
            "\"who\": \"Wren\",\n      \"recorded_at\"",
            "\"who\": \"Ash\",\n      \"recorded_at\"",
        ),
        ("check", "checks/", "\"note\": \"before", "\"note\": \"after"),
        ("photo", "photos.json", "\"camera\": \"Pocket 3\"", "\"camera\": \"Pocket 4\""),
    ];
    for (what, entry, from, to) in changes {
        let mut entries = entries.clone();
        let mut changed = 0;
        for (_, bytes) in entries.iter_mut().filter(|(name, _)| name.starts_with(entry)) {
            let text = String::from_utf8(bytes.clone()).unwrap();
            changed += text.matches(from).count();
            *bytes = text.replace(from, to).into_bytes();
        }
        assert!(changed > 0, "{from}");
        let path = party.temp_book.folder().join("conflict.zip");
        fs::write(&path, steerwright_tests::parcel::zip(&steerwright_tests::parcel::bundle(&entries)))
            .unwrap();
        // A file that only the bundle has would be new.
        let (name, bytes) = party
            .files()
            .into_iter()
            .find(|(name, _)| entries.iter().any(|(entry, _)| entry.strip_prefix("photos/") == Some(name)))
            .unwrap();
        fs::remove_file(party.folder().join(&name)).unwrap();
        let before = (dump(&party.temp_book.path()), party.files());
        match party.read(&path) {
            Err(BookError::Bundle(problem)) => {
                assert!(problem.to_string().starts_with(&format!("the {what} ")), "{problem}");
                assert!(
                    problem.to_string().ends_with("is in this book already with other data"),
                    "{problem}"
                );
            }
            other => panic!("{from}: {other:?}"),
        }
        assert_eq!((dump(&party.temp_book.path()), party.files()), before, "{from}");
        fs::write(party.folder().join(&name), bytes).unwrap();
    }
}

/// Paths that are not files, do not exist, or are the book itself.
#[test]
fn paths_that_are_none() {
    let mut party = rich();
    let before = dump(&party.temp_book.path());
    let folder = party.temp_book.folder().to_owned();
    assert!(matches!(party.read(&folder), Err(BookError::Bundle(_))));
    assert!(party.read(&folder.join("none.zip")).is_err());
    let book = party.temp_book.path();
    for suffix in ["", "-wal", "-shm"] {
        let mut path = book.clone().into_os_string();
        path.push(suffix);
        let refused = party.book.write_bundle(BundleScope::Book, path.as_ref());
        assert!(matches!(refused, Err(BookError::Refused(_))), "{suffix:?}: {refused:?}");
    }
    assert!(party.book.write_bundle(BundleScope::Book, &folder.join("no such folder/x.zip")).is_err());
    assert_eq!(dump(&party.temp_book.path()), before);
    assert!(party.temp_book.names().iter().all(|name| !name.contains(".part")));
}

/// The manifest conforms to the committed schema.
#[test]
fn the_manifest_conforms_to_its_schema() {
    let mut party = rich();
    let bytes = fs::read(party.bundle(BundleScope::Book)).unwrap();
    let bundle = Bundle::check(Cursor::new(&bytes)).unwrap();
    let schema = include_str!("../../../../core/data/schemas/bundle-1.schema.json");
    let schema: serde_json::Value = serde_json::from_str(schema).unwrap();
    assert_eq!(Manifest::json_schema().to_value(), schema);
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let mut manifest = serde_json::to_value(bundle.manifest()).unwrap();
    assert!(validator.is_valid(&manifest));
    assert_eq!(manifest["entries"].as_array().unwrap().len(), unpack(&bytes).len());
    manifest["entries"][0]["sha256"] = "0".into();
    assert!(!validator.is_valid(&manifest));
}
