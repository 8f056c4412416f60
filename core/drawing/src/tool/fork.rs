//! Tool positions on the fork: its steerer on the bench, its legs, its travel.

use super::Asked;
use super::instrument::{outside_jaws, rule, straightedge, tape};
use super::pose::Pose;
use super::tool_picture::ToolPicture;
use crate::sheet::Sheet;
use crate::{Drawing, Fill, Point, Role};
use steerwright_metrology::quantity::{Instrument, quantity_info};

/// The steerer as drawn: heights above the crown race seat and radii, mm.
const TAPER: [(f64, f64); 4] = [(0.0, 19.9), (26.0, 19.9), (80.0, 14.3), (190.0, 14.3)];
const RACE: (f64, f64) = (7.0, 26.0);
/// The machined seat of the crown race: radius and height, mm. The step to the steerer is exaggerated.
const SEAT: f64 = 21.5;
const SEAT_HEIGHT: f64 = 6.0;

fn radius_at(height: f64) -> f64 {
    let pieces = TAPER.iter().zip(TAPER.iter().skip(1));
    let piece = pieces.into_iter().find(|((_, _), (end, _))| height <= *end);
    piece.map_or(14.3, |((start, from), (end, to))| {
        from + (to - from) * (height - start).max(0.0) / (end - start)
    })
}

/// The steerer on the bench, crown to the left, from one height to another. `u` is the height above the crown race
/// seat, `v` is normal to it.
fn steerer(sheet: &mut Sheet, pose: Pose, from: f64, to: f64) {
    let bends = TAPER.iter().map(|(height, _)| *height).filter(|height| *height > from && *height < to);
    let heights: Vec<f64> = [from].into_iter().chain(bends).chain([to]).collect();
    let side = |sign: f64| heights.iter().map(move |height| (*height, sign * radius_at(*height)));
    let outline: Vec<(f64, f64)> = side(1.0).chain(side(-1.0).rev()).collect();
    sheet.surface(Role::Outline, Fill::Tint, pose.all(&outline));
    for sign in [1.0, -1.0] {
        sheet.polyline(Role::Outline, pose.all(&side(sign).collect::<Vec<_>>()));
    }
    for (height, ends_here) in [(from, from <= 0.0), (to, to >= 190.0)] {
        let radius = radius_at(height);
        let cut = [
            (height, -radius),
            (height + 1.2, -radius / 2.0),
            (height, 0.0),
            (height - 1.2, radius / 2.0),
            (height, radius),
        ];
        if ends_here {
            sheet.line(Role::Outline, pose.at(height, -radius), pose.at(height, radius));
        } else {
            sheet.polyline(Role::Thin, pose.all(&cut));
        }
    }
    if from <= 0.0 {
        let seat = [(0.0, -SEAT), (SEAT_HEIGHT, -SEAT), (SEAT_HEIGHT, SEAT), (0.0, SEAT)];
        sheet.polygon(Role::Outline, Fill::Tint, pose.all(&seat));
        let crown = [(0.0, -29.0), (0.0, 29.0), (-8.0, 42.0), (-22.0, 42.0), (-22.0, -42.0), (-8.0, -42.0)];
        sheet.polygon(Role::Outline, Fill::Tint, pose.all(&crown));
    }
}

/// The crown race on its seat.
fn crown_race(sheet: &mut Sheet, pose: Pose) {
    let (thick, half) = RACE;
    let bevel = thick * 0.5;
    let race =
        [(0.0, -half), (bevel, -half), (thick, 4.0 - half), (thick, half - 4.0), (bevel, half), (0.0, half)];
    sheet.polygon(Role::Outline, Fill::Tint, pose.all(&race));
}

const UP: Point = Point::new(0.0, -1.0);
const DOWN: Point = Point::new(0.0, 1.0);
const RIGHT: Point = Point::new(1.0, 0.0);
const LEFT: Point = Point::new(-1.0, 0.0);

pub(super) fn steerer_length(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, 64.0);
    let pose = Pose::upright(Point::new(14.0, 30.0), 0.38);
    let sheet = picture.part();
    steerer(sheet, pose, 0.0, 190.0);
    crown_race(sheet, pose);
    // From the crown race's seat, that is from the crown's upper face.
    let (from, to) = (pose.at(0.0, -27.0), pose.at(190.0, -27.0));
    match quantity_info(what.what).tool {
        Instrument::SteelRule => rule(picture.tool(), from, to, UP, 10.0),
        _ => tape(picture.tool(), from, to, UP),
    }
    let line = (pose.at(0.0, 46.0), pose.at(190.0, 46.0));
    picture.measured((pose.at(0.0, 43.0), pose.at(190.0, 14.3)), line, -1.0);
    picture.wrong(pose.at(RACE.0, 21.0), Point::new(0.6, 1.0), "drawn-not-from-the-races-top");
    picture.note(pose.at(-11.0, -42.0), UP, "drawn-fork-crown");
    picture.finish()
}

