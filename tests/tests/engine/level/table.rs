//! Samples as a table.

use std::fs;
use std::path::Path;
use steerwright_core::level::{LevelPriors, Phones, Table, TableError, Unsteady, change};
use steerwright_core::quantity::Quantity;

fn file(name: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("data/level").join(name)).unwrap()
}

/// The two sessions that `tests/oracle/level.py` simulates: 66 degrees before, 64.75 after.
#[test]
fn sessions_before_and_after() {
    let session = |name: &str| Table::read(&file(name)).unwrap().session(Quantity::HeadAngle).unwrap();
    let (before, after) = (session("before.csv"), session("after.csv"));
    assert_eq!(before.readings.len(), 10);
    let told = change(&before, &after, Phones::Same, &LevelPriors::default()).unwrap();
    assert!((told.before.angle.value - 66.0).abs() <= 2.0 * told.before.angle.u, "{told:?}");
    assert!((told.change.value + 1.25).abs() <= 2.0 * told.change.u, "{told:?}");
    let apart = change(&before, &after, Phones::Different, &LevelPriors::default()).unwrap();
    assert!(apart.change.u > 1.2 * told.change.u, "{} {}", apart.change.u, told.change.u);
}

fn problems(text: &str) -> Vec<String> {
    Table::read(text.as_bytes()).unwrap_err().to_string().lines().map(str::to_owned).collect()
}

#[test]
fn every_wrong_cell_is_told() {
    let text = "pose,bike,reading,time_s,x,y,z\n\
        along,one_way,1,0,-4,8.9,0\n\
        along,one_way,1,0,-4,8.9,0\n\
        lean_lefft,oneway,1,0.04,x,1e9,nan\n\
        along,other_way,1,0.05,-4,8.9,0\n\
        along,other_way,,later,-4,8.9\n\
        along,other_way,2,1,-4,8.9,0\n\
        along,one_way,1,2,-4,8.9,0\n";
    let expected = [
        "row 3, column `time_s`: \"0\"; expected more than 0, the time of the sample before.",
        "row 4, column `bike`: \"oneway\"; expected one of one_way, other_way; did you mean `one_way`?",
        "row 4, column `pose`: \"lean_lefft\"; expected one of along, lean_left, lean_right; did you mean `lean_left`?",
        "row 4, column `x`: \"x\"; expected a number of m/s² within ±160.",
        "row 4, column `y`: \"1e9\"; expected a number of m/s² within ±160.",
        "row 4, column `z`: \"nan\"; expected a number of m/s² within ±160.",
        "row 5, column `bike`: \"other_way\"; expected one_way, as in the rows before of the same reading.",
        "row 6, column `reading`: nothing; expected the reading's name.",
        "row 6, column `z`: nothing; expected a number of m/s² within ±160.",
        "row 6, column `time_s`: \"later\"; expected a number of seconds.",
        "row 8, column `reading`: \"1\"; expected a name that no earlier reading has.",
    ];
    assert_eq!(problems(text), expected);
}

#[test]
fn tables_that_are_none() {
    assert_eq!(
        problems(""),
        ["there is nothing in the table; expected a first line with the columns' names."]
    );
    let header = "reading,bike,pose,time_s,x,y,z";
    assert_eq!(
        problems(header),
        ["there are no samples in the table; expected rows below the columns' names."]
    );
    let missing = problems("reading,bike,time_s,x,x,z\n");
    assert_eq!(missing.len(), 3, "{missing:?}");
    assert!(missing[0].starts_with("row 1, column `pose`: is missing; expected the columns reading, bike,"));
    assert!(missing[1].contains("`x`: is there twice"), "{missing:?}");
    let latin = [header.as_bytes(), b"\n1,one_way,along,0,\xe9,0,0\n"].concat();
    assert!(Table::read(&latin).unwrap_err().to_string().contains("row 2 is no UTF-8 text"));
    let short = Table::read(format!("{header}\nfirst,one_way,along,0,-4,8.9,0\n").as_bytes()).unwrap();
    let error = short.session(Quantity::HeadAngle).unwrap_err();
    let why = Unsteady::TooFew { count: 1 };
    assert_eq!(error, TableError::Unsteady { name: "first".to_owned(), row: 2, why });
    assert!(error.to_string().starts_with("reading `first` (from row 2): there are 1 samples"), "{error}");
}

/// A byte order mark, capitals in the first line, other columns and line ends of another system are accepted.
#[test]
fn what_spreadsheets_do_to_a_table() {
    let text = String::from_utf8(file("before.csv")).unwrap();
    let changed = text.replace("reading,bike", "Reading,BIKE").replace('\n', ",more\r\n");
    let changed = [b"\xef\xbb\xbf".as_slice(), changed.as_bytes()].concat();
    assert_eq!(Table::read(&changed).unwrap(), Table::read(text.as_bytes()).unwrap());
}
