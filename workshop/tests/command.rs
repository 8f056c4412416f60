//! The `steerwright` command as a process: output, streams and exit status.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

#[path = "command/schemas.rs"]
mod schemas;

use assert_cmd::Command;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// A folder with the demo files, in which the command is run.
struct Fixture {
    folder: TempDir,
}

impl Fixture {
    fn new() -> Self {
        let folder = TempDir::new().unwrap();
        let fixture = Self { folder };
        fixture.call(&["demo", "--files", "."]).success();
        fixture
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_steerwright"));
        command.current_dir(self.folder.path()).args(words);
        // Independent of the environment in which the tests run.
        for variable in ["NO_COLOR", "CLICOLOR_FORCE", "CLICOLOR", "COLUMNS", "LINES", "TERM"] {
            command.env_remove(variable);
        }
        command
    }

    fn call(&self, words: &[&str]) -> assert_cmd::assert::Assert {
        self.command(words).assert()
    }

    /// Standard output of a successful call.
    #[track_caller]
    fn answer(&self, words: &[&str]) -> String {
        let assert = self.call(words).code(0);
        String::from_utf8(assert.get_output().stdout.clone()).unwrap()
    }

    /// Standard error of a call that fails with the given status; standard output is empty.
    #[track_caller]
    fn complaint(&self, words: &[&str], status: i32) -> String {
        let assert = self.call(words).code(status);
        assert_eq!(assert.get_output().stdout, b"", "{words:?}");
        String::from_utf8(assert.get_output().stderr.clone()).unwrap()
    }
}

const CHECK: [&str; 4] = ["check", "hire-bike-05.json", "--catalogue", "catalogue.json"];

