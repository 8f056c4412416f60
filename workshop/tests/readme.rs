//! The README agrees with the output of the command.
#![allow(clippy::unwrap_used, reason = "a check may panic: that is how it fails")]

use assert_cmd::Command;
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// The section of hire bike 05, with the material to remove.
#[test]
fn the_picture_is_current() {
    let folder = TempDir::new().unwrap();
    let call = |words: &[&str]| {
        Command::cargo_bin("steerwright").unwrap().current_dir(&folder).args(words).assert().success();
    };
    call(&["demo", "--files", "."]);
    let check = ["check", "hire-bike-05.json", "--catalogue", "catalogue.json", "--kit", "TT-4180-15"];
    call(&[&check[..], &["--drawings", "pictures"]].concat());
    let made = fs::read_to_string(folder.path().join("pictures/section-TT-4180-15.svg")).unwrap();
    let shown = Path::new(env!("CARGO_MANIFEST_DIR")).join("../core/fit/data/demo/section.svg");
    if std::env::var_os("STEERWRIGHT_WRITE").is_some() {
        fs::write(&shown, &made).unwrap();
    }
    assert!(fs::read_to_string(&shown).unwrap() == made, "{} is not what the command makes", shown.display());
}

/// Every command in the README exists.
#[test]
fn the_commands_exist() {
    let readme = include_str!("../../README.md");
    for command in ["check", "handling", "level", "photo", "book", "guide", "schema", "demo"] {
        assert!(readme.contains(command), "{command} is not in the README");
        Command::cargo_bin("steerwright").unwrap().args([command, "--help"]).assert().success();
    }
}
