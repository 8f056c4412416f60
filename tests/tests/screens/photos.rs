//! Photos: adding, marking by taps on rendered pictures, the reading against the renderer's truth, before and after; and
//! the level by tables of samples.

use crate::views::golden;
use crate::{Bench, last};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use steerwright_core::book::{BikeId, PhotoFile, PhotoId};
use steerwright_core::photo::{BuiltIn, Format, Limits, PixelSource as _};
use steerwright_core::photogrammetry::measure::{Marks, Pixel};
use steerwright_core::quantity::{Instrument, Quantity};
use steerwright_core::screens::{
    Event, ImagePoint, LevelRefused, LevelSessionChoice, LevelTables, MarkAct, Part, PhotoView, Place,
    Refusal, compare, levelled, photo, photos, record, square_on,
};

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data").join(name)
}

/// A rendered bike: its picture, rough taps on it, and the true head angle (`tests/scenes`).
struct Rendered {
    picture: Vec<u8>,
    taps: Marks,
    /// Marks that a careful hand sets.
    hand: Marks,
    truth: f64,
    /// The near leg of the fork in the picture.
    leg: [Pixel; 2],
}

fn rendered(number: u32) -> Rendered {
    let scene: Value =
        serde_json::from_slice(&fs::read(data(&format!("photo/forks/fork-{number:04}.json"))).unwrap())
            .unwrap();
    Rendered {
        picture: fs::read(data(&format!("photo/forks/fork-{number:04}.jpg"))).unwrap(),
        taps: serde_json::from_value(scene["taps"].clone()).unwrap(),
        hand: serde_json::from_value(scene["hand"].clone()).unwrap(),
        truth: scene["truth"]["head_angle"].as_f64().unwrap(),
        leg: serde_json::from_value(scene["fork"]["lines"][0].clone()).unwrap(),
    }
}

/// A bike of which nothing is known.
fn bare(bench: &mut Bench) -> BikeId {
    match bench.done(&Event::AddBike { name: "Larch 1".to_owned(), owner: String::new() }).place {
        Place::Bike(bike) => bike,
        other => panic!("{other:?}"),
    }
}

fn add(bench: &mut Bench, bike: BikeId, bytes: &[u8]) -> PhotoId {
    bench.done(&Event::AddPhoto { bike, name: "side.jpg".to_owned(), bytes: bytes.to_vec() });
    photos(&bench.context(), bike).unwrap().photos.last().unwrap().id
}

/// One photo that is being marked.
struct Desk {
    bench: Bench,
    bike: BikeId,
    photo: PhotoId,
}

impl Desk {
    fn new(picture: &[u8]) -> Self {
        let mut bench = Bench::empty();
        let bike = bare(&mut bench);
        let photo = add(&mut bench, bike, picture);
        Self { bench, bike, photo }
    }

    fn act(&mut self, act: MarkAct) -> PhotoView {
        self.bench.done(&Event::MarkPhoto { bike: self.bike, photo: self.photo, act });
        self.view()
    }

    fn view(&self) -> PhotoView {
        photo(&self.bench.context(), self.bike, self.photo).unwrap()
    }

    /// Taps, each on the part that is asked for; no angle is told before the last.
    fn tap(&mut self, part: Part, places: &[Pixel]) -> PhotoView {
        let mut view = self.view();
        for at in places {
            assert_eq!(view.scene.unwrap().open, Some(part), "{:?}", view.task);
            assert_eq!(view.reading, None);
            view = self.act(MarkAct::Tap { part, at: (*at).into() });
        }
        view
    }

    /// Both tyres and the near leg, by hand; the left wheel first.
    fn tap_all(&mut self, taps: &Marks) -> PhotoView {
        self.act(MarkAct::OwnWheels);
        let is_left = |tyre: &[Pixel]| tyre.iter().map(|[x, _]| x).sum::<f64>();
        let (front, rear) = (&taps.front.tyre, &taps.rear.tyre);
        let (left, right) = if is_left(front) < is_left(rear) { (front, rear) } else { (rear, front) };
        self.tap(Part::LeftTyre, left);
        self.tap(Part::RightTyre, right);
        self.tap(Part::ForkLeg, &taps.stanchions[0].points)
    }

