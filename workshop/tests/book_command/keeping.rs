//! Nothing is lost: names that stay apart, files that are not overwritten, undoing, deleting.

use super::{BIKE, Fixture};
use serde_json::{Value, json};
use std::fs;

#[test]
fn a_bike_that_is_there_already_is_not_added_twice() {
    let fixture = Fixture::stocked();
    let said = fixture.json(&["add", "hire-bike-05.json"]);
    assert!(said["text"].as_str().unwrap().contains("already, with the same content"), "{said}");
    assert_eq!(said["bikes"], serde_json::json!([]));
    let other = fs::read_to_string(fixture.path("hire-bike-03.json")).unwrap().replace("bike 03", "bike 05");
    fs::write(fixture.path("other.json"), other).unwrap();
    let said = fixture.json(&["add", "other.json", "other.json"]);
    assert_eq!(said["bikes"].as_array().unwrap().len(), 1, "{said}");
    assert_eq!(said["bikes"][0]["name"], "Hire bike 05 (2)");
    assert!(said["text"].as_str().unwrap().contains("with other content"), "{said}");
    assert!(
        fixture.fails(2, &["edit", "Hire bike 03", "--name", BIKE]).contains("called Hire bike 05 already")
    );
    // A change of case of its own name is no other bike.
    fixture.says(&["edit", "Hire bike 03", "--name", "hire bike 03"]);
}

#[test]
fn files_are_replaced_only_with_force() {
    let fixture = Fixture::stocked();
    let photo =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/photo/baseline-444-turned.jpg");
    fixture.says(&["photo", "add", BIKE, photo.to_str().unwrap()]);
    let calls: [&[&str]; 6] = [
        &["book", "export", BIKE, "--to", "mine"],
        &["book", "bundle", "write", "mine"],
        &["book", "bundle", "write", BIKE, "mine"],
        &["book", "table", "write", "mine"],
        &["book", "table", "write", BIKE, "mine"],
        &["book", "photo", "save", BIKE, "1", "--to", "mine"],
    ];
    for call in calls {
        fs::write(fixture.path("mine"), "mine").unwrap();
        let refused = fixture.command(call).output().unwrap();
        let told = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert_eq!(refused.status.code(), Some(2), "{call:?}: {told}");
        assert!(told.contains("mine exists already") && told.contains("--force"), "{call:?}: {told}");
        assert_eq!(fs::read(fixture.path("mine")).unwrap(), b"mine", "{call:?}");
        let forced = fixture.command(&[call, &["--force"]].concat()).output().unwrap();
        assert_eq!(forced.status.code(), Some(0), "{call:?}: {}", String::from_utf8_lossy(&forced.stderr));
        assert_ne!(fs::read(fixture.path("mine")).unwrap(), b"mine", "{call:?}");
    }
}

#[test]
fn folders_of_files_are_written_whole_or_not_at_all() {
    let fixture = Fixture::new();
    fs::create_dir(fixture.path("pictures")).unwrap();
    fs::write(fixture.path("pictures/section-TT-4180-15.svg"), "mine").unwrap();
    let check = ["check", "hire-bike-05.json", "--catalogue", "catalogue.json", "--kit", "TT-4180-15"];
    let drawn = [&check[..], &["--drawings", "pictures"]].concat();
    assert_eq!(fixture.command(&drawn).output().unwrap().status.code(), Some(2));
    assert_eq!(fs::read_dir(fixture.path("pictures")).unwrap().count(), 1);
    assert!(fixture.command(&[&drawn[..], &["--force"]].concat()).status().unwrap().success());
    // The same pictures again replace nothing.
    assert!(fixture.command(&drawn).status().unwrap().success());
    fs::write(fixture.path("hire-bike-03.json"), "mine").unwrap();
    let demo = fixture.command(&["demo", "--files", "."]).output().unwrap();
    assert!(String::from_utf8_lossy(&demo.stderr).contains("hire-bike-03.json exists already"));
    assert_eq!(fs::read(fixture.path("hire-bike-03.json")).unwrap(), b"mine");
}

