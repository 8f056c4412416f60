//! Invalid bundles: each is refused for its reason, and nothing of the book or its folder changes.

use super::party::{Party, rich, unpack};
use flate2::Compression;
use flate2::write::DeflateEncoder;
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Cursor, Read, Seek, SeekFrom, Write};
use std::sync::OnceLock;
use steerwright_core::book::{
    BookError, Bundle, BundleProblem as P, BundleScope, MOST_BUNDLE_BYTES, Manifest,
};
use steerwright_tests::dump;
use steerwright_tests::parcel::{self, Item, zip};

/// A book with content that must not change.
pub struct Fixture {
    pub party: Party,
    before: (String, BTreeMap<String, Vec<u8>>, Vec<String>),
}

impl Fixture {
    pub fn new() -> Self {
        let party = rich();
        fs::write(party.temp_book.folder().join("hostile.zip"), b"").unwrap();
        let before = (dump(&party.temp_book.path()), party.files(), party.temp_book.names());
        Self { party, before }
    }

    /// Passes the bytes as a file; it must be refused, and nothing may have changed.
    #[track_caller]
    pub fn refused(&mut self, bytes: &[u8]) -> P {
        let path = self.party.temp_book.folder().join("hostile.zip");
        fs::write(&path, bytes).unwrap();
        let problem = match self.party.read(&path) {
            Err(BookError::Bundle(problem)) => problem,
            other => panic!("{other:?}"),
        };
        let party = &self.party;
        assert_eq!((dump(&party.temp_book.path()), party.files(), party.temp_book.names()), self.before);
        assert!(!problem.to_string().contains(char::is_control), "{problem:?}");
        problem
    }
}

/// A bundle made by this program from a book identical to the fixture's: a refusal is not due to an unknown origin.
pub fn sound() -> &'static [u8] {
    static SOUND: OnceLock<Vec<u8>> = OnceLock::new();
    SOUND.get_or_init(|| {
        let mut party = rich();
        fs::read(party.bundle(BundleScope::Book)).unwrap()
    })
}

pub fn entries() -> Vec<(String, Vec<u8>)> {
    unpack(sound())
}

fn items() -> Vec<Item> {
    parcel::bundle(&entries())
}

fn deflated(name: &str, bytes: &[u8]) -> Item {
    let mut packer = DeflateEncoder::new(Vec::new(), Compression::best());
    packer.write_all(bytes).unwrap();
    Item::new(name, bytes, 8, packer.finish().unwrap())
}

fn with(item: Item) -> Vec<u8> {
    let mut items = items();
    items.push(item);
    zip(&items)
}

/// A bundle built by hand by these tests is valid until it is modified.
#[test]
fn built_by_hand_it_is_read() {
    let by_hand = zip(&items());
    let bundle = Bundle::check(Cursor::new(&by_hand)).unwrap();
    assert_eq!(bundle.manifest().entries.len(), entries().len());
    let mut packed = items();
    packed[0] = deflated("manifest.json", &packed[0].bytes.clone());
    assert!(Bundle::check(Cursor::new(zip(&packed))).is_ok());
    // The order of entries is irrelevant.
    packed.reverse();
    let path = |party: &Party| party.temp_book.folder().join("x.zip");
    let mut other = Party::new(2);
    fs::write(path(&other), zip(&packed)).unwrap();
    other.read(&path(&other)).unwrap();
    assert_eq!(other.known(), rich().known());
}

/// A bundle packed by another program, with some entries deflated.
#[test]
fn packed_by_another_program() {
    let mut party = Party::new(2);
    let path = party.temp_book.folder().join("one-bike.zip");
    fs::write(&path, include_bytes!("../../../data/bundle/one-bike.zip")).unwrap();
    let merged = party.read(&path).unwrap().output;
    assert_eq!((merged.bikes_added, merged.measurements_added), (1, 3));
    assert_eq!((merged.checks_added, merged.photos_added, party.files().len()), (1, 2, 4));
}

