//! The arrows between the core's rooms point one way, and the pure rooms touch neither clock, file nor chance.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// Rooms from the ground up; a room may use those on its own floor and below.
const FLOORS: &[&[&str]] = &[
    &["embedded", "file", "practice"],
    &["quantity"],
    &["conformity", "sentence"],
    &["headset", "geometry", "tilt", "clearance", "steerer", "press"],
    &["bike", "catalogue", "drawing", "level", "photo"],
    &["fit"],
    &["advice"],
    &["report"],
    &["book"],
    &["orders"],
];

/// The one room that reads and writes files; it is handed a clock like all others.
const KEEPER: &str = "book";

/// Words by which a clock, a file, the network or chance would come in.
const IMPURE: &[&str] = &[
    "std::fs",
    "std::net",
    "std::time",
    "std::thread",
    "std::process",
    "std::env::",
    "SystemTime",
    "thread_rng",
    "from_os_rng",
    "getrandom",
];

fn source() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/src")
}

/// Every Rust file below a path.
fn files(path: &Path) -> Vec<PathBuf> {
    if path.is_file() {
        return vec![path.to_owned()];
    }
    let entries = fs::read_dir(path).unwrap().map(|entry| entry.unwrap().path());
    entries
        .flat_map(|entry| files(&entry))
        .filter(|file| file.extension().is_some_and(|end| end == "rs"))
        .collect()
}

/// Each room with the text of all its files.
fn rooms() -> BTreeMap<String, String> {
    let entries = fs::read_dir(source()).unwrap().map(|entry| entry.unwrap().path());
    entries
        .filter(|path| path.file_name().is_some_and(|name| name != "lib.rs"))
        .map(|path| {
            let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
            (name, files(&path).iter().map(|file| fs::read_to_string(file).unwrap()).collect())
        })
        .collect()
}

/// The rooms that a text names after `crate::`.
fn used(text: &str) -> BTreeSet<String> {
    let word = |rest: &str| rest.chars().take_while(|c| c.is_ascii_lowercase() || *c == '_').collect();
    text.split("crate::").skip(1).map(word).filter(|word: &String| !word.is_empty()).collect()
}

fn floor(room: &str) -> Option<usize> {
    FLOORS.iter().position(|floor| floor.contains(&room))
}

#[test]
fn arrows_point_down_and_never_round() {
    let rooms = rooms();
    let mut arrows: BTreeMap<&str, BTreeSet<String>> = BTreeMap::new();
    for (room, text) in &rooms {
        let own = floor(room).unwrap_or_else(|| panic!("the room `{room}` has no floor"));
        let others: BTreeSet<_> =
            used(text).into_iter().filter(|other| other != room && rooms.contains_key(other)).collect();
        for other in &others {
            assert!(floor(other).unwrap() <= own, "`{room}` uses `{other}`, which lies above it");
        }
        arrows.insert(room, others);
    }
    // Take away rooms that use nothing left, again and again; a circle is what never goes.
    while let Some(free) = arrows.iter().find(|(_, uses)| uses.is_empty()).map(|(room, _)| *room) {
        arrows.remove(free);
        arrows.values_mut().for_each(|uses| {
            uses.remove(free);
        });
    }
    assert!(arrows.is_empty(), "rooms that use each other in a circle: {arrows:?}");
}

#[test]
fn pure_rooms_are_pure() {
    for (room, text) in rooms().into_iter().filter(|(room, _)| room != KEEPER) {
        for word in IMPURE {
            assert!(!text.contains(word), "`{room}` uses {word}");
        }
    }
}

/// What a phone's languages need is the bridge's business alone.
#[test]
fn the_core_knows_no_bridge() {
    let core = source().join("..");
    let manifest = fs::read_to_string(core.join("Cargo.toml")).unwrap();
    let texts = files(&source()).into_iter().map(|file| fs::read_to_string(file).unwrap());
    for text in texts.chain([manifest]) {
        assert!(!text.contains("uniffi") && !text.contains("steerwright-ffi"));
    }
}

#[test]
fn every_file_can_be_read_in_one_sitting() {
    let bridge = source().join("../../bindings/src");
    for file in files(&source()).into_iter().chain(files(&bridge)) {
        let lines = fs::read_to_string(&file).unwrap().lines().count();
        assert!(lines <= 600, "{} has {lines} lines", file.display());
    }
}