    fn read(&mut self) -> steerwright_core::screens::Done {
        self.bench.done(&Event::UseReading { bike: self.bike, photo: self.photo })
    }
}

/// A view without the corners of its outlines, which have tests of their own.
fn short(view: &PhotoView) -> Value {
    let mut value = serde_json::to_value(view).unwrap();
    let outlines = value["scene"]["outlines"].as_array_mut().unwrap();
    for outline in outlines {
        outline["points"] = Value::from(outline["points"].as_array().unwrap().len());
    }
    value
}

/// The head angle of a reading and its half width, degrees.
fn angle(view: &PhotoView) -> [f64; 2] {
    let told = view.reading.as_ref().and_then(|reading| reading.value.clone()).unwrap();
    let number = |text: &str| text.trim_matches(|c| "± °".contains(c)).parse::<f64>().unwrap();
    [number(&told.value), number(&told.plus_minus.unwrap())]
}

#[test]
fn a_photo_is_kept_upright_and_without_its_file() {
    let mut bench = Bench::empty();
    let bike = bare(&mut bench);
    golden("photos-none", &photos(&bench.context(), bike).unwrap());
    let bytes = fs::read(data("photo/baseline-444-turned.jpg")).unwrap();
    let id = add(&mut bench, bike, &bytes);
    let reader = bench.book.read();
    let row = reader.photo(id).unwrap().row;
    assert!(!row.original_kept && reader.photo_bytes(id, PhotoFile::Original).unwrap().is_none());
    let copy = reader.photo_bytes(id, PhotoFile::Working).unwrap().unwrap();
    let upright = BuiltIn.pixels(&copy, Format::Jpeg, u32::MAX, &Limits::default()).unwrap();
    assert_eq!((upright.width, upright.height), (row.width, row.height));
    golden("photos-one", &photos(&bench.context(), bike).unwrap());
    // The same file again is no second photo, and nothing to undo.
    let again = Event::AddPhoto { bike, name: "side.jpg".to_owned(), bytes };
    assert!(!bench.done(&again).can_undo);
    assert_eq!(photos(&bench.context(), bike).unwrap().photos.len(), 1);
    let undone = bench.done(&last());
    assert!(undone.text.contains("add a photo"), "{}", undone.text);
    assert!(photos(&bench.context(), bike).unwrap().photos.is_empty());
}

#[test]
fn a_file_that_is_no_photo_says_what_to_do_and_changes_nothing() {
    let mut bench = Bench::empty();
    let bike = bare(&mut bench);
    let cut = fs::read(data("photo/baseline-420.jpg")).unwrap();
    let heic = [b"\0\0\0\x18ftypheic".as_slice(), &[0; 40]].concat();
    for (bytes, says) in [
        (b"<svg/>".to_vec(), "Choose a JPEG, PNG or WebP"),
        (heic, "Export it as JPEG"),
        (cut[..cut.len() / 2].to_vec(), "Copy it again"),
        (Vec::new(), "Choose one first"),
    ] {
        let named = !bytes.is_empty();
        let event = Event::AddPhoto { bike, name: "side\u{202e}gpj.jpg".to_owned(), bytes };
        let Err(Refusal::Field { field: "photo", message }) = bench.apply(&event) else { panic!("{says}") };
        assert!(message.contains(says) && !message.contains('\u{202e}'), "{message}");
        assert_eq!(message.starts_with("side"), named, "{message}");
    }
    assert!(photos(&bench.context(), bike).unwrap().photos.is_empty());
}

