//! Tool positions at an end of the head tube, on a loose bearing and on a loose cup. The lower end is the upper one
//! upside down, with the tool from below.

use super::Asked;
use super::instrument::{bore_gauge, depth_rod, inside_jaws, outside_jaws, rule};
use super::pose::Pose;
use super::tool_picture::ToolPicture;
use crate::sheet::Sheet;
use crate::{Drawing, Fill, Point, Role};
use steerwright_mechanics::headset::End;
use steerwright_metrology::quantity::{Instrument, quantity_info};

const HEIGHT_MM: f64 = 74.0;
const SCALE: f64 = 0.85;
const HATCH: Fill = Fill::Hatch { spacing_mm: 1.5, direction_deg: 45.0 };

/// Radii and depths of the head tube end as drawn; a typical one, not the user's.
const BORE: f64 = 21.0;
const BORE_DEPTH: f64 = 12.0;
const THROAT: f64 = 15.5;
const THROAT_DEPTH: f64 = 15.5;
const OUTSIDE: f64 = 28.0;
const SHOWN: f64 = 36.0;

/// The side of a dimension line, read from left to right or from the face inwards, that is away from the tool or
/// towards the left: see [`ToolPicture::measured`].
fn label_side(end: End) -> f64 {
    match end {
        End::Upper => -1.0,
        End::Lower => 1.0,
    }
}

fn pose(end: End, above: f64) -> Pose {
    match end {
        End::Upper => Pose::upright(Point::new(50.0, above), SCALE),
        End::Lower => Pose::upright(Point::new(50.0, HEIGHT_MM - above), SCALE).upside_down(),
    }
}

/// The head tube's end in section: bevelled mouth, seat, shoulder, throat, tube.
fn head_tube_end(sheet: &mut Sheet, pose: Pose) {
    let inside = [
        (BORE + 1.3, 0.0),
        (BORE, 1.3),
        (BORE, BORE_DEPTH),
        (THROAT + 3.5, BORE_DEPTH),
        (THROAT, THROAT_DEPTH),
        (THROAT, 22.0),
        (19.5, 26.0),
        (19.5, SHOWN),
    ];
    let wall: Vec<(f64, f64)> = inside.iter().copied().chain([(OUTSIDE, SHOWN), (OUTSIDE, 0.0)]).collect();
    for points in pose.both_sides(&wall) {
        sheet.surface(Role::Outline, HATCH, points);
    }
    let edge: Vec<(f64, f64)> =
        [(OUTSIDE, SHOWN), (OUTSIDE, 0.0)].into_iter().chain(inside.iter().copied()).collect();
    for points in pose.both_sides(&edge) {
        sheet.polyline(Role::Outline, points);
    }
    // Edges seen behind the cut.
    for (radius, depth) in [(BORE, BORE_DEPTH), (THROAT, 22.0)] {
        sheet.fine_line(Role::Thin, pose.at(-radius, depth), pose.at(radius, depth));
    }
    let wave = [(-1.0, 0.0), (-0.5, 0.8), (0.0, 0.0), (0.5, -0.8), (1.0, 0.0)];
    sheet.polyline(Role::Thin, pose.all(&wave.map(|(u, v)| (u * OUTSIDE, SHOWN + v))));
}

/// Labels the drawn part; placed last, in the space that is left.
fn named(mut picture: ToolPicture<'_>, at: Point, id: &str, end: End) -> Drawing {
    picture.note(at, Point::new(-1.0, 0.0), id);
    picture.locator(end);
    picture.finish()
}

const HEAD_TUBE: &str = "drawn-head-tube-cut-open";
/// Where the head tube's name points: its wall, away from the tool.
const NAME_AT: (f64, f64) = (-OUTSIDE, 29.0);

/// Inside diameters are read with a caliper's inside jaws or a bore gauge.
fn inside_tool(
    picture: &mut ToolPicture<'_>,
    what: Asked<'_>,
    (a, b): (Point, Point),
    towards: Point,
    reach: f64,
) {
    match quantity_info(what.what).tool {
        Instrument::BoreGauge => bore_gauge(picture.tool(), a, b, towards, reach),
        _ => inside_jaws(picture.tool(), a, b, towards, reach),
    }
}