fn check(more: &[&'static str]) -> Vec<&'static str> {
    [&CHECK[..], more].concat()
}

#[test]
fn status_0_is_an_answer() {
    let fixture = Fixture::new();
    let calls: [&[&str]; 16] = [
        &check(&[]),
        // A kit that does not fit is a valid answer too.
        &["check", "hire-bike-08.json", "--catalogue", "catalogue.json"],
        &check(&["--kit", "TT-4100-15"]),
        &check(&["--change", "1.2", "--json"]),
        &check(&["--head-angle", "67", "--all-kits"]),
        &check(&["--steepen"]),
        &["handling", "hire-bike-05.json"],
        &["handling", "hire-bike-05.json", "--tilt=-1"],
        &[
            "handling",
            "hire-bike-05.json",
            "--kit",
            "TT-4180-15",
            "--catalogue",
            "catalogue.json",
            "--steepen",
        ],
        &["handling", "hire-bike-09.json", "--sag", "--json"],
        &["demo"],
        &["guide"],
        &["guide", "upper_throat_diameter"],
        &["guide", "bearings", "--json"],
        &["schema", "bike"],
        &["completions", "bash"],
    ];
    for words in calls {
        assert!(!fixture.answer(words).trim().is_empty(), "{words:?}");
    }
}

#[test]
fn status_2_is_for_wrong_words() {
    let fixture = Fixture::new();
    let calls: [(&[&str], &str); 25] = [
        (&["chekc"], "unrecognized subcommand 'chekc'"),
        (&["check", "hire-bike-05.json"], "--catalogue <FILE>"),
        (&check(&["--change", "11"]), "expected 0 to 10 degrees"),
        (&check(&["--change", "one"]), "`one` is not a number; expected digits"),
        (&check(&["--change", "NaN"]), "`NaN` is not a number"),
        (&check(&["--head-angle", "20"]), "expected 50 to 85 degrees"),
        (&check(&["--change", "1", "--head-angle", "65"]), "cannot be used with"),
        (&check(&["--kit", "TT-4180-16"]), "the catalogue has no kit `TT-4180-16`; did you mean `TT-4180-1"),
        (&["check", "nowhere.json", "--catalogue", "catalogue.json"], "there is no file nowhere.json"),
        (&["check", ".", "--catalogue", "catalogue.json"], ". is a folder; expected a file"),
        (&["check", "-", "--catalogue", "catalogue.json", "--instruments", "-"], "only one file can come"),
        (&["handling", "-", "--instruments", "-"], "only one file can come from standard input"),
        (&["check", "-", "--catalogue", "-"], "only one file can come from standard input (-)"),
        (
            &["handling", "-", "--kit", "TT-4180-15", "--catalogue", "-"],
            "only one file can come from standard",
        ),
        (&["handling", "hire-bike-05.json", "--tilt", "9"], "expected -5 to 5 degrees"),
        (&["handling", "hire-bike-05.json", "--kit", "TT-4180-15"], "--catalogue <FILE>"),
        (
            &[
                "handling",
                "hire-bike-05.json",
                "--kit",
                "TT-4180-15S",
                "--catalogue",
                "catalogue.json",
                "--steepen",
            ],
            "TT-4180-15S is made for slackening only; it cannot be turned round",
        ),
        (&["demo", "--filse", "x"], "unexpected argument '--filse'"),
        (&["guide", "throat"], "there is no measurement `throat`"),
        (&["guide", "upper_troat_diameter"], "did you mean `upper_throat_diameter`?"),
        (&["handling", "hire-bike-05.json", "--front-tyre", "29x"], "expected a size such as 29x2.4"),
        (&["handling", "hire-bike-05.json", "--front-tyre", "29"], "did you mean 29 inches?"),
        (
            &["check", "hire-bike-05.json", "--catalogue", "catalogue.json", "--change", "-1"],
            "--steepen turns the change round",
        ),
        (&["schema", "picture"], "invalid value 'picture'"),
        (&["completions", "csh"], "invalid value 'csh'"),
    ];
    for (words, expected) in calls {
        let complaint = fixture.complaint(words, 2);
        assert!(complaint.contains(expected), "{words:?}: {complaint}");
    }
    // A bike file edited by the user is not overwritten.
    fs::write(fixture.path("hire-bike-03.json"), "{}").unwrap();
    let complaint = fixture.complaint(&["demo", "--files", "."], 2);
    assert!(complaint.contains("hire-bike-03.json exists already"), "{complaint}");
    assert_eq!(fs::read_to_string(fixture.path("hire-bike-03.json")).unwrap(), "{}");
}

/// Errors of invalid input name file, field, found value and expected value, all at once.
#[test]
fn status_3_names_everything_that_is_wrong() {
    let fixture = Fixture::new();
    fs::write(
        fixture.path("bike.json"),
        r#"{"schema": "steerwright.bike/1", "name": "b", "colour": "red",
            "observed": {"frame_material": "wood"},
            "measured": [{"what": "head_tube_length", "value": 11.2, "unit": "mm", "with": "tape"},
                         {"what": "head_angle", "value": 66, "unit": "mm", "with": "phone_level"}]}"#,
    )
    .unwrap();
    let expected = [
        "steerwright: bike.json: `colour` is not a field of this format; expected one of schema, name, owner, observed, \
         fitted, measured.",
        "bike.json: `observed.frame_material` is \"wood\"; expected one of aluminium, carbon, steel, titanium, not_known.",
        "bike.json: `measured[0].value` is 11.2 mm; expected 60 to 300 mm for the head tube length; did you mean 11.2 cm?",
        "bike.json: `measured[1].unit` is \"mm\"; expected deg for the head angle.",
    ];
    for words in [&["check", "bike.json", "--catalogue", "catalogue.json"][..], &["handling", "bike.json"]] {
        assert_eq!(fixture.complaint(words, 3).trim_end().lines().collect::<Vec<_>>(), expected);
    }

    fs::write(fixture.path("kits.json"), r#"{"schema": "steerwright.catalogue/1", "kits": [{"sku": ""}]}"#)
        .unwrap();
    let complaint = fixture.complaint(&["check", "hire-bike-05.json", "--catalogue", "kits.json"], 3);
    for field in ["`maker`", "`number`", "`kits[0].name`", "`kits[0].upper`"] {
        assert!(complaint.contains(&format!("kits.json: {field} is missing")), "{field}: {complaint}");
    }
    fs::write(fixture.path("tools.json"), r#"{"calliper": {"plus_minus_mm": 1, "source": "x"}}"#).unwrap();
    let complaint = fixture.complaint(&check(&["--instruments", "tools.json"]), 3);
    assert!(
        complaint.contains("tools.json: `calliper` is not a field of this format; did you mean `caliper`?")
    );
    let complaint = fixture.complaint(&["handling", "hire-bike-03.json", "--sag"], 3);
    assert!(complaint.contains("hire-bike-03.json: the bike has no measured sag; expected `fork_sag`"));
    // Input without a file is named "standard input".
    let assert = fixture.command(&["handling", "-"]).write_stdin("[]").assert().code(3);
    let complaint = String::from_utf8(assert.get_output().stderr.clone()).unwrap();
    assert!(complaint.starts_with("steerwright: standard input: "), "{complaint}");
}

/// Status 1 for system errors: a folder that cannot be created, a full disk.
#[test]
fn status_1_is_the_machine() {
    let fixture = Fixture::new();
    let calls: [&[&str]; 4] = [
        &check(&["--drawings", "catalogue.json/pictures"]),
        &["handling", "hire-bike-05.json", "--drawings", "catalogue.json/pictures"],
        &["demo", "--files", "catalogue.json/files"],
        &["guide", "upper_throat_diameter", "--drawings", "catalogue.json/pictures"],
    ];
    for words in calls {
        let complaint = fixture.complaint(words, 1);
        assert!(complaint.contains("writing catalogue.json/"), "{words:?}: {complaint}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_told() {
    let fixture = Fixture::new();
    for words in [
        &CHECK[..],
        &["handling", "hire-bike-05.json"],
        &["demo"],
        &["guide"],
        &["schema", "bike"],
        &["completions", "fish"],
    ] {
        let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_steerwright"));
        let output = command.current_dir(fixture.folder.path()).args(words).stdout(full).output().unwrap();
        assert_eq!(output.status.code(), Some(1), "{words:?}");
        let complaint = String::from_utf8(output.stderr).unwrap();
        assert!(complaint.starts_with("steerwright: writing standard output: "), "{words:?}: {complaint}");
    }
}

/// A dash means standard input, for either file, with the same result.
#[test]
fn a_dash_is_standard_input() {
    let fixture = Fixture::new();
    let expected = fixture.answer(&check(&["--json"]));
    for (words, file) in [
        (["check", "-", "--catalogue", "catalogue.json", "--json"], "hire-bike-05.json"),
        (["check", "hire-bike-05.json", "--catalogue", "-", "--json"], "catalogue.json"),
    ] {
        let assert = fixture.command(&words).pipe_stdin(fixture.path(file)).unwrap().assert().code(0);
        assert_eq!(String::from_utf8_lossy(&assert.get_output().stdout), expected);
    }
    let expected = fixture.answer(&["handling", "hire-bike-05.json"]);
    let assert =
        fixture.command(&["handling", "-"]).pipe_stdin(fixture.path("hire-bike-05.json")).unwrap().assert();
    assert_eq!(String::from_utf8_lossy(&assert.code(0).get_output().stdout), expected);
}

/// Removes escape codes from text.
fn plain(text: &str) -> String {
    let mut parts = text.split('\x1b');
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |plain, part| plain + part.split_once('m').map_or("", |(_, rest)| rest))
}

/// Styles are used only for terminals that accept them and carry no information of their own.
#[test]
fn escape_codes_only_where_they_are_wanted() {
    let fixture = Fixture::new();
    for words in [&CHECK[..], &["handling", "hire-bike-05.json"], &["demo"], &["guide"], &["guide", "reach"]]
    {
        let to_a_pipe = fixture.answer(words);
        assert!(!to_a_pipe.contains('\x1b'), "{words:?}");
        let asked_not_to = fixture.command(words).env("NO_COLOR", "1").assert().code(0);
        assert_eq!(asked_not_to.get_output().stdout, to_a_pipe.as_bytes(), "{words:?}");
        let forced = fixture.command(words).env("CLICOLOR_FORCE", "1").assert().code(0);
        let forced = std::str::from_utf8(&forced.get_output().stdout).unwrap().to_owned();
        assert!(forced.contains("\x1b["), "{words:?}: nothing to leave out");
        assert_eq!(plain(&forced), to_a_pipe, "{words:?}");
    }
    let complaint = fixture.complaint(&["handling", "nowhere.json"], 2);
    assert!(!complaint.contains('\x1b'), "{complaint}");
}

/// On a narrow page nothing exceeds its width except a single word, or a number with its unit.
#[test]
fn a_narrow_page_is_kept() {
    let fixture = Fixture::new();
    for columns in [40usize, 60, 80, 100] {
        let bikes = [1, 3, 5, 7, 8, 11, 12].map(|number| format!("hire-bike-{number:02}.json"));
        let mut calls: Vec<Vec<&str>> =
            vec![vec!["demo"], vec!["guide"], vec!["guide", "upper_bearing_outer_diameter"]];
        for bike in &bikes {
            calls.push(vec!["check", bike, "--catalogue", "catalogue.json", "--all-kits"]);
            calls.push(vec!["handling", bike, "--tilt", "1"]);
        }
        for words in calls {
            let assert = fixture.command(&words).env("COLUMNS", columns.to_string()).assert().code(0);
            let text = std::str::from_utf8(&assert.get_output().stdout).unwrap();
            for line in text.lines() {
                // None of the demo's characters is wider than one column.
                let width = line.chars().count();
                let words_in_it = line.split_whitespace().count();
                assert!(width <= columns || words_in_it == 1, "{words:?} at {columns}: {width}: {line:?}");
                assert_eq!(line.trim_end(), line, "{words:?}: blanks at the end");
            }
            let fullest = text.lines().map(|line| line.chars().count()).max().unwrap_or(0);
            assert!(fullest + 12 > columns.min(80), "{words:?} at {columns}: only {fullest} wide");
        }
    }
}

/// A closed pipe is not an error: no panic and no message.
#[cfg(unix)]
#[test]
fn a_closed_pipe_is_no_fault() {
    use std::io::{BufRead, BufReader, Read};
    use std::process::Stdio;
    let fixture = Fixture::new();
    // More output than a pipe buffers, so that the command is still writing when the reader closes.
    for words in [&["demo", "--json"][..], &["demo"], &check(&["--json"])] {
        let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_steerwright"));
        let command = command.current_dir(fixture.folder.path()).args(words);
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        let mut reader = BufReader::with_capacity(64, child.stdout.take().unwrap());
        reader.read_line(&mut line).unwrap();
        drop(reader);
        let mut complaint = String::new();
        child.stderr.take().unwrap().read_to_string(&mut complaint).unwrap();
        assert_eq!((child.wait().unwrap().code(), complaint.as_str()), (Some(0), ""), "{words:?}");
        assert!(!line.is_empty());
    }
    let long = fixture.answer(&["demo", "--json"]);
    assert!(long.len() > 200_000, "{} bytes fit in a pipe", long.len());
}

/// Feeds spaces endlessly and returns the number of bytes accepted before the command stops reading, and its
/// standard error.
#[cfg(unix)]
fn bytes_taken(fixture: &Fixture, words: &[&str]) -> (usize, String) {
    use std::io::{Read, Write};
    use std::process::Stdio;
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_steerwright"));
    let command = command.current_dir(fixture.folder.path()).args(words);
    let piped = command.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::piped());
    let mut child = piped.spawn().unwrap();
    let mut endless = child.stdin.take().unwrap();
    let mut taken = 0;
    while let Ok(more) = endless.write(&[b' '; 4096]) {
        taken += more;
        assert!(taken < 1 << 30, "it reads on and on");
    }
    let mut complaint = String::new();
    child.stderr.take().unwrap().read_to_string(&mut complaint).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(3), "{complaint}");
    (taken, complaint)
}

/// Endless input is rejected as soon as it exceeds the limit of the format.
#[cfg(unix)]
#[test]
fn an_endless_input_is_refused() {
    let fixture = Fixture::new();
    for (words, most) in [
        (&["handling", "-"][..], 1usize << 20),
        (&["check", "-", "--catalogue", "catalogue.json"], 1 << 20),
        (&["check", "hire-bike-05.json", "--catalogue", "-"], 16 << 20),
        (&check(&["--instruments", "-"]), 64 << 10),
    ] {
        let (taken, complaint) = bytes_taken(&fixture, words);
        let expected =
            format!("steerwright: standard input: the file is too large; expected at most {most} bytes.\n");
        assert_eq!(complaint, expected);
        // The pipe buffer counts as accepted too: 64 KiB on Linux, up to 1 MiB if enlarged.
        assert!(taken > most && taken <= most + (1 << 20), "{words:?}: {taken} bytes");
    }
}

#[test]
fn a_huge_file_and_deep_nesting_are_refused() {
    let fixture = Fixture::new();
    fs::File::create(fixture.path("huge.json")).unwrap().set_len(100 << 20).unwrap();
    fs::write(fixture.path("deep.json"), "[".repeat(100_000)).unwrap();
    let nested = format!(r#"{{"schema": {}1{}}}"#, "{\"a\":".repeat(100_000), "}".repeat(100_000));
    fs::write(fixture.path("nested.json"), nested).unwrap();
    for (file, expected) in [
        ("huge.json", "too large"),
        ("deep.json", "inside one another"),
        ("nested.json", "inside one another"),
    ] {
        for words in [
            ["check", file, "--catalogue", "catalogue.json"],
            ["check", "hire-bike-05.json", "--catalogue", file],
        ] {
            let complaint = fixture.complaint(&words, 3);
            assert!(complaint.contains(file) && complaint.contains(expected), "{words:?}: {complaint}");
            assert!(complaint.len() < 400, "{words:?}: {complaint}");
        }
    }
}

#[test]
fn completions_know_every_command() {
    let fixture = Fixture::new();
    for shell in ["bash", "zsh", "fish", "elvish", "powershell"] {
        let script = fixture.answer(&["completions", shell]);
        for word in ["check", "handling", "demo", "guide", "schema", "catalogue", "head-angle", "steepen"] {
            assert!(script.contains(word), "{shell}: {word}");
        }
    }
    let marks = [
        ("bash", "complete -F _steerwright"),
        ("zsh", "#compdef steerwright"),
        ("fish", "complete -c steerwright"),
    ];
    for (shell, mark) in marks {
        assert!(fixture.answer(&["completions", shell]).contains(mark), "{shell}");
    }
}

#[test]
fn help_has_examples_that_work() {
    let fixture = Fixture::new();
    let general = fixture.answer(&["--help"]);
    for words in ["First steps:", "steerwright demo", "Exit status: 0 answered"] {
        assert!(general.contains(words), "{general}");
    }
    fs::copy(fixture.path("hire-bike-09.json"), fixture.path("bike.json")).unwrap();
    let kits = fs::read_to_string(fixture.path("catalogue.json")).unwrap().replace("TT-4180-15L", "TT-42-15");
    fs::write(fixture.path("kits.json"), kits).unwrap();
    let mut tried = 0;
    for command in ["check", "handling", "demo", "guide", "schema", "completions"] {
        let help = fixture.answer(&[command, "--help"]);
        let (_, examples) = help.split_once("Example").unwrap_or_else(|| panic!("{command}: {help}"));
        let examples: Vec<&str> =
            examples.lines().filter_map(|line| line.trim().strip_prefix("steerwright ")).collect();
        assert!(!examples.is_empty(), "{command}: {help}");
        for example in examples {
            // Up to a redirection or remark, which a shell would handle; a dash reads the bike.
            let words: Vec<&str> =
                example.split(' ').take_while(|word| !word.starts_with(['<', '>', '('])).collect();
            let words: Vec<&str> = words.into_iter().filter(|word| !word.is_empty()).collect();
            let bike = fs::read(fixture.path("bike.json")).unwrap();
            fixture.command(&words).write_stdin(bike).assert().code(0);
            tried += 1;
        }
    }
    assert!(tried >= 12, "{tried} examples");
    assert!(fixture.answer(&["--version"]).starts_with("steerwright "));
}

/// Drawings are well-formed SVG with a size, one root and no scripts.
#[test]
fn drawings_are_well_formed() {
    let fixture = Fixture::new();
    let calls: [(&[&str], &[&str]); 5] = [
        (&check(&["--drawings", "a"]), &["section-TT-4180-05", "side-view-TT-4180-05"]),
        (
            &["check", "hire-bike-03.json", "--catalogue", "catalogue.json", "--drawings", "a"],
            &["section-TT-4180-05"],
        ),
        (&["handling", "hire-bike-05.json", "--tilt", "1", "--drawings", "a"], &["side-view"]),
        (&["guide", "upper_throat_diameter", "--drawings", "a"], &[]),
        (&["demo", "--drawings", "a"], &["hire-bike-01-section-TT-4180-15"]),
    ];
    for (words, expected) in calls {
        let folder = fixture.path("a");
        let assert = fixture.call(words).code(0);
        let remark = String::from_utf8(assert.get_output().stderr.clone()).unwrap();
        let files: Vec<PathBuf> = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
        assert!(!files.is_empty(), "{words:?}");
        assert!(remark.contains(&format!("{} picture", files.len())), "{words:?}: {remark}");
        for name in expected {
            assert!(folder.join(format!("{name}.svg")).is_file(), "{words:?}: {name} in {files:?}");
        }
        for file in files {
            let text = fs::read_to_string(&file).unwrap();
            let document = roxmltree::Document::parse(&text).unwrap();
            let root = document.root_element();
            assert_eq!(
                (root.tag_name().name(), root.tag_name().namespace()),
                ("svg", Some("http://www.w3.org/2000/svg"))
            );
            let view_box = root.attribute("viewBox").unwrap();
            let numbers: Vec<f64> = view_box.split(' ').map(|number| number.parse().unwrap()).collect();
            assert!(numbers.len() == 4 && numbers[2] > 0.0 && numbers[3] > 0.0, "{view_box}");
            assert!(!document.descendants().any(|node| node.has_tag_name("script")));
            assert!(
                document.descendants().filter(|node| node.is_element()).count() > 10,
                "{}",
                file.display()
            );
        }
        fs::remove_dir_all(&folder).unwrap();
    }
}

/// A samples table with invalid cells, one of a moving phone, and incomplete arguments.
#[test]
fn samples_that_cannot_be_answered() {
    let fixture = Fixture::new();
    let write = |name: &str, rows: &str| {
        fs::write(fixture.path(name), format!("reading,bike,pose,time_s,x,y,z\n{rows}")).unwrap();
    };
    write("wrong.csv", "1,one_way,along,0,-4,nine,0\n1,one_way,along,0.1,-4,8.9,\n");
    assert_eq!(
        fixture.complaint(&["level", "wrong.csv"], 3),
        "steerwright: wrong.csv:\n\
         row 2, column `y`: \"nine\"; expected a number of m/s² within ±160.\n\
         row 3, column `z`: nothing; expected a number of m/s² within ±160.\n"
    );
    write("short.csv", "1,one_way,along,0,-4,8.9,0\n");
    let short = fixture.complaint(&["level", "short.csv"], 3);
    assert!(short.contains("short.csv: reading `1` (from row 2): there are 1 samples"), "{short}");
    let row = |i: usize| format!("1,one_way,along,{i},0.0{},9.8,0\n", i % 10);
    write("upright.csv", &(0..30).map(row).collect::<String>());
    let upright = fixture.complaint(&["level", "upright.csv"], 3);
    assert!(
        upright.contains("in reading 1 the phone's edge rises at 89.7 degrees; expected 40 to 88"),
        "{upright}"
    );
    assert!(fixture.complaint(&["level", "none.csv"], 2).contains("there is no file none.csv"));
    fixture.complaint(&["level", "short.csv", "--other-phone"], 2);
    fixture.complaint(&["level", "short.csv", "short.csv", "--bike", "hire-bike-01.json"], 2);
}

/// A bike whose head angle alone is known: what the kit does to it follows from how the bike settles, so the readings that
/// tell are named.
#[test]
fn a_level_names_the_readings_that_a_kit_needs() {
    let fixture = Fixture::new();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/level");
    let [before, after] = ["before.csv", "after.csv"].map(|file| data.join(file).display().to_string());
    let reading = r#"{"what": "head_angle", "value": 66, "unit": "deg", "with": "phone_level"}"#;
    let bike = format!(r#"{{"schema": "steerwright.bike/1", "name": "Ash", "measured": [{reading}]}}"#);
    fs::write(fixture.path("few.json"), bike).unwrap();
    let kit = ["--bike", "few.json", "--kit", "TT-4180-15", "--catalogue", "catalogue.json"];
    let told = fixture.complaint(&[&["level", &before, &after][..], &kit].concat(), 3);
    assert!(told.contains("expected measurements of ") && told.contains(" wheelbase, "), "{told}");
    assert!(!told.contains("seat_angle"), "{told}");
    assert!(!told.contains(" of ."), "{told}");
}

#[test]
fn the_help_says_how_a_level_is_recorded() {
    let fixture = Fixture::new();
    let help = fixture.command(&["level", "--help"]).output().unwrap();
    let help = String::from_utf8(help.stdout).unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
    for part in ["with gravity", "m/s²", "50 samples a second", "multiply x, y and z by 9.81", "time_s"] {
        assert!(help.contains(part), "{part}: {help}");
    }
}
