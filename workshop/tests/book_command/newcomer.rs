//! A person without any file: a bike from nothing, what to measure next, and numbers as they are typed.

use super::{BIKE, Fixture};
use std::io::Write;
use std::process::Stdio;

/// Standard output and error of a guided call with these lines as answers.
fn guided(fixture: &Fixture, bike: &str, answers: &str) -> (String, String) {
    let mut command = fixture.command(&["book", "measure", bike, "--ask"]);
    let mut child =
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(answers.as_bytes()).unwrap();
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    (String::from_utf8(output.stdout).unwrap(), String::from_utf8(output.stderr).unwrap())
}

#[test]
fn a_bike_begins_from_nothing() {
    let fixture = Fixture::new();
    let said = fixture.says(&["new", "My bike", "--owner", "Ada"]).replace('\n', " ");
    assert!(said.contains("steerwright book measure \"My bike\""), "{said}");
    let show = fixture.json(&["show", "My bike"]);
    assert_eq!(
        (&show["bike"]["bike"]["name"], &show["bike"]["bike"]["owner"]),
        (&"My bike".into(), &"Ada".into())
    );
    assert!(show["log"].as_array().unwrap().is_empty());
    assert!(fixture.fails(2, &["new", "my BIKE"]).contains("a bike called My bike already"));
    assert!(fixture.fails(2, &["new", " "]).contains("`name`"));
}

