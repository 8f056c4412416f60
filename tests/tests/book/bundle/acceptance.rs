//! What a bundle takes away or writes over is asked for apart, and a time in the future counts as now.

use super::party::{Party, rich, unpack};
use serde_json::{Value, json};
use std::fs;
use std::path::PathBuf;
use steerwright_core::book::{
    BikeEdit, BikeId, BikeScreen, Bundle, BundleAcceptance, BundleChangeKind, BundleScope, NoProgress, Op,
    PhotoId, Timestamp,
};
use steerwright_tests::parcel::{self, zip};

const NOTHING: BundleAcceptance = BundleAcceptance { removals: false, replacements: false };
const FUTURE: &str = "9999-12-31T23:59:59Z";

/// The bike of the book [`rich`] with readings, photos and a kit that is in.
fn bike_of(party: &Party) -> BikeId {
    let with_checks = |id: &BikeId| !party.book.read().bike_screen(*id).unwrap().checks.is_empty();
    party.bikes().into_iter().find(with_checks).unwrap()
}

/// What someone makes of a bundle that they received: every reading struck out, the bike renamed and put away, the photos
/// removed, the kit taken out, all of it in the year 9999.
fn tampered(party: &mut Party) -> PathBuf {
    let bike = bike_of(party).to_string();
    let mut entries = unpack(&fs::read(party.bundle(BundleScope::Book)).unwrap());
    for (name, bytes) in &mut entries {
        let Ok(mut it) = serde_json::from_slice::<Value>(bytes) else { continue };
        if name.starts_with("bikes/") && name.contains(&bike) {
            it["bike"]["name"] = "Mine".into();
            it["bike"]["owner"] = "Nobody you know".into();
            it["notes"] = "Gone.".into();
            it["archived_at"] = FUTURE.into();
            it["touched_at"] = FUTURE.into();
            for row in it["log"].as_array_mut().unwrap() {
                row["struck"] = json!({"at": FUTURE, "who": "Mallow", "why": "never was"});
            }
            for photo in it["photos"].as_array_mut().unwrap() {
                photo["removed_at"] = FUTURE.into();
            }
        } else if name == "photos.json" {
            for photo in it.as_array_mut().unwrap() {
                photo["removed_at"] = FUTURE.into();
            }
        } else if name.starts_with("checks/") {
            it["removed_at"] = FUTURE.into();
        }
        *bytes = it.to_string().into_bytes();
    }
    // The files of removed photos are not in a bundle, but may be.
    let path = party.temp_book.folder().join("tampered.zip");
    fs::write(&path, zip(&parcel::bundle(&entries))).unwrap();
    path
}

fn texts(party: &mut Party, path: &std::path::Path, kind: BundleChangeKind) -> Vec<String> {
    let mut bundle = Bundle::open(path, &mut NoProgress).unwrap();
    let preview = party.book.preview(&mut bundle, NOTHING).unwrap();
    preview.merged.left(kind).map(|change| change.text.to_string()).collect()
}

#[test]
fn nothing_is_struck_out_removed_or_renamed_unless_it_is_accepted() {
    let mut party = rich();
    let path = tampered(&mut party);
    let before = party.known();
    let told = party.read_with(&path, NOTHING).unwrap();
    assert_eq!(party.known(), before);
    assert!(told.changes.is_empty());
    let told = told.output;
    assert_eq!((told.bikes_added, told.measurements_added, told.photos_added), (0, 0, 0));
    // The readings that are not struck out here already; two photos, the archive, the kit.
    let log = party.book.read().bike_screen(bike_of(&party)).unwrap().log;
    let open = log.iter().filter(|row| row.struck.is_none()).count();
    assert!(open > 0 && open < log.len());
    assert_eq!(told.left(BundleChangeKind::Removal).count(), open + 2 + 1 + 1);
    let struck =
        told.left(BundleChangeKind::Removal).find(|change| change.text.id == "bundle.struck").unwrap();
    assert_eq!(struck.who.as_deref(), Some("Mallow"));
    assert!(struck.text.text.ends_with("is struck out there: never was"), "{}", struck.text);
    let replaced: Vec<&str> =
        told.left(BundleChangeKind::Replacement).map(|change| change.text.id.as_ref()).collect();
    // The reasons of those that are struck out here already read otherwise there.
    let [fields, reasons] = [&replaced[..3], &replaced[3..]];
    assert_eq!(fields, ["bundle.renamed", "bundle.owner", "bundle.notes"]);
    assert_eq!(reasons, vec!["bundle.struck_why"; log.len() - open]);
    assert!(told.future_times > 0);
    assert!(told.changes.iter().all(|change| !change.taken));
}

#[test]
fn each_kind_is_accepted_by_itself() {
    let mut party = rich();
    let bike = bike_of(&party);
    let path = tampered(&mut party);
    let rows = |party: &Party| party.book.read().bike_screen(bike).unwrap();
    let was = rows(&party);

    let removals = BundleAcceptance { removals: true, ..NOTHING };
    let told = party.read_with(&path, removals).unwrap().output;
    assert!(told.changes.iter().all(|change| change.taken == (change.kind == BundleChangeKind::Removal)));
    let now = rows(&party);
    assert!(now.log.iter().all(|row| row.struck.is_some()));
    assert!(now.photos.is_empty() && now.record.archived_at.is_some() && !now.checks[0].is_fitted());
    assert_eq!((&now.record.bike.name, &now.record.notes), (&was.record.bike.name, &was.record.notes));
    // One step to undo.
    party.book.undo().unwrap().unwrap();
    assert_eq!(rows(&party).log, was.log);
    assert_eq!(rows(&party).photos, was.photos);

    let replacements = BundleAcceptance { replacements: true, ..NOTHING };
    party.read_with(&path, replacements).unwrap();
    let now = rows(&party);
    assert_eq!((now.record.bike.name.as_str(), now.record.notes.as_str()), ("Mine", "Gone."));
    assert!(now.record.archived_at.is_none() && now.checks[0].is_fitted());
    let struck = |screen: &BikeScreen| screen.log.iter().filter(|row| row.struck.is_some()).count();
    assert_eq!(struck(&now), struck(&was));
}