/// A diameter with the caliper's beam beyond it.
fn diameter(
    what: Asked<'_>,
    range: (f64, f64),
    (at, line_at): (f64, f64),
    wrong: (f64, f64, Point, &str),
) -> Drawing {
    let mut picture = ToolPicture::new(what, 70.0);
    let (from, to) = range;
    let pose = Pose::upright(Point::new(20.0 - from * 0.62, 40.0), 0.62);
    steerer(picture.part(), pose, from, to);
    let radius = if at < SEAT_HEIGHT { SEAT } else { radius_at(at) };
    let (top, bottom) = (pose.at(at, -radius), pose.at(at, radius));
    let beyond = pose.at(to, 0.0).x + 5.0 - top.x;
    outside_jaws(picture.tool(), bottom, top, RIGHT, beyond);
    let line_x = pose.at(line_at, 0.0).x;
    let line = (Point::new(line_x, top.y), Point::new(line_x, bottom.y));
    picture.measured((top, bottom), line, 1.0);
    let (u, v, towards, words) = wrong;
    picture.wrong(pose.at(u, v), towards, words);
    if from <= 0.0 {
        picture.note(pose.at(-15.0, 42.0), DOWN, "drawn-fork-crown");
        picture.note(pose.at(3.0, SEAT), DOWN, "drawn-races-seat-race-off");
    }
    picture.finish()
}

pub(super) fn upper_diameter(what: Asked<'_>) -> Drawing {
    let wrong = (62.0, -radius_at(62.0), Point::new(-0.3, -1.0), "drawn-not-on-the-taper");
    diameter(what, (50.0, 130.0), (114.0, 97.0), wrong)
}

pub(super) fn lower_diameter(what: Asked<'_>) -> Drawing {
    let wrong = (16.0, -radius_at(16.0), Point::new(0.4, -1.0), "drawn-not-above-the-seat");
    diameter(what, (0.0, 78.0), (3.0, 24.0), wrong)
}

/// Where the taper starts or ends, with a rule from the crown race seat.
pub(super) fn taper(what: Asked<'_>, end: bool) -> Drawing {
    let mut picture = ToolPicture::new(what, 62.0);
    let pose = Pose::upright(Point::new(20.0, 31.0), 0.56);
    let sheet = picture.part();
    steerer(sheet, pose, 0.0, 120.0);
    crown_race(sheet, pose);
    let [_, (start_at, start_radius), (end_at, end_radius), _] = TAPER;
    let (at, radius) = if end { (end_at, end_radius) } else { (start_at, start_radius) };
    let (other, other_radius) = if end { (start_at, start_radius) } else { (end_at, end_radius) };
    rule(picture.tool(), pose.at(0.0, -26.5), pose.at(at, -26.5), UP, 14.0);
    for (height, half) in [(start_at, start_radius), (end_at, end_radius)] {
        picture.sheet.fine_line(Role::Thin, pose.at(height, -half), pose.at(height, half));
    }
    let line = (pose.at(0.0, 38.0), pose.at(at, 38.0));
    picture.measured((pose.at(0.0, 30.0), pose.at(at, radius)), line, -1.0);
    let words =
        if end { "drawn-not-where-it-starts-to-narrow" } else { "drawn-not-where-it-has-become-thin" };
    picture.wrong(pose.at(other, -other_radius), Point::new(0.5, if end { 1.0 } else { -0.6 }), words);
    picture.note(pose.at(-15.0, 42.0), DOWN, "drawn-fork-crown");
    picture.finish()
}

/// Fork as drawn from the side, mm: axle to crown, and an offset exaggerated to be visible.
const TO_CROWN: f64 = 500.0;
const OFFSET: f64 = 70.0;

/// An upright fork, steering axis vertical, front to the right. `v` up from the axle's level.
fn standing(sheet: &mut Sheet, pose: Pose) {
    let block =
        |sheet: &mut Sheet, points: &[(f64, f64)]| sheet.polygon(Role::Outline, Fill::Tint, pose.all(points));
    block(sheet, &[(-15.0, TO_CROWN), (15.0, TO_CROWN), (15.0, TO_CROWN + 90.0), (-15.0, TO_CROWN + 90.0)]);
    let leg = |half: f64, low: f64, high: f64| {
        [(OFFSET - half, low), (OFFSET + half, low), (OFFSET + half, high), (OFFSET - half, high)]
    };
    block(sheet, &leg(17.0, 250.0, TO_CROWN - 30.0));
    block(sheet, &leg(24.0, -18.0, 262.0));
    block(
        sheet,
        &[
            (-26.0, TO_CROWN),
            (30.0, TO_CROWN),
            (96.0, TO_CROWN - 16.0),
            (96.0, TO_CROWN - 62.0),
            (44.0, TO_CROWN - 62.0),
            (-26.0, TO_CROWN - 28.0),
        ],
    );
    sheet.circle(Role::Outline, Fill::Tint, pose.at(OFFSET, 0.0), 12.0 * pose.u.length());
    sheet.line(Role::Axis, pose.at(0.0, TO_CROWN + 110.0), pose.at(0.0, -70.0));
}