/// Depths are read with a rule whose zero is at the bottom, or with a caliper's depth rod from the face.
fn depth_tool(picture: &mut ToolPicture<'_>, what: Asked<'_>, (face, bottom): (Point, Point), wall: Point) {
    match quantity_info(what.what).tool {
        Instrument::SteelRule => rule(picture.tool(), bottom, face, -wall, 16.0),
        _ => depth_rod(picture.tool(), face, bottom, wall),
    }
}

pub(super) fn bore_diameter(what: Asked<'_>, end: End) -> Drawing {
    let mut picture = ToolPicture::new(what, HEIGHT_MM);
    let pose = pose(end, 30.0);
    head_tube_end(picture.part(), pose);
    inside_tool(&mut picture, what, (pose.at(-BORE, 4.5), pose.at(BORE, 4.5)), pose.way(0.0, -1.0), 15.0);
    let (from, to) = (pose.at(-BORE, 9.0), pose.at(BORE, 9.0));
    picture.measured((from, to), (from, to), label_side(end));
    picture.wrong(pose.at(BORE + 0.8, 0.4), Point::new(1.0, 0.0), "drawn-not-on-the-bevel-at-the-mouth");
    named(picture, pose.at(NAME_AT.0, NAME_AT.1), HEAD_TUBE, end)
}

pub(super) fn bore_depth(what: Asked<'_>, end: End) -> Drawing {
    let mut picture = ToolPicture::new(what, HEIGHT_MM);
    let pose = pose(end, 30.0);
    head_tube_end(picture.part(), pose);
    let places = (pose.at(20.4, 0.0), pose.at(20.4, BORE_DEPTH));
    depth_tool(&mut picture, what, places, Point::new(1.0, 0.0));
    let line = (pose.at(8.0, 0.0), pose.at(8.0, BORE_DEPTH));
    picture.measured((pose.at(18.5, 0.0), pose.at(THROAT + 3.5, BORE_DEPTH)), line, label_side(end));
    picture.wrong(pose.at(THROAT - 2.5, 24.0), pose.way(-1.0, 1.0), "drawn-not-past-the-shoulder");
    named(picture, pose.at(NAME_AT.0, NAME_AT.1), HEAD_TUBE, end)
}

pub(super) fn throat_diameter(what: Asked<'_>, end: End) -> Drawing {
    let mut picture = ToolPicture::new(what, HEIGHT_MM);
    let pose = pose(end, 30.0);
    head_tube_end(picture.part(), pose);
    inside_tool(
        &mut picture,
        what,
        (pose.at(-THROAT, 18.5), pose.at(THROAT, 18.5)),
        pose.way(0.0, -1.0),
        24.0,
    );
    let (from, to) = (pose.at(-THROAT, 21.0), pose.at(THROAT, 21.0));
    picture.measured((from, to), (pose.at(-THROAT, 27.0), pose.at(THROAT, 27.0)), label_side(end));
    picture.wrong(pose.at(BORE, 6.5), Point::new(1.0, 0.0), "drawn-not-the-seat");
    named(picture, pose.at(NAME_AT.0, NAME_AT.1), HEAD_TUBE, end)
}

pub(super) fn throat_depth(what: Asked<'_>, end: End) -> Drawing {
    let mut picture = ToolPicture::new(what, HEIGHT_MM);
    let pose = pose(end, 30.0);
    head_tube_end(picture.part(), pose);
    // Past the shoulder, down to where the throat begins.
    let places = (pose.at(THROAT, 0.0), pose.at(THROAT, THROAT_DEPTH));
    depth_tool(&mut picture, what, places, Point::new(1.0, 0.0));
    let line = (pose.at(5.0, 0.0), pose.at(5.0, THROAT_DEPTH));
    picture.measured((pose.at(13.5, 0.0), pose.at(THROAT, THROAT_DEPTH)), line, label_side(end));
    picture.wrong(pose.at(BORE - 0.8, BORE_DEPTH - 0.6), Point::new(1.0, 0.2), "drawn-not-on-the-shoulder");
    named(picture, pose.at(NAME_AT.0, NAME_AT.1), HEAD_TUBE, end)
}

