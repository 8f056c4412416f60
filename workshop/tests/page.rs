//! Reports for narrow pages and for bikes with few readings.
#![allow(clippy::unwrap_used, reason = "a check may panic: that is how it fails")]

use assert_cmd::Command;

fn answer(words: &[&str], columns: &str, input: &str) -> String {
    let mut command = Command::new(env!("CARGO_BIN_EXE_steerwright"));
    let assert = command.env("COLUMNS", columns).env("NO_COLOR", "1").args(words).write_stdin(input).assert();
    String::from_utf8(assert.code(0).get_output().stdout.clone()).unwrap()
}

const BARE: &str = r#"{"schema": "steerwright.bike/1", "name": "Bare"}"#;

/// No empty row for an unknown figure.
#[test]
fn a_bike_without_readings_has_no_table() {
    let page = answer(&["handling", "-"], "80", BARE);
    assert!(page.contains("Nothing can be computed from these readings yet."), "{page}");
    assert!(!page.contains("as it stands"), "{page}");
}

/// Short text is next to its label even on a narrow page.
#[test]
fn a_stacked_table_keeps_short_cells_beside_their_titles() {
    let folder = tempfile::TempDir::new().unwrap();
    let files = folder.path().to_str().unwrap();
    answer(&["demo", "--files", files], "80", "");
    let (bike, catalogue) = (format!("{files}/hire-bike-05.json"), format!("{files}/catalogue.json"));
    let page = answer(&["check", &bike, "--catalogue", &catalogue], "40", "");
    for (title, cell) in [("verdict", "fits"), ("head angle", "66.0 → 65.5°"), ("installs", "easy")] {
        let beside = |line: &str| line.trim_start().starts_with(title) && line.ends_with(cell);
        assert!(page.lines().any(beside), "{title}: {page}");
    }
    assert!(page.lines().all(|line| line.chars().count() <= 40), "{page}");
}

/// Names are accepted with hyphens.
#[test]
fn the_guide_knows_a_name_with_hyphens() {
    let [hyphens, plain] = ["upper-throat-diameter", "upper_throat_diameter"];
    assert_eq!(answer(&["guide", hyphens], "80", ""), answer(&["guide", plain], "80", ""));
}