/// The whole way: the wheels are guessed and confirmed, the leg is tapped, the reading is written down and undone.
#[test]
fn from_guessed_wheels_to_a_reading() {
    let scene = rendered(300);
    let mut desk = Desk::new(&scene.picture);
    let begun = desk.view();
    golden("photo-wheels", &short(&begun));
    assert_eq!(begun.reading, None);
    let confirmed = desk.act(MarkAct::TakeWheels);
    golden("photo-leg", &short(&confirmed));
    let told = desk.tap(Part::ForkLeg, &scene.taps.stanchions[0].points);
    golden("photo-read", &short(&told));
    let [value, half] = angle(&told);
    // Three standard uncertainties, and half the last digit that is shown.
    assert!((value - scene.truth).abs() <= 1.5 * half + 0.05, "{value} ± {half} of {}", scene.truth);

    let done = desk.read();
    assert_eq!(done.place, Place::Photo(desk.bike, desk.photo));
    let screen = desk.bench.book.read().bike_screen(desk.bike).unwrap();
    let head = screen.log.iter().find(|row| row.measurement.what == Quantity::HeadAngle).unwrap();
    assert_eq!((head.measurement.with, head.photo), (Instrument::Photo, Some(desk.photo)));
    assert!((head.measurement.plus_minus.unwrap() - half).abs() <= 0.05 + 1e-9, "{head:?}");
    assert!(
        record(&desk.bench.context(), desk.bike).unwrap().log.iter().all(|row| row.text.ends_with(", photo"))
    );
    let after = desk.view().reading.unwrap();
    assert!(after.write.is_none() && after.written.is_some(), "{after:?}");
    let line = photos(&desk.bench.context(), desk.bike).unwrap().photos.remove(0);
    assert!(line.state.starts_with("Head angle 6"), "{line:?}");

    // Undoing takes the readings away and leaves the marks.
    desk.bench.done(&last());
    assert!(desk.bench.book.read().bike_screen(desk.bike).unwrap().log.is_empty());
    assert_eq!(desk.view().reading, told.reading);
}

/// A draft is kept with each tap: it is there after the program begins again, marks move, and each act is taken back.
#[test]
fn marks_are_kept_moved_and_taken_back() {
    let scene = rendered(302);
    let mut desk = Desk::new(&scene.picture);
    let told = desk.tap_all(&scene.taps);
    let [value, half] = angle(&told);
    assert!((value - scene.truth).abs() <= 1.5 * half + 0.05, "{value} ± {half} of {}", scene.truth);
    let undo = desk.bench.book.read().next_undo().unwrap().unwrap();
    assert!(undo.description().contains("photo"), "taps fill the undo journal: {undo:?}");

    desk.bench.book = desk.bench._folder.open();
    assert_eq!(desk.view(), told);
    let mark = told.scene.as_ref().unwrap().marks.last().unwrap().clone();
    let to = ImagePoint { x: mark.at.x + 1.0, ..mark.at };
    let moved = desk.act(MarkAct::Move { step: mark.step, number: mark.number, at: to });
    assert_eq!(moved.scene.unwrap().marks.last().unwrap().at, to);
    let back = desk.act(MarkAct::Back);
    assert_eq!((back.scene.as_ref().unwrap().open, back.reading), (Some(Part::ForkLeg), None));
    // A tap that was meant for another part, or for no place, is left out.
    let before = desk.view();
    for (part, at) in [(Part::LeftTyre, [10.0, 10.0]), (Part::ForkLeg, [f64::NAN, 0.0])] {
        assert_eq!(desk.act(MarkAct::Tap { part, at: at.into() }), before);
    }
    for _ in 0..20 {
        desk.act(MarkAct::Back);
    }
    assert!(!desk.view().can_undo && desk.view().scene.unwrap().marks.is_empty());
}

/// What is marked besides gives more readings, and no angle stands there while a mark is missing.
#[test]
fn more_marks_give_more() {
    let scene = rendered(300);
    let mut desk = Desk::new(&scene.picture);
    let few = desk.tap_all(&scene.taps).reading.unwrap();
    for (part, at) in [
        (Part::HeadTubeTop, scene.taps.head_tube_top.unwrap().at),
        (Part::HeadTubeBottom, scene.taps.head_tube_bottom.unwrap().at),
        (Part::BottomBracket, scene.taps.bottom_bracket.unwrap().at),
    ] {
        let open = desk.act(MarkAct::More { part });
        assert_eq!(open.reading, None);
        desk.tap(part, &[at]);
    }
    let many = desk.view().reading.unwrap();
    assert!(many.rows.len() > few.rows.len() && many.rows.iter().any(|row| row.label == "Head tube length"));
    // Something that is not there after all is left out again.
    desk.act(MarkAct::More { part: Part::Crown });
    assert!(desk.view().reading.is_none());
    assert!(desk.act(MarkAct::Without { part: Part::Crown }).reading.is_some());
}

