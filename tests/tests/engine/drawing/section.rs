//! The head tube section: dimensions measured back from the drawing.

use super::samples::{angles, any_section, hatched, lengths, section};
use proptest::prelude::*;
use steerwright_core::clearance::Side;
use steerwright_core::drawing::{
    Deepening, Drawing, DrawingError, Fill, Item, Point, Relief, ReliefSide, Role, SectionSeat,
    head_tube_section,
};
use steerwright_core::headset::End;

fn axis(drawing: &Drawing, layer: &str) -> (Point, Point) {
    let items = &drawing.layer(layer).unwrap().items;
    let [Item::Line { from, to, .. }] = items.as_slice() else { panic!("{items:?}") };
    (*from, *to)
}

/// Lean of the new axis to the rear of the old one, degrees, measured on the sheet.
fn drawn_tilt(drawing: &Drawing) -> f64 {
    let [old, new] = ["old axis", "new axis"].map(|layer| {
        let (top, bottom) = axis(drawing, layer);
        (top - bottom).direction_deg()
    });
    new - old
}

fn remove_strips(drawing: &Drawing) -> Vec<Vec<Point>> {
    let layer = drawing.layer("remove").unwrap();
    let hatched = layer.items.iter().filter(|item| hatched(item));
    hatched
        .map(|item| match item {
            Item::Polygon { points, role: Role::Remove, .. } => points.clone(),
            other => panic!("{other:?}"),
        })
        .collect()
}

#[test]
fn the_axes_enclose_the_true_tilt() {
    let input = section();
    let drawing = head_tube_section(&input).unwrap();
    // The offsets of the sample are made for 1.5 degrees between the bearing planes.
    assert!((input.tilt_deg() - 1.5).abs() < 1e-9);
    assert!((drawn_tilt(&drawing) - 1.5).abs() < 1e-9);
    let [dimension] = angles(&drawing).collect::<Vec<_>>()[..] else { panic!("one angle") };
    assert!((dimension.sweep_deg - 1.5).abs() < 1e-9);
    assert!(dimension.label.iter().any(|line| line.text.contains("1.50°")), "{:?}", dimension.label);
}

#[test]
fn steepening_mirrors_the_axes() {
    let mut input = section();
    for end in [&mut input.upper, &mut input.lower] {
        end.offset_mm = -end.offset_mm;
    }
    assert!((drawn_tilt(&head_tube_section(&input).unwrap()) + 1.5).abs() < 1e-9);
}

#[test]
fn slackened_the_upper_end_of_the_axis_moves_to_the_rear() {
    let drawing = head_tube_section(&section()).unwrap();
    let ((old_top, old_bottom), (new_top, new_bottom)) =
        (axis(&drawing, "old axis"), axis(&drawing, "new axis"));
    assert!(new_top.x < old_top.x, "rear is left");
    assert!(new_bottom.x > old_bottom.x, "front is right");
}

/// A bore that is reamed deeper is marked as material to remove on both sides, from its depth to the new one.
#[test]
fn material_below_a_bore_is_marked_too() {
    for end in End::BOTH {
        let mut input = section();
        input.relief = Vec::new();
        input.deepening = vec![Deepening { end, from_mm: 12.0, to_mm: 16.0 }];
        let drawing = head_tube_section(&input).unwrap();
        let strips = remove_strips(&drawing);
        assert_eq!(strips.len(), 2, "{end:?}");
        let all = drawing.description.as_str();
        assert!(all.contains(&format!("{} bore: ream 4.0\u{a0}mm deeper", end.name())), "{all}");
    }
}

/// A note that asks for material next to a clearance that is enough names whose figure decides.
#[test]
fn the_kit_makers_figure_is_named_where_it_decides() {
    for by_maker_figure in [false, true] {
        let mut input = section();
        input.relief =
            vec![Relief { end: End::Upper, side: ReliefSide::Rear, depth_mm: 0.4, by_maker_figure }];
        let drawing = head_tube_section(&input).unwrap();
        assert_eq!(drawing.description.contains("kit maker's figure"), by_maker_figure);
    }
}

