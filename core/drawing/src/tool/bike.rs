//! Tool positions on the whole bike, seen from its right side, and on its wheels.

use super::Asked;
use super::instrument::{outside_jaws, phone, plumb, rule, straightedge, tape};
use super::pose::Pose;
use super::tool_picture::ToolPicture;
use crate::side_view::{BikePoints, shape};
use crate::world::{View, World};
use crate::{Drawing, Fill, Point, Role};

const UP: Point = Point::new(0.0, -1.0);
const DOWN: Point = Point::new(0.0, 1.0);
const RIGHT: Point = Point::new(1.0, 0.0);
const LEFT: Point = Point::new(-1.0, 0.0);

/// The drawn bike: head angle 65, seat angle 75, wheelbase 1210, wheels 370, axle to crown 545 and offset 44; not the
/// user's. Points as in [`BikePoints`], mm.
const BIKE: BikePoints = BikePoints {
    rear_axle: [0.0, 370.0],
    front_axle: [1210.0, 370.0],
    bottom_bracket: Some([433.82, 338.0]),
    head_tube_top: [886.12, 960.44],
    head_tube_bottom: [934.72, 856.22],
    crown: [939.80, 845.34],
    head_angle_deg: 65.0,
    seat_angle_deg: Some(75.0),
};
const BOTTOM_BRACKET: (f64, f64) = (433.82, 338.0);
const REAR: (f64, f64) = (0.0, 370.0);
const FRONT: (f64, f64) = (1210.0, 370.0);
const TOP: (f64, f64) = (886.12, 960.44);
const HEIGHT_MM: f64 = 92.0;

/// Positions of the drawn bike on the sheet.
#[derive(Clone, Copy)]
struct Ground(View);

impl Ground {
    fn at(self, (x, y): (f64, f64)) -> Point {
        self.0.at(x, y)
    }

    /// A point on the seat tube, mm up from the bottom bracket.
    fn seat_tube(self, up: f64) -> Point {
        let (sin, cos) = libm::sincos(75_f64.to_radians());
        let (x, y) = BOTTOM_BRACKET;
        self.0.at(x - up * cos, y + up * sin)
    }
}

fn bike(what: Asked<'_>) -> (ToolPicture<'_>, Ground) {
    let mut picture = ToolPicture::new(what, HEIGHT_MM);
    let view = View { origin: Point::new(21.5, 74.0), scale: 0.0465 };
    let mut world = World::default();
    world.layer("ground");
    shape::ground(&mut world, -400.0, 1640.0);
    world.layer("bike");
    BIKE.shapes(&mut world, Role::Outline);
    world.draw(&mut picture.sheet, view);
    // Saddle and handlebar distinguish front and rear at a glance.
    let sheet = &mut picture.sheet;
    let ground = Ground(view);
    let post = ground.seat_tube(700.0);
    sheet.line(Role::Outline, ground.seat_tube(500.0), post);
    sheet.polygon(
        Role::Outline,
        Fill::Solid,
        vec![
            post + Point::new(-6.0, -0.4),
            post + Point::new(6.0, 0.2),
            post + Point::new(5.6, 0.9),
            post + Point::new(-5.0, 1.0),
        ],
    );
    let stem = BIKE.on_axis(BIKE.to_top() + 45.0);
    let bar = (stem.0 + 60.0, stem.1 + 22.0);
    sheet.polyline(Role::Outline, [TOP, stem, bar].map(|place| ground.at(place)).to_vec());
    sheet.circle(Role::Outline, Fill::Tint, ground.at(bar), 0.9);
    (picture, ground)
}

pub(super) fn head_angle(what: Asked<'_>) -> Drawing {
    let (mut picture, ground) = bike(what);
    // Along the upper fork leg, which is parallel to the steering axis.
    let (sin, cos) = libm::sincos(65_f64.to_radians());
    let (x, y) = FRONT;
    let on_leg = |up: f64| (x - up * cos, y + up * sin);
    let axis = Point::towards(115.0);
    phone(picture.tool(), ground.at(on_leg(330.0)), axis, axis.left() * -1.0);
    let foot = ground.at((BIKE.axis_on_ground(), 0.0));
    picture.sheet.line(Role::Axis, foot, ground.at(BIKE.on_axis(BIKE.to_top() + 190.0)));
    picture.measured_angle(foot, 13.0, 115.0, 65.0);
    picture.wrong(ground.at((900.0, 925.0)), Point::new(-1.0, -0.6), "drawn-not-on-a-tapered-head-tube");
    picture.finish()
}