#[test]
fn names_that_could_leave_a_folder_or_hide() {
    let mut fixture = Fixture::new();
    let hash = entries().iter().find_map(|(name, _)| Some(name.strip_prefix("photos/")?.to_owned())).unwrap();
    let long = "x".repeat(60_000);
    type Make = fn(String) -> P;
    let traversal: Make = |name| P::Traversal { name };
    let absolute: Make = |name| P::Absolute { name };
    let backslash: Make = |name| P::Backslash { name };
    let bad: Make = |name| P::BadName { name };
    let unknown: Make = |name| P::Unknown { name };
    let duplicate: Make = |name| P::Duplicate { name };
    let not_a_file: Make = |name| P::NotAFile { name };
    let cases: Vec<(&str, Make)> = vec![
        ("../evil", traversal),
        ("..", traversal),
        (".", traversal),
        ("photos/../../evil", traversal),
        ("photos/./x", traversal),
        ("photos//x", traversal),
        ("photos/..", traversal),
        ("", traversal),
        ("/etc/passwd", absolute),
        ("//host/share/x", absolute),
        ("C:/evil", absolute),
        ("c:evil", absolute),
        ("C:\\evil", backslash),
        ("..\\evil", backslash),
        ("\\\\host\\share", backslash),
        ("photos\\x", backslash),
        ("photos/a\nb", bad),
        ("photos/a\u{1b}[2J", bad),
        ("readme.txt", unknown),
        ("photos/x", unknown),
        ("bikes/x.json", unknown),
        ("photos.json.exe", unknown),
        ("..evil", unknown),
        ("meta/photos.json", unknown),
        ("manifest.json", duplicate),
        ("bikes/", not_a_file),
    ];
    for (name, expected) in cases {
        let problem = fixture.refused(&with(Item::stored(name, b"x")));
        assert_eq!(problem, expected(name.to_owned()), "{name:?}");
    }
    let problem = fixture.refused(&with(Item::stored("x", b"x").named(b"photos/\xFF\xFE")));
    assert!(matches!(problem, P::BadName { .. }), "{problem:?}");
    let problem = fixture.refused(&with(Item::stored("x", b"x").named(&long)));
    assert_eq!(problem, P::BadName { name: long[..200].to_owned() });
    // A NUL ends a name for some readers.
    let problem = fixture.refused(&with(Item::stored("x", b"x").named(b"photos.json\0.txt")));
    assert!(matches!(problem, P::BadName { .. }), "{problem:?}");

    // Names that are one file on systems that fold names: by case, by composition, by width.
    let upper = format!("photos/{}", hash.to_uppercase());
    for (name, other) in [
        ("MANIFEST.json".to_owned(), "manifest.json".to_owned()),
        ("Photos.JSON".to_owned(), "photos.json".to_owned()),
        ("ｍanifest.json".to_owned(), "manifest.json".to_owned()),
        (upper, format!("photos/{hash}")),
    ] {
        let problem = fixture.refused(&with(Item::stored(&name, b"x")));
        assert_eq!(problem, P::SameFolded { name, other });
    }
}