#[test]
fn material_goes_on_the_stated_side_and_end() {
    let middle = 50.0;
    for (end, side) in [
        (End::Upper, ReliefSide::Rear),
        (End::Upper, ReliefSide::Front),
        (End::Lower, ReliefSide::Rear),
        (End::Lower, ReliefSide::Around),
    ] {
        let mut input = section();
        input.relief = vec![Relief { end, side, depth_mm: 1.4, by_maker_figure: false }];
        let drawing = head_tube_section(&input).unwrap();
        let strips = remove_strips(&drawing);
        assert_eq!(strips.len(), if side == ReliefSide::Around { 2 } else { 1 });
        let [head_tube] = lengths(&drawing).filter(|it| it.value_mm == Some(112.0)).collect::<Vec<_>>()[..]
        else {
            panic!("the head tube's length")
        };
        let centre_y = head_tube.line_from.between_y(head_tube.line_to);
        let scale = head_tube.scale.unwrap();
        for strip in &strips {
            let (rear, front) =
                (strip.iter().all(|point| point.x < middle), strip.iter().all(|point| point.x > middle));
            match side {
                ReliefSide::Rear => assert!(rear),
                ReliefSide::Front => assert!(front),
                ReliefSide::Around => assert!(rear || front),
            }
            assert!(strip.iter().all(|point| (point.y < centre_y) == (end == End::Upper)), "{end:?}");
            let across: Vec<f64> = strip.iter().map(|point| point.x).collect();
            let width = across.iter().copied().fold(f64::MIN, f64::max)
                - across.iter().copied().fold(f64::MAX, f64::min);
            assert!((width / scale - 1.4).abs() < 1e-9, "1.4 mm is drawn {}", width / scale);
        }
    }
}

trait BetweenY {
    fn between_y(self, other: Self) -> f64;
}

impl BetweenY for Point {
    fn between_y(self, other: Self) -> f64 {
        f64::midpoint(self.y, other.y)
    }
}

/// The dimension of the least clearance spans steerer and throat: 0.6 mm from the steerer's surface, to the
/// rear.
#[test]
fn least_room_starts_at_the_steerer_and_points_to_its_side() {
    for (side, sign) in [(Side::Rear, -1.0), (Side::Front, 1.0)] {
        let mut input = section();
        input.least_clearance.as_mut().unwrap().side = side;
        let drawing = head_tube_section(&input).unwrap();
        let layer = drawing.layer("least room").unwrap();
        let [Item::Length(dimension)] = layer.items.as_slice() else { panic!("{layer:?}") };
        assert!(((dimension.to.x - dimension.from.x) * sign - 0.6 * dimension.scale.unwrap()).abs() < 1e-9);
        let words: Vec<&str> = dimension.label.iter().map(|line| line.text.as_str()).collect();
        let words = words.join(" ").replace('\u{a0}', " ");
        assert_eq!(words, format!("least room 0.6 mm, {}; needs 1.2 mm", side.name()));
    }
}

#[test]
fn a_steerer_that_touches_is_said_to() {
    let mut input = section();
    input.least_clearance.as_mut().unwrap().clearance_mm = -0.4;
    let drawing = head_tube_section(&input).unwrap();
    let words = drawing.texts().map(|text| text.text.replace('\u{a0}', " ")).collect::<Vec<_>>().join(" ");
    assert!(words.contains("touches by 0.4 mm"), "{words}");
}

#[test]
fn what_was_not_measured_is_dashed_and_named() {
    let hidden = |drawing: &Drawing| {
        drawing
            .layer("frame")
            .unwrap()
            .items
            .iter()
            .filter(|item| matches!(item, Item::Line { role: Role::Hidden, .. }))
            .count()
    };
    let measured = head_tube_section(&section()).unwrap();
    assert_eq!(hidden(&measured), 0);
    assert!(measured.texts().all(|text| !text.text.contains("not")));
    let mut input = section();
    input.upper.throat_diameter_mm = None;
    let partly = head_tube_section(&input).unwrap();
    assert!(hidden(&partly) >= 2, "both sides");
    let words = partly.texts().map(|text| text.text.as_str()).collect::<Vec<_>>().join(" ");
    assert!(words.contains("upper throat not measured"), "{words}");
    assert!(partly.description.contains("throat not measured"));
    // A plain bore for a cup has no throat that could be missing.
    input.upper.seat = SectionSeat::Pressed;
    let pressed = head_tube_section(&input).unwrap();
    assert!(!pressed.description.contains("upper throat not measured"));
    assert!(pressed.texts().all(|text| !text.text.contains("not measured")));
}

