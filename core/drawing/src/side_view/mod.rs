//! The bike from its right side, before and after a change.

mod input;
pub(super) mod shape;

pub use input::{BikePoints, SideViewInput};

use super::sheet::{Measured, Sheet};
use super::world::{View, World};
use super::{Anchor, BoundingBox, Drawing, DrawingError, Fill, Point, Role, SHEET_WIDTH_MM, Text};
use shape::Numbers;
use steerwright_metrology::voice::Voice;
use steerwright_words::say;

/// Margins of the main view, mm on the sheet.
const SIDE_MM: f64 = 4.0;
const TOP_MM: f64 = 3.0;
/// Height of the dimensions below the ground.
const UNDER_MM: f64 = 17.0;
/// The enlarged head tube and its caption.
const INSET_MM: f64 = 50.0;
const CAPTION_MM: f64 = 5.5;
/// One row of the table, and its text.
const ROW_MM: f64 = 5.4;
const ROW_TEXT_MM: f64 = 3.4;
/// Extra gap under the table's header.
const HEADER_GAP_MM: f64 = 1.2;

/// A row of the table under the picture.
struct Row {
    letter: &'static str,
    name: &'static str,
    unit: &'static str,
    of: fn(&Numbers) -> Option<f64>,
}

const ROWS: [Row; 6] = [
    Row { letter: "A", name: "drawn-head-angle", unit: "°", of: |numbers| Some(numbers.head_angle) },
    Row {
        letter: "B",
        name: "drawn-bottom-bracket-height",
        unit: " mm",
        of: |numbers| numbers.bottom_bracket_height,
    },
    Row { letter: "C", name: "drawn-reach", unit: " mm", of: |numbers| numbers.reach },
    Row { letter: "D", name: "drawn-stack", unit: " mm", of: |numbers| numbers.stack },
    Row { letter: "E", name: "drawn-wheelbase", unit: " mm", of: |numbers| Some(numbers.wheelbase) },
    Row { letter: "F", name: "drawn-trail", unit: " mm", of: |numbers| Some(numbers.trail) },
];

/// The bike before (dashed) and after (solid) a change, with its main dimensions, the head tube enlarged, and a table
/// of the numbers. Every number is computed from the given points.
///
/// # Errors
/// A point that is not finite or is outside the range of any bike.
pub fn side_view(input: &SideViewInput) -> Result<Drawing, DrawingError> {
    side_view_in(Voice::english(), input)
}

/// The same in another language.
///
/// # Errors
/// As [`side_view`].
pub fn side_view_in(voice: Voice<'_>, input: &SideViewInput) -> Result<Drawing, DrawingError> {
    input.check()?;
    let bikes: Vec<(&BikePoints, Role)> = match &input.after {
        Some(after) => vec![(&input.before, Role::Before), (after, Role::After)],
        None => vec![(&input.before, Role::After)],
    };
    let left = least(&bikes, |bike| bike.rear_axle[0] - bike.rear_axle[1]);
    let right =
        -least(&bikes, |bike| -(bike.front_axle[0] + bike.front_axle[1]).max(bike.axis_on_ground() + 40.0));
    let top = -least(&bikes, |bike| {
        let (_, axis) = bike.on_axis(bike.to_top() + 175.0);
        -axis.max(2.0 * bike.rear_axle[1]).max(2.0 * bike.front_axle[1])
    });
    let scale = ((SHEET_WIDTH_MM - 2.0 * SIDE_MM) / (right - left)).min(90.0 / top);
    let middle = f64::midpoint(left, right);
    let view =
        View { origin: Point::new(SHEET_WIDTH_MM / 2.0 - middle * scale, TOP_MM + top * scale), scale };

    let mut world = World::default();
    world.layer("ground");
    shape::ground(&mut world, left, right);
    for (bike, role) in &bikes {
        let name = if *role == Role::Before { "before" } else { "after" };
        world.layer(name);
        bike.shapes(&mut world, *role);
        world.layer(&format!("steering axis {name}"));
        bike.axis(&mut world, *role);
    }
    let inset_top = view.origin.y + UNDER_MM;
    let inset = input.after.as_ref().map(|after| (after, inset_top));
    let table_top = inset_top + inset.map_or(0.0, |_| CAPTION_MM + INSET_MM + 3.0);
    let rows = ROWS.iter().filter(|row| (row.of)(&input.before.numbers()).is_some()).count();
    let height = table_top + ROW_MM * (1.0 + count(rows)) + HEADER_GAP_MM + 2.0;
    let mut sheet = Sheet::new(&input.title, &description(voice, input), height);
    world.draw(&mut sheet, view);
    if let Some((bike, _)) = bikes.last() {
        dimensions(bike, &mut sheet, view);
    }
    if let Some((after, top)) = inset {
        draw_inset(voice, &input.before, after, &world, &mut sheet, view, top);
    }
    table(voice, input, &mut sheet, table_top);
    Ok(sheet.finish())
}

