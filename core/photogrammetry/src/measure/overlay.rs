//! The result drawn over the picture.

use super::known::SceneInputs;
use super::marks::Pixel;
use super::plane::Plane;
use super::scene::{End, Scene};
use steerwright_drawing::{
    Anchor, Drawing, Fill, Item, Layer, Point, Role, SHEET_WIDTH_MM, SMALL_TEXT_MM, Text,
};
use steerwright_metrology::quantity::{Dimension, Estimate, Quantity, quantity_info};

/// Height of a line of text, mm.
const LINE_MM: f64 = 4.6;
/// Margin of the sheet, mm.
const EDGE_MM: f64 = 2.0;

/// The picture's width is the sheet's width, and their upper left corners coincide. The numbers are below the picture.
pub(super) fn overlay(
    scene: &Scene,
    known: &SceneInputs,
    plane: &Plane,
    values: &[(Quantity, Estimate)],
) -> Drawing {
    let scale = SHEET_WIDTH_MM / f64::from(known.image.width);
    let sheet = |[x, y]: Pixel| Point::new(x * scale, y * scale);
    let place = |place: [f64; 2]| plane.pixel(place).map(sheet);
    let outline = |end: End| {
        let placed = scene.placed(end);
        let points = (0..=72).filter_map(|i| {
            placed.outline(&scene.camera, f64::from(i) * 5f64.to_radians()).map(|p| sheet(known.as_given(p)))
        });
        Item::Polyline { points: points.collect(), role: Role::Before }
    };
    let line = |from: [f64; 2], to: [f64; 2], role: Role| {
        let ends = place(from).zip(place(to));
        ends.map(|(from, to)| Item::Line { from, to, role, fine: false })
    };
    let dot = |spot: [f64; 2]| {
        place(spot).map(|centre| Item::Circle {
            centre,
            radius_mm: 0.6,
            role: Role::Before,
            fill: Fill::Solid,
        })
    };
    let [front_x, _] = plane.front_axle;
    let ends = (-plane.rear_radius, front_x + plane.front_radius);
    let mut layers = vec![
        Layer { name: "wheels".to_owned(), items: vec![outline(End::Rear), outline(End::Front)] },
        Layer {
            name: "ground".to_owned(),
            items: line([ends.0, 0.0], [ends.1, 0.0], Role::Ground).into_iter().collect(),
        },
        Layer {
            name: "axles".to_owned(),
            items: [plane.rear_axle, plane.front_axle].into_iter().filter_map(dot).collect(),
        },
    ];
    let ground = |spot: [f64; 2]| on_ground(scene, spot);
    if known.has_axis() {
        let reach = scene.on_axis.iter().map(|[along, _]| *along).fold(500.0, f64::max);
        let (top, foot) = (ground(scene.on_axis(reach + 60.0)), ground(scene.on_axis(0.0)));
        // Extended down to the ground, where trail is measured.
        let ([tx, ty], [fx, fy]) = (top, foot);
        let share = ty / (ty - fy);
        let contact = [tx + (fx - tx) * share, 0.0];
        let items = line(contact, top, Role::Axis).into_iter().collect();
        layers.push(Layer { name: "steering axis".to_owned(), items });
    }
    if known.seat_tube.is_some() {
        let rod = scene.seat_tube;
        let (sin, cos) = libm::sincos(rod.angle);
        let at = |t: f64| ground([rod.across * sin - t * cos, rod.across * cos + t * sin]);
        let items = line(at(-100.0), at(500.0), Role::Axis).into_iter().collect();
        layers.push(Layer { name: "seat tube".to_owned(), items });
    }
    let words: Vec<String> = values.iter().map(|(what, estimate)| sentence(*what, *estimate)).collect();
    let picture = f64::from(known.image.height) * scale;
    let items = words
        .iter()
        .enumerate()
        .map(|(i, words)| {
            let below = picture + EDGE_MM + LINE_MM * (i as f64 + 1.0) - 1.0;
            Item::Text(Text {
                at: Point::new(EDGE_MM, below),
                text: words.clone(),
                size_mm: SMALL_TEXT_MM,
                anchor: Anchor::Start,
                role: Role::Dimension,
                bold: false,
            })
        })
        .collect();
    layers.push(Layer { name: "numbers".to_owned(), items });
    Drawing {
        targets: Vec::new(),
        title: "What was seen on the photo".to_owned(),
        description: format!(
            "Both tyres' outlines, the axles, the ground and the lines that were measured, over the photo. {}.",
            words.join(", ")
        ),
        width_mm: SHEET_WIDTH_MM,
        height_mm: picture + 2.0 * EDGE_MM + LINE_MM * words.len() as f64,
        layers,
    }
}

/// From the axle line's coordinates to the ground's.
fn on_ground(scene: &Scene, [x, y]: [f64; 2]) -> [f64; 2] {
    let rise = libm::asin(((scene.front.radius - scene.rear.radius) / scene.axles).clamp(-1.0, 1.0));
    let (sin, cos) = libm::sincos(rise);
    [x * cos - y * sin, scene.rear.radius + x * sin + y * cos]
}

/// "head angle 65.8° ± 0.3°": the value to the digit its uncertainty allows.
fn sentence(what: Quantity, estimate: Estimate) -> String {
    let digits = if estimate.expanded() < 0.095 {
        2
    } else if estimate.expanded() < 2.0 {
        1
    } else {
        0
    };
    let unit = match what.dimension() {
        Dimension::Angle => "°",
        Dimension::Length => " mm",
    };
    let label = &quantity_info(what).label;
    format!("{label} {:.digits$}{unit} ± {:.digits$}{unit}", estimate.value, estimate.expanded())
}
