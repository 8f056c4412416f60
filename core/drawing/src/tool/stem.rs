//! Tool positions around the stem, the spacers and the ends of the head tube with the fork in.

use super::Asked;
use super::instrument::{depth_rod, outside_jaws};
use super::pose::Pose;
use super::tool_picture::ToolPicture;
use crate::sheet::Sheet;
use crate::{Drawing, Fill, Point, Role};

const HEIGHT_MM: f64 = 84.0;
const SCALE: f64 = 0.62;

/// Heights above the head tube's upper face where the drawn parts start and end.
const COVER: (f64, f64) = (0.0, 10.0);
const BELOW: (f64, f64) = (10.0, 32.0);
const CLAMP: (f64, f64) = (32.0, 72.0);
const ABOVE: (f64, f64) = (72.0, 87.0);
const CAP: (f64, f64) = (87.0, 93.0);

/// `u` forward of the steering axis, `v` up from the head tube's upper face.
fn pose() -> Pose {
    Pose::upright(Point::new(46.0, 72.0), SCALE).upside_down()
}

fn block(sheet: &mut Sheet, pose: Pose, role: Role, (low, high): (f64, f64), low_half: f64, high_half: f64) {
    sheet.polygon(
        role,
        Fill::Tint,
        pose.all(&[(-low_half, low), (low_half, low), (high_half, high), (-high_half, high)]),
    );
}

/// Head tube, cover, spacers, stem and cap, seen from the side with the front to the right.
fn cockpit(sheet: &mut Sheet, pose: Pose) {
    block(sheet, pose, Role::Outline, (-16.0, 0.0), 27.0, 25.0);
    block(sheet, pose, Role::Outline, COVER, 25.0, 18.0);
    let (low, high) = BELOW;
    let middle = f64::midpoint(low, high);
    block(sheet, pose, Role::Outline, (low, middle), 17.5, 17.5);
    block(sheet, pose, Role::Outline, (middle, high), 17.5, 17.5);
    let stem = [(14.0, 35.0), (60.0, 44.0), (60.0, 72.0), (14.0, 69.0)];
    sheet.polygon(Role::Outline, Fill::Tint, pose.all(&stem));
    sheet.circle(Role::Outline, Fill::Tint, pose.at(62.0, 58.0), 17.0 * SCALE);
    sheet.circle(Role::Thin, Fill::Tint, pose.at(62.0, 58.0), 12.0 * SCALE);
    block(sheet, pose, Role::Outline, CLAMP, 18.5, 18.5);
    for v in [43.0, 61.0] {
        sheet.circle(Role::Thin, Fill::None, pose.at(-13.0, v), 2.6 * SCALE);
    }
    let (low, high) = ABOVE;
    block(sheet, pose, Role::Outline, (low, high), 17.5, 17.5);
    block(sheet, pose, Role::Outline, CAP, 17.0, 14.0);
}

/// Jaws from the rear over a section of the stack, with the dimension in front of it.
fn stretch(what: Asked<'_>, (low, high): (f64, f64), half: f64, wrong: (Point, Point, &str)) -> Drawing {
    let mut picture = ToolPicture::new(what, HEIGHT_MM);
    let pose = pose();
    cockpit(picture.part(), pose);
    let (mut from, mut to) = (pose.at(-half, low), pose.at(-half, high));
    if low > 60.0 {
        // The caliper's tail points down where it would leave the sheet above.
        (from, to) = (to, from);
    }
    outside_jaws(picture.tool(), from, to, Point::new(-1.0, 0.0), 11.0);
    let line_u = half + 8.0;
    picture.measured(
        (pose.at(half, low), pose.at(half, high)),
        (pose.at(line_u, low), pose.at(line_u, high)),
        -1.0,
    );
    let (at, towards, words) = wrong;
    picture.wrong(at, towards, words);
    picture.finish()
}