fn least(bikes: &[(&BikePoints, Role)], of: impl Fn(&BikePoints) -> f64) -> f64 {
    bikes.iter().map(|(bike, _)| of(bike)).fold(f64::INFINITY, f64::min)
}

fn count(rows: usize) -> f64 {
    u32::try_from(rows).map_or(0.0, f64::from)
}

fn dimensions(bike: &BikePoints, sheet: &mut Sheet, view: View) {
    sheet.layer("dimensions");
    let numbers = bike.numbers();
    let measured = |value: f64| Some(Measured { value, scale: view.scale });
    let ([rear_x, _], [front_x, _], [top_x, top_y]) = (bike.rear_axle, bike.front_axle, bike.head_tube_top);
    let axis_x = bike.axis_on_ground();
    let angle = (180.0 - numbers.head_angle, numbers.head_angle);
    sheet.angle(Role::Dimension, view.at(axis_x, 0.0), 13.0, angle, "A", Some(numbers.head_angle));
    if let Some([x, y]) = bike.bottom_bracket {
        let (below, centre, corner, top) =
            (view.at(x, 0.0), view.at(x, y), view.at(x, top_y), view.at(top_x, top_y));
        for (letter, from, to) in [("B", below, centre), ("C", corner, top), ("D", centre, corner)] {
            let value = from.distance(to) / view.scale;
            sheet.length_along(Role::Dimension, (from, to), (from, to), 1.0, letter, measured(value));
        }
    }
    for (letter, from, to, below) in [("F", front_x, axis_x, 6.5), ("E", rear_x, front_x, 11.0)] {
        let (from, to) = (view.at(from, 0.0), view.at(to, 0.0));
        let shift = Point::new(0.0, below);
        let value = from.distance(to) / view.scale;
        sheet.length_along(
            Role::Dimension,
            (from + Point::new(0.0, 1.4), to + Point::new(0.0, 1.4)),
            (from + shift, to + shift),
            -1.0,
            letter,
            measured(value),
        );
    }
}

fn draw_inset(
    voice: Voice<'_>,
    before: &BikePoints,
    after: &BikePoints,
    world: &World,
    sheet: &mut Sheet,
    main: View,
    top: f64,
) {
    let window = BoundingBox {
        min: Point::new(SIDE_MM, top + CAPTION_MM),
        max: Point::new(SHEET_WIDTH_MM - SIDE_MM, top + CAPTION_MM + INSET_MM),
    };
    // An integer factor that shows the head tube with some axis above and below it.
    let tall = before.to_top().max(after.to_top()) + 60.0;
    let factor = (INSET_MM / (main.scale * tall)).floor().clamp(2.0, 10.0);
    let middles = [before, after].map(|bike| bike.on_axis(bike.to_top() / 2.0));
    let [(x, y), (after_x, after_y)] = middles;
    let place = (f64::midpoint(x, after_x), f64::midpoint(y, after_y));
    let view = View::centred(main.scale * factor, place, window.centre());
    world.draw_in(sheet, view, window, "inset");
    sheet.layer("inset frame");
    let corners = |BoundingBox { min, max }: BoundingBox| {
        vec![min, Point::new(max.x, min.y), max, Point::new(min.x, max.y)]
    };
    sheet.polygon(Role::Note, Fill::None, corners(window));
    let half = (window.max - window.min) * (0.5 / factor);
    let centre = main.at(place.0, place.1);
    sheet.polygon(Role::Note, Fill::None, corners(BoundingBox { min: centre - half, max: centre + half }));
    sheet.text(Text {
        at: Point::new(SHEET_WIDTH_MM / 2.0, top + CAPTION_MM - 1.6),
        text: say!(voice, "drawn-head-tube-enlarged", times = voice.fixed(factor, 0)),
        size_mm: ROW_TEXT_MM,
        anchor: Anchor::Middle,
        role: Role::Note,
        bold: false,
    });
    for (bike, role, id, towards) in [
        (before, Role::Before, "drawn-axis-before", Point::new(1.0, 0.0)),
        (after, Role::After, "drawn-axis-after", Point::new(-1.0, 0.0)),
    ] {
        let ends = [0.0, bike.to_top() + 170.0].map(|up| bike.on_axis(up)).map(|(x, y)| view.at(x, y));
        let [low, high] = ends;
        // Near the upper end of the axis's visible part; if the two bikes differ much, not both may be visible.
        if let Some((low, high)) = window.cut(low, high) {
            let label = say!(voice, id, angle = voice.fixed(bike.head_angle_deg, 1));
            sheet.note(role, high.between(low, 0.12), towards, &label);
        }
    }
}

