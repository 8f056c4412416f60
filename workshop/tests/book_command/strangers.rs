//! Files and words from strangers: what they may take, show and cost.

use super::{BIKE, Fixture};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::fs::{self, File};
use std::io::{Read, Write};
use std::path::Path;
use std::process::Command;
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

/// The entries of a bundle except its manifest.
fn entries(path: &Path) -> Vec<(String, Vec<u8>)> {
    let mut archive = ZipArchive::new(File::open(path).unwrap()).unwrap();
    let mut entries = Vec::new();
    for at in 0..archive.len() {
        let mut file = archive.by_index(at).unwrap();
        let name = file.name().unwrap().into_owned();
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).unwrap();
        if name != "manifest.json" {
            entries.push((name, bytes));
        }
    }
    entries
}

/// Packs entries with a manifest of them.
fn pack(path: &Path, entries: &[(String, Vec<u8>)]) {
    let mut rows = Vec::new();
    let mut zip = ZipWriter::new(File::create(path).unwrap());
    for (name, bytes) in entries {
        zip.start_file(name.as_str(), SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
        let hash = data_encoding::HEXLOWER.encode(&Sha256::digest(bytes));
        rows.push(json!({"name": name, "bytes": bytes.len(), "sha256": hash}));
    }
    let manifest = json!({
        "schema": "steerwright.bundle/1", "made_at": "2026-05-01T08:00:00Z", "made_by": "0.1.0", "entries": rows,
    });
    zip.start_file("manifest.json", SimpleFileOptions::default()).unwrap();
    zip.write_all(manifest.to_string().as_bytes()).unwrap();
    zip.finish().unwrap();
}

/// A bundle of the stocked book with a kept check, as its entries.
fn sound(fixture: &Fixture) -> Vec<(String, Vec<u8>)> {
    fixture.says(&["keep", BIKE, "--kit", "TT-4180-15"]);
    fixture.says(&["bundle", "write", BIKE, "sound.zip"]);
    entries(&fixture.path("sound.zip"))
}

/// The same with one bike that has this many checks, whose reports are `report`.
fn with_checks(entries: &[(String, Vec<u8>)], count: u32, report: &str) -> Vec<(String, Vec<u8>)> {
    let (mut made, mut ids) = (Vec::new(), Vec::new());
    let check = entries.iter().find(|(name, _)| name.starts_with("checks/")).unwrap();
    for number in 0..count {
        let id = format!("01890a5d-ac96-774b-bcce-{number:012}");
        let mut it: Value = serde_json::from_slice(&check.1).unwrap();
        it["id"] = id.as_str().into();
        it["report_json"] = report.into();
        made.push((format!("checks/{id}.json"), it.to_string().into_bytes()));
        ids.push(id);
    }
    for (name, bytes) in entries.iter().filter(|(name, _)| !name.starts_with("checks/")) {
        let mut bytes = bytes.clone();
        if name.starts_with("bikes/") {
            let mut it: Value = serde_json::from_slice(&bytes).unwrap();
            it["checks"] = ids.clone().into();
            bytes = it.to_string().into_bytes();
        }
        made.push((name.clone(), bytes));
    }
    made
}

/// A JSON text of about this many bytes that packs well, but not so well that it is taken for a bomb. Its quotes are
/// escaped in the JSON around it, which costs a parser most.
fn long_report(bytes: usize) -> String {
    let (mut text, mut seed) = ("[".to_owned(), 1u64);
    while text.len() < bytes {
        // Numbers from a linear congruential generator (Knuth's MMIX) between texts of the same letter.
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        text.push_str(&format!("\"{seed:016x}{}\",", "\\\"".repeat(300)));
    }
    text.push_str("0]");
    text
}

/// Runs the command with at most this much address space, and tells its exit status, output and largest resident size, as
/// the kernel counts both (`RLIMIT_AS`; `VmHWM` cannot be read after the end, so a shell's `ulimit` holds the first).
#[cfg(target_os = "linux")]
fn limited(fixture: &Fixture, most_mib: u64, words: &[&str]) -> (Option<i32>, String) {
    let mut command = Command::new("sh");
    let quoted: Vec<String> = words.iter().map(|word| format!("'{word}'")).collect();
    let script = format!(
        "ulimit -v {} && exec '{}' book {}",
        most_mib << 10,
        env!("CARGO_BIN_EXE_steerwright"),
        quoted.join(" ")
    );
    command.args(["-c", &script]).current_dir(fixture.folder.path());
    command.env("NO_COLOR", "1").env("STEERWRIGHT_BOOK", fixture.path("field.steerbook"));
    let output = command.output().unwrap();
    let told = [output.stdout, output.stderr].concat();
    (output.status.code(), String::from_utf8_lossy(&told).into_owned())
}

/// With 256 MiB of address space, the program's own code and stack included: the most that a bundle can make of its
/// memory is a few times its largest entry, and a file beyond the limits is refused in words.
#[cfg(target_os = "linux")]
#[test]
fn no_bundle_takes_more_than_256_mib() {
    const MOST_MIB: u64 = 256;
    let fixture = Fixture::stocked();
    let sound = sound(&fixture);
    // Checks as large as may be are read, and merged.
    pack(&fixture.path("large.zip"), &with_checks(&sound, 3, &long_report(11 << 20)));
    let (status, told) = limited(&fixture, MOST_MIB, &["bundle", "read", "large.zip"]);
    assert_eq!(status, Some(0), "{told}");
    assert!(told.contains("3 checks and 0 photos new"), "{told}");
    // Checks that are larger are not.
    pack(&fixture.path("larger.zip"), &with_checks(&sound, 3, &long_report(30 << 20)));
    let (status, told) = limited(&fixture, MOST_MIB, &["bundle", "read", "larger.zip"]);
    assert_eq!(status, Some(3), "{told}");
    assert!(told.contains("the most is"), "{told}");
    // A manifest of many small values, at its limit.
    let zip_of_manifest = |manifest: &str| {
        let mut zip = ZipWriter::new(File::create(fixture.path("manifest.zip")).unwrap());
        zip.start_file(
            "manifest.json",
            SimpleFileOptions::default().compression_method(zip::CompressionMethod::Stored),
        )
        .unwrap();
        zip.write_all(manifest.as_bytes()).unwrap();
        zip.finish().unwrap();
    };
    let zeros = "0,".repeat(8 << 20);
    let entry = r#"{"name":"","bytes":0,"sha256":""},"#;
    for manifest in [
        zeros.get(..(16 << 20) - 1).unwrap().to_owned(),
        format!("[{}", zeros.get(..15 << 20).unwrap()),
        format!("{{\"entries\":[{}", zeros.get(..15 << 20).unwrap()),
        format!("{{\"made_at\":[{}", zeros.get(..15 << 20).unwrap()),
        format!("{{\"entries\":[{}", entry.repeat((15 << 20) / entry.len())),
        "[".repeat(15 << 20),
    ] {
        zip_of_manifest(&manifest);
        let (status, told) = limited(&fixture, MOST_MIB, &["bundle", "read", "manifest.zip"]);
        assert_eq!(status, Some(3), "{told}");
        assert!(told.contains("manifest.json"), "{told}");
    }
    // A bike of many small values.
    let mut tags = sound.clone();
    let bike = tags.iter_mut().find(|(name, _)| name.starts_with("bikes/")).unwrap();
    let mut it: Value = serde_json::from_slice(&bike.1).unwrap();
    it["tags"] = Value::Null;
    bike.1 = it
        .to_string()
        .replace("\"tags\":null", &format!("\"tags\":[{}\"\"]", "\"\",".repeat(5 << 20)))
        .into_bytes();
    pack(&fixture.path("tags.zip"), &tags);
    let (status, told) = limited(&fixture, MOST_MIB, &["bundle", "read", "tags.zip"]);
    assert_eq!(status, Some(3), "{told}");
}

/// A file that is refused, missing or endless makes no book and does not hang the command.
#[test]
fn a_refused_import_makes_no_book() {
    let fixture = Fixture::new();
    fs::write(fixture.path("broken"), "no format of ours").unwrap();
    let calls: [(&[&str], i32); 12] = [
        (&["add", "none.json"], 2),
        (&["add", "broken"], 3),
        (&["add", "hire-bike-03.json", "broken"], 3),
        (&["bundle", "read", "none.zip"], 2),
        (&["bundle", "read", "broken"], 3),
        (&["table", "read", "none.csv"], 2),
        (&["table", "read", "broken"], 3),
        (&["table", "read", "--partial", "broken"], 3),
        (&["catalogue", "import", "broken"], 3),
        (&["photo", "add", "broken"], 3),
        (&["photo", "add", "No such bike", "broken"], 2),
        (&["new", ""], 2),
    ];
    for (words, status) in calls {
        let told = fixture.fails(status, words);
        assert!(!told.contains("a new field book was made"), "{words:?}: {told}");
        let left: Vec<_> =
            fs::read_dir(fixture.folder.path()).unwrap().map(|it| it.unwrap().file_name()).collect();
        assert!(left.iter().all(|name| !name.to_string_lossy().contains("steerbook")), "{words:?}: {left:?}");
    }
    // A good one makes it, also from standard input, which is read once.
    let mut add = fixture.command(&["book", "add", "-"]);
    let added = add.stdin(File::open(fixture.path("hire-bike-03.json")).unwrap()).output().unwrap();
    assert!(added.status.success(), "{}", String::from_utf8_lossy(&added.stderr));
    assert!(fixture.says(&["bikes"]).contains("Hire bike 03"));
}

#[cfg(unix)]
#[test]
fn a_pipe_or_device_is_refused_and_does_not_hang() {
    let fixture = Fixture::stocked();
    assert!(Command::new("mkfifo").arg(fixture.path("pipe")).status().unwrap().success());
    let calls: [&[&str]; 6] = [
        &["book", "bundle", "read", "pipe"],
        &["book", "add", "pipe"],
        &["book", "table", "read", "pipe"],
        &["book", "catalogue", "import", "pipe"],
        &["book", "photo", "add", BIKE, "/dev/zero"],
        &["check", "pipe", "--catalogue", "catalogue.json"],
    ];
    for words in calls {
        let output = fixture.command(words).output().unwrap();
        let told = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{words:?}: {told}");
        assert!(told.contains("is a pipe or a device; expected a plain file"), "{words:?}: {told}");
    }
    // Nor does a file to write hang the command where a pipe is.
    assert!(fixture.fails(2, &["table", "write", "pipe"]).contains("exists already"));
}

/// Characters that a terminal obeys or that are not seen are refused where they come in, and escaped in what is told.
#[test]
fn hidden_characters_are_refused_and_shown_escaped() {
    let fixture = Fixture::stocked();
    let hidden = [
        "\u{1b}[2J",
        "\u{202e}gpj",
        "\u{2066}x",
        "\u{200b}",
        "\u{200f}",
        "\u{61c}",
        "\u{2028}",
        "\u{fff9}",
        "\u{e0041}",
    ];
    for text in hidden {
        let name = format!("Ash{text}Elm");
        let calls: [&[&str]; 6] = [
            &["new", &name],
            &["edit", BIKE, "--owner", &name],
            &["tag", BIKE, &name],
            &["note", BIKE, &name],
            &["measure", BIKE, "head_angle", "66", "deg", "--with", "phone_level", "--note", &name],
            &["add", &name],
        ];
        for words in calls {
            let output = fixture.call(words);
            let told = String::from_utf8(output.stderr).unwrap();
            assert_ne!(output.status.code(), Some(0), "{words:?}");
            assert!(output.stdout.is_empty() && !told.contains(text), "{words:?}: {told:?}");
        }
    }
    // A file's name is shown escaped.
    let told = fixture.fails(2, &["add", "a\u{202e}nosj.b"]);
    assert!(told.contains("there is no file a\\u{202e}nosj.b"), "{told}");
}

/// A report in a stranger's bundle is refused if it could hide words, and what it holds is told escaped.
#[test]
fn a_strangers_report_cannot_hide_words() {
    let fixture = Fixture::stocked();
    let sound = sound(&fixture);
    pack(&fixture.path("hidden.zip"), &with_checks(&sound, 1, "{\"kits\": \"\\u202egpj\"}"));
    let told = fixture.fails(3, &["bundle", "read", "hidden.zip"]);
    assert!(told.contains("the report has an invisible character (U+202E) in it"), "{told}");
}

/// A bundle of someone who once received yours: it is told what it would take away, and nothing of it is taken.
#[test]
fn what_a_bundle_takes_away_is_told_and_asked_for() {
    let fixture = Fixture::stocked();
    fixture.says(&["bundle", "write", BIKE, "mine.zip"]);
    let mut theirs = entries(&fixture.path("mine.zip"));
    for (_, bytes) in theirs.iter_mut().filter(|(name, _)| name.starts_with("bikes/")) {
        let mut it: Value = serde_json::from_slice(bytes).unwrap();
        it["bike"]["name"] = "Theirs".into();
        it["touched_at"] = "9999-01-01T00:00:00Z".into();
        it["archived_at"] = "9999-01-01T00:00:00Z".into();
        for row in it["log"].as_array_mut().unwrap() {
            row["struck"] = json!({"at": "9999-01-01T00:00:00Z", "who": "Mallow", "why": "wrong"});
        }
        *bytes = it.to_string().into_bytes();
    }
    pack(&fixture.path("theirs.zip"), &theirs);
    let flat = |text: String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let before = fixture.says(&["show", BIKE]);
    let preview = flat(fixture.says(&["bundle", "read", "theirs.zip", "--preview"]));
    for part in [
        "Nothing was taken.",
        "0 bikes new, 1 known already",
        "Would not be taken, struck out, removed or put away there (--accept-removals takes it):",
        "Would not be taken, different there (--accept-changes takes it): - Hire bike 05 is called Theirs there",
        "is struck out there: wrong (Mallow, ",
        "times were in the future; they count as now.",
    ] {
        assert!(preview.contains(part), "{part}: {preview}");
    }
    let read = flat(fixture.says(&["bundle", "read", "theirs.zip"]));
    assert!(read.contains("Not taken, struck out") && read.contains("Not taken, different there"), "{read}");
    assert_eq!(fixture.says(&["show", BIKE]), before);
    let json = fixture.json(&["bundle", "read", "theirs.zip", "--accept-changes"]);
    assert!(json["merged"]["changes"].as_array().unwrap().iter().any(|change| change["taken"] == true));
    assert!(fixture.says(&["bikes"]).contains("Theirs"));
    let read = flat(fixture.says(&["bundle", "read", "theirs.zip", "--accept-removals"]));
    assert!(read.contains("Taken over, struck out, removed or put away there:"), "{read}");
    assert!(!fixture.says(&["bikes"]).contains("Theirs"));
}