pub(super) fn seat_angle(what: Asked<'_>) -> Drawing {
    let (mut picture, ground) = bike(what);
    let along = Point::towards(105.0);
    phone(picture.tool(), ground.seat_tube(500.0), along, along.left() * -1.0);
    let (x, y) = BOTTOM_BRACKET;
    picture.sheet.line(Role::Axis, ground.at((x - 330.0, y)), ground.at((x, y)));
    picture.measured_angle(ground.at(BOTTOM_BRACKET), 11.0, 105.0, 75.0);
    picture.wrong(ground.at((690.0, 610.0)), Point::new(0.6, -1.0), "drawn-not-on-the-down-tube");
    picture.finish()
}

pub(super) fn wheelbase(what: Asked<'_>) -> Drawing {
    let wrong = ((1580.0, 370.0), Point::new(-0.2, -1.0), "drawn-not-the-tyres-outer-edges");
    straight(what, (REAR, FRONT), -9.0, wrong)
}

/// A tape straight between two centres, with its dimension.
fn straight(
    what: Asked<'_>,
    (from, to): ((f64, f64), (f64, f64)),
    aside: f64,
    wrong: ((f64, f64), Point, &str),
) -> Drawing {
    let (mut picture, ground) = bike(what);
    let (from, to) = (ground.at(from), ground.at(to));
    let up = (to - from).unit().left();
    tape(picture.tool(), from, to, -up);
    let shift = up * aside;
    picture.measured((from, to), (from + shift, to + shift), aside.signum());
    let (at, towards, words) = wrong;
    picture.wrong(ground.at(at), towards, words);
    picture.finish()
}

pub(super) fn chainstay(what: Asked<'_>) -> Drawing {
    let wrong = ((-370.0, 370.0), Point::new(0.2, -1.0), "drawn-not-from-the-tyre-from-the-axle");
    straight(what, (REAR, BOTTOM_BRACKET), 6.0, wrong)
}

pub(super) fn front_centre(what: Asked<'_>) -> Drawing {
    let wrong = ((1580.0, 370.0), Point::new(-0.2, -1.0), "drawn-not-to-the-tyre-to-the-axle");
    straight(what, (BOTTOM_BRACKET, FRONT), 6.0, wrong)
}

pub(super) fn bottom_bracket_height(what: Asked<'_>) -> Drawing {
    let (mut picture, ground) = bike(what);
    let (x, y) = BOTTOM_BRACKET;
    let (foot, centre) = (ground.at((x, 0.0)), ground.at((x, y)));
    tape(picture.tool(), foot, centre, LEFT);
    let shift = Point::new(7.0, 0.0);
    picture.measured((foot, centre), (foot + shift, centre + shift), -1.0);
    picture.wrong(centre + Point::new(0.6, 1.6), Point::new(-1.0, 0.6), "drawn-not-to-its-lower-edge");
    picture.finish()
}

pub(super) fn bottom_bracket_drop(what: Asked<'_>) -> Drawing {
    let (mut picture, ground) = bike(what);
    let (x, y) = BOTTOM_BRACKET;
    let (axle, centre) = (ground.at(REAR), ground.at((x, y)));
    let level = Point::new(centre.x, axle.y);
    straightedge(picture.tool(), Point::new(axle.x - 4.0, axle.y), Point::new(centre.x + 12.0, axle.y), UP);
    rule(
        picture.tool(),
        Point::new(centre.x + 2.0, axle.y),
        Point::new(centre.x + 2.0, centre.y),
        RIGHT,
        9.0,
    );
    let line_x = centre.x - 8.0;
    picture.measured((level, centre), (Point::new(line_x, level.y), Point::new(line_x, centre.y)), -1.0);
    picture.note(Point::new(centre.x + 12.0, axle.y - 0.8), UP, "drawn-level-at-the-rear-axles-height");
    picture.wrong(
        ground.at((x, 0.0)) + Point::new(0.0, -5.0),
        Point::new(1.0, 0.0),
        "drawn-not-down-to-the-ground",
    );
    picture.finish()
}