/// A leg that something covers: which line to tap instead is said and drawn, and the taps can be taken as they are.
#[test]
fn a_covered_leg_names_the_lines_to_tap_instead() {
    let scene = rendered(300);
    let mut pixels = BuiltIn.pixels(&scene.picture, Format::Jpeg, u32::MAX, &Limits::default()).unwrap();
    let [[ax, ay], [bx, by]] = scene.leg;
    let width = pixels.width as usize;
    for (i, pixel) in pixels.data.chunks_exact_mut(3).enumerate() {
        let (x, y) = ((i % width) as f64, (i / width) as f64);
        if (ax.min(bx) - 60.0..ax.max(bx) + 60.0).contains(&x) && (ay.min(by)..ay.max(by) + 60.0).contains(&y)
        {
            pixel.fill(128);
        }
    }
    let mut desk = Desk::new(&pixels.to_png().unwrap());
    let taps = &scene.taps;
    desk.act(MarkAct::OwnWheels);
    for (part, tyre) in [(Part::LeftTyre, &taps.rear.tyre), (Part::RightTyre, &taps.front.tyre)] {
        let view = desk.tap(part, tyre);
        // The cover hides an edge of a tyre as well: that one is marked by hand.
        if view.task.is_refusal {
            desk.act(MarkAct::Again { part });
            desk.act(MarkAct::ByHand { part });
            let hand = if part == Part::LeftTyre { &scene.hand.rear.tyre } else { &scene.hand.front.tyre };
            let six: Vec<Pixel> = hand.iter().step_by(hand.len() / 6).take(6).copied().collect();
            assert!(!desk.tap(part, &six).task.is_refusal);
        }
    }
    let refused = desk.tap(Part::ForkLeg, &taps.stanchions[0].points);
    golden("photo-instead", &short(&refused));
    assert!(refused.task.is_refusal && refused.reading.is_none());
    let drawn = refused.scene.unwrap().outlines;
    let numbers: Vec<&str> = drawn.iter().filter_map(|line| line.label.as_deref()).collect();
    assert_eq!(numbers.len(), refused.task.instead.len());
    assert!(!numbers.is_empty() && drawn.iter().any(|line| line.role == "wrong"));
    assert!(desk.act(MarkAct::ByHand { part: Part::ForkLeg }).reading.is_some());
}

/// A wheel that is turned, a tyre that is tapped on nothing: why, and what to do.
#[test]
fn refusals_say_what_to_do() {
    let scene = rendered(300);
    let mut desk = Desk::new(&scene.picture);
    desk.act(MarkAct::OwnWheels);
    let view = desk.tap(Part::LeftTyre, &[[20.0, 20.0], [90.0, 30.0], [50.0, 90.0]]);
    assert!(view.task.is_refusal && view.task.title == "The left tyre is not found", "{:?}", view.task);
    let acts: Vec<&str> = view.task.choices.iter().map(|choice| choice.act.as_str()).collect();
    assert_eq!(acts, ["again", "by_hand"]);
    // By hand six marks are asked for, three of which are there.
    let view = desk.act(MarkAct::ByHand { part: Part::LeftTyre });
    assert_eq!(view.task.left.as_deref(), Some("3 more taps."));
    let refused = desk.bench.apply(&Event::UseReading { bike: desk.bike, photo: desk.photo });
    assert!(refused.is_err());
}

