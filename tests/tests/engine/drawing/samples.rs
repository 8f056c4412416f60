//! Inputs of the invented hire bikes, random inputs, and checks for every picture.

use proptest::prelude::*;
use steerwright_core::clearance::Side;
use steerwright_core::drawing::{
    AngleDimension, BikePoints, BoundingBox, Deepening, Drawing, Fill, Item, LeastClearance, LengthDimension,
    NumberLineInput, NumberLineRow, Point, Relief, ReliefSide, SectionEnd, SectionInput, SectionSeat,
    SectionSteerer, SideViewInput, StretchEnd,
};
use steerwright_core::headset::End;
use steerwright_core::quantity::Unit;

/// A drop-in pair at 1.5 degrees in a head tube of 112 mm: planes 4 and 3 mm inside the faces.
pub(crate) fn section() -> SectionInput {
    let offset = 1.5_f64.to_radians().tan() * (112.0 - 4.0 - 3.0) / 2.0;
    let end = |bore, throat, outside, stack, plane, offset| SectionEnd {
        seat: SectionSeat::DropIn,
        bore_diameter_mm: Some(bore),
        bore_depth_mm: Some(8.0),
        throat_diameter_mm: Some(throat),
        throat_depth_mm: Some(9.5),
        outside_diameter_mm: Some(outside),
        stack_mm: stack,
        plane_mm: plane,
        offset_mm: offset,
    };
    SectionInput {
        title: "Hire bike 07 with TT-4180-15".to_owned(),
        head_tube_length_mm: 112.0,
        upper: end(41.9, 33.2, 50.0, 9.5, -4.0, -offset),
        lower: end(52.1, 45.0, 60.0, 4.0, -3.0, offset),
        tube_inside_diameter_mm: Some(46.0),
        steerer: SectionSteerer {
            upper_diameter_mm: 28.6,
            lower_diameter_mm: Some(39.8),
            taper_start_mm: Some(22.0),
            taper_end_mm: Some(78.0),
        },
        least_clearance: Some(LeastClearance {
            z_mm: 102.5,
            side: Side::Rear,
            clearance_mm: 0.6,
            needed_mm: 1.2,
        }),
        relief: vec![Relief {
            end: End::Upper,
            side: ReliefSide::Rear,
            depth_mm: 0.7,
            by_maker_figure: false,
        }],
        deepening: Vec::new(),
    }
}

/// The side view's worked example: head angle 66, wheelbase 1220, wheels 372, axle to crown 555, offset 44, lower stack
/// 12, head tube 115; then a tilt of 1.5 degrees and a lower stack of 14. Points computed from the closed form, mm.
pub(crate) fn side_view() -> SideViewInput {
    SideViewInput {
        title: "Hire bike 07 before and after".to_owned(),
        before: BikePoints {
            rear_axle: [0.0, 372.0],
            front_axle: [1220.0, 372.0],
            bottom_bracket: Some([433.821_391_8, 340.0]),
            head_tube_top: [902.409_609_3, 977.141_589_8],
            head_tube_bottom: [949.184_323_2, 872.083_862_2],
            crown: [954.065_163_0, 861.121_316_7],
            head_angle_deg: 66.0,
            seat_angle_deg: Some(76.0),
        },
        after: Some(BikePoints {
            rear_axle: [0.0, 372.0],
            front_axle: [1235.25, 372.0],
            bottom_bracket: Some([433.66, 337.87]),
            head_tube_top: [905.37, 972.70],
            head_tube_bottom: [951.63, 867.42],
            crown: [958.97, 855.35],
            head_angle_deg: 64.781,
            seat_angle_deg: Some(76.281),
        }),
    }
}

/// Four quantities of a kit that fits after work: ends below, above and on both sides, and a stretch that is wide.
pub(crate) fn number_lines() -> NumberLineInput {
    let end = |at: f64, beyond: &str| Some(StretchEnd { at, beyond: beyond.to_owned() });
    let row = |label: &str, value, u, from, to| NumberLineRow {
        label: label.to_owned(),
        unit: Unit::Mm,
        value,
        u,
        from,
        to,
    };
    NumberLineInput {
        title: "Hire bike 07 with TT-4180-15: how far the verdict holds".to_owned(),
        holds: "fits after work".to_owned(),
        rows: vec![
            row("lower bore depth", 9.5, 0.1, end(9.31, "measure first"), None),
            row("upper bore diameter", 41.9, 0.025, end(41.84, "does not fit"), end(41.99, "measure first")),
            row("steerer upper diameter", 28.6, 0.01, None, end(28.66, "does not fit")),
            row("head tube length", 112.0, 0.25, end(96.4, "measure first"), end(131.2, "fits")),
        ],
    }
}

