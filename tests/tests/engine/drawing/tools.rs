//! Tool positions: one valid picture for every quantity.

use super::samples::{angles, check_legible, lengths};
use std::collections::BTreeSet;
use steerwright_core::drawing::{BoundingBox, Drawing, Item, LengthDimension, Role, tool_place};
use steerwright_core::quantity::{Dimension, Quantity, quantity_info};

fn only_length(what: Quantity) -> LengthDimension {
    let drawing = tool_place(what);
    let [dimension] = lengths(&drawing).collect::<Vec<_>>()[..] else { panic!("{what}: one dimension") };
    dimension.clone()
}

fn span(what: Quantity) -> f64 {
    let dimension = only_length(what);
    dimension.line_from.distance(dimension.line_to)
}

fn is_level(dimension: &LengthDimension) -> bool {
    (dimension.line_from.y - dimension.line_to.y).abs() < 1e-9
}

fn has_role(drawing: &Drawing, wanted: Role) -> bool {
    drawing.plain().items().any(|item| match item {
        Item::Line { role, .. } | Item::Polygon { role, .. } | Item::Circle { role, .. } => *role == wanted,
        _ => false,
    })
}

#[test]
fn every_quantity_has_a_legible_picture_of_its_own() {
    let mut titles = BTreeSet::new();
    for what in Quantity::ALL {
        let drawing = tool_place(*what);
        if let Err(wrong) = check_legible(&drawing) {
            panic!("{what}: {wrong}");
        }
        assert!(drawing.title.ends_with(quantity_info(*what).label.as_str()), "{}", drawing.title);
        assert!(titles.insert(drawing.title.clone()), "{} is there twice", drawing.title);
    }
}

#[test]
fn every_picture_names_one_dimension_shows_a_tool_and_crosses_out_a_mistake() {
    for what in Quantity::ALL {
        let drawing = tool_place(*what);
        let labels: Vec<String> = lengths(&drawing)
            .map(|dimension| &dimension.label)
            .chain(angles(&drawing).map(|dimension| &dimension.label))
            .map(|lines| lines.iter().map(|line| line.text.as_str()).collect::<Vec<_>>().join(" "))
            .collect();
        assert_eq!(labels, [quantity_info(*what).label.clone()], "{what}");
        let counts = (lengths(&drawing).count(), angles(&drawing).count());
        let expected = if what.dimension() == Dimension::Angle { (0, 1) } else { (1, 0) };
        assert_eq!(counts, expected, "{what}");
        for role in [Role::Tool, Role::Wrong] {
            assert!(has_role(&drawing, role), "{what} without {role:?}");
        }
        let crossed = drawing.texts().filter(|text| text.role == Role::Wrong).map(|text| text.text.as_str());
        let crossed: Vec<&str> = crossed.collect();
        assert!(crossed.join(" ").starts_with("no"), "{what}: {crossed:?}");
    }
}

#[test]
fn nothing_leaves_its_sheet() {
    for what in Quantity::ALL {
        let drawing = tool_place(*what);
        let points = super::samples::strokes(&drawing).into_iter().flat_map(|(from, to)| [from, to]);
        let extent = BoundingBox::of(points).unwrap();
        assert!(extent.min.x >= 0.0 && extent.max.x <= drawing.width_mm, "{what}: {extent:?}");
        assert!(extent.min.y >= 0.0 && extent.max.y <= drawing.height_mm, "{what}: {extent:?}");
    }
}

/// Diameters are horizontal, depths and heights along the head tube.
#[test]
fn diameters_are_level_and_depths_upright() {
    use Quantity::*;
    let level = [
        UpperBearingOuterDiameter,
        LowerBearingOuterDiameter,
        UpperBearingInnerDiameter,
        LowerBearingInnerDiameter,
        UpperBoreDiameter,
        LowerBoreDiameter,
        UpperCupOuterDiameter,
        LowerCupOuterDiameter,
        UpperThroatDiameter,
        LowerThroatDiameter,
        HeadTubeWall,
        Wheelbase,
        Reach,
        ForkOffset,
        TyreWidth,
        SteererLength,
        SteererTaperStart,
        SteererTaperEnd,
    ];
    let upright = [
        HeadTubeLength,
        UpperBearingHeight,
        LowerBearingHeight,
        UpperBoreDepth,
        LowerBoreDepth,
        UpperThroatDepth,
        LowerThroatDepth,
        UpperBearingRecess,
        UpperStack,
        LowerStack,
        SpacersBelow,
        SpacersAbove,
        StemClampHeight,
        CapGap,
        SteererUpperDiameter,
        SteererLowerDiameter,
        BottomBracketHeight,
        BottomBracketDrop,
        Stack,
        AxleToCrown,
        ForkTravel,
        ForkSag,
        RearSag,
        FrontTyreDiameter,
        RearTyreDiameter,
    ];
    for what in level {
        assert!(is_level(&only_length(what)), "{what}");
    }
    for what in upright {
        let dimension = only_length(what);
        assert!((dimension.line_from.x - dimension.line_to.x).abs() < 1e-9, "{what}");
    }
}

/// The parts are typical ones, so sizes have the same order in the pictures as on a bike.
#[test]
fn sizes_keep_their_order() {
    use Quantity::*;
    for (larger, smaller) in [
        (UpperBoreDiameter, UpperThroatDiameter),
        (LowerBoreDiameter, LowerThroatDiameter),
        (UpperThroatDepth, UpperBoreDepth),
        (UpperBearingOuterDiameter, UpperBearingInnerDiameter),
        (UpperBearingInnerDiameter, UpperBearingHeight),
        (SteererLowerDiameter, SteererUpperDiameter),
        (SteererTaperEnd, SteererTaperStart),
        (ForkTravel, ForkSag),
        (Wheelbase, FrontCentre),
        (FrontCentre, ChainstayLength),
        (Stack, Reach),
        (StemClampHeight, SpacersAbove),
    ] {
        assert!(span(larger) > span(smaller), "{larger} {} {smaller} {}", span(larger), span(smaller));
    }
}

/// The drawn bike has a head angle of 65 and a seat angle of 75 degrees, and the arcs are true.
#[test]
fn angles_open_to_the_rear() {
    for (what, expected) in [(Quantity::HeadAngle, 65.0), (Quantity::SeatAngle, 75.0)] {
        let drawing = tool_place(what);
        let [angle] = angles(&drawing).collect::<Vec<_>>()[..] else { panic!("{what}") };
        assert!((angle.sweep_deg - expected).abs() < 1e-9);
        assert!(
            (angle.start_deg + angle.sweep_deg - 180.0).abs() < 1e-9,
            "{what}: one leg level to the rear"
        );
    }
}

/// At the lower end the tool comes from below, at the upper end from above.
#[test]
fn the_tool_comes_from_its_end() {
    use Quantity::*;
    for (what, from_above) in [
        (UpperBoreDiameter, true),
        (LowerBoreDiameter, false),
        (UpperBoreDepth, true),
        (LowerBoreDepth, false),
        (UpperThroatDiameter, true),
        (LowerThroatDiameter, false),
        (UpperThroatDepth, true),
        (LowerThroatDepth, false),
        (UpperBearingRecess, true),
    ] {
        let drawing = tool_place(what);
        let middle = |name: &str| {
            let items = &drawing.layer(name).unwrap().items;
            let points = items.iter().flat_map(|item| match item {
                Item::Polygon { points, .. } => points.clone(),
                _ => Vec::new(),
            });
            BoundingBox::of(points).unwrap().centre().y
        };
        assert_eq!(middle("tool") < middle("part"), from_above, "{what}");
    }
}