/// Each kind of change, undone in the order in which it was made, with the bike and the thing named.
#[test]
fn undo_names_the_bike_and_the_thing() {
    let fixture = Fixture::stocked();
    let photo =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/photo/baseline-444-turned.jpg");
    let order = [
        "order",
        "new",
        BIKE,
        "--kit",
        "TT-4180-15",
        "--as-question",
        "--name",
        "Wren",
        "--phone",
        "030 1234567",
    ];
    let steps: Vec<(Vec<&str>, Vec<&str>)> = vec![
        (vec!["new", "My bike"], vec!["add a bike (My bike)"]),
        (vec!["edit", "My bike", "--name", "Ash"], vec!["change a bike (Ash)", "name: My bike to Ash"]),
        (vec!["tag", "Ash", "wet", "rental"], vec!["(Ash)", "tag added: rental", "tag added: wet"]),
        (vec!["untag", "Ash", "wet"], vec!["(Ash)", "tag removed: wet"]),
        (vec!["note", "Ash", "creaks"], vec!["(Ash)", "the notes"]),
        (vec!["see", "Ash", "upper_seat", "drop_in"], vec!["(Ash)", "upper seat: not known to drop in"]),
        (
            vec!["measure", "Ash", "wheelbase", "1210", "mm", "--with", "tape"],
            vec!["write down a measurement (Ash): wheelbase 1210 mm"],
        ),
        (
            vec!["strike", "Ash", "1", "--why", "wheel turned"],
            vec!["strike out a measurement (Ash): wheelbase 1210 mm"],
        ),
        (vec!["restore", "Ash", "1"], vec!["restore a measurement (Ash): wheelbase 1210 mm"]),
        (vec!["photo", "add", "Ash", photo.to_str().unwrap()], vec!["add a photo (Ash)"]),
        (vec!["photo", "remove", "Ash", "1"], vec!["remove a photo (Ash)"]),
        (vec!["keep", BIKE, "--kit", "TT-4180-15"], vec!["keep a check (Hire bike 05): TT-4180-15"]),
        (vec!["fitted", BIKE], vec!["record that a kit was fitted (Hire bike 05): TT-4180-15"]),
        (vec!["removed", BIKE], vec!["record that a kit was taken out (Hire bike 05): TT-4180-15"]),
        (order.to_vec(), vec!["(Hire bike 05)", "request for 1 TT-4180-15"]),
        (vec!["archive", "Ash"], vec!["archive a bike (Ash)"]),
        (vec!["restore", "Ash"], vec!["restore a bike from the archive (Ash)"]),
        (vec!["delete", BIKE], vec!["delete a bike (Hire bike 05)"]),
    ];
    for (call, _) in &steps {
        fixture.says(call);
    }
    for (call, parts) in steps.iter().rev() {
        let undone = fixture.json(&["undo"])["text"].as_str().unwrap().to_owned();
        for part in parts {
            assert!(undone.starts_with("Undone: ") && undone.contains(part), "{call:?}: {undone}");
        }
    }
    for (call, parts) in &steps {
        let redone = fixture.json(&["redo"])["text"].as_str().unwrap().to_owned();
        // After the redo of a rename or a deletion the bike has its other name, or none.
        assert!(redone.starts_with("Done again: "), "{call:?}: {redone}");
        assert!(redone.contains(parts[0].split('(').next().unwrap()), "{call:?}: {redone}");
    }
    assert!(fixture.fails(2, &["redo"]).contains("nothing to redo"));
}

#[test]
fn an_order_request_is_undone_before_what_came_before_it() {
    let fixture = Fixture::stocked();
    fixture.says(&["tag", BIKE, "wet"]);
    let order = [
        "order",
        "new",
        BIKE,
        "--kit",
        "TT-4180-15",
        "--as-question",
        "--name",
        "Wren",
        "--phone",
        "030 1234567",
    ];
    fixture.says(&order);
    fixture.says(&["order", "edit", "1", "--quantity", "2"]);
    let states = || -> Vec<String> {
        let listed = fixture.json(&["order", "list"])["orders"].clone();
        let mut states: Vec<_> =
            listed.as_array().unwrap().iter().map(|it| it["state"].as_str().unwrap().to_owned()).collect();
        states.reverse();
        states
    };
    assert_eq!(states(), ["withdrawn", "queued"]);
    fixture.says(&["undo"]);
    assert_eq!(states(), ["queued", "withdrawn"]);
    fixture.says(&["undo"]);
    assert_eq!(states(), ["withdrawn", "withdrawn"]);
    assert_eq!(fixture.json(&["tags"])["tags"].as_array().unwrap().len(), 1);
    fixture.says(&["redo"]);
    assert_eq!(states(), ["queued", "withdrawn"]);
    fixture.says(&["order", "withdraw", "1"]);
    fixture.says(&["undo"]);
    assert_eq!(states(), ["queued", "withdrawn"]);
    // Without its contact it can no longer be sent: the undo says so once, and then goes on to the change before.
    fixture.says(&["order", "erase-contact", "1"]);
    assert!(fixture.fails(2, &["undo"]).contains("can no longer be undone"));
    let next = fixture.json(&["undo"]);
    assert_eq!(next["things"], serde_json::json!(["tag added: wet"]), "{next}");
}