/// Rows of any numbers that contradict nothing.
pub(crate) fn any_number_lines() -> impl Strategy<Value = NumberLineInput> {
    let beyond =
        prop_oneof![Just("fits"), Just("fits after work"), Just("measure first"), Just("does not fit")];
    let end =
        (beyond, prop_oneof![Just(0.0), 1e-3..1e3]).prop_map(|(beyond, away)| (beyond.to_owned(), away));
    let row = (
        "[ -~]{1,40}",
        prop_oneof![Just(Unit::Mm), Just(Unit::Deg)],
        (-2e3..2e3, prop_oneof![Just(0.0), 1e-4..50.0]),
        (proptest::option::of(end.clone()), end.clone(), any::<bool>()),
    );
    let row = row.prop_map(|(label, unit, (value, u), (below, above, both))| NumberLineRow {
        label,
        unit,
        value,
        u,
        to: (both || below.is_none()).then_some(StretchEnd { at: value + above.1, beyond: above.0 }),
        from: below.map(|(beyond, away)| StretchEnd { at: value - away, beyond }),
    });
    proptest::collection::vec(row, 1..6).prop_map(|rows| NumberLineInput {
        title: "Any".to_owned(),
        holds: "fits after work".to_owned(),
        rows,
    })
}

fn maybe(range: std::ops::Range<f64>) -> impl Strategy<Value = Option<f64>> {
    proptest::option::of(range)
}

fn any_end() -> impl Strategy<Value = SectionEnd> {
    (
        prop_oneof![Just(SectionSeat::DropIn), Just(SectionSeat::Pressed)],
        (maybe(30.0..60.0), maybe(3.0..30.0), maybe(25.0..58.0), maybe(3.0..40.0), maybe(61.0..80.0)),
        (0.0..30.0, -12.0..12.0, -4.0..4.0),
    )
        .prop_map(|(seat, (bore, depth, throat, throat_depth, outside), (stack, plane, offset))| {
            SectionEnd {
                seat,
                bore_diameter_mm: bore,
                bore_depth_mm: depth,
                throat_diameter_mm: throat,
                throat_depth_mm: throat_depth,
                outside_diameter_mm: outside,
                stack_mm: stack,
                plane_mm: plane,
                offset_mm: offset,
            }
        })
}

fn any_relief() -> impl Strategy<Value = Relief> {
    let side = prop_oneof![Just(ReliefSide::Front), Just(ReliefSide::Rear), Just(ReliefSide::Around)];
    (prop_oneof![Just(End::Upper), Just(End::Lower)], side, 0.1..3.0)
        .prop_map(|(end, side, depth_mm)| Relief { end, side, depth_mm, by_maker_figure: depth_mm < 1.0 })
}

fn any_deepening() -> impl Strategy<Value = Deepening> {
    (prop_oneof![Just(End::Upper), Just(End::Lower)], 5.0..20.0, 0.5..8.0)
        .prop_map(|(end, from_mm, more)| Deepening { end, from_mm, to_mm: from_mm + more })
}

/// Sections of plausible bikes, most of them with unknown fields.
pub(crate) fn any_section() -> impl Strategy<Value = SectionInput> {
    let clearance = (0.0..1.0, prop_oneof![Just(Side::Front), Just(Side::Rear)], -3.0..6.0, 0.0..2.0);
    (
        "[ -~]{0,30}",
        60.0..260.0,
        (any_end(), any_end()),
        maybe(30.0..60.0),
        (20.0..40.0, maybe(25.0..50.0), maybe(0.0..40.0), maybe(41.0..120.0)),
        proptest::option::of(clearance),
        (proptest::collection::vec(any_relief(), 0..3), proptest::collection::vec(any_deepening(), 0..3)),
    )
        .prop_map(
            |(
                title,
                length,
                (upper, lower),
                tube,
                (upper_d, lower_d, start, end),
                clearance,
                (relief, deepening),
            )| {
                SectionInput {
                    title,
                    head_tube_length_mm: length,
                    upper,
                    lower,
                    tube_inside_diameter_mm: tube,
                    steerer: SectionSteerer {
                        upper_diameter_mm: upper_d,
                        lower_diameter_mm: lower_d,
                        taper_start_mm: start,
                        taper_end_mm: end,
                    },
                    least_clearance: clearance.map(|(share, side, clearance_mm, needed_mm)| LeastClearance {
                        z_mm: share * length,
                        side,
                        clearance_mm,
                        needed_mm,
                    }),
                    relief,
                    deepening,
                }
            },
        )
}

fn any_points() -> impl Strategy<Value = BikePoints> {
    (
        900.0..1500.0,
        250.0..400.0,
        250.0..400.0,
        55.0..80.0_f64,
        (350.0..650.0, -10.0..80.0, 80.0..200.0),
        any::<bool>(),
    )
        .prop_map(|(wheelbase, front, rear, angle, (to_crown, offset, tube), known)| {
            let (sin, cos) = angle.to_radians().sin_cos();
            let crown = [wheelbase - to_crown * cos - offset * sin, front + to_crown * sin - offset * cos];
            let up = |length: f64| [crown[0] - length * cos, crown[1] + length * sin];
            BikePoints {
                rear_axle: [0.0, rear],
                front_axle: [wheelbase, front],
                bottom_bracket: known.then_some([430.0, rear - 20.0]),
                head_tube_top: up(12.0 + tube),
                head_tube_bottom: up(12.0),
                crown,
                head_angle_deg: angle,
                seat_angle_deg: known.then_some(75.0),
            }
        })
}