/// The change between two photos is the one of the marks, within its uncertainty of the truth (`scenes-pairs.json`).
#[test]
fn two_photos_tell_the_change() {
    let pairs: Value = serde_json::from_slice(&fs::read(data("photo/scenes-pairs.json")).unwrap()).unwrap();
    let pair = &pairs["scenes"][0];
    let mut bench = Bench::empty();
    let bike = bare(&mut bench);
    assert!(compare(&bench.context(), bike, [None; 2]).unwrap().why_not.is_some());
    for (shade, name) in [(90, "before"), (160, "after")] {
        let mut picture = Vec::new();
        let grey = image::GrayImage::from_pixel(400, 300, image::Luma([shade]));
        grey.write_to(&mut std::io::Cursor::new(&mut picture), image::ImageFormat::Png).unwrap();
        let id = add(&mut bench, bike, &picture);
        let marks: Marks = serde_json::from_value(pair[name].clone()).unwrap();
        bench.book.measure_photo(id, Some(&marks), None).unwrap();
    }
    let view = compare(&bench.context(), bike, [None; 2]).unwrap();
    golden("photos-compare", &view);
    let head = view.rows.iter().find(|row| row.label == "Head angle").unwrap();
    let number = |text: &str| text.trim_matches(|c| "± °+".contains(c)).parse::<f64>().unwrap();
    let (change, half) = (number(&head.change.value), number(head.change.plus_minus.as_ref().unwrap()));
    let truth = pair["truth"].as_f64().unwrap();
    assert!((change - truth).abs() <= 1.5 * half + 0.05, "{change} ± {half} of {truth}");
    let ids: Vec<PhotoId> = view.choices.iter().map(|choice| choice.id).collect();
    let png = square_on(&bench.context(), bike, ids[0]).unwrap().unwrap();
    assert!(png.starts_with(b"\x89PNG"));
    // Over each other by the rear wheel: nearly in one place.
    let laid = view.overlaid.unwrap();
    assert!(laid.left.abs() < 0.05 && (laid.width - 1.0).abs() < 0.1, "{laid:?}");
    let same = compare(&bench.context(), bike, [Some(ids[1]); 2]).unwrap();
    assert!(same.why_not.is_some() && same.rows.is_empty());
}

#[test]
fn a_removed_photo_comes_back_with_its_draft() {
    let scene = rendered(300);
    let mut desk = Desk::new(&scene.picture);
    let before = desk.act(MarkAct::TakeWheels);
    let (bike, photo_id) = (desk.bike, desk.photo);
    desk.bench.done(&Event::RemovePhoto { bike, photo: photo_id });
    assert!(photo(&desk.bench.context(), bike, photo_id).is_err());
    desk.bench.done(&last());
    assert_eq!(desk.view(), before);
    // Another bike's photo is not there.
    let other = bare(&mut desk.bench);
    assert!(photo(&desk.bench.context(), other, photo_id).is_err());
    let wrong = Event::MarkPhoto { bike: other, photo: photo_id, act: MarkAct::Back };
    assert!(desk.bench.apply(&wrong).is_err());
}

fn sessions(second: bool) -> LevelTables {
    let table = |name: &str| fs::read_to_string(data(&format!("level/{name}.csv"))).unwrap();
    LevelTables {
        what: "head_angle".to_owned(),
        first: table("before"),
        second: if second { table("after") } else { String::new() },
        same_phone: true,
    }
}

#[test]
fn tables_of_samples_give_an_angle_and_its_change() {
    let mut bench = Bench::demo();
    let bike = bench.id("Hire bike 03");
    let view = levelled(&bench.context(), bike, &sessions(true)).unwrap();
    assert_eq!(view.refused, None);
    golden("level", &view);
    let before = bench.book.read().bike_screen(bike).unwrap().log.len();
    let written =
        bench.done(&Event::WriteLevel { bike, tables: sessions(true), session: LevelSessionChoice::Second });
    assert!(matches!(written.place, Place::Wrote(..)));
    let log = bench.book.read().bike_screen(bike).unwrap().log;
    let row = &log.last().unwrap().measurement;
    assert_eq!((log.len(), row.what, row.with), (before + 1, Quantity::HeadAngle, Instrument::PhoneLevel));
    // What is written down is what was shown.
    let shown = &view.sessions[1].value;
    assert!(shown.value.starts_with(&format!("{:.1}", row.value)), "{shown:?} {row:?}");
}

#[test]
fn a_table_that_gives_no_angle_says_why_beside_its_field() {
    let bench = Bench::demo();
    let bike = bench.id("Hire bike 03");
    let sample = "\n1,one_way,along,0,0,0.2,9.8";
    for (first, second, field, says) in [
        (String::new(), String::new(), "first", "Choose the table"),
        ("reading,bike\n1,one_way".to_owned(), String::new(), "first", "is missing"),
        (format!("reading,bike,pose,time_s,x,y,z{sample}"), String::new(), "first", "samples"),
        (sessions(false).first, "x".to_owned(), "second", "is missing"),
    ] {
        let tables = LevelTables { first, second, ..sessions(false) };
        let view = levelled(&bench.context(), bike, &tables).unwrap();
        let LevelRefused { table, message } = view.refused.unwrap();
        let at = table.name();
        assert!(at == field && message.contains(says) && view.sessions.is_empty(), "{at}: {message}");
    }
}
