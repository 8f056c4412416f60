//! Measuring tools, drawn at their contact points. All sizes in mm on the sheet.

use super::pose::Pose;
use crate::sheet::Sheet;
use crate::{Fill, Point, Role};

fn part(sheet: &mut Sheet, points: Vec<Point>) {
    sheet.polygon(Role::Tool, Fill::Tint, points);
}

/// The coordinate frame of a tool that measures from `a` to `b`, with the beam on the side `towards`.
fn along(a: Point, b: Point, towards: Point) -> (Pose, f64) {
    (Pose { origin: a, u: (b - a).unit(), v: towards.unit() }, a.distance(b))
}

/// Beam and slider shared by both pairs of jaws; `reach` from the measured line to the beam.
fn beam(sheet: &mut Sheet, pose: Pose, gap: f64, reach: f64) {
    part(
        sheet,
        pose.all(&[(-6.0, reach), (gap + 20.0, reach), (gap + 20.0, reach + 4.0), (-6.0, reach + 4.0)]),
    );
    let mut mark = 2.0;
    while mark < gap - 2.0 {
        sheet.fine_line(Role::Tool, pose.at(mark, reach + 4.0), pose.at(mark, reach + 2.8));
        mark += 2.0;
    }
    let slider = [(0.0, -0.7), (13.0, -0.7), (13.0, 4.7), (0.0, 4.7)];
    part(sheet, pose.all(&slider.map(|(u, v)| (gap + u, reach + v))));
    let window = [(3.0, 1.0), (10.0, 1.0), (10.0, 3.2), (3.0, 3.2)];
    sheet.surface(Role::Tool, Fill::Solid, pose.all(&window.map(|(u, v)| (gap + u, reach + v))));
}

/// A caliper whose outside jaws hold a part from `a` to `b`.
pub(super) fn outside_jaws(sheet: &mut Sheet, a: Point, b: Point, towards: Point, reach: f64) {
    let (pose, gap) = along(a, b, towards);
    let jaw = [(0.0, -2.0), (-1.2, -2.0), (-4.0, reach * 0.45), (-6.0, reach), (0.0, reach)];
    part(sheet, pose.all(&jaw));
    part(sheet, pose.all(&jaw.map(|(u, v)| (gap - u, v))));
    beam(sheet, pose, gap, reach);
}

/// A caliper whose inside jaws spread from `a` to `b`; the beam is outside, in the direction `towards`.
pub(super) fn inside_jaws(sheet: &mut Sheet, a: Point, b: Point, towards: Point, reach: f64) {
    let (pose, gap) = along(a, b, towards);
    let jaw = [(0.0, -1.6), (1.0, -1.6), (3.4, reach), (-1.0, reach), (0.9, reach * 0.6), (0.0, 1.2)];
    part(sheet, pose.all(&jaw));
    part(sheet, pose.all(&jaw.map(|(u, v)| (gap - u, v))));
    beam(sheet, pose, gap, reach);
}

/// A caliper's depth rod from the face at `face` down to `bottom`; its end rests on the face towards `rest`.
pub(super) fn depth_rod(sheet: &mut Sheet, face: Point, bottom: Point, rest: Point) {
    let pose = Pose { origin: face, u: rest.unit(), v: (bottom - face).unit() };
    let depth = face.distance(bottom);
    part(sheet, pose.all(&[(-0.6, -2.0), (0.6, -2.0), (0.6, depth), (-0.6, depth)]));
    part(sheet, pose.all(&[(-1.4, 0.0), (5.0, 0.0), (5.0, -16.0), (-1.4, -16.0)]));
    part(sheet, pose.all(&[(-2.0, -7.0), (5.6, -7.0), (5.6, -16.0), (-2.0, -16.0)]));
    sheet.surface(Role::Tool, Fill::Solid, pose.all(&[(0.4, -9.0), (3.2, -9.0), (3.2, -14.0), (0.4, -14.0)]));
}

