//! View models of the demo crew's bikes, as snapshots. Drawings have tests of their own and are left out here.

use crate::Bench;
use serde::Serialize;
use serde_json::Value;
use steerwright_core::book::BikeQuery;
use steerwright_core::screens::{
    Change, Mark, Sign, ask, bike, bikes, kit, kits, look, measure, record, steering,
};

/// A view model as JSON without its drawings.
fn shown(view: &impl Serialize) -> String {
    fn without_drawings(value: &mut Value) {
        match value {
            Value::Object(fields) => {
                for (name, field) in fields {
                    match (name.as_str(), &*field) {
                        ("drawing" | "wrong_if_drawing", Value::Object(_)) => {
                            *field = Value::from("(drawing)");
                        }
                        ("drawings", Value::Array(drawings)) => {
                            let names = drawings.iter().map(|drawing| drawing[0].clone());
                            *field = names.collect();
                        }
                        _ => without_drawings(field),
                    }
                }
            }
            Value::Array(values) => values.iter_mut().for_each(without_drawings),
            _ => {}
        }
    }
    let mut value = serde_json::to_value(view).unwrap();
    without_drawings(&mut value);
    serde_json::to_string_pretty(&value).unwrap()
}

pub(crate) fn golden(name: &str, view: &impl Serialize) {
    insta::with_settings!({snapshot_path => "../../data/golden/screens", prepend_module_to_snapshot => false, omit_expression => true}, {
        insta::assert_snapshot!(name, shown(view));
    });
}

#[test]
fn the_list_of_the_demo_crew() {
    let bench = Bench::demo();
    golden("bikes", &bikes(&bench.context(), &BikeQuery::default()).unwrap());
}

#[test]
fn a_bike_in_each_standing() {
    let bench = Bench::demo();
    for number in ["01", "03", "05", "08", "12"] {
        let id = bench.id(&format!("Hire bike {number}"));
        golden(&format!("bike-{number}"), &bike(&bench.context(), id).unwrap());
    }
}

#[test]
fn kits_and_one_kit() {
    let bench = Bench::demo();
    let id = bench.id("Hire bike 05");
    golden("kits-05", &kits(&bench.context(), id).unwrap());
    golden("kit-05", &kit(&bench.context(), id, "TT-4180-15").unwrap());
    golden("ask-05", &ask(&bench.context(), id, "TT-4180-15").unwrap());
}

#[test]
fn measuring_and_looking() {
    let bench = Bench::demo();
    let id = bench.id("Hire bike 03");
    golden("measure", &measure(&bench.context(), id, "upper_bearing_outer_diameter").unwrap());
    golden("look", &look(&bench.context(), id, "upper_seat").unwrap());
    assert!(
        measure(&bench.context(), id, "upper_bearing").unwrap_err().to_string().contains("`upper_bearing`")
    );
}

#[test]
fn steering_as_it_is_and_with_a_tilt() {
    let bench = Bench::demo();
    let id = bench.id("Hire bike 05");
    golden("steering", &steering(&bench.context(), id, &Change::default()).unwrap());
    let tilted = Change { tilt: Some(1.0), ..Change::default() };
    golden("steering-tilted", &steering(&bench.context(), id, &tilted).unwrap());
}

/// A slider that stands where the bike is changes nothing: the bike's own value keeps its uncertainty.
#[test]
fn sliders_at_rest_are_no_change() {
    let bench = Bench::demo();
    let id = bench.id("Hire bike 05");
    let rest = steering(&bench.context(), id, &Change::default()).unwrap();
    let at =
        |name: &str| rest.sliders.iter().find(|slider| slider.name == name).map(|slider| slider.as_it_is);
    let same = Change {
        tilt: Some(0.0),
        fork_length: at("fork_length"),
        fork_offset: at("fork_offset"),
        front_tyre: at("front_tyre"),
        rear_tyre: at("rear_tyre"),
        lower_stack: at("lower_stack"),
    };
    assert!(same.fork_length.is_some() && same.lower_stack.is_some());
    assert_eq!(steering(&bench.context(), id, &same).unwrap(), rest);
}

#[test]
fn the_record() {
    let bench = Bench::demo();
    golden("record-12", &record(&bench.context(), bench.id("Hire bike 12")).unwrap());
}

#[test]
fn an_empty_book_offers_the_demo_crew() {
    let bench = Bench::empty();
    let view = bikes(&bench.context(), &BikeQuery::default()).unwrap();
    assert!(view.rows.is_empty() && view.empty.unwrap().demo.is_some());
    // A search that finds nothing is another emptiness.
    let query = BikeQuery { text: "nobody".to_owned(), ..BikeQuery::default() };
    assert_eq!(bikes(&bench.context(), &query).unwrap().empty.unwrap().demo, None);
}

/// Contradicting readings take the place of any other mark, in the list and on the bike; a reading that two others
/// outvote is told and decides nothing.
#[test]
fn contradicting_readings_have_their_own_mark() {
    let mut bench = Bench::demo();
    let outvoted = bike(&bench.context(), bench.id("Hire bike 12")).unwrap();
    assert_ne!(outvoted.sign, Sign::Verdict(Mark::Disagree));
    assert!(outvoted.readings.iter().any(|line| line.contains("116.0")), "{:?}", outvoted.readings);
    let id = bench.id("Hire bike 03");
    for value in ["41.0", "41.8"] {
        bench.write(id, "upper_bearing_outer_diameter", value, "caliper").unwrap();
    }
    let view = bike(&bench.context(), id).unwrap();
    assert_eq!(view.sign, Sign::Verdict(Mark::Disagree));
    assert!(view.answer.why.contains("41 mm against 41.8 mm"), "{:?}", view.answer);
    assert!(view.next.unwrap().title.contains("upper bearing outside diameter"));
    assert!(view.groups.iter().flat_map(|group| &group.rows).any(|row| row.disagrees));
}