fn standing_pose() -> Pose {
    Pose::upright(Point::new(44.0, 84.0), 0.125).upside_down()
}

pub(super) fn axle_to_crown(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, 96.0);
    let pose = standing_pose();
    standing(picture.part(), pose);
    tape(picture.tool(), pose.at(-60.0, 0.0), pose.at(-60.0, TO_CROWN), LEFT);
    straightedge(picture.tool(), pose.at(-80.0, 0.0), pose.at(OFFSET + 20.0, 0.0), DOWN);
    let line = (pose.at(160.0, 0.0), pose.at(160.0, TO_CROWN));
    picture.measured((pose.at(OFFSET + 24.0, 0.0), pose.at(97.0, TO_CROWN)), line, -1.0);
    picture.sheet.line(Role::Wrong, pose.at(OFFSET, 0.0), pose.at(0.0, TO_CROWN));
    picture.wrong(pose.at(OFFSET * 0.5, TO_CROWN * 0.5), LEFT, "drawn-not-slanting-along-the-steerer");
    picture.finish()
}

pub(super) fn offset(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, 96.0);
    let pose = standing_pose();
    standing(picture.part(), pose);
    // A straightedge extends the steerer's line down to the axle; the rule is perpendicular to it.
    straightedge(picture.tool(), pose.at(0.0, -60.0), pose.at(0.0, TO_CROWN + 80.0), LEFT);
    rule(picture.tool(), pose.at(0.0, -22.0), pose.at(OFFSET, -22.0), DOWN, 14.0);
    let line = (pose.at(0.0, 140.0), pose.at(OFFSET, 140.0));
    picture.measured((pose.at(0.0, 40.0), pose.at(OFFSET, 0.0)), line, 1.0);
    picture.wrong(
        pose.at(-15.0, TO_CROWN + 60.0),
        LEFT,
        "drawn-not-from-the-steerers-surface-from-its-middle",
    );
    picture.finish()
}

/// A leg with its seal and the ring on the stanchion. `v` up from the seal.
fn leg(sheet: &mut Sheet, pose: Pose, ring: f64) {
    let block =
        |sheet: &mut Sheet, points: &[(f64, f64)]| sheet.polygon(Role::Outline, Fill::Tint, pose.all(points));
    block(sheet, &[(-18.0, 0.0), (18.0, 0.0), (18.0, 190.0), (-18.0, 190.0)]);
    block(sheet, &[(-27.0, -80.0), (27.0, -80.0), (27.0, -7.0), (-27.0, -7.0)]);
    block(sheet, &[(-22.0, -7.0), (22.0, -7.0), (20.0, 0.0), (-20.0, 0.0)]);
    block(sheet, &[(-36.0, 190.0), (36.0, 190.0), (30.0, 232.0), (-30.0, 232.0)]);
    let rubber = [(-20.5, ring), (20.5, ring), (20.5, ring + 5.0), (-20.5, ring + 5.0)];
    sheet.polygon(Role::Outline, Fill::Solid, pose.all(&rubber));
}

pub(super) fn stroke(what: Asked<'_>, sag: bool) -> Drawing {
    let mut picture = ToolPicture::new(what, 88.0);
    let pose = Pose::upright(Point::new(48.0, 64.0), 0.24).upside_down();
    let ring = if sag { 42.0 } else { 160.0 };
    leg(picture.part(), pose, ring);
    rule(picture.tool(), pose.at(27.0, 0.0), pose.at(27.0, ring), RIGHT, 8.0);
    let line = (pose.at(70.0, 0.0), pose.at(70.0, ring));
    picture.measured((pose.at(50.0, 0.0), pose.at(50.0, ring)), line, -1.0);
    picture.note(pose.at(-20.5, ring + 2.5), LEFT, "drawn-rubber-ring-pushed-up-by-the-seal");
    picture.note(pose.at(-21.0, -4.0), LEFT, "drawn-seal");
    let words =
        if sag { "drawn-not-up-to-the-crown" } else { "drawn-not-up-to-the-crown-some-stays-exposed" };
    picture.wrong(pose.at(-18.0, 188.0), LEFT, words);
    picture.finish()
}