pub(super) fn wall(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, HEIGHT_MM);
    let pose = pose(End::Upper, 30.0);
    head_tube_end(picture.part(), pose);
    let (from, to) = (pose.at(BORE, 5.5), pose.at(OUTSIDE, 5.5));
    outside_jaws(picture.tool(), from, to, Point::new(0.0, -1.0), 14.0);
    let line = (pose.at(BORE, 9.5), pose.at(OUTSIDE, 9.5));
    picture.measured(line, line, 1.0);
    picture.wrong(pose.at(-BORE - 0.8, 0.4), Point::new(-1.0, -0.3), "drawn-not-on-the-bevel-at-the-mouth");
    named(picture, pose.at(NAME_AT.0, NAME_AT.1), HEAD_TUBE, End::Upper)
}

/// One side of a bearing in section around its middle height: outer race, inner race, ball. `v` grows towards the seat.
fn bearing(sheet: &mut Sheet, pose: Pose) {
    let outer = [(18.6, -4.0), (BORE, -4.0), (BORE, 2.2), (19.2, 4.0), (18.6, 4.0)];
    let inner = [(17.4, 4.0), (15.0, 4.0), (15.0, -2.2), (16.8, -4.0), (17.4, -4.0)];
    for shape in [outer.as_slice(), inner.as_slice()] {
        for points in pose.both_sides(shape) {
            sheet.polygon(Role::Outline, HATCH, points);
        }
    }
    for u in [-18.0, 18.0] {
        sheet.circle(Role::Outline, Fill::Tint, pose.at(u, 0.0), 2.1 * pose.u.length());
    }
    for (radius, v) in [(15.0, 4.0), (16.8, -4.0)] {
        sheet.fine_line(Role::Thin, pose.at(-radius, v), pose.at(radius, v));
    }
}

/// A loose bearing, larger than the head tube's end.
fn loose(end: End, middle: f64) -> Pose {
    let pose = Pose::upright(Point::new(50.0, middle), 1.05);
    match end {
        End::Upper => pose,
        End::Lower => pose.upside_down(),
    }
}

pub(super) fn bearing_outer(what: Asked<'_>, end: End) -> Drawing {
    let mut picture = ToolPicture::new(what, 66.0);
    let pose = loose(end, 38.0);
    bearing(picture.part(), pose);
    // On the straight part of the outer race, clear of its bevel.
    let level = -1.0;
    let (from, to) = (pose.at(-BORE, level), pose.at(BORE, level));
    outside_jaws(picture.tool(), from, to, Point::new(0.0, -1.0), 17.0);
    let line = (Point::new(from.x, 50.0), Point::new(to.x, 50.0));
    picture.measured((from, to), line, -1.0);
    picture.wrong(pose.at(20.3, 3.3), Point::new(1.0, pose.way(0.0, 1.0).y), "drawn-not-on-the-bevel");
    named(picture, pose.at(-BORE, 0.0), "drawn-bearing-cut-open", end)
}

pub(super) fn bearing_inner(what: Asked<'_>, end: End) -> Drawing {
    let mut picture = ToolPicture::new(what, 66.0);
    let pose = loose(end, 38.0);
    bearing(picture.part(), pose);
    let (from, to) = (pose.at(-15.0, 1.5), pose.at(15.0, 1.5));
    inside_tool(&mut picture, what, (from, to), Point::new(0.0, -1.0), 19.0);
    let line = (Point::new(from.x, 50.0), Point::new(to.x, 50.0));
    picture.measured((from, to), line, -1.0);
    picture.wrong(
        pose.at(-16.0, -3.4),
        Point::new(-1.0, pose.way(0.0, -1.0).y * 0.6),
        "drawn-not-on-the-bevel",
    );
    named(picture, pose.at(-BORE, 0.0), "drawn-bearing-cut-open", end)
}

