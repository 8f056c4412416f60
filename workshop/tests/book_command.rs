//! `steerwright book` as a process: complete journeys in a separate folder, invalid input of each kind, and
//! books that are damaged, newer or used concurrently.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

#[path = "book_command/keeping.rs"]
mod keeping;
#[path = "book_command/newcomer.rs"]
mod newcomer;
#[path = "book_command/orders.rs"]
mod orders;
#[path = "snapshot/mod.rs"]
mod snapshot;
#[path = "book_command/strangers.rs"]
mod strangers;
#[path = "book_command/told.rs"]
mod told;

use serde_json::Value;
use snapshot::assert_text;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use steerwright_core::bike::Bike;
use tempfile::TempDir;

/// A folder with the demo files and a book.
struct Fixture {
    folder: TempDir,
}

const BIKE: &str = "Hire bike 05";

impl Fixture {
    fn new() -> Self {
        let fixture = Self { folder: TempDir::new().unwrap() };
        assert!(fixture.command(&["demo", "--files", "."]).output().unwrap().status.success());
        fixture
    }

    /// A fixture with three bikes and the catalogue in the book.
    fn stocked() -> Self {
        let fixture = Self::new();
        let added = fixture.json(&["add", "hire-bike-03.json", "hire-bike-05.json", "hire-bike-08.json"]);
        assert_eq!(added["bikes"].as_array().unwrap().len(), 3);
        fixture.says(&["catalogue", "import", "catalogue.json"]);
        fixture
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_steerwright"));
        command.current_dir(self.folder.path()).args(words);
        for variable in ["CLICOLOR_FORCE", "CLICOLOR", "LINES", "TERM", "XDG_DATA_HOME"] {
            command.env_remove(variable);
        }
        command.env("NO_COLOR", "1").env("COLUMNS", "80").env("HOME", self.folder.path());
        command.env("STEERWRIGHT_BOOK", self.path("field.steerbook"));
        command
    }

    fn call(&self, words: &[&str]) -> Output {
        self.command(&[&["book"], words].concat()).output().unwrap()
    }