fn table(voice: Voice<'_>, input: &SideViewInput, sheet: &mut Sheet, top: f64) {
    sheet.layer("table");
    let mut base = top + ROW_MM * 0.72;
    let text = |x: f64, base: f64, anchor: Anchor, role: Role, text: &str, bold: bool| Text {
        at: Point::new(x, base),
        text: text.to_owned(),
        size_mm: ROW_TEXT_MM,
        anchor,
        role,
        bold,
    };
    let (before_x, after_x) = (71.5, 96.0);
    if input.after.is_some() {
        let line = |sheet: &mut Sheet, role: Role, from: f64, to: f64| {
            let y = base + 1.4;
            sheet.line(role, Point::new(from, y), Point::new(to, y));
        };
        line(sheet, Role::Before, before_x - 14.0, before_x);
        line(sheet, Role::After, after_x - 14.0, after_x);
        sheet.text(text(before_x, base, Anchor::End, Role::Before, &voice.text("drawn-before"), false));
        sheet.text(text(after_x, base, Anchor::End, Role::After, &voice.text("drawn-after"), false));
    }
    base += HEADER_GAP_MM;
    let before = input.before.numbers();
    let after = input.after.as_ref().map(BikePoints::numbers);
    for Row { letter, name, unit, of } in &ROWS {
        let Some(value) = of(&before) else { continue };
        base += ROW_MM;
        sheet.text(text(SIDE_MM, base, Anchor::Start, Role::Dimension, letter, true));
        sheet.text(text(SIDE_MM + 5.0, base, Anchor::Start, Role::Note, &voice.text(name), false));
        match after.as_ref().map(of) {
            Some(changed) => {
                sheet.text(text(before_x, base, Anchor::End, Role::Before, &voice.fixed(value, 1), false));
                let changed = changed.map_or_else(
                    || voice.text("drawn-unknown"),
                    |value| format!("{}{unit}", voice.fixed(value, 1)),
                );
                sheet.text(text(after_x, base, Anchor::End, Role::After, &changed, true));
            }
            None => {
                sheet.text(text(
                    after_x,
                    base,
                    Anchor::End,
                    Role::After,
                    &format!("{}{unit}", voice.fixed(value, 1)),
                    true,
                ));
            }
        }
    }
}

fn description(voice: Voice<'_>, input: &SideViewInput) -> String {
    let before = input.before.numbers();
    let after = input.after.as_ref().map(BikePoints::numbers);
    let mut said = vec![voice.text(match after {
        Some(_) => "drawn-side-view-change",
        None => "drawn-side-view",
    })];
    for Row { name, unit, of, .. } in &ROWS {
        let Some(value) = of(&before) else { continue };
        let unit = if *unit == "°" { "degrees" } else { "mm" };
        let (name, value) = (voice.text(name), voice.fixed(value, 1));
        said.push(match after.as_ref().and_then(of) {
            Some(changed) => {
                let changed = voice.fixed(changed, 1);
                say!(voice, "drawn-figure-change", what = name, before = value, after = changed, unit = unit)
            }
            None => say!(voice, "drawn-figure", what = name, value = value, unit = unit),
        });
    }
    said.join(" ")
}