#[test]
fn entries_that_are_no_plain_file() {
    let mut fixture = Fixture::new();
    let name = "photos.json";
    let changed = |change: &dyn Fn(&mut Item)| {
        let mut items = items();
        items.iter_mut().filter(|item| item.name == name.as_bytes()).for_each(change);
        zip(&items)
    };
    for made_on in [0, 3, 19] {
        let problem = fixture.refused(&changed(&|item| {
            item.attributes = 0o120_777 << 16;
            item.made_on = made_on;
        }));
        assert_eq!(problem, P::Symlink { name: name.into() });
    }
    // A folder, a pipe, devices, a socket; and MS-DOS's folder bit.
    for mode in [0o040_755, 0o010_644, 0o020_644, 0o060_644, 0o140_644] {
        let problem = fixture.refused(&changed(&|item| item.attributes = mode << 16));
        assert_eq!(problem, P::NotAFile { name: name.into() });
    }
    assert_eq!(fixture.refused(&changed(&|item| item.attributes = 0x10)), P::NotAFile { name: name.into() });
    // Encrypted, in one of the three forms; with the sizes after the data; packed by any other method.
    let packing =
        |change: &dyn Fn(&mut parcel::HeaderFields)| changed(&|item| *item = item.clone().saying(change));
    for flag in [0, 3, 4, 5, 6, 13] {
        let problem = fixture.refused(&packing(&|said| said.flags |= 1 << flag));
        assert_eq!(problem, P::Packing { name: name.into() }, "bit {flag}");
    }
    for method in [1, 6, 9, 12, 14, 93, 95, 98, 99] {
        let problem = fixture.refused(&packing(&|said| said.method = method));
        assert_eq!(problem, P::Packing { name: name.into() }, "method {method}");
    }
    assert_eq!(fixture.refused(&changed(&|item| item.made_on = 200)), P::Packing { name: name.into() });
}

#[test]
fn lies_about_sizes_and_places() {
    let mut fixture = Fixture::new();
    let name = "photos.json";
    let place = items().iter().position(|item| item.name == name.as_bytes()).unwrap();
    let text = items()[place].bytes.clone();
    let with_item = |item: Item| {
        let mut items = items();
        items[place] = item;
        items
    };
    let not_a_bundle = |problem: P, word: &str| match problem {
        P::NotABundle { why } => assert!(why.contains(word), "{why}"),
        other => panic!("{other:?}"),
    };
    let size = text.len() as u32;
    // Both headers state the same wrong size.
    for wrong in [0, 1, size - 1, size + 1, 20 << 20] {
        let stored = Item::stored(name, &text).saying(|said| said.size = wrong);
        assert_eq!(fixture.refused(&zip(&with_item(stored))), P::Packing { name: name.into() });
        let packed = deflated(name, &text).saying(|said| said.size = wrong);
        let problem = fixture.refused(&zip(&with_item(packed.clone())));
        if wrong == 20 << 20 {
            assert_eq!(problem, P::Bomb { name: name.into(), most: 200 });
        } else {
            assert_eq!(problem, P::WrongSize { name: name.into(), declared: u64::from(size) });
            // And the manifest too.
            let mut items = with_item(packed);
            let manifest = String::from_utf8(items[0].bytes.clone()).unwrap();
            let mut manifest: serde_json::Value = serde_json::from_str(&manifest).unwrap();
            let rows = manifest["entries"].as_array_mut().unwrap();
            rows.iter_mut().filter(|row| row["name"] == name).for_each(|row| row["bytes"] = wrong.into());
            items[0] = Item::stored("manifest.json", manifest.to_string().as_bytes());
            let problem = fixture.refused(&zip(&items));
            // The unpacker stops at the declared size.
            assert!(matches!(problem, P::Damaged { .. } | P::WrongSize { .. }), "{wrong}: {problem:?}");
        }
    }
    // The two headers differ.
    for change in [
        |said: &mut parcel::HeaderFields| said.size += 1,
        |said: &mut parcel::HeaderFields| said.packed += 1,
        |said: &mut parcel::HeaderFields| said.crc ^= 1,
        |said: &mut parcel::HeaderFields| said.flags |= 2,
    ] {
        let mut item = deflated(name, &text);
        change(&mut item.own);
        not_a_bundle(fixture.refused(&zip(&with_item(item))), "listed as another");
    }
    let mut item = Item::stored(name, &text);
    item.own_name = b"photos.jsom".to_vec();
    not_a_bundle(fixture.refused(&zip(&with_item(item))), "listed as another");
    let mut item = Item::stored(name, &text);
    item.own_name.push(b'x');
    not_a_bundle(fixture.refused(&zip(&with_item(item))), "listed as another");
    // Extra fields and comments, 64-bit sizes among them.
    let mut item = Item::stored(name, &text);
    item.extra = [&b"\x01\0\x10\0"[..], &u64::MAX.to_le_bytes(), &1u64.to_le_bytes()].concat();
    not_a_bundle(fixture.refused(&zip(&with_item(item.clone()))), "fields");
    (item.listed.size, item.listed.packed) = (u32::MAX, u32::MAX);
    not_a_bundle(fixture.refused(&zip(&with_item(item.clone()))), "fields");
    item.extra.clear();
    item.comment = b"hello".to_vec();
    not_a_bundle(fixture.refused(&zip(&with_item(item))), "fields");
    let huge = Item::stored(name, &text).saying(|said| (said.size, said.packed) = (u32::MAX, u32::MAX));
    assert!(matches!(fixture.refused(&zip(&with_item(huge))), P::TooLarge { .. }));
    // Entries within one another, at the same offset, with gaps between them.
    let mut inside = items();
    inside[place].header = Some(0);
    not_a_bundle(fixture.refused(&zip(&inside)), "overlap");
    let mut item = Item::stored(name, &text).saying(|said| (said.size, said.packed) = (size - 1, size - 1));
    not_a_bundle(fixture.refused(&zip(&with_item(item.clone()))), "overlap");
    item = item.saying(|said| (said.size, said.packed) = (size + 1, size + 1));
    not_a_bundle(fixture.refused(&zip(&with_item(item))), "overlap");
    let mut inside = items();
    let whole = zip(&inside[1..]);
    inside[0].bytes.extend(whole);
    not_a_bundle(fixture.refused(&zip(&inside)), "overlap");
    // A wrong checksum in both.
    let item = deflated(name, &text).saying(|said| said.crc ^= 0x8000_0000);
    assert!(matches!(fixture.refused(&zip(&with_item(item))), P::Damaged { .. }));
    // Invalid deflate data.
    let item = Item::new(name, &text, 8, vec![0xFF; text.len()]);
    assert!(matches!(fixture.refused(&zip(&with_item(item))), P::Damaged { .. }));
}