#[test]
fn a_preview_tells_the_same_and_changes_nothing() {
    let mut party = rich();
    let path = tampered(&mut party);
    party.later();
    let before = (steerwright_tests::dump(&party.temp_book.path()), party.files());
    let mut bundle = Bundle::open(&path, &mut NoProgress).unwrap();
    let preview = party.book.preview(&mut bundle, NOTHING).unwrap();
    assert_eq!((steerwright_tests::dump(&party.temp_book.path()), party.files()), before);
    assert_eq!(preview.made_at, "2026-05-01T08:00:00Z");
    assert_eq!(preview.bikes.len(), 2);
    assert_eq!(party.book.merge(bundle, NOTHING).unwrap().output.changes.len(), preview.merged.changes.len());
    // Into an empty book all of it is new, and nothing of it has to be accepted.
    let mut other = Party::new(2);
    let mut bundle = Bundle::open(&path, &mut NoProgress).unwrap();
    other.later();
    let preview = other.book.preview(&mut bundle, NOTHING).unwrap();
    assert_eq!((preview.merged.bikes_added, preview.merged.changes.len()), (2, 0));
    assert_eq!(preview.merged.people, ["Ash", "Wren"]);
    assert!(other.bikes().is_empty());
}

#[test]
fn times_in_the_future_count_as_now() {
    let mut party = rich();
    let path = tampered(&mut party);
    let read = |party: &mut Party| party.read(&path).unwrap();
    assert!(read(&mut party).output.future_times > 0);
    let latest = |party: &Party| {
        let conn = rusqlite::Connection::open(party.temp_book.path()).unwrap();
        let latest =
            "SELECT max(t) FROM (SELECT max(touched_at) t FROM bikes UNION SELECT max(archived_at) FROM bikes
             UNION SELECT max(struck_at) FROM measurements UNION SELECT max(removed_at) FROM photos
             UNION SELECT max(removed_at) FROM checks)";
        Timestamp(conn.query_row(latest, [], |row| row.get(0)).unwrap())
    };
    let first = latest(&party);
    assert!(first.to_string().starts_with("2026-"), "{first}");
    // Read again later, the same times say nothing new.
    let before = party.known();
    read(&mut party);
    assert_eq!(party.known(), before);
    assert_eq!(latest(&party), first);
    // What is done here afterwards counts as later.
    let bike = bike_of(&party);
    let edit = BikeEdit { name: Some("Ours".into()), ..BikeEdit::default() };
    party.book.transact(Op::EditBike, |work| work.edit_bike(bike, &edit)).unwrap();
    assert_eq!(
        texts(&mut party, &path, BundleChangeKind::Replacement).first().unwrap(),
        "Ours is called Mine there"
    );
}

/// A row that a clock which ran ahead has dated is the same row when it comes back.
#[test]
fn a_clock_that_ran_ahead_is_no_conflict() {
    let mut ahead = rich();
    for _ in 0..3 {
        ahead.later();
    }
    let bike = bike_of(&ahead);
    let row = steerwright_tests::reading(
        steerwright_core::quantity::Quantity::HeadAngle,
        66.0,
        steerwright_core::quantity::Instrument::PhoneLevel,
    );
    ahead
        .book
        .transact(Op::AddMeasurement, |work| work.add_measurement(bike, &row, None, None).map(drop))
        .unwrap();
    let path = ahead.bundle(BundleScope::Book);
    let mut behind = Party::new(2);
    assert!(behind.book.read_bundle(&path, NOTHING).unwrap().output.future_times > 0);
    let back = behind.bundle(BundleScope::Book);
    assert!(ahead.read_with(&back, NOTHING).unwrap().changes.is_empty());
    assert!(behind.read_with(&path, NOTHING).unwrap().output.measurements_added == 0);
}

/// Filling a field that is empty here takes nothing away.
#[test]
fn what_only_adds_is_taken_without_asking() {
    let mut one = Party::with(1, &[]);
    let mut other = Party::new(2);
    other.read(&one.bundle(BundleScope::Book)).unwrap();
    let bike = one.bikes()[0];
    let edit = BikeEdit {
        owner: Some("Larch Hollow demo crew".into()),
        notes: Some("A note.".into()),
        tags: Some(vec!["hire".into()]),
        ..BikeEdit::default()
    };
    one.book.transact(Op::EditBike, |work| work.edit_bike(bike, &edit)).unwrap();
    let photo: PhotoId = one.photo(Some(bike));
    let path = one.bundle(BundleScope::Book);
    let told = other.read_with(&path, NOTHING).unwrap().output;
    assert!(told.changes.is_empty(), "{:?}", told.changes);
    let record = other.book.read().bike_screen(bike).unwrap().record;
    assert_eq!((record.notes.as_str(), record.tags.as_slice()), ("A note.", &["hire".to_owned()][..]));
    assert!(other.photos().contains(&photo));
    assert_eq!(other.known(), one.known());
}