#[test]
fn the_wall_is_hatched_on_both_sides() {
    let drawing = head_tube_section(&section()).unwrap();
    let walls = drawing.layer("frame").unwrap().items.iter().filter(|item| hatched(item));
    let sides: Vec<bool> = walls
        .map(|wall| match wall {
            Item::Polygon { points, fill: Fill::Hatch { .. }, .. } => {
                points.iter().all(|point| point.x < 50.0)
            }
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(sides, [true, false]);
}

#[test]
fn numbers_without_sense_are_refused_by_name() {
    let mut input = section();
    input.lower.bore_diameter_mm = Some(f64::NAN);
    assert_eq!(
        head_tube_section(&input),
        Err(DrawingError::NotFinite { field: "lower.bore_diameter_mm".to_owned() })
    );
    let mut input = section();
    input.head_tube_length_mm = 12.0;
    let refused = head_tube_section(&input).unwrap_err();
    assert_eq!(refused.to_string(), "head_tube_length_mm is 12; a drawing needs 40 to 400");
    let mut input = section();
    input.steerer.taper_start_mm = Some(90.0);
    assert!(matches!(head_tube_section(&input), Err(DrawingError::Contradiction { .. })));
    let mut input = section();
    input.upper.outside_diameter_mm = Some(40.0);
    let refused = head_tube_section(&input).unwrap_err();
    assert!(
        matches!(&refused, DrawingError::Contradiction { field, .. } if field == "upper.outside_diameter_mm")
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// Arbitrary bit patterns: an error or a picture, never a panic and never a number that is not finite.
    #[test]
    fn nothing_panics(numbers in proptest::array::uniform32(prop_oneof![any::<f64>(), -5.0..150.0])) {
        let mut next = numbers.into_iter();
        let mut take = || next.next().unwrap();
        let mut input = section();
        input.head_tube_length_mm = take();
        for end in [&mut input.upper, &mut input.lower] {
            end.bore_diameter_mm = Some(take());
            end.bore_depth_mm = Some(take());
            end.throat_diameter_mm = Some(take());
            end.throat_depth_mm = Some(take());
            end.outside_diameter_mm = Some(take());
            end.stack_mm = take();
            end.plane_mm = take();
            end.offset_mm = take();
        }
        input.steerer.upper_diameter_mm = take();
        input.steerer.lower_diameter_mm = Some(take());
        input.steerer.taper_start_mm = Some(take());
        input.steerer.taper_end_mm = Some(take());
        if let Ok(drawing) = head_tube_section(&input) {
            prop_assert!(drawing.height_mm.is_finite());
        }
    }
}

#[test]
fn a_dimension_and_a_seat_are_targets_where_they_are_drawn() {
    let drawing = head_tube_section(&section()).unwrap();
    let names: Vec<&str> = drawing.targets.iter().map(|target| target.what.as_str()).collect();
    assert_eq!(
        names,
        [
            "upper_seat",
            "lower_seat",
            "head_tube_length",
            "upper_bore_diameter",
            "upper_throat_diameter",
            "lower_bore_diameter",
            "lower_throat_diameter",
        ]
    );
    for text in drawing.texts().filter(|text| text.text.starts_with("upper throat")) {
        let touched = drawing.target_at(text.at, 0.0).unwrap();
        assert_eq!(touched.what, "upper_throat_diameter");
        assert!(touched.name.starts_with("upper throat Ø "), "{}", touched.name);
    }
    // The seat's wall, away from every label.
    let seat = drawing.targets.iter().find(|target| target.what == "lower_seat").unwrap();
    assert_eq!(drawing.target_at(seat.area.min, 0.0).map(|it| it.what.as_str()), Some("lower_seat"));
    let outside = Point::new(-5.0, -5.0);
    assert_eq!(drawing.target_at(outside, 1.0), None);
    assert!(drawing.target_at(outside, 500.0).is_some());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn targets_lie_on_the_sheet_and_those_of_labels_apart(input in any_section()) {
        let drawing = head_tube_section(&input).unwrap();
        let on_labels: Vec<_> = drawing.targets.iter().filter(|it| !it.what.ends_with("_seat")).collect();
        for (index, target) in on_labels.iter().enumerate() {
            let middle = target.area.centre();
            prop_assert!((0.0..=drawing.width_mm).contains(&middle.x), "{target:?}");
            prop_assert!((0.0..=drawing.height_mm).contains(&middle.y), "{target:?}");
            prop_assert_eq!(&drawing.target_at(middle, 0.0).unwrap().what, &target.what);
            prop_assert!(on_labels.iter().skip(index + 1).all(|other| !other.area.overlaps(target.area)));
        }
    }
}