/// Two unrelated bikes of any size, or one.
pub(crate) fn any_side_view() -> impl Strategy<Value = SideViewInput> {
    (any_points(), proptest::option::of(any_points())).prop_map(|(before, mut after)| {
        // A change keeps the known fields of the frame.
        if let Some(after) = &mut after {
            after.bottom_bracket = before.bottom_bracket.map(|[x, y]| [x + 2.0, y - 5.0]);
        }
        SideViewInput { title: "Two bikes".to_owned(), before, after }
    })
}

pub(crate) fn lengths(drawing: &Drawing) -> impl Iterator<Item = &LengthDimension> {
    drawing.items().filter_map(|item| if let Item::Length(dimension) = item { Some(dimension) } else { None })
}

pub(crate) fn angles(drawing: &Drawing) -> impl Iterator<Item = &AngleDimension> {
    drawing.items().filter_map(|item| if let Item::Angle(dimension) = item { Some(dimension) } else { None })
}

/// Every straight stroke of a picture, curves in steps of 5 degrees, computed here independently of the library.
pub(crate) fn strokes(drawing: &Drawing) -> Vec<(Point, Point)> {
    let mut strokes = Vec::new();
    for item in drawing.plain().items() {
        let (points, closed) = match item {
            Item::Line { from, to, .. } => (vec![*from, *to], false),
            Item::Polyline { points, .. } => (points.clone(), false),
            Item::Polygon { points, .. } => (points.clone(), true),
            Item::Circle { centre, radius_mm, .. } => (
                (0..72).map(|step| *centre + Point::towards(f64::from(step) * 5.0) * *radius_mm).collect(),
                true,
            ),
            Item::Arc { centre, radius_mm, start_deg, sweep_deg, .. } => (
                (0..=36)
                    .map(|step| {
                        *centre + Point::towards(start_deg + sweep_deg * f64::from(step) / 36.0) * *radius_mm
                    })
                    .collect(),
                false,
            ),
            Item::Text(_) => continue,
            other => panic!("not a plain item: {other:?}"),
        };
        strokes.extend(points.iter().copied().zip(points.iter().copied().skip(1)));
        if closed {
            strokes.push((points[points.len() - 1], points[0]));
        }
    }
    strokes
}

/// Requirements on every picture: finite, on its sheet, large enough text that touches neither other text nor a stroke.
pub(crate) fn check_legible(drawing: &Drawing) -> Result<(), String> {
    let texts: Vec<_> = drawing.texts().collect();
    let sheet =
        BoundingBox { min: Point::new(0.0, 0.0), max: Point::new(drawing.width_mm, drawing.height_mm) };
    let strokes = strokes(drawing);
    if let Some((from, to)) =
        strokes.iter().find(|(from, to)| ![from.x, from.y, to.x, to.y].iter().all(|part| part.is_finite()))
    {
        return Err(format!("a stroke from {from:?} to {to:?}"));
    }
    for (index, text) in texts.iter().enumerate() {
        let extent = text.extent();
        // Eleven pixels on a page 360 px wide.
        if text.size_mm * 360.0 / drawing.width_mm < 11.0 {
            return Err(format!("`{}` is too small", text.text));
        }
        if !sheet.holds(extent) {
            return Err(format!("`{}` leaves the sheet: {extent:?} of {sheet:?}", text.text));
        }
        if let Some(other) = texts.iter().skip(index + 1).find(|other| other.extent().overlaps(extent)) {
            return Err(format!("`{}` lies on `{}`", text.text, other.text));
        }
        if let Some((from, to)) = strokes.iter().find(|(from, to)| extent.meets_stroke(*from, *to)) {
            return Err(format!("`{}` lies on the stroke from {from:?} to {to:?}", text.text));
        }
    }
    for dimension in lengths(drawing) {
        if let (Some(value), Some(scale)) = (dimension.value_mm, dimension.scale) {
            let drawn = dimension.line_from.distance(dimension.line_to) / scale;
            // The list has full precision; only rounding of doubles may differ.
            if (drawn - value).abs() > 1e-9 * value.abs().max(1.0) {
                return Err(format!("a dimension of {value} is drawn {drawn} long"));
            }
        }
    }
    for dimension in angles(drawing) {
        if let Some(value) = dimension.value_deg
            && (dimension.sweep_deg.abs() - value).abs() > 1e-9
        {
            return Err(format!("an angle of {value} is drawn {}", dimension.sweep_deg));
        }
    }
    Ok(())
}

/// Whether an item has a hatch of its own.
pub(crate) fn hatched(item: &Item) -> bool {
    matches!(item, Item::Polygon { fill: Fill::Hatch { .. }, .. })
}