pub(super) fn spacers_below(what: Asked<'_>) -> Drawing {
    let wrong = (pose().at(20.0, 5.0), Point::new(1.0, 0.4), "drawn-not-with-the-headsets-cover");
    stretch(what, BELOW, 17.5, wrong)
}

pub(super) fn spacers_above(what: Asked<'_>) -> Drawing {
    stretch(what, ABOVE, 17.5, (pose().at(0.0, 90.0), Point::new(0.6, -1.0), "drawn-not-with-the-cap"))
}

pub(super) fn upper_stack(what: Asked<'_>) -> Drawing {
    stretch(what, COVER, 25.0, (pose().at(0.0, 16.0), Point::new(1.0, -0.3), "drawn-not-up-to-a-spacer"))
}

pub(super) fn stem_clamp(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, HEIGHT_MM);
    let pose = pose();
    cockpit(picture.part(), pose);
    let (low, high) = CLAMP;
    // The stem obstructs the front, so the jaws are long enough for the dimension between them.
    outside_jaws(picture.tool(), pose.at(-18.5, low), pose.at(-18.5, high), Point::new(-1.0, 0.0), 27.0);
    let line = (pose.at(-22.5, low), pose.at(-22.5, high));
    picture.measured((pose.at(-18.5, low), pose.at(-18.5, high)), line, 1.0);
    picture.wrong(pose.at(35.0, 55.0), Point::new(0.4, 1.0), "drawn-not-the-stems-body");
    picture.finish()
}

pub(super) fn cap_gap(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, 76.0);
    // In section, larger: top of the stem, one spacer, the steerer's end inside. `v` up from the spacer's top.
    let pose = Pose::upright(Point::new(48.0, 32.0), 0.95).upside_down();
    let sheet = picture.part();
    let (inner, steerer_inner) = (14.3, 11.6);
    let pieces: [(&[(f64, f64)], Role); 3] = [
        (&[(inner, 0.0), (19.0, 0.0), (19.0, -12.0), (inner, -12.0)], Role::Outline),
        (&[(inner, -12.0), (20.0, -12.0), (20.0, -40.0), (inner, -40.0)], Role::Outline),
        (&[(steerer_inner, -5.0), (inner, -5.0), (inner, -40.0), (steerer_inner, -40.0)], Role::Outline),
    ];
    for (index, (points, role)) in pieces.into_iter().enumerate() {
        let direction_deg = if index == 1 { 135.0 } else { 45.0 };
        for points in pose.both_sides(points) {
            sheet.polygon(role, Fill::Hatch { spacing_mm: 1.3, direction_deg }, points);
        }
    }
    // The star nut: two toothed plates and the thread for the cap's bolt.
    let nut: [&[(f64, f64)]; 3] = [
        &[(-11.6, -18.0), (11.6, -18.0), (8.0, -20.5), (-8.0, -20.5)],
        &[(-11.6, -26.0), (11.6, -26.0), (8.0, -28.5), (-8.0, -28.5)],
        &[(-3.5, -16.0), (3.5, -16.0), (3.5, -29.0), (-3.5, -29.0)],
    ];
    for plate in nut {
        sheet.polygon(Role::Thin, Fill::Tint, pose.all(plate));
    }
    for (radius, v) in [(inner, 0.0), (inner, -5.0)] {
        sheet.fine_line(Role::Thin, pose.at(-radius, v), pose.at(radius, v));
    }
    depth_rod(picture.tool(), pose.at(12.9, 0.0), pose.at(12.9, -5.0), Point::new(1.0, 0.0));
    let line = (pose.at(0.0, 0.0), pose.at(0.0, -5.0));
    picture.measured((pose.at(11.0, 0.0), pose.at(11.0, -5.0)), line, 1.0);
    picture.wrong(pose.at(0.0, -16.0), Point::new(0.0, 1.0), "drawn-not-the-star-nut");
    picture.note(pose.at(-13.0, -30.0), Point::new(-1.0, 0.0), "drawn-steerer");
    picture.note(pose.at(-17.0, -6.0), Point::new(-1.0, 0.0), "drawn-top-spacer");
    picture.note(pose.at(19.0, -30.0), Point::new(1.0, 0.0), "drawn-stem");
    picture.finish()
}