#[test]
fn bombs_and_floods() {
    let mut fixture = Fixture::new();
    let name = "photos.json";
    let zeros = vec![b' '; 1 << 20];
    assert_eq!(
        fixture.refused(&with(deflated("checks/018f3b6e-8f00-7000-8000-000000000001.json", &zeros))),
        P::Bomb { name: "checks/018f3b6e-8f00-7000-8000-000000000001.json".into(), most: 200 }
    );
    // A small declared size: no more than it is unpacked.
    let mut items = items();
    let place = items.iter().position(|item| item.name == name.as_bytes()).unwrap();
    let size = items[place].listed.size;
    items[place] = deflated(name, &vec![b' '; 64 << 20]).saying(|said| said.size = size);
    assert!(matches!(fixture.refused(&zip(&items)), P::Damaged { .. }));
    // More than the limit of one entry, and of all entries, by the declared sizes alone.
    let huge = |n: u32, size: u32| {
        let mut item = Item::stored(&format!("photos/{n:064x}"), b"x");
        item = item.saying(|said| (said.method, said.size, said.packed) = (8, size, 1 << 20));
        item
    };
    let problem = fixture.refused(&zip(&[huge(0, (32 << 20) + 1)]));
    assert!(matches!(problem, P::TooLarge { most, .. } if most == 32 << 20), "{problem:?}");
    let many: Vec<Item> = (0..129).map(|n| huge(n, 32 << 20)).collect();
    let problem = fixture.refused(&zip(&many));
    assert!(matches!(problem, P::TooLarge { most, .. } if most == 4 << 30), "{problem:?}");
    // More text than the limit of one check, of a bike, of the manifest, and of all of them.
    let text = |name: &str, size: u32| {
        Item::stored(name, b"x").saying(|said| (said.method, said.size, said.packed) = (8, size, 1 << 20))
    };
    let check = |n: u32| format!("checks/018f3b6e-8f00-7000-8000-{n:012}.json");
    for (name, limit) in [
        (check(0), 24 << 20),
        ("bikes/018f3b6e-8f00-7000-8000-000000000001.json".to_owned(), 24 << 20),
        ("photos.json".to_owned(), 24 << 20),
        ("manifest.json".to_owned(), 16 << 20),
    ] {
        let problem = fixture.refused(&zip(&[text(&name, limit + 1)]));
        assert!(matches!(problem, P::TooLarge { most, .. } if most == u64::from(limit)), "{problem:?}");
    }
    let many: Vec<Item> = (0..43).map(|n| text(&check(n), 24 << 20)).collect();
    let problem = fixture.refused(&zip(&many));
    assert!(matches!(problem, P::TooLarge { most, .. } if most == 1 << 30), "{problem:?}");
    // More entries than the limit, and a directory longer than the limit.
    let empty: Vec<Item> = (0..50_001).map(|n: u32| Item::stored(&format!("photos/{n:064x}"), b"")).collect();
    assert_eq!(fixture.refused(&zip(&empty)), P::TooManyEntries { found: 50_001, most: 50_000 });
    let mut item = Item::stored("photos.json", b"[]");
    item.comment = vec![b'x'; 65_535];
    let long: Vec<Item> = (0..150).map(|_| item.clone()).collect();
    let problem = fixture.refused(&zip(&long));
    assert!(matches!(problem, P::TooLarge { most, .. } if most == 50_000 * 192), "{problem:?}");
    // A file longer than the limit is not even read.
    let problem = Bundle::check(Endless).map(drop).unwrap_err();
    assert!(matches!(problem, P::TooLarge { most: MOST_BUNDLE_BYTES, .. }), "{problem:?}");
}

