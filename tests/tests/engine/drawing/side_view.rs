//! The side view: the worked example measured back from the sheet.

use super::samples::{angles, lengths, side_view as sample};
use steerwright_core::drawing::{DrawingError, Item, Role, side_view};

/// Worked example of the side view's geometry, computed twice elsewhere; points are given to 0.01 mm, numbers printed
/// to 0.1.
#[test]
fn the_table_shows_the_worked_example() {
    let drawing = side_view(&sample()).unwrap();
    let table = drawing.layer("table").unwrap();
    let words: Vec<&str> = table
        .items
        .iter()
        .filter_map(|item| if let Item::Text(text) = item { Some(text.text.as_str()) } else { None })
        .collect();
    let expected = [
        "before",
        "after",
        "A",
        "head angle",
        "66.0",
        "64.8°",
        "B",
        "bottom bracket height",
        "340.0",
        "337.9 mm",
        "C",
        "reach",
        "468.6",
        "471.7 mm",
        "D",
        "stack",
        "637.1",
        "634.8 mm",
        "E",
        "wheelbase",
        "1220.0",
        "1235.2 mm",
        "F",
        "trail",
        "117.5",
        "126.6 mm",
    ];
    assert_eq!(words, expected);
}

#[test]
fn dimensions_are_those_of_the_bike_after() {
    let drawing = side_view(&sample()).unwrap();
    let shown = |letter: &str| {
        let found =
            lengths(&drawing).find(|dimension| dimension.label.iter().any(|line| line.text == letter));
        found.unwrap_or_else(|| panic!("{letter}")).value_mm.unwrap()
    };
    // Published with two digits: 337.87, 471.71, 634.83, 1235.25, 126.56; points here are rounded to 0.01 mm each.
    for (letter, value, tolerance) in [
        ("B", 337.87, 0.01),
        ("C", 471.71, 0.02),
        ("D", 634.83, 0.02),
        ("E", 1235.25, 0.01),
        ("F", 126.56, 0.03),
    ] {
        assert!((shown(letter) - value).abs() < tolerance, "{letter}: {} for {value}", shown(letter));
    }
    let [angle] = angles(&drawing).collect::<Vec<_>>()[..] else { panic!("one angle") };
    assert!((angle.sweep_deg - 64.781).abs() < 1e-9);
    assert!(
        (angle.start_deg + angle.sweep_deg - 180.0).abs() < 1e-9,
        "one leg lies on the ground, to the rear"
    );
}

#[test]
fn before_and_after_lie_in_their_own_layers_and_roles() {
    let drawing = side_view(&sample()).unwrap();
    for (layer, role, wheels) in [("before", Role::Before, 372.0), ("after", Role::After, 372.0)] {
        let items = &drawing.layer(layer).unwrap().items;
        let scale = lengths(&drawing).next().unwrap().scale.unwrap();
        let mut tyres = 0;
        for item in items {
            let drawn = match item {
                Item::Line { role, .. } | Item::Polyline { role, .. } | Item::Polygon { role, .. } => *role,
                Item::Circle { role, radius_mm, .. } => {
                    tyres += usize::from((radius_mm / scale - wheels).abs() < 1e-9);
                    *role
                }
                other => panic!("{other:?}"),
            };
            assert_eq!(drawn, role);
        }
        assert_eq!(tyres, 2, "{layer}");
    }
}

#[test]
fn the_enlarged_axes_keep_their_angles() {
    let drawing = side_view(&sample()).unwrap();
    assert!(drawing.texts().any(|text| text.text.contains("enlarged")));
    for (layer, angle) in [("inset: steering axis before", 66.0), ("inset: steering axis after", 64.781)] {
        let items = &drawing.layer(layer).unwrap().items;
        let [Item::Line { from, to, .. }] = items.as_slice() else { panic!("{items:?}") };
        // Direction of the axis upwards: 180 degrees minus the head angle.
        let direction = (*to - *from).direction_deg();
        assert!((direction - (180.0 - angle)).abs() < 1e-9, "{layer}: {direction}");
    }
}

#[test]
fn a_bike_without_a_bottom_bracket_is_drawn_without_its_numbers() {
    let mut input = sample();
    input.before.bottom_bracket = None;
    input.after = None;
    let drawing = side_view(&input).unwrap();
    let letters: Vec<&str> = lengths(&drawing)
        .flat_map(|dimension| dimension.label.iter().map(|line| line.text.as_str()))
        .collect();
    assert_eq!(letters, ["F", "E"]);
    assert!(!drawing.description.contains("reach"));
}

#[test]
fn places_without_sense_are_refused_by_name() {
    let mut input = sample();
    input.after.as_mut().unwrap().crown = [f64::INFINITY, 0.0];
    assert_eq!(side_view(&input), Err(DrawingError::NotFinite { field: "after.crown".to_owned() }));
    let mut input = sample();
    input.before.head_angle_deg = 20.0;
    assert_eq!(
        side_view(&input).unwrap_err().to_string(),
        "before.head_angle_deg is 20; a drawing needs 40 to 90"
    );
}