#[test]
fn measure_without_a_reading_says_what_to_measure_next() {
    let fixture = Fixture::new();
    fixture.says(&["new", "My bike"]);
    let said = fixture.says(&["measure", "My bike"]);
    for part in [
        "measure next, quickest wins first",
        "No catalogue is in the book",
        "Write it down: steerwright book",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    fixture.says(&["catalogue", "import", "catalogue.json"]);
    let plan = fixture.json(&["measure", "My bike"]);
    let check = fixture.json(&["check", "My bike"]);
    let names = |list: &serde_json::Value| -> Vec<String> {
        list.as_array().unwrap().iter().map(|it| it["what"].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(names(&plan["measure_next"]), names(&check["measure_next"]));
    assert_eq!(plan["kit"], check["kits"][0]["sku"]);
    assert!(fixture.fails(2, &["measure", "My bike", "wheelbase"]).contains("the value is missing"));
}

#[test]
fn the_guided_measurement_asks_and_writes_down() {
    let fixture = Fixture::new();
    fixture.says(&["new", "My bike"]);
    let basics = fixture.json(&["measure", "My bike"]);
    let first: Vec<&str> =
        basics["measure_next"].as_array().unwrap().iter().map(|it| it["what"].as_str().unwrap()).collect();
    let place = first.iter().position(|what| *what == "fork_offset").unwrap();
    // Enter skips what comes before the fork offset; an unusual one is asked about.
    let answers = format!("{}abc\n4,4\nn\n44 mm maker_sheet\nq\n", "\n".repeat(place));
    let (said, complaints) = guided(&fixture, "My bike", &answers);
    assert!(complaints.contains("`abc` is not a number"), "{complaints}");
    assert!(said.contains("did you mean 44 mm? Write it down as it is? (y/n)"), "{said}");
    assert!(said.contains("Written down for My bike, row 1: fork offset 44 mm, maker sheet."), "{said}");
    let log = &fixture.json(&["show", "My bike"])["log"];
    assert_eq!(log.as_array().unwrap().len(), 1, "{log}");
}

#[test]
fn the_guided_measurement_takes_looks_and_ends_with_the_input() {
    let fixture = Fixture::new();
    fixture.says(&["new", "My bike"]);
    fixture.says(&["catalogue", "import", "catalogue.json"]);
    let plan = fixture.json(&["measure", "My bike"]);
    assert_eq!(plan["measure_next"][0]["what"], "hoses_through_headset");
    let (said, complaints) = guided(&fixture, "My bike", "maybe\nno\n");
    assert!(complaints.contains("expected yes or no"), "{complaints}");
    assert!(said.contains("My bike, hoses through headset: no."), "{said}");
    assert_eq!(
        fixture.json(&["show", "My bike"])["bike"]["bike"]["observed"]["hoses_through_headset"],
        false
    );
}

#[test]
fn a_bike_of_the_book_stands_for_its_file() {
    let fixture = Fixture::stocked();
    let call = |words: &[&str]| fixture.command(words).output().unwrap();
    let by_name = call(&["handling", "hire bike 05", "--tilt", "1.5", "--json"]);
    let by_file = call(&["handling", "hire-bike-05.json", "--tilt", "1.5", "--json"]);
    assert_eq!(by_name.status.code(), Some(0), "{}", String::from_utf8_lossy(&by_name.stderr));
    assert_eq!(by_name.stdout, by_file.stdout);
    let check = call(&["check", BIKE, "--catalogue", "catalogue.json", "--kit", "TT-4180-15"]);
    assert_eq!(check.status.code(), Some(0));
    let told = |words: &[&str]| String::from_utf8(call(words).stderr).unwrap();
    let none = told(&["handling", "Hire bike 99"]);
    assert!(none.contains("there is no file Hire bike 99") && none.contains("in this book"), "{none}");
    let file = told(&["handling", "hire-bike-99.json"]);
    assert!(file.contains("there is no file hire-bike-99.json") && !file.contains("book"), "{file}");
    let marks = told(&["photo", BIKE]);
    assert!(marks.contains("no photo of Hire bike 05 has marks yet"), "{marks}");
}

#[test]
fn check_all_has_a_line_for_each_bike() {
    let fixture = Fixture::stocked();
    fixture.says(&["archive", "Hire bike 08"]);
    let said = fixture.says(&["check", "--all", "--change", "1,2"]);
    assert!(said.contains("Hire bike 03") && said.contains(BIKE) && !said.contains("Hire bike 08"), "{said}");
    let reports = fixture.json(&["check", "--all", "--change", "1.2"]);
    let reports = reports["reports"].as_array().unwrap();
    assert_eq!(reports.len(), 2);
    assert_eq!(reports[1], fixture.json(&["check", BIKE, "--change", "1.2"]));
    assert!(fixture.fails(2, &["check"]).contains("<BIKE>"));
    assert!(fixture.fails(2, &["check", BIKE, "--all"]).contains("cannot be used with"));
}

#[test]
fn numbers_may_have_a_decimal_comma() {
    let fixture = Fixture::stocked();
    let value = |typed: &[&str]| {
        let call = [&["measure", BIKE, "upper_throat_diameter"], typed, &["--with", "caliper"]].concat();
        let row = fixture.json(&call)["row"].as_u64().unwrap();
        let log = fixture.json(&["show", BIKE])["log"].clone();
        log[usize::try_from(row).unwrap() - 1]["measurement"]["value"].to_string()
    };
    assert_eq!(value(&["33,4", "mm"]), "33.4");
    assert_eq!(value(&["3,34", "cm", "--plus-minus", "0,01"]), "3.34");
    assert_eq!(value(&["33.4mm"]), "33.4");
    for (typed, part) in [
        ("1,234.5", "more than one decimal point or comma"),
        ("1,210", "could be 1210 or 1.210"),
        ("wide", "`wide` is not a number"),
        ("nan", "`nan` is not a number"),
    ] {
        let told = fixture.fails(2, &["measure", BIKE, "wheelbase", typed, "mm", "--with", "tape"]);
        assert!(told.contains("the value") && told.contains(part), "{typed}: {told}");
    }
}

#[test]
fn a_tyre_may_be_given_by_its_size() {
    let fixture = Fixture::new();
    fixture.says(&["new", "My bike"]);
    for size in
        [&["29x2.4"][..], &["29", "x", "2,4"], &["29 x 2,4"], &["27.5x2.6"], &["700x45c"], &["50-622"]]
    {
        let said = fixture.says(&[&["measure", "My bike", "front_tyre_diameter"], size].concat());
        assert!(said.contains("ISO") && said.contains("first estimate"), "{size:?}: {said}");
    }
    let log = fixture.json(&["show", "My bike"])["log"].clone();
    let reading = &log[0]["measurement"];
    assert_eq!((&reading["value"], &reading["with"]), (&743.9.into(), &"maker_sheet".into()));
    assert!((6.0..8.0).contains(&reading["plus_minus"].as_f64().unwrap()), "{reading}");
    let told = |typed: &[&str]| {
        fixture
            .fails(2, &[&["measure", "My bike", "rear_tyre_diameter"], typed, &["--with", "tape"]].concat())
    };
    let inches = told(&["29", "mm"]);
    assert!(inches.contains("did you mean 29 in?") && inches.contains("29x2.4"), "{inches}");
    assert!(told(&["31x2.4"]).contains("no rim is called 31"));
    assert!(told(&["29x2.4", "mm"]).contains("has no unit"));
    assert!(told(&["29x2.4"]).contains("no tool reads it"));
}

#[test]
fn an_unlikely_fork_offset_is_asked_about() {
    let fixture = Fixture::stocked();
    let call = ["measure", BIKE, "fork_offset", "4.4", "mm", "--with", "maker_sheet"];
    let told = fixture.fails(2, &call);
    assert!(told.contains("outside the usual 30 to 60 mm; did you mean 44 mm?"), "{told}");
    let before = fixture.json(&["show", BIKE])["log"].as_array().unwrap().len();
    fixture.says(&[&call[..], &["--as-read"]].concat());
    assert_eq!(fixture.json(&["show", BIKE])["log"].as_array().unwrap().len(), before + 1);
    let handling =
        fixture.command(&["handling", "hire-bike-05.json", "--fork-offset", "4,4"]).output().unwrap();
    assert!(String::from_utf8_lossy(&handling.stderr).contains("did you mean 44 mm?"));
}

#[test]
fn guesses_mean_something() {
    let fixture = Fixture::stocked();
    let told = |what: &str, unit: &str, tool: &str| {
        fixture.fails(2, &["measure", BIKE, what, "33", unit, "--with", tool])
    };
    assert!(told("upper_throat_diameter", "mm", "phone").contains("did you mean phone_level?"));
    assert!(told("upper_throat_diameter", "mm", "ruler").contains("did you mean steel_rule?"));
    assert!(told("upper_throat_diameter", "inches", "caliper").contains("did you mean in?"));
    assert!(told("upper_bearing_od", "mm", "caliper").contains("did you mean upper_bearing_outer_diameter?"));
    let hammer = told("upper_throat_diameter", "mm", "hammer");
    assert!(!hammer.contains("did you mean") && hammer.contains("one of caliper"), "{hammer}");
    assert!(told("upper_seat", "mm", "caliper").contains("`steerwright book see BIKE upper_seat ANSWER`"));
    assert!(fixture.fails(2, &["see", BIKE, "bearings", "smooth"]).contains("did you mean good?"));
    let guide = fixture.command(&["guide", "rake"]).output().unwrap();
    assert!(String::from_utf8_lossy(&guide.stderr).contains("did you mean `fork_offset`?"));
}

/// A carbon bike with pressed cups, measured in full; the lower bore is too shallow for every pair of cups.
fn carbon(fixture: &Fixture) {
    fixture.says(&["new", "Carbon bike"]);
    for (what, word) in [
        ("frame_material", "carbon"),
        ("upper_seat", "thin_lip"),
        ("lower_seat", "thin_lip"),
        ("hoses_through_headset", "no"),
        ("steering_stop", "no"),
        ("fork_out", "yes"),
    ] {
        fixture.says(&["see", "Carbon bike", what, word]);
    }
    for (what, value, tool) in [
        ("upper_bore_diameter", "43.94", "bore_gauge"),
        ("lower_bore_diameter", "55.95", "bore_gauge"),
        ("head_tube_length", "110", "steel_rule"),
        ("upper_bore_depth", "22", "caliper"),
        ("lower_bore_depth", "12", "caliper"),
        ("steerer_upper_diameter", "28.6", "caliper"),
        ("steerer_lower_diameter", "39.8", "caliper"),
    ] {
        fixture.says(&["measure", "Carbon bike", what, value, "mm", "--with", tool]);
    }
    fixture.says(&["catalogue", "import", "catalogue.json"]);
}

/// If nothing fits, the kit shown is one for the bike's own seats: no work makes another seat of them. What would only
/// tell the head angle with it is not asked for.
#[test]
fn the_nearest_miss_has_the_seats_of_the_bike() {
    let fixture = Fixture::new();
    carbon(&fixture);
    let said = fixture.says(&["check", "Carbon bike", "--change", "1"]);
    assert!(said.contains("None of them fits this bike."), "{said}");
    assert!(
        said.contains("TT-4456-10  Zero stack pair, 1 degree\n  Does not fit: lower bore depth."),
        "{said}"
    );
    assert!(said.contains("met    The lower seat is ZS56"), "{said}");
    assert!(!said.contains("is predicted from it") && !said.contains("usual values"), "{said}");
    assert_eq!(
        fixture.json(&["check", "Carbon bike", "--change", "1"])["measure_next"],
        serde_json::json!([])
    );
}

#[test]
fn a_report_of_the_book_names_the_calls_that_write_down() {
    let fixture = Fixture::new();
    fixture.says(&["new", "My bike"]);
    fixture.says(&["catalogue", "import", "catalogue.json"]);
    fixture.says(&["see", "My bike", "lower_seat", "drop_in"]);
    let said = fixture.says(&["check", "My bike"]).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        said.contains("with `steerwright book measure`, what you saw with `steerwright book see`"),
        "{said}"
    );
    // No bike's file is spoken of where there is none.
    assert!(!said.contains("bike's file"), "{said}");
}

#[test]
fn all_bikes_at_once_say_what_is_wanted_and_what_comes_of_it() {
    let fixture = Fixture::stocked();
    fixture.says(&["new", "My bike"]);
    let words = |said: &str| said.split_whitespace().collect::<Vec<_>>().join(" ");
    let said = words(&fixture.says(&["check", "--all", "--change", "1.5"]));
    assert!(said.contains("4 bikes; Tarn & Tiller Components, catalogue 12"), "{said}");
    assert!(said.contains("Wanted: 1.5° slacker on the ground.") && said.contains("change then"), "{said}");
    assert!(said.contains("look at hoses through headset"), "{said}");
    let page = fixture.says(&["check", "--all", "--head-angle", "64.8"]);
    let said = words(&page);
    assert!(said.contains("Wanted: a head angle of 64.8°.") && said.contains("head angle then"), "{said}");
    let row = page.lines().find(|line| line.contains(BIKE)).unwrap();
    assert!(row.contains("66.0 → 64.7°"), "{row}");
}