    /// Standard output of a successful call.
    #[track_caller]
    fn says(&self, words: &[&str]) -> String {
        let output = self.call(words);
        assert_eq!(output.status.code(), Some(0), "{words:?}: {}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    }

    /// The JSON document of a successful call.
    #[track_caller]
    fn json(&self, words: &[&str]) -> Value {
        let words = [words, &["--json"]].concat();
        serde_json::from_str(&self.says(&words)).unwrap()
    }

    /// Standard error of a call that fails with the given status and has no standard output.
    #[track_caller]
    fn fails(&self, status: i32, words: &[&str]) -> String {
        let output = self.call(words);
        let told = String::from_utf8(output.stderr).unwrap();
        assert_eq!(
            (output.status.code(), output.stdout.as_slice()),
            (Some(status), &b""[..]),
            "{words:?}: {told}"
        );
        told
    }
}

/// Replaces ids, dates and times with fixed ones of the same length.
fn masked(text: &str) -> String {
    let word = |word: &str| {
        let bare = word.trim_matches(|c: char| !c.is_ascii_alphanumeric());
        let shape: String = bare.chars().map(|c| if c.is_ascii_hexdigit() { '0' } else { c }).collect();
        match shape.as_str() {
            "00000000-0000-0000-0000-000000000000" => {
                word.replace(bare, "01999999-9999-7999-9999-999999999999")
            }
            "0000-00-00" => word.replace(bare, "2026-05-01"),
            "00:00" => word.replace(bare, "10:30"),
            _ => word.to_owned(),
        }
    };
    text.split('\n')
        .map(|line| line.split(' ').map(word).collect::<Vec<_>>().join(" "))
        .collect::<Vec<_>>()
        .join("\n")
}

/// Compares with the snapshot of this name, ids and times masked.
#[track_caller]
fn assert_golden(name: &str, now: &str) {
    assert_text(&format!("book/{name}"), &masked(now));
}

/// From the first bike to a kit compared with what was predicted.
#[test]
fn a_kit_goes_in_and_is_compared() {
    let fixture = Fixture::stocked();
    assert_golden("bikes", &fixture.says(&["bikes"]));
    let check = fixture.json(&["check", BIKE]);
    let kits = check["kits"].as_array().unwrap();
    let judged = kits.iter().find(|kit| kit["sku"] == "TT-4180-15").unwrap();
    let kept = fixture.json(&["keep", BIKE, "--kit", "TT-4180-15", "--who", "Ada"]);
    assert_eq!(
        (&kept["did"], &kept["number"], &kept["verdict"]),
        (&"keep_check".into(), &1.into(), &judged["verdict"])
    );
    assert!(fixture.says(&["compare", BIKE]).contains("No kit was in this bike yet"));
    fixture.says(&["fitted", BIKE]);
    let words =
        ["measure", BIKE, "head_angle", "64.9", "deg", "--with", "phone_level", "--plus-minus", "0.3"];
    let written = fixture.json(&words);
    assert_eq!(written["row"], 43);
    fixture.says(&[
        "measure",
        BIKE,
        "upper-throat-diameter",
        "34.1",
        "mm",
        "--with",
        "caliper",
        "--who",
        "Ada",
    ]);
    let struck = fixture.says(&["strike", BIKE, "14", "--why", "before it was opened", "--who", "Ada"]);
    assert!(struck.contains("row 14: upper throat diameter 33.2 mm"), "{struck}");
    assert_golden("show", &fixture.says(&["show", BIKE]));
    assert_golden("compare", &fixture.says(&["compare", BIKE]));

    let shown = fixture.json(&["show", BIKE]);
    assert_eq!(shown["log"].as_array().unwrap().len(), 44);
    assert_eq!(shown["log"][13]["struck"]["why"], "before it was opened");
    assert_eq!(shown["log"][42]["id"], written["measurement"]);
    let throat = shown["findings"].as_array().unwrap();
    let throat = throat.iter().find(|row| row["what"] == "upper_throat_diameter").unwrap();
    assert_eq!((&throat["value"], &throat["unit"]), (&34.1.into(), &"mm".into()));
    let kit = &fixture.json(&["compare", BIKE])["kits"][0];
    assert_eq!((&kit["kit"], &kit["comparison"]["agrees"]), (&"TT-4180-15".into(), &true.into()));
    // 64.9° with the kit minus 66.0° before it.
    let change = kit["measured"][0]["change"]["value"].as_f64().unwrap();
    assert!((change + 1.1).abs() < 1e-9, "{change}");

    fixture.says(&["restore", BIKE, "14"]);
    assert!(fixture.fails(2, &["restore", BIKE, "14"]).contains("not struck out"));
    assert!(fixture.says(&["removed", BIKE]).contains("TT-4180-15 is out"));
    assert!(fixture.fails(2, &["removed", BIKE]).contains("there is no kit in"));
}

/// Edits of a bike, search, undo and redo.
#[test]
fn noted_found_and_undone() {
    let fixture = Fixture::stocked();
    let names = |words: &[&str]| -> Vec<String> {
        let page = fixture.json(&[&["bikes"], words].concat());
        let rows = page["bikes"].as_array().unwrap();
        rows.iter().map(|row| row["name"].as_str().unwrap().to_owned()).collect()
    };
    fixture.says(&["tag", BIKE, "trail", "friday"]);
    fixture.says(&["tag", "Hire bike 08", "trail"]);
    assert_eq!(names(&["trail"]), [BIKE, "Hire bike 08"]);
    assert_eq!(fixture.json(&["untag", "Hire bike 08", "Trail"])["tags"], serde_json::json!([]));
    assert_eq!(names(&["--tag", "trail"]), [BIKE]);
    assert_eq!(fixture.json(&["tags"])["tags"][1], serde_json::json!({"tag": "trail", "bikes": 1}));
    fixture.says(&["note", BIKE, "creaks"]);
    assert_eq!(fixture.json(&["note", BIKE, "less now", "--add"])["notes"], "creaks\nless now");
    assert_eq!(names(&["creak"]), [BIKE]);
    assert_eq!(fixture.json(&["see", BIKE, "bearings", "rough"])["observed"]["bearings"], "rough");
    assert_eq!(fixture.json(&["see", BIKE, "steering-stop", "yes"])["observed"]["steering_stop"], true);
    assert_eq!(fixture.json(&["see", BIKE, "bearings", "--forget"])["observed"].get("bearings"), None);
    assert_eq!(fixture.json(&["undo"])["did"], "edit_bike");
    assert_eq!(fixture.json(&["show", BIKE])["bike"]["bike"]["observed"]["bearings"], "rough");
    fixture.says(&["redo"]);
    assert_eq!(fixture.json(&["show", BIKE])["bike"]["bike"]["observed"].get("bearings"), None);
    assert!(fixture.fails(2, &["redo"]).contains("there is nothing to redo"));
    fixture.says(&["archive", BIKE]);
    assert_eq!(names(&[]), ["Hire bike 03", "Hire bike 08"]);
    assert_eq!(names(&["--archived"]), [BIKE]);
    assert_eq!(names(&["--all", "--sort", "touched"]), [BIKE, "Hire bike 08", "Hire bike 03"]);
    assert_eq!(names(&["--all", "--limit", "2", "--page", "2"]), ["Hire bike 08"]);
    fixture.says(&["restore", BIKE]);
    fixture.says(&["edit", BIKE, "--name", "Race bike", "--owner", ""]);
    assert_eq!(fixture.json(&["show", "race"])["bike"]["bike"].get("owner"), None);
}

/// Export and import of a bike, a bundle and a table.
#[test]
fn out_and_in_again() {
    let fixture = Fixture::stocked();
    let file: Bike = serde_json::from_str(&fixture.says(&["export", BIKE])).unwrap();
    let source: Bike = serde_json::from_slice(&fs::read(fixture.path("hire-bike-05.json")).unwrap()).unwrap();
    assert_eq!(file, source);
    let written = fixture.json(&["bundle", "write", "all.zip"]);
    assert_eq!((&written["bikes"], &written["measurements"]), (&3.into(), &96.into()));
    let other = ["--book", "other.steerbook"];
    let merge = [&other[..], &["bundle", "read", "all.zip"]].concat();
    assert_eq!(fixture.json(&merge)["merged"]["bikes_added"], 3);
    let again = fixture.json(&merge);
    assert_eq!(
        (&again["merged"]["bikes_added"], &again["merged"]["measurements_known"]),
        (&0.into(), &96.into())
    );

    fixture.says(&["table", "write", "all.csv"]);
    let table = fs::read_to_string(fixture.path("all.csv")).unwrap();
    assert_eq!(fixture.says(&["table", "write", "-"]), table);
    let third = ["--book", "third.steerbook"];
    let read = |words: &[&str]| fixture.call(&[&third[..], &["table", "read"], words].concat());
    fs::write(fixture.path("bad.csv"), table.replacen("caliper", "calipre", 1)).unwrap();
    let refused = read(&["bad.csv"]);
    let told = String::from_utf8_lossy(&refused.stderr).into_owned();
    assert_eq!(refused.status.code(), Some(3), "{told}");
    assert!(told.contains("column `with`: \"calipre\"") && told.contains("did you mean caliper?"), "{told}");
    assert!(fixture.fails(2, &[&third[..], &["bikes"]].concat()).contains("there is no field book"));
    let partial = read(&["bad.csv", "--partial", "--json"]);
    let told: Value = serde_json::from_slice(&partial.stdout).unwrap();
    assert_eq!(
        (&told["imported"]["measurements_added"], &told["imported"]["left_out"]),
        (&95.into(), &1.into())
    );
    assert!(String::from_utf8_lossy(&partial.stderr).contains("calipre"));
    let rest = read(&["all.csv", "--json"]);
    let told: Value = serde_json::from_slice(&rest.stdout).unwrap();
    assert_eq!(told["imported"]["measurements_added"], 1);
}

/// Every signature status of a catalogue that can be reached with a key that signed something else.
#[test]
fn catalogues_and_keys() {
    let fixture = Fixture::stocked();
    assert!(fixture.json(&["catalogues"])["makers"][0]["catalogues"][0]["in_use"].as_bool().unwrap());
    assert_eq!(fixture.json(&["catalogue", "import", "catalogue.json"])["new"], false);
    // RFC 8032, 7.1, test 1 (V): a key, and its signature over the empty message.
    let key = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a";
    let signature = "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd2\
                     5bf5f0595bbe24655141438e7a100b";
    fs::write(fixture.path("signature"), signature).unwrap();
    let maker = "Tarn & Tiller Components";
    assert_eq!(
        fixture.json(&["catalogue", "trust", maker, key])["signature_status"],
        "unsigned_though_pinned"
    );
    let signed = ["catalogue", "import", "catalogue.json", "--signature", "signature"];
    assert!(fixture.fails(3, &signed).contains("was not made by"));
    assert_eq!(fixture.json(&["catalogue", "trust", maker, "--forget"])["signature_status"], "unsigned");
    assert!(fixture.fails(2, &["catalogue", "trust", maker, "zz"]).contains("public key of 32 bytes"));
    let older = fs::read_to_string(fixture.path("catalogue.json"))
        .unwrap()
        .replace("\"number\": 12", "\"number\": 11");
    fs::write(fixture.path("older.json"), older).unwrap();
    assert!(fixture.fails(3, &["catalogue", "import", "older.json"]).contains("--older"));
    assert_eq!(fixture.json(&["catalogue", "import", "older.json", "--older"])["number"], 11);
    assert_eq!(fixture.json(&["check", BIKE])["catalogue"]["number"], 11);
    assert_eq!(fixture.json(&["check", BIKE, "--number", "12"])["catalogue"]["number"], 12);
}

/// Adding, listing, saving, missing and removing a photo.
#[test]
fn photos() {
    let fixture = Fixture::stocked();
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/photo/baseline-444-turned.jpg");
    let source = source.to_str().unwrap();
    let added = fixture.json(&["photo", "add", BIKE, source, "--note", "upper seat"]);
    assert_eq!(added["known"], false);
    assert_eq!(fixture.json(&["photo", "add", BIKE, source])["known"], true);
    assert_eq!(fixture.json(&["photo", "list"])["photos"], serde_json::json!([]));
    let listed = fixture.json(&["photo", "list", BIKE]);
    assert_eq!(
        (&listed["photos"][0]["id"], &listed["photos"][0]["note"]),
        (&added["photo"], &"upper seat".into())
    );
    fixture.says(&["photo", "save", BIKE, "1", "--to", "copy.jpg"]);
    fixture.says(&["photo", "save", BIKE, "1", "--to", "original.jpg", "--original"]);
    assert_eq!(fs::read(fixture.path("original.jpg")).unwrap(), fs::read(source).unwrap());
    // The copy is the file named by the book; it was re-encoded.
    let copy = fs::read(fixture.path("copy.jpg")).unwrap();
    assert_eq!(copy, fs::read(listed["photos"][0]["working_file"].as_str().unwrap()).unwrap());
    assert!(copy.starts_with(b"\xff\xd8") && copy != fs::read(source).unwrap());
    assert_eq!(fixture.json(&["examine"])["sound"], true);
    fs::remove_file(listed["photos"][0]["working_file"].as_str().unwrap()).unwrap();
    let health = fixture.json(&["examine"]);
    assert_eq!(health["photos_without_files"], serde_json::json!(["photo 1 of Hire bike 05"]));
    assert!(fixture.fails(3, &["photo", "save", BIKE, "1", "--to", "x.jpg"]).contains("is missing"));
    assert!(!fixture.path("x.jpg").exists());
    fixture.says(&["photo", "remove", BIKE, "1"]);
    assert!(fixture.fails(2, &["photo", "remove", BIKE, "1"]).contains("there is no photo `1`"));
    assert!(fixture.fails(3, &["photo", "add", "catalogue.json"]).contains("neither JPEG, PNG nor WebP"));
}

/// Invalid calls with their status and a part of the message; none changes the book.
#[test]
fn wrong_calls_change_nothing() {
    let fixture = Fixture::stocked();
    let before = fixture.says(&["show", BIKE]);
    let throat = ["measure", BIKE, "upper_throat_diameter"];
    let throat = |more: &[&'static str]| [&throat[..], more].concat();
    let calls: [(i32, Vec<&str>, &str); 19] = [
        (2, vec!["show", "hire bike"], "could be any of 3 bikes"),
        (2, vec!["show", "hier bike 05"], "did you mean `Hire bike 05`"),
        (2, vec!["show", "quite another"], "`steerwright book bikes` lists them"),
        (2, vec!["show", " "], "a bike's name is needed"),
        (
            2,
            vec!["measure", BIKE, "upper_throat_diametre", "33", "mm", "--with", "caliper"],
            "did you mean upper_throat_diameter?",
        ),
        (2, throat(&["33", "deg", "--with", "caliper"]), "`unit` is \"deg\"; expected mm, cm or in"),
        (2, throat(&["334", "mm", "--with", "caliper"]), "`value` is 334 mm; expected 25 to 62 mm"),
        (2, throat(&["NaN", "mm", "--with", "caliper"]), "the value `NaN` is not a number; expected digits"),
        (2, throat(&["33", "mm", "--with", "calipre"]), "did you mean caliper?"),
        (2, throat(&["33", "mm", "--with", "caliper", "--at", "yesterday"]), "`at`"),
        (2, vec!["strike", BIKE, "99", "--why", "slip"], "expected a number from 1 to 42"),
        (2, vec!["strike", BIKE, "1", "--why", " "], "reason"),
        (2, vec!["see", BIKE, "bearings", "rouhg"], "`bearings` is \"rouhg\""),
        (2, vec!["see", BIKE, "berings", "rough"], "did you mean `bearings`?"),
        (2, vec!["untag", BIKE, "nope"], "has no tag `nope`"),
        (2, vec!["keep", BIKE, "--kit", "TT-4180-51"], "did you mean `TT-4180-15`?"),
        (2, vec!["bundle", "read", "none.zip"], "there is no file none.zip"),
        (3, vec!["bundle", "read", "catalogue.json"], "this is no Steerwright bundle"),
        // One invalid file among several: none is added.
        (3, vec!["add", "hire-bike-07.json", "catalogue.json"], "expected \"steerwright.bike/1\""),
    ];
    for (status, words, part) in calls {
        let told = fixture.fails(status, &words);
        assert!(told.contains(part), "{words:?}: {told}");
    }
    assert_eq!(fixture.says(&["show", BIKE]), before);
    assert_eq!(fixture.json(&["bikes"])["bikes"].as_array().unwrap().len(), 3);
}

/// Reading a book that does not exist creates none; the default book is in the platform's data directory.
#[test]
fn where_the_book_lies() {
    let fixture = Fixture::new();
    assert!(fixture.fails(2, &["bikes"]).contains("there is no field book"));
    assert!(!fixture.path("field.steerbook").exists());
    let told = fixture.call(&["add", "hire-bike-05.json"]).stderr;
    assert!(String::from_utf8_lossy(&told).contains("a new field book was made"));
    assert!(fixture.call(&["add", "hire-bike-03.json"]).stderr.is_empty());
    let mut command = fixture.command(&["book", "add", "hire-bike-05.json"]);
    let output =
        command.env_remove("STEERWRIGHT_BOOK").env("XDG_DATA_HOME", fixture.path("data")).output().unwrap();
    assert!(output.status.success());
    if cfg!(target_os = "linux") {
        assert!(fixture.path("data/steerwright/field.steerbook").is_file());
    }
}

/// Concurrent writes of several processes are all in the book.
#[test]
fn two_at_once() {
    let fixture = Fixture::stocked();
    let start = |number: u32| {
        let tag = format!("tag-{number}");
        let mut command = fixture.command(&["book", "tag", BIKE, &tag]);
        command.spawn().unwrap()
    };
    let calls: Vec<_> = (0..8).map(start).collect();
    for mut call in calls {
        assert!(call.wait().unwrap().success());
    }
    assert_eq!(fixture.json(&["show", BIKE])["bike"]["tags"].as_array().unwrap().len(), 8);
}

/// The user version is at offset 60 of the database file header, big-endian (section 1.3.15 of the file format).
#[test]
fn a_newer_book_is_left_alone() {
    let fixture = Fixture::stocked();
    let path = fixture.path("field.steerbook");
    let mut bytes = fs::read(&path).unwrap();
    bytes[60..64].copy_from_slice(&9_999u32.to_be_bytes());
    fs::write(&path, &bytes).unwrap();
    assert!(
        fixture.fails(3, &["bikes"]).contains("was written by a newer version of Steerwright (format 9999")
    );
    assert_eq!(fs::read(&path).unwrap(), bytes);
    let other = ["--book", "catalogue.json", "bikes"];
    assert!(fixture.fails(3, &other).contains("is no Steerwright field book"));
}

/// Damage is reported when it is found, the damaged file is kept, and `examine` still reports it later.
#[test]
fn a_damaged_book_is_told() {
    let fixture = Fixture::stocked();
    let path = fixture.path("field.steerbook");
    let mut bytes = fs::read(&path).unwrap();
    bytes[..16].fill(0);
    fs::write(&path, &bytes).unwrap();
    let output = fixture.call(&["bikes", "--json"]);
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success() && told.contains("The field book was damaged."), "{told}");
    let aside = fs::read_dir(fixture.folder.path()).unwrap().filter_map(Result::ok);
    let aside: Vec<_> =
        aside.filter(|file| file.file_name().to_string_lossy().contains(".damaged-")).collect();
    assert_eq!(aside.len(), 1);
    assert_eq!(fs::read(aside[0].path()).unwrap(), bytes);
    let health = fixture.json(&["examine"]);
    assert_eq!(health["sound"], true);
    assert!(health["recoveries"][0]["text"].as_str().unwrap().starts_with("The field book was damaged."));
}