/// Three gigabytes that fail when read.
struct Endless;

impl Read for Endless {
    fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
        Err(io::Error::other("read all the same"))
    }
}

impl Seek for Endless {
    fn seek(&mut self, _: SeekFrom) -> io::Result<u64> {
        Ok(3 << 30)
    }
}

#[test]
fn the_end_of_the_file() {
    let mut fixture = Fixture::new();
    let bytes = sound();
    let end = bytes.len() - 22;
    let patched = |at: usize, with: &[u8]| {
        let mut bytes = bytes.to_vec();
        bytes[end + at..end + at + with.len()].copy_from_slice(with);
        bytes
    };
    let unfinished = |problem: &P| matches!(problem, P::Truncated { .. });
    let foreign = |problem: &P| matches!(problem, P::NotABundle { .. });
    let count = u16::from_le_bytes([bytes[end + 10], bytes[end + 11]]);
    // Other disks; counts that differ, are too low, too high.
    for at in [4, 6] {
        assert!(foreign(&fixture.refused(&patched(at, &[1, 0]))));
    }
    assert!(foreign(&fixture.refused(&patched(8, &(count - 1).to_le_bytes()))));
    let both = |count: u16| [count.to_le_bytes(), count.to_le_bytes()].concat();
    assert!(foreign(&fixture.refused(&patched(8, &both(count - 1)))));
    assert!(unfinished(&fixture.refused(&patched(8, &both(count + 1)))));
    assert!(foreign(&fixture.refused(&patched(8, &both(0)))));
    let problem = fixture.refused(&patched(8, &both(u16::MAX)));
    assert_eq!(problem, P::TooManyEntries { found: 65_535, most: 50_000 });
    // The directory has another offset, is shorter, is longer, or has the values of the 64-bit extensions.
    for at in [12, 16] {
        for wrong in [0, 1, u32::MAX] {
            assert!(unfinished(&fixture.refused(&patched(at, &wrong.to_le_bytes()))), "{at} {wrong}");
        }
    }
    // A comment, declared, present or both.
    assert!(foreign(&fixture.refused(&patched(20, &[1, 0]))));
    let mut long = patched(20, &[5, 0]);
    long.extend(b"hello");
    assert!(unfinished(&fixture.refused(&long)));
    // A 64-bit end record and its locator before the end.
    let mut wide = bytes[..end].to_vec();
    wide.extend(b"PK\x06\x06");
    wide.extend(44u64.to_le_bytes());
    wide.extend([45, 3, 45, 0, 0, 0, 0, 0, 0, 0, 0, 0]);
    for number in [u64::from(count), count.into(), 1 << 40, 0] {
        wide.extend(number.to_le_bytes());
    }
    wide.extend(b"PK\x06\x07\0\0\0\0");
    wide.extend((end as u64).to_le_bytes());
    wide.extend([1, 0, 0, 0]);
    wide.extend(&bytes[end..]);
    assert!(unfinished(&fixture.refused(&wide)));
    // Data before or after it, including another bundle.
    for more in [&b"x"[..], b"PK\x03\x04", &[0; 22], bytes] {
        let before = fixture.refused(&[more, bytes].concat());
        assert!(unfinished(&before) || foreign(&before), "{before:?}");
        let after = fixture.refused(&[bytes, more].concat());
        assert!(unfinished(&after), "{after:?}");
    }
    for nothing in [&b""[..], b"P", b"%PDF-1.7\n", b"{}", &[0; 100]] {
        assert!(foreign(&fixture.refused(nothing)));
    }
    assert!(foreign(&fixture.refused(&bytes[end..])), "an empty archive");
}