pub(super) fn reach(what: Asked<'_>) -> Drawing {
    let (mut picture, ground) = bike(what);
    let ((x, y), (top_x, top_y)) = (BOTTOM_BRACKET, TOP);
    let floor = ground.at((0.0, 0.0)).y;
    plumb(picture.tool(), ground.at((x, y)), Point::new(0.0, floor));
    plumb(picture.tool(), ground.at((top_x, top_y)), Point::new(0.0, floor));
    let (from, to) = (ground.at((x, 0.0)), ground.at((top_x, 0.0)));
    tape(picture.tool(), from + Point::new(0.0, 1.6), to + Point::new(0.0, 1.6), DOWN);
    let shift = Point::new(0.0, -6.0);
    picture.measured((from, to), (from + shift, to + shift), 1.0);
    picture.wrong(
        ground.at((905.0, 1040.0)),
        Point::new(1.0, -0.3),
        "drawn-not-at-the-stem-middle-of-the-head-tubes-top",
    );
    picture.finish()
}

pub(super) fn stack(what: Asked<'_>) -> Drawing {
    let (mut picture, ground) = bike(what);
    let ((x, y), (top_x, top_y)) = (BOTTOM_BRACKET, TOP);
    let (low, high) = (ground.at((x, y)), ground.at((top_x, top_y)));
    let corner = ground.at((x, top_y));
    straightedge(picture.tool(), Point::new(corner.x - 4.0, corner.y), high, UP);
    tape(picture.tool(), Point::new(low.x, low.y), corner, RIGHT);
    let shift = Point::new(-7.0, 0.0);
    picture.measured((low, corner), (low + shift, corner + shift), 1.0);
    picture.wrong(ground.at((905.0, 1030.0)), Point::new(1.0, -0.3), "drawn-not-up-to-the-stem");
    picture.finish()
}

pub(super) fn rear_sag(what: Asked<'_>) -> Drawing {
    let (mut picture, ground) = bike(what);
    let (x, y) = REAR;
    let (axle, mark) = (ground.at((x, y)), ground.at((x, 1005.0)));
    tape(picture.tool(), Point::new(axle.x, axle.y), mark, LEFT);
    // The axle under the rider's weight is higher relative to the frame.
    let raised = ground.at((x, y + 110.0));
    picture.sheet.circle(Role::Hidden, Fill::None, raised, 0.9);
    picture.measured((axle, raised), (axle + Point::new(9.0, 0.0), raised + Point::new(9.0, 0.0)), -1.0);
    picture.note(raised, Point::new(0.6, -1.0), "drawn-axle-with-the-rider-on");
    picture.note(mark, Point::new(1.0, -0.3), "drawn-to-a-mark-at-the-saddle-twice");
    picture.wrong(
        ground.at((40.0, 20.0)),
        Point::new(1.0, -0.5),
        "drawn-not-from-the-ground-the-tyre-gives-way",
    );
    picture.finish()
}

pub(super) fn tyre_diameter(what: Asked<'_>, front: bool) -> Drawing {
    let mut picture = ToolPicture::new(what, 82.0);
    let (centre, radius) = (Point::new(44.0, 42.0), 29.0);
    let floor = centre.y + radius;
    let sheet = picture.part();
    sheet.surface(
        Role::Ground,
        Fill::Hatch { spacing_mm: 1.4, direction_deg: 45.0 },
        vec![
            Point::new(4.0, floor),
            Point::new(96.0, floor),
            Point::new(96.0, floor + 1.4),
            Point::new(4.0, floor + 1.4),
        ],
    );
    sheet.line(Role::Ground, Point::new(4.0, floor), Point::new(96.0, floor));
    sheet.circle(Role::Outline, Fill::Tint, centre, radius);
    sheet.circle(Role::Outline, Fill::Tint, centre, radius - 4.5);
    sheet.circle(Role::Thin, Fill::Tint, centre, radius - 6.2);
    sheet.circle(Role::Outline, Fill::None, centre, 1.6);
    // Part of the bike shows which wheel it is: the fork leans back from the front axle, the stays run forward.
    let towards = if front { Point::towards(115.0) } else { Point::towards(8.0) };
    sheet.line(Role::Outline, centre, centre + towards * 22.0);
    if !front {
        sheet.line(Role::Outline, centre, centre + Point::towards(48.0) * 22.0);
    }
    let top = centre.y - radius;
    tape(picture.tool(), Point::new(centre.x, floor), centre, RIGHT);
    let line_x = 8.0;
    picture.measured(
        (Point::new(centre.x, floor), Point::new(centre.x, top)),
        (Point::new(line_x, floor), Point::new(line_x, top)),
        -1.0,
    );
    picture.note(Point::new(centre.x + 2.4, centre.y + 14.0), RIGHT, "drawn-the-axles-height-taken-twice");
    picture.wrong(Point::new(centre.x, top + 5.4), Point::new(0.0, 1.0), "drawn-not-the-rim");
    let leg = if front { "drawn-fork" } else { "drawn-stays" };
    picture.note(centre + towards * 18.0, Point::new(towards.x, 0.7), leg);
    picture.finish()
}