#[test]
fn a_deleted_bike_comes_back_until_the_trash_is_emptied() {
    let fixture = Fixture::stocked();
    let photo =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/photo/baseline-444-turned.jpg");
    fixture.says(&["photo", "add", BIKE, photo.to_str().unwrap()]);
    fixture.says(&["keep", BIKE, "--kit", "TT-4180-15"]);
    fixture.says(&["fitted", BIKE]);
    fixture.says(&["measure", BIKE, "head_angle", "65", "deg", "--with", "phone_level"]);
    fixture.says(&[
        "order",
        "new",
        BIKE,
        "--kit",
        "TT-4180-15",
        "--as-question",
        "--name",
        "Wren",
        "--phone",
        "030 1234567",
    ]);
    let before = fixture.json(&["show", BIKE]);
    let whole = |mut show: Value| {
        show["bike"]["touched_at"] = Value::Null;
        show
    };
    assert!(fixture.says(&["delete", BIKE]).replace('\n', " ").contains("`book undo` brings it back"));
    assert!(fixture.fails(2, &["show", BIKE]).contains("there is no bike"));
    assert_eq!(fixture.json(&["order", "list"])["orders"].as_array().unwrap().len(), 1);
    fixture.says(&["undo"]);
    assert_eq!(whole(fixture.json(&["show", BIKE])), whole(before));
    assert_eq!(fixture.json(&["examine"])["sound"], true);

    fixture.says(&["delete", BIKE]);
    let files = || fs::read_dir(fixture.path("field.steerbook-photos")).unwrap().count();
    assert!(files() > 0);
    let purged = fixture.json(&["delete", "--purge"]);
    assert_eq!((&purged["purged"], &purged["no_trace_left"]), (&1.into(), &true.into()));
    assert!(purged["text"].as_str().unwrap().contains("Gone for good: Hire bike 05."), "{purged}");
    assert!(fixture.fails(2, &["undo"]).contains("nothing to undo"));
    assert_eq!(fixture.json(&["examine"])["sound"], true);
    // The photo goes with the bike, but for the copy that waits to be sent with no request here.
    assert_eq!(files(), 0);
    assert!(fixture.fails(2, &["delete"]).contains("<BIKE>"));
    assert!(fixture.says(&["delete", "--purge"]).contains("The trash was empty."));
}

#[test]
fn a_bundle_says_what_it_leaves_out() {
    let fixture = Fixture::stocked();
    let photo =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/data/photo/baseline-444-turned.jpg");
    fixture.says(&["photo", "add", BIKE, photo.to_str().unwrap()]);
    fixture.says(&[
        "order",
        "new",
        BIKE,
        "--kit",
        "TT-4180-15",
        "--as-question",
        "--name",
        "Wren",
        "--phone",
        "030 1234567",
    ]);
    let said = fixture.json(&["bundle", "write", "all.zip"])["text"].as_str().unwrap().to_owned();
    for part in ["the original files of 1 photo", "1 order request", "1 catalogue"] {
        assert!(said.contains("Not in a bundle: ") && said.contains(part), "{part}: {said}");
    }
    let working =
        fixture.json(&["photo", "list", BIKE])["photos"][0]["working_file"].as_str().unwrap().to_owned();
    fs::remove_file(working).unwrap();
    let said = fixture.says(&["bundle", "write", BIKE, "one.zip"]).replace('\n', " ");
    assert!(
        said.contains("Left out: the files of 1 photo, which are missing, damaged or too large."),
        "{said}"
    );
    assert!(!said.contains("catalogue"), "{said}");
    let read = fixture.says(&["--book", "other.steerbook", "bundle", "read", "one.zip"]).replace('\n', " ");
    assert!(read.contains("Not in the bundle: the file of photo 1 of Hire bike 05."), "{read}");
}