pub(super) fn lower_stack(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, 70.0);
    // `v` up from the head tube's lower face.
    let pose = Pose::upright(Point::new(46.0, 36.0), 0.85).upside_down();
    let sheet = picture.part();
    block(sheet, pose, Role::Outline, (0.0, 26.0), 29.0, 26.0);
    block(sheet, pose, Role::Outline, (-7.0, 0.0), 24.0, 29.0);
    block(sheet, pose, Role::Outline, (-10.0, -7.0), 27.0, 25.0);
    let crown = [(-32.0, -10.0), (32.0, -10.0), (38.0, -18.0), (38.0, -28.0), (-38.0, -28.0), (-38.0, -18.0)];
    sheet.polygon(Role::Outline, Fill::Tint, pose.all(&crown));
    outside_jaws(picture.tool(), pose.at(-29.0, -10.0), pose.at(-29.0, 0.0), Point::new(-1.0, 0.0), 10.0);
    let line = (pose.at(38.0, -10.0), pose.at(38.0, 0.0));
    picture.measured((pose.at(31.0, -10.0), pose.at(29.0, 0.0)), line, -1.0);
    picture.wrong(pose.at(27.0, -7.0), Point::new(0.6, 1.0), "drawn-not-only-to-the-races-upper-edge");
    picture.note(pose.at(10.0, 13.0), Point::new(0.3, -1.0), "drawn-head-tube");
    picture.note(pose.at(0.0, -19.0), Point::new(0.0, 1.0), "drawn-fork-crown");
    picture.finish()
}

/// The whole head tube with a rule along it.
pub(super) fn head_tube_length(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, 88.0);
    // `v` up from the lower face; 110 mm long as drawn.
    let pose = Pose::upright(Point::new(48.0, 70.0), 0.5).upside_down();
    let sheet = picture.part();
    block(sheet, pose, Role::Outline, (0.0, 110.0), 29.0, 24.0);
    block(sheet, pose, Role::Outline, (110.0, 119.0), 24.0, 16.0);
    block(sheet, pose, Role::Outline, (119.0, 130.0), 16.0, 16.0);
    block(sheet, pose, Role::Outline, (-8.0, 0.0), 25.0, 28.0);
    let crown = [(-32.0, -8.0), (32.0, -8.0), (38.0, -16.0), (38.0, -28.0), (-38.0, -28.0), (-38.0, -16.0)];
    sheet.polygon(Role::Outline, Fill::Tint, pose.all(&crown));
    // The tubes of the frame, cut off.
    for (low, high, fall) in [(78.0, 100.0, 10.0), (14.0, 52.0, 40.0)] {
        let tube = [(-26.0, low), (-26.0, high), (-62.0, high - fall), (-62.0, low - fall)];
        sheet.polygon(Role::Thin, Fill::Tint, pose.all(&tube));
    }
    super::instrument::rule(
        picture.tool(),
        pose.at(31.0, 0.0),
        pose.at(31.0, 110.0),
        Point::new(1.0, 0.0),
        10.0,
    );
    let line = (pose.at(52.0, 0.0), pose.at(52.0, 110.0));
    picture.measured((pose.at(42.0, 0.0), pose.at(42.0, 110.0)), line, -1.0);
    picture.wrong(pose.at(-18.0, 119.0), Point::new(-1.0, -0.2), "drawn-not-up-to-the-covers-top");
    picture.wrong(pose.at(-27.0, -8.0), Point::new(-1.0, 0.3), "drawn-nor-down-to-the-crown");
    picture.finish()
}