pub(super) fn bearing_height(what: Asked<'_>, end: End) -> Drawing {
    let mut picture = ToolPicture::new(what, 66.0);
    let pose = loose(end, 34.0);
    bearing(picture.part(), pose);
    // Far enough in to touch both rings.
    let x = pose.at(17.2, 0.0).x;
    let (from, to) = (Point::new(x, 34.0 - 4.0 * 1.05), Point::new(x, 34.0 + 4.0 * 1.05));
    outside_jaws(picture.tool(), from, to, Point::new(1.0, 0.0), 12.0);
    let left = pose.at(-18.6, 0.0).x;
    let line_x = 22.0;
    picture.measured(
        (Point::new(left, from.y), Point::new(left, to.y)),
        (Point::new(line_x, from.y), Point::new(line_x, to.y)),
        -1.0,
    );
    picture.wrong(
        Point::new(pose.at(-17.9, 0.0).x, from.y),
        Point::new(0.3, -1.0),
        "drawn-not-on-the-seal-alone",
    );
    named(picture, pose.at(-BORE, 0.0), "drawn-bearing-cut-open", end)
}

pub(super) fn cup_outer(what: Asked<'_>, end: End) -> Drawing {
    let mut picture = ToolPicture::new(what, 66.0);
    let lip_at = match end {
        End::Upper => 44.0,
        End::Lower => 26.0,
    };
    // Standing on its lip for the upper end's pose: the pressed part points into the frame.
    let pose = Pose::upright(Point::new(50.0, lip_at), 0.95);
    let pose = if end == End::Upper { pose.upside_down() } else { pose };
    let wall =
        [(19.0, -4.5), (25.5, -4.5), (25.5, 0.0), (22.0, 0.0), (22.0, 11.0), (21.2, 12.0), (19.5, 12.0)];
    let sheet = picture.part();
    for points in pose.both_sides(&wall) {
        sheet.polygon(Role::Outline, HATCH, points);
    }
    sheet.fine_line(Role::Thin, pose.at(-19.0, -4.5), pose.at(19.0, -4.5));
    sheet.fine_line(Role::Thin, pose.at(-19.5, 12.0), pose.at(19.5, 12.0));
    let (from, to) = (pose.at(-22.0, 5.0), pose.at(22.0, 5.0));
    outside_jaws(picture.tool(), from, to, pose.way(0.0, 1.0), 15.0);
    let line = (pose.at(-22.0, -11.0), pose.at(22.0, -11.0));
    let outward = if end == End::Upper { -1.0 } else { 1.0 };
    picture.measured((pose.at(-22.0, 0.0), pose.at(22.0, 0.0)), line, outward);
    picture.wrong(pose.at(25.5, -2.2), Point::new(1.0, 0.0), "drawn-not-the-lip");
    picture.note(pose.at(-22.0, 8.5), Point::new(-1.0, 0.0), "drawn-the-part-that-is-pressed-in");
    named(picture, pose.at(-25.5, -2.2), "drawn-cup-cut-open", end)
}

pub(super) fn bearing_recess(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, HEIGHT_MM);
    let pose = pose(End::Upper, 30.0);
    let sheet = picture.part();
    head_tube_end(sheet, pose);
    bearing(sheet, Pose { origin: pose.at(0.0, 8.0), ..pose });
    depth_rod(picture.tool(), pose.at(19.8, 0.0), pose.at(19.8, 4.0), Point::new(1.0, 0.0));
    let line = (pose.at(4.0, 0.0), pose.at(4.0, 4.0));
    picture.measured((pose.at(18.0, 0.0), pose.at(16.8, 4.0)), line, 1.0);
    picture.wrong(pose.at(-16.2, 4.4), Point::new(-0.2, 1.0), "drawn-not-to-the-inner-ring");
    named(picture, pose.at(NAME_AT.0, NAME_AT.1), HEAD_TUBE, End::Upper)
}