#[test]
fn bikes_of_one_name_are_told_apart() {
    let fixture = Fixture::stocked();
    let other = ["--book", "other.steerbook"];
    fixture.says(&[&other[..], &["new", BIKE]].concat());
    fixture.says(&[&other[..], &["bundle", "write", "other.zip"]].concat());
    fixture.says(&["bundle", "read", "other.zip"]);
    let bikes = fixture.json(&["bikes"])["bikes"].clone();
    let ids: Vec<&str> = bikes
        .as_array()
        .unwrap()
        .iter()
        .filter(|bike| bike["name"] == BIKE)
        .map(|bike| bike["id"].as_str().unwrap())
        .collect();
    assert_eq!(ids.len(), 2);
    let listed = fixture.says(&["bikes"]).replace('\n', " ");
    assert!(ids.iter().all(|id| listed.contains(id)), "{listed}");
    assert!(fixture.fails(2, &["show", BIKE]).contains(ids[0]));
}

/// A bike whose order request was undone can be undone too; redone, the request has its bike again.
#[test]
fn everything_is_undone_to_the_empty_book_and_redone() {
    let fixture = Fixture::stocked();
    fixture.says(&[
        "order",
        "new",
        BIKE,
        "--kit",
        "TT-4180-15",
        "--as-question",
        "--name",
        "Wren",
        "--phone",
        "030 1234567",
    ]);
    let before = fixture.json(&["order", "list"])["orders"].clone();
    let all = |word: &str| (0..).take_while(|_| fixture.call(&[word]).status.success()).count();
    assert_eq!(all("undo"), 3);
    assert_eq!(fixture.json(&["bikes"])["bikes"], serde_json::json!([]));
    let orphan = fixture.json(&["order", "list"])["orders"].clone();
    assert_eq!((&orphan[0]["state"], &orphan[0]["bike"]), (&"withdrawn".into(), &Value::Null));
    assert_eq!(all("redo"), 3);
    let after = fixture.json(&["order", "list"])["orders"].clone();
    assert_eq!((&after[0]["state"], &after[0]["bike"]), (&"queued".into(), &before[0]["bike"]));
    assert_eq!(fixture.json(&["examine"])["sound"], true);
}

/// A bike that came with a kit in it keeps the kit in the book until it is taken out.
#[test]
fn a_kit_that_was_in_stays_until_it_is_taken_out() {
    let fixture = Fixture::new();
    let mut bike: Value =
        serde_json::from_slice(&fs::read(fixture.path("hire-bike-05.json")).unwrap()).unwrap();
    let half = |seat: &str, offset_mm: f64| json!({"seat": seat, "stack_mm": 9.5, "plane_mm": -4.0, "offset_mm": offset_mm});
    bike["fitted"] = json!({
        "sku": "LH-1", "name": "Drop-in pair", "upper": half("IS42", -0.9), "lower": half("IS52", 0.9)
    });
    fs::write(fixture.path("fitted.json"), bike.to_string()).unwrap();
    fixture.says(&["add", "fitted.json"]);
    fixture.says(&["catalogue", "import", "catalogue.json"]);
    assert!(fixture.says(&["show", BIKE]).contains("kit in  LH-1 since before it was in the book"));
    assert!(fixture.says(&["check", BIKE]).contains("LH-1 is in the bike"));
    assert_eq!(fixture.json(&["show", BIKE])["bike"]["bike"]["fitted"], bike["fitted"]);

    let said = fixture.says(&["removed", BIKE]).replace('\n', " ");
    assert!(
        said.starts_with("LH-1 is out of Hire bike 05; the bike is as it was made. Struck out"),
        "{said}"
    );
    assert!(!fixture.says(&["show", BIKE]).contains("kit in"));
    assert!(fixture.fails(2, &["removed", BIKE]).contains("there is no kit in this bike"));
    let undone = fixture.says(&["undo"]);
    assert_eq!(undone.trim_end(), "Undone: record that a kit was taken out (Hire bike 05): LH-1.");
    assert_eq!(fixture.json(&["show", BIKE])["bike"]["bike"]["fitted"], bike["fitted"]);

    fixture.says(&["keep", BIKE, "--kit", "TT-4180-15"]);
    let said = fixture.says(&["fitted", BIKE]).replace('\n', " ");
    assert!(said.contains("Struck out, since taken with the kit that was in:"), "{said}");
    assert_eq!(fixture.json(&["show", BIKE])["bike"]["bike"]["fitted"]["sku"], "TT-4180-15");
}