/// A telescoping bore gauge across `a` and `b` with its handle towards `towards`.
pub(super) fn bore_gauge(sheet: &mut Sheet, a: Point, b: Point, towards: Point, reach: f64) {
    let (pose, gap) = along(a, b, towards);
    let middle = gap / 2.0;
    part(
        sheet,
        pose.all(&[(0.0, 0.0), (0.6, -0.9), (gap - 0.6, -0.9), (gap, 0.0), (gap - 0.6, 0.9), (0.6, 0.9)]),
    );
    part(sheet, pose.all(&[(gap * 0.25, -1.5), (gap * 0.75, -1.5), (gap * 0.75, 1.5), (gap * 0.25, 1.5)]));
    let stem = [(-0.9, 1.5), (0.9, 1.5), (0.9, reach), (-0.9, reach)];
    part(sheet, pose.all(&stem.map(|(u, v)| (middle + u, v))));
    let grip = [(-2.0, 0.0), (2.0, 0.0), (2.0, 12.0), (-2.0, 12.0)];
    part(sheet, pose.all(&grip.map(|(u, v)| (middle + u, reach + v))));
}

/// A rule whose edge runs from `from`, where it starts, past `to`, on the side `aside`.
pub(super) fn rule(sheet: &mut Sheet, from: Point, to: Point, aside: Point, past: f64) {
    let (pose, length) = along(from, to, aside);
    strip(sheet, pose, length + past, 5.0);
}

fn strip(sheet: &mut Sheet, pose: Pose, length: f64, width: f64) {
    part(sheet, pose.all(&[(0.0, 0.0), (length, 0.0), (length, width), (0.0, width)]));
    let marks = std::iter::successors(Some(1_u32), |mark| Some(mark + 1));
    for mark in marks.take_while(|mark| f64::from(*mark) * 1.5 < length) {
        let tall = if mark.is_multiple_of(5) { 0.55 } else { 0.3 };
        let at = f64::from(mark) * 1.5;
        sheet.fine_line(Role::Tool, pose.at(at, 0.0), pose.at(at, width * tall));
    }
}

/// A tape from its hook at `from` to its case just past `to`, its edge on the line and the tape on the side `aside`.
pub(super) fn tape(sheet: &mut Sheet, from: Point, to: Point, aside: Point) {
    let (pose, length) = along(from, to, aside);
    strip(sheet, pose, length + 2.0, 2.4);
    part(sheet, pose.all(&[(-0.7, -0.8), (0.0, -0.8), (0.0, 2.4), (-0.7, 2.4)]));
    let case = [(0.0, -1.0), (6.0, -1.0), (7.0, 0.0), (7.0, 6.0), (6.0, 7.0), (0.0, 7.0)];
    part(sheet, pose.all(&case.map(|(u, v)| (length + 2.0 + u, v))));
    sheet.circle(Role::Tool, Fill::None, pose.at(length + 5.4, 3.2), 1.9);
}

/// A phone whose long edge is on a line through `edge` along `along_edge`, its body on the side `aside`.
pub(super) fn phone(sheet: &mut Sheet, edge: Point, along_edge: Point, aside: Point) {
    let pose = Pose { origin: edge, u: along_edge.unit(), v: aside.unit() };
    let body =
        [(-9.0, 0.8), (-8.2, 0.0), (8.2, 0.0), (9.0, 0.8), (9.0, 8.2), (8.2, 9.0), (-8.2, 9.0), (-9.0, 8.2)];
    part(sheet, pose.all(&body));
    sheet.polygon(Role::Tool, Fill::None, pose.all(&[(-7.6, 1.2), (7.6, 1.2), (7.6, 7.8), (-7.6, 7.8)]));
    // A level's bubble on the screen.
    sheet.circle(Role::Tool, Fill::Solid, pose.at(0.0, 4.5), 1.1);
    for u in [-2.4, 2.4] {
        sheet.fine_line(Role::Tool, pose.at(u, 2.6), pose.at(u, 6.4));
    }
}

/// A plumb line from a point down to the ground below it.
pub(super) fn plumb(sheet: &mut Sheet, from: Point, ground: Point) {
    sheet.line(Role::Tool, from, Point::new(from.x, ground.y - 3.0));
    let bob = [(-1.0, -4.2), (1.0, -4.2), (1.0, -2.4), (0.0, 0.0), (-1.0, -2.4)];
    let points = bob.iter().map(|(x, y)| Point::new(from.x + x, ground.y + y)).collect();
    sheet.polygon(Role::Tool, Fill::Tint, points);
}

/// A straight board or straightedge from one point to another, on the side `aside`.
pub(super) fn straightedge(sheet: &mut Sheet, from: Point, to: Point, aside: Point) {
    let (pose, length) = along(from, to, aside);
    part(sheet, pose.all(&[(0.0, 0.0), (length, 0.0), (length, 1.6), (0.0, 1.6)]));
}