pub(super) fn tyre_width(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, 80.0);
    // A cut through tyre and rim, the tread up. `v` up from the widest place.
    let pose = Pose::upright(Point::new(48.0, 46.0), 0.7).upside_down();
    let sheet = picture.part();
    let arc = |radius: f64| -> Vec<(f64, f64)> {
        (0..=48_u32)
            .map(|step| {
                let (sin, cos) = libm::sincos((f64::from(step) * 5.0 - 30.0).to_radians());
                (radius * cos, radius * sin)
            })
            .collect()
    };
    let casing: Vec<(f64, f64)> = arc(27.0).into_iter().chain(arc(23.0).into_iter().rev()).collect();
    sheet.polygon(Role::Outline, Fill::Hatch { spacing_mm: 1.3, direction_deg: 45.0 }, pose.all(&casing));
    // Knobs around the tread; the outermost ones determine the width.
    for step in 0..=10_u32 {
        let degrees = f64::from(step) * 18.0;
        let (out, along) = (Point::towards(degrees), Point::towards(degrees).left());
        let knob = [(27.0, -2.2), (30.0, -1.8), (30.0, 1.8), (27.0, 2.2)]
            .map(|(far, off)| (out.x * far + along.x * off, -(out.y * far + along.y * off)));
        sheet.polygon(Role::Outline, Fill::Tint, pose.all(&knob));
    }
    let rim = [
        (25.0, -10.0),
        (22.0, -15.0),
        (21.0, -24.0),
        (12.0, -32.0),
        (-12.0, -32.0),
        (-21.0, -24.0),
        (-22.0, -15.0),
        (-25.0, -10.0),
        (-19.0, -12.0),
        (-17.0, -22.0),
        (17.0, -22.0),
        (19.0, -12.0),
    ];
    sheet.polygon(Role::Outline, Fill::Tint, pose.all(&rim));
    let (from, to) = (pose.at(-30.0, 0.0), pose.at(30.0, 0.0));
    outside_jaws(picture.tool(), from, to, UP, 28.0);
    let line = (pose.at(-30.0, -42.0), pose.at(30.0, -42.0));
    picture.measured((from, to), line, -1.0);
    picture.wrong(pose.at(24.0, -12.0), Point::new(1.0, 0.4), "drawn-not-at-the-rim");
    picture.note(pose.at(0.0, 9.0), DOWN, "drawn-widest-place-knobs-included");
    picture.finish()
}

pub(super) fn tyre_to_down_tube(what: Asked<'_>) -> Drawing {
    let mut picture = ToolPicture::new(what, 78.0);
    let (centre, radius) = (Point::new(84.0, 64.0), 40.0);
    let sheet = picture.part();
    sheet.push(crate::Item::Arc {
        centre,
        radius_mm: radius,
        start_deg: 85.0,
        sweep_deg: 105.0,
        role: Role::Outline,
    });
    sheet.push(crate::Item::Arc {
        centre,
        radius_mm: radius - 6.0,
        start_deg: 85.0,
        sweep_deg: 105.0,
        role: Role::Outline,
    });
    // Down tube above the tyre, falling to the rear.
    let out = Point::towards(132.0);
    let along = out.left();
    let near = centre + out * (radius + 9.0);
    let tube = |off: f64, far: f64| near + along * off + out * far;
    sheet.polygon(
        Role::Outline,
        Fill::Tint,
        vec![tube(-20.0, 0.0), tube(32.0, 0.0), tube(32.0, 11.0), tube(-20.0, 11.0)],
    );
    let tyre = centre + out * radius;
    rule(picture.tool(), tyre, near, along * -1.0, 9.0);
    let shift = along * 8.0;
    picture.measured((tyre, near), (tyre + shift, near + shift), 1.0);
    picture.note(tube(24.0, 6.0), Point::new(-1.0, 0.4), "drawn-down-tube");
    picture.note(
        centre + Point::towards(100.0) * (radius - 3.0),
        Point::new(0.4, 1.0),
        "drawn-front-tyre-fork-fully-compressed",
    );
    picture.wrong(
        centre + Point::towards(160.0) * (radius + 3.0),
        Point::new(-0.6, 1.0),
        "drawn-not-where-the-gap-is-wide-the-nearest-place",
    );
    picture.finish()
}