/// Truncated after any byte, it is refused as incomplete.
#[test]
fn cut_off_anywhere() {
    let bytes = sound();
    for length in 4..bytes.len() {
        let problem = Bundle::check(Cursor::new(&bytes[..length])).map(drop).unwrap_err();
        assert!(matches!(problem, P::Truncated { .. }), "{length}: {problem:?}");
    }
    let mut fixture = Fixture::new();
    for length in (0..bytes.len()).step_by(bytes.len() / 40) {
        let problem = fixture.refused(&bytes[..length]);
        assert_eq!(matches!(problem, P::Truncated { .. }), length >= 4, "{problem:?}");
    }
}

/// A source that fails while it is read.
#[test]
fn a_source_that_fails() {
    struct Failing(Cursor<&'static [u8]>, usize);
    impl Read for Failing {
        fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
            self.1 = self.1.checked_sub(1).ok_or_else(|| io::Error::other("the card was pulled out"))?;
            self.0.read(into)
        }
    }
    impl Seek for Failing {
        fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
            self.0.seek(to)
        }
    }
    let mut reads = 0;
    while let Err(problem) = Bundle::check(Failing(Cursor::new(sound()), reads)).map(drop) {
        assert!(problem.to_string().contains("the card was pulled out"), "{problem:?}");
        reads += 1;
    }
    assert!(reads > entries().len(), "it was read in more than one go");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Any byte changed: refused, or it was one of the few that are irrelevant, such as the time of an entry.
    #[test]
    fn any_byte_changed(at in any::<prop::sample::Index>(), flip in 1u8..) {
        static CHECKED: OnceLock<(Manifest, Vec<u8>)> = OnceLock::new();
        let (manifest, bytes) = CHECKED.get_or_init(|| {
            let bytes = zip(&items());
            (Bundle::check(Cursor::new(&bytes)).unwrap().manifest().clone(), bytes)
        });
        let mut bytes = bytes.clone();
        let at = at.index(bytes.len());
        bytes[at] ^= flip;
        if let Ok(bundle) = Bundle::check(Cursor::new(&bytes)) {
            let quiet = |start: usize, record: &[u8], fields: &[std::ops::Range<usize>]| {
                bytes.get(start..start + 4) == Some(record)
                    && fields.iter().any(|field| field.contains(&(at - start)))
            };
            // Version and system it was made on, version needed, time; disk, internal and external attributes.
            let listed = [4..8, 12..16, 34..42];
            let found = (at.saturating_sub(46)..=at)
                .any(|start| quiet(start, b"PK\x01\x02", &listed) || quiet(start, b"PK\x03\x04", &[4..6, 10..14]));
            prop_assert!(found, "byte {}", at);
            prop_assert_eq!(bundle.manifest(), manifest);
        }
    }
}
