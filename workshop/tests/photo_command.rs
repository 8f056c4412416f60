//! `steerwright photo` and `steerwright book photo measure` as processes.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a check may panic: that is how it fails"
)]

use serde_json::Value;
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};
use steerwright_core::photo::{Colour, Pixels};
use steerwright_core::photogrammetry::measure::{Ellipse, Marks, Wheel};
use tempfile::TempDir;

const EXAMPLE: &str = include_str!("../../tests/data/marks/example.json");

/// A folder with the example marks, a picture with the same aspect ratio and the demo files.
struct Fixture {
    folder: TempDir,
}

impl Fixture {
    fn new() -> Self {
        let fixture = Self { folder: TempDir::new().unwrap() };
        fs::write(fixture.path("marks.json"), EXAMPLE).unwrap();
        // The colour of each pixel encodes its position: column in red, row in green, at a tenth of the marks' scale.
        let data: Vec<u8> = (0..300_u32)
            .flat_map(|y| (0..400_u32).flat_map(move |x| [(x / 2) as u8, (y / 2) as u8, 90]))
            .collect();
        let (width, height) = (400, 300);
        let picture = Pixels {
            width,
            height,
            colour: Colour::Rgb,
            data,
            full_width: width,
            full_height: height,
            step: 1.0,
            upright: true,
        };
        fs::write(fixture.path("bike.png"), picture.to_png().unwrap()).unwrap();
        assert_eq!(fixture.call(&["demo", "--files", "."]).status.code(), Some(0));
        fixture
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn call(&self, words: &[&str]) -> Output {
        let mut command = Command::new(env!("CARGO_BIN_EXE_steerwright"));
        command.current_dir(self.folder.path()).args(words);
        command.env("NO_COLOR", "1").env("COLUMNS", "80").env("HOME", self.folder.path());
        command.env("STEERWRIGHT_BOOK", self.path("field.steerbook"));
        command.output().unwrap()
    }

    #[track_caller]
    fn says(&self, words: &[&str]) -> String {
        let output = self.call(words);
        assert_eq!(output.status.code(), Some(0), "{words:?}: {}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    }

    #[track_caller]
    fn json(&self, words: &[&str]) -> Value {
        serde_json::from_str(&self.says(&[words, &["--json"]].concat())).unwrap()
    }

    #[track_caller]
    fn fails(&self, status: i32, words: &[&str]) -> String {
        let output = self.call(words);
        assert_eq!(output.status.code(), Some(status), "{words:?}");
        String::from_utf8(output.stderr).unwrap()
    }

    /// Writes the example marks with one change.
    fn marks(&self, name: &str, change: impl FnOnce(&mut Value)) {
        let mut marks = serde_json::from_str(EXAMPLE).unwrap();
        change(&mut marks);
        fs::write(self.path(name), marks.to_string()).unwrap();
    }
}

#[track_caller]
fn assert_conforms(fixture: &Fixture, value: &Value) {
    let schema: Value = serde_json::from_str(&fixture.says(&["schema", "photo"])).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let errors: Vec<String> = validator.iter_errors(value).map(|error| error.to_string()).collect();
    assert!(errors.is_empty(), "{errors:?}");
}

#[test]
fn a_photo_in_words_and_as_json() {
    let fixture = Fixture::new();
    let words = fixture.says(&["photo", "marks.json"]);
    let json = fixture.json(&["photo", "marks.json"]);
    assert_conforms(&fixture, &json);
    assert_eq!(json["schema"], "steerwright.photo/1");
    let values = json["values"].as_array().unwrap();
    let head = values.iter().find(|it| it["what"] == "head_angle").unwrap();
    let shown =
        format!("{:.2}°   ± {:.2}°", head["value"].as_f64().unwrap(), 2.0 * head["u"].as_f64().unwrap());
    assert!(words.contains("head angle") && words.contains(&shown), "{shown}: {words}");
    let covariance = json["covariance"].as_array().unwrap();
    for (i, (value, row)) in values.iter().zip(covariance).enumerate() {
        let (u, variance) = (value["u"].as_f64().unwrap(), row[i].as_f64().unwrap());
        assert!((u * u - variance).abs() <= 1e-9 * variance, "{value}");
    }
    assert_eq!(json.get("handling"), None);
}

#[test]
fn before_and_after_by_a_tilt_and_by_a_kit() {
    let fixture = Fixture::new();
    let tilted = fixture.json(&["photo", "marks.json", "--tilt", "1.5"]);
    assert_conforms(&fixture, &tilted);
    let head = |report: &Value, when: &str| report["handling"][when]["head_angle"]["value"].as_f64().unwrap();
    let (before, after) = (head(&tilted, "before"), head(&tilted, "after"));
    // The frame's pitch reduces the effect of the tilt, so a tilt of 1.5° never changes the head angle by
    // more than that.
    assert!((0.9..1.5).contains(&(before - after)), "{before} {after}");
    let steeper = fixture.json(&["photo", "marks.json", "--tilt", "-1.5"]);
    assert!(head(&steeper, "after") > before);
    // The wheelbase keeps the uncertainty of its reading: the same marks are not counted twice.
    let values = tilted["values"].as_array().unwrap();
    let wheelbase = values.iter().find(|it| it["what"] == "wheelbase").unwrap()["u"].as_f64().unwrap();
    let handled = tilted["handling"]["before"]["wheelbase"]["u"].as_f64().unwrap();
    assert!(handled > 0.9 * wheelbase, "{handled} {wheelbase}");
    let kit = ["photo", "marks.json", "--kit", "TT-4180-15", "--catalogue", "catalogue.json"];
    let with_kit = fixture.json(&kit);
    assert!(head(&with_kit, "after") < head(&with_kit, "before"));
    assert!(fixture.says(&kit).contains("How the bike on the photo steers"));
    assert!(
        fixture
            .fails(2, &["photo", "marks.json", "--kit", "NONE", "--catalogue", "catalogue.json"])
            .contains("NONE")
    );
    fixture.fails(2, &["photo", "marks.json", "--kit", "TT-4180-15"]);
}

#[test]
fn the_overlay_lies_over_the_picture_and_carries_it() {
    let fixture = Fixture::new();
    fixture.says(&["photo", "marks.json", "bike.png", "--overlay", "seen.svg"]);
    let svg = fs::read_to_string(fixture.path("seen.svg")).unwrap();
    let page = roxmltree::Document::parse(&svg).unwrap();
    let image = page.descendants().find(|node| node.has_tag_name("image")).unwrap();
    let side = |name| image.attribute(name).unwrap().parse::<f64>().unwrap();
    assert!((side("width") / side("height") - 4.0 / 3.0).abs() < 1e-3);
    assert!(image.attribute("href").unwrap().starts_with("data:image/jpeg;base64,/9j/"));
    assert!(page.descendants().any(|node| node.attribute("data-layer") == Some("steering axis")));
    fixture.says(&["photo", "marks.json", "--overlay", "bare.svg"]);
    assert!(!fs::read_to_string(fixture.path("bare.svg")).unwrap().contains("<image"));
    assert!(fixture.fails(2, &["photo", "marks.json", "--overlay", "seen.png"]).contains(".svg"));
}

/// The change between two photos, and its comparison with the prediction.
#[test]
fn two_photos_tell_what_has_changed() {
    let fixture = Fixture::new();
    // The same photo twice: nothing has changed, and common errors of the bike's data cancel.
    let same = fixture.json(&["photo", "marks.json", "--before", "marks.json", "--tilt", "1.5"]);
    assert_conforms(&fixture, &same);
    let (values, change) = (same["values"].as_array().unwrap(), &same["change"]);
    let changed = change["values"].as_array().unwrap();
    assert_eq!(changed.len(), values.len());
    for (it, alone) in changed.iter().zip(values) {
        assert_eq!(it["what"], alone["what"]);
        assert_eq!(it["value"], 0.0, "{it}");
        // Two independent readings would give a factor of sqrt(2).
        let share = it["u"].as_f64().unwrap() / alone["u"].as_f64().unwrap();
        assert!(share > 0.1 && share <= 2_f64.sqrt() * 1.2, "{it} {share}");
    }
    let expected = &change["expected"];
    let predicted = expected["predicted"]["value"].as_f64().unwrap();
    assert!(predicted < -0.9, "{expected}");
    let difference = expected["difference"]["value"].as_f64().unwrap();
    assert!((difference + predicted).abs() < 1e-9, "{difference} {predicted}");
    let words = fixture.says(&["photo", "marks.json", "--before", "marks.json", "--tilt", "1.5"]);
    assert!(words.contains("What has changed since the photo before"), "{words}");
    let other = fixture.json(&["photo", "marks.json", "--before", "marks.json", "--other-camera"]);
    assert_eq!(other["change"]["same_camera"], false);
    assert!(fixture.fails(2, &["photo", "marks.json", "--other-camera"]).contains("--before"));
    assert!(fixture.fails(2, &["photo", "-", "--before", "-"]).contains("only one file"));
}

/// The pixels of the source picture encode their position, so those of the rectified view show where they come from.
#[test]
fn the_view_square_on_shows_what_lies_in_the_plane() {
    let fixture = Fixture::new();
    fixture.says(&["photo", "marks.json", "bike.png", "--rectified", "square.png", "--mm-per-pixel", "2"]);
    let view = image::open(fixture.path("square.png")).unwrap().into_rgb8();
    let marks = Marks::from_json(EXAMPLE.as_bytes(), "marks").unwrap();
    let seen = steerwright_core::photogrammetry::measure::measure(&marks).unwrap();
    let plane = &seen.plane;
    for place in [plane.rear_axle, plane.front_axle, [300.0, 500.0]] {
        let column = ((place[0] + plane.rear_radius + 60.0) / 2.0) as u32;
        let row = ((1250.0 - place[1]) / 2.0) as u32;
        let pixel = view.get_pixel(column, row);
        let [x, y] = seen.pixel(place).unwrap();
        // Positions are encoded at a tenth of the marks' scale in steps of two pixels; a pixel of the view is 2 mm.
        for (found, expected) in [(pixel[0], x * 400.0 / 4032.0 / 2.0), (pixel[1], y * 300.0 / 3024.0 / 2.0)]
        {
            assert!((f64::from(found) - expected).abs() <= 1.5, "{place:?}: {found} {expected}");
        }
    }
    fixture.fails(2, &["photo", "marks.json", "--rectified", "square.png"]);
    fixture
        .fails(2, &["photo", "marks.json", "bike.png", "--rectified", "square.png", "--mm-per-pixel", "0"]);
}

#[test]
fn wrong_marks_and_refused_photos_say_what_to_do() {
    let fixture = Fixture::new();
    fixture.marks("swapped.json", |marks| {
        let front = marks["front"].take();
        let rear = marks["rear"].take();
        (marks["front"], marks["rear"]) = (rear, front);
    });
    let told = fixture.fails(3, &["photo", "swapped.json"]);
    assert!(told.contains("Exchange front and rear"), "{told}");
    let output = fixture.call(&["photo", "swapped.json", "--json"]);
    assert_eq!(output.status.code(), Some(3));
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_conforms(&fixture, &json);
    assert_eq!(json["refusal"]["refusal"], "swapped");
    assert!(json["values"].as_array().unwrap().is_empty());
    fixture.marks("wrong.json", |marks| marks["noise_px"] = (-1.0).into());
    assert!(fixture.fails(3, &["photo", "wrong.json"]).contains("noise_px"));
    fixture.marks("tall.json", |marks| marks["image"]["height"] = 4032.into());
    assert!(fixture.fails(3, &["photo", "tall.json", "bike.png"]).contains("400 by 300"));
    assert!(fixture.fails(3, &["photo", "marks.json", "catalogue.json"]).contains("catalogue.json"));
    assert!(fixture.fails(2, &["photo", "none.json"]).contains("there is no file none.json"));
    assert!(fixture.fails(2, &["photo", "-", "-"]).contains("only one file"));
}

#[test]
fn a_photo_of_the_book_gives_the_bike_its_readings() {
    let fixture = Fixture::new();
    let book = |words: &[&str]| fixture.says(&[&["book"], words].concat());
    book(&["add", "hire-bike-05.json"]);
    book(&["photo", "add", "Hire bike 05", "bike.png"]);
    let measure = ["book", "photo", "measure", "Hire bike 05", "1", "marks.json", "--who", "Iri"];
    let done = fixture.json(&measure);
    assert_eq!(done["did"], "measure_photo");
    assert!(done["added"].as_array().unwrap().len() >= 6, "{done}");
    // The bike's name stands for its latest marks.
    let by_name = fixture.json(&["photo", "hire bike 05"]);
    assert_eq!(by_name["values"], fixture.json(&["photo", "marks.json", "bike.png"])["values"]);
    let shown = book(&["show", "Hire bike 05"]);
    assert!(shown.contains("photo 1") && shown.contains("measured 20"), "{shown}");
    let again = fixture.json(&["book", "photo", "measure", "Hire bike 05", "1"]);
    assert_eq!(again["struck"], done["added"]);
    book(&["undo"]);
    let kept = fixture.json(&["book", "photo", "list", "Hire bike 05"]);
    assert_eq!(kept["photos"][0]["marks"].as_array().unwrap().len(), 1);
    fixture.marks("tall.json", |marks| marks["image"]["height"] = 4032.into());
    assert!(
        fixture
            .fails(2, &["book", "photo", "measure", "Hire bike 05", "1", "tall.json"])
            .contains("4032 by 4032")
    );
}

/// Draws a picture of only the two tyres of the example marks, at 0.4 of the marks' scale, and writes the
/// marks with three taps on each tyre, some pixels off.
fn draw_tyres(fixture: &Fixture) {
    let marks = Marks::from_json(EXAMPLE.as_bytes(), "marks").unwrap();
    let scaled = |wheel: &Wheel| {
        let tyre: Vec<_> = wheel.tyre.iter().map(|[x, y]| [0.4 * x, 0.4 * y]).collect();
        Ellipse::direct(&tyre).unwrap()
    };
    let wheels = [scaled(&marks.front), scaled(&marks.rear)];
    let (width, height) = (1613_u32, 1210_u32);
    // First-order distance from the edge of an ellipse, positive outside.
    let off = |ellipse: &Ellipse, x: f64, y: f64| {
        let (sin, cos) = ellipse.turn_deg.to_radians().sin_cos();
        let (x, y) = (x - ellipse.centre[0], y - ellipse.centre[1]);
        let (u, v) = ((x * cos + y * sin) / ellipse.major, (y * cos - x * sin) / ellipse.minor);
        let level = u.hypot(v);
        level * (level - 1.0) / (u / ellipse.major).hypot(v / ellipse.minor)
    };
    let data = (0..height).flat_map(|y| {
        (0..width).map(move |x| {
            let light = wheels.iter().fold(0.5, |light, wheel| {
                let off = off(wheel, f64::from(x) + 0.5, f64::from(y) + 0.5);
                let within = (0.5 - off).clamp(0.0, 1.0) * (off + 20.5).clamp(0.0, 1.0);
                light * (1.0 - within) + 0.03 * within
            });
            (255.0 * f64::powf(light, 1.0 / 2.2)).round() as u8
        })
    });
    let data: Vec<u8> = data.collect();
    let colour = Colour::Grey;
    let picture = Pixels {
        width,
        height,
        colour,
        data,
        full_width: width,
        full_height: height,
        step: 1.0,
        upright: true,
    };
    fs::write(fixture.path("tyres.png"), picture.to_png().unwrap()).unwrap();
    fixture.marks("taps.json", |marks| {
        for wheel in ["front", "rear"] {
            let tyre = marks[wheel]["tyre"].as_array().unwrap().clone();
            let third = tyre.len() / 3;
            let tap = |i: usize, off: f64| {
                let [x, y] = [0, 1].map(|axis| tyre[i * third][axis].as_f64().unwrap());
                serde_json::json!([x + off, y - off])
            };
            marks[wheel]["tyre"] = serde_json::json!([tap(0, 7.0), tap(1, -5.0), tap(2, 9.0)]);
            marks[wheel]["rough"] = true.into();
        }
    });
}

/// The ellipses of the marks are drawn, so the taps give the same results within the uncertainties.
#[test]
fn rough_taps_are_placed_on_the_picture() {
    let fixture = Fixture::new();
    draw_tyres(&fixture);
    let json = fixture.json(&["photo", "taps.json", "tyres.png"]);
    assert_conforms(&fixture, &json);
    let snaps = json["snaps"].as_array().unwrap();
    assert_eq!(
        snaps.iter().map(|it| it["what"].as_str().unwrap()).collect::<Vec<_>>(),
        ["front tyre", "rear tyre"]
    );
    assert!(snaps.iter().all(|it| it["sure"].as_f64().unwrap() > 0.9), "{snaps:?}");
    let by_hand = fixture.json(&["photo", "marks.json"]);
    for (a, b) in json["values"].as_array().unwrap().iter().zip(by_hand["values"].as_array().unwrap()) {
        assert_eq!(a["what"], b["what"]);
        let number = |it: &Value, key: &str| it[key].as_f64().unwrap();
        let apart = (number(a, "value") - number(b, "value")).abs();
        assert!(apart < 2.0 * number(b, "u"), "{a} {b}");
        assert!(number(a, "u") <= 1.001 * number(b, "u"), "{a} {b}");
    }
    let words = fixture.says(&["photo", "taps.json", "tyres.png"]);
    assert!(words.contains("Where the marks were placed") && words.contains("100 % sure"), "{words}");

    let told = fixture.fails(3, &["photo", "taps.json"]);
    assert!(told.contains("rough taps") && told.contains("Give the picture too"), "{told}");
    let told = fixture.fails(3, &["photo", "taps.json", "tyres.png", "--keep-taps"]);
    assert!(told.contains("at least 6 marks"), "{told}");
    // A picture without edges.
    let output = fixture.call(&["photo", "taps.json", "bike.png", "--json"]);
    assert_eq!(output.status.code(), Some(3));
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_conforms(&fixture, &json);
    assert_eq!(json["refusal"]["refusal"], "rough");
    assert!(json["snaps"][0]["remedy"].as_str().is_some_and(|remedy| !remedy.is_empty()), "{json}");
}

#[test]
fn rough_taps_in_a_book() {
    let fixture = Fixture::new();
    draw_tyres(&fixture);
    let book = |words: &[&str]| fixture.says(&[&["book"], words].concat());
    book(&["add", "hire-bike-05.json"]);
    book(&["photo", "add", "Hire bike 05", "tyres.png"]);
    let measure = ["book", "photo", "measure", "Hire bike 05", "1", "taps.json"];
    let done = fixture.json(&measure);
    assert!(done["added"].as_array().unwrap().len() >= 6, "{done}");
    assert!(done["text"].as_str().unwrap().contains("front tyre: found on"), "{done}");
    let kept = fixture.json(&["book", "photo", "list", "Hire bike 05"]);
    let marks = &kept["photos"][0]["marks"][0]["marks"];
    assert_eq!(marks["front"].get("rough"), None);
    assert!(marks["front"]["tyre"].as_array().unwrap().len() >= 12, "{marks}");
    let told = fixture.fails(3, &[&measure[..], &["--keep-taps"]].concat());
    assert!(told.contains("at least 6 marks"), "{told}");
}
