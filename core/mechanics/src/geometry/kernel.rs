//! The arithmetic of the side view, one piece of code for a single bicycle and for many.
//!
//! Straight-line arithmetic on `f64` without branches, calls or fused operations: a loop over it vectorises,
//! and the same bits come out however many bicycles go in. Angles appear only at the two ends; between them
//! everything is vectors. Frame: `x` forward, `y` up, rear axle at `x = 0`; `a` is the unit vector up the
//! steering axis, `n` the one square to it, forward.

use super::angle::{COS_MAX_TURN, sine_cosine, turn};
use super::bicycle::{DEEPEST, FLATTEST, SHORTEST, STEEPEST};
use super::change::Resolved;
use super::error::LONGEST;
use super::{Bicycle, Point, SideView};

/// Whether `value` lies between the two; false for NaN. Without a branch.
#[inline(always)]
fn inside(value: f64, low: f64, high: f64) -> bool {
    (value >= low) & (value <= high)
}

/// Nothing, or NaN: added to every result of a bicycle that is outside the domain.
#[inline(always)]
fn poison(sound: bool) -> f64 {
    if sound { 0.0 } else { f64::NAN }
}

/// The bicycle as it stands; NaN throughout when a number is outside its domain (see [`Bicycle::side_view`]).
#[inline(always)]
pub(super) fn stand(b: Bicycle) -> SideView {
    let drop = b.bottom_bracket_height - b.rear_radius;
    let sound = inside(b.wheelbase, SHORTEST, LONGEST)
        & inside(b.head_angle, FLATTEST, STEEPEST)
        & inside(b.axle_to_crown, SHORTEST, LONGEST)
        & inside(b.fork_offset, -LONGEST, LONGEST)
        & inside(b.lower_stack, DEEPEST, LONGEST)
        & inside(b.head_tube_length, SHORTEST, LONGEST)
        & inside(b.front_radius, SHORTEST, LONGEST)
        & inside(b.rear_radius, SHORTEST, LONGEST)
        & inside(b.chainstay, SHORTEST, LONGEST)
        & inside(b.bottom_bracket_height, SHORTEST, LONGEST)
        & inside(b.seat_angle, FLATTEST, STEEPEST)
        & inside(drop, -b.chainstay, b.chainstay);
    let wrong = poison(sound);
    let (sine, cosine) = sine_cosine(b.head_angle);
    let (sine, cosine) = (sine + wrong, cosine + wrong);
    let bracket =
        Point::new((b.chainstay * b.chainstay - drop * drop).sqrt() + wrong, b.bottom_bracket_height + wrong);
    let front = Point::new(b.wheelbase + wrong, b.front_radius + wrong);
    // a = (-cosine, sine), n = (sine, cosine)
    let crown = Point::new(
        front.x - b.axle_to_crown * cosine - b.fork_offset * sine,
        front.y + b.axle_to_crown * sine - b.fork_offset * cosine,
    );
    let lower = Point::new(crown.x - b.lower_stack * cosine, crown.y + b.lower_stack * sine);
    let upper = Point::new(lower.x - b.head_tube_length * cosine, lower.y + b.head_tube_length * sine);
    let mechanical_trail = b.front_radius * cosine - b.fork_offset;
    let (dx, dy) = (front.x - bracket.x, front.y - bracket.y);
    SideView {
        head_angle: b.head_angle + wrong,
        seat_angle: b.seat_angle + wrong,
        bottom_bracket_height: bracket.y,
        reach: upper.x - bracket.x,
        stack: upper.y - bracket.y,
        wheelbase: front.x,
        front_centre: (dx * dx + dy * dy).sqrt(),
        trail: mechanical_trail / sine,
        mechanical_trail,
        wheel_flop: mechanical_trail * cosine,
        rear_axle: Point::new(0.0, b.rear_radius + wrong),
        front_axle: front,
        crown_race: crown,
        lower_face: lower,
        upper_face: upper,
        bottom_bracket: bracket,
        axis: Point::new(-cosine, sine),
        front_radius: b.front_radius,
        rear_radius: b.rear_radius,
    }
}

/// A changed bicycle settled on its wheels, with the kit's tilt (slacker positive) and the frame's pitch
/// (nose up positive), degrees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Settled {
    pub(super) view: SideView,
    pub(super) tilt: f64,
    pub(super) pitch: f64,
}

/// The change applied to `b`, whose own stance is `before`; NaN throughout when it has no stance.
#[inline(always)]
pub(super) fn settle(b: Bicycle, before: &SideView, change: Resolved) -> Settled {
    let r = change;
    // The new steering axis in the frame: p along the old axis, q forward of it.
    let along = b.head_tube_length + r.upper_plane + r.lower_plane;
    let across = r.upper - r.lower;
    let length = (along * along + across * across).sqrt();
    let (p, q) = (along / length, across / length);
    let (cosine, sine) = (-before.axis.x, before.axis.y);
    let axis = Point::new(q * sine - p * cosine, q * cosine + p * sine);
    let normal = Point::new(axis.y, -axis.x);
    // The lower bearing's reference point, then down the new axis to the crown race seat and out to the axle.
    let bearing = Point::new(
        before.lower_face.x + r.lower_plane * cosine + r.lower * sine,
        before.lower_face.y - r.lower_plane * sine + r.lower * cosine,
    );
    let reach_down = r.lower_stack - r.lower_plane;
    let crown = Point::new(bearing.x - reach_down * axis.x, bearing.y - reach_down * axis.y);
    let front = Point::new(
        crown.x - r.axle_to_crown * axis.x + r.fork_offset * normal.x,
        crown.y - r.axle_to_crown * axis.y + r.fork_offset * normal.y,
    );
    // Settling: the frame turns about the rear axle until both wheels touch the ground.
    let rear_height = before.rear_axle.y + r.rear_sag;
    let (vx, vy) = (front.x, front.y - rear_height);
    let climb = r.front_radius - r.rear_radius;
    let square = vx * vx + vy * vy;
    let wheelbase = (square - climb * climb).sqrt();
    let cos_pitch = (vx * wheelbase + vy * climb) / square;
    let sin_pitch = (vx * climb - vy * wheelbase) / square;
    let turned = |point: Point| Point {
        x: cos_pitch * point.x - sin_pitch * (point.y - rear_height),
        y: sin_pitch * point.x + cos_pitch * (point.y - rear_height) + r.rear_radius,
    };
    let axis_turned =
        Point::new(cos_pitch * axis.x - sin_pitch * axis.y, sin_pitch * axis.x + cos_pitch * axis.y);
    let sound = inside(r.upper_plane, -LONGEST, LONGEST)
        & inside(r.lower_plane, -LONGEST, LONGEST)
        & inside(r.upper, -LONGEST, LONGEST)
        & inside(r.lower, -LONGEST, LONGEST)
        & inside(r.axle_to_crown, SHORTEST, LONGEST)
        & inside(r.fork_offset, -LONGEST, LONGEST)
        & inside(r.lower_stack, DEEPEST, LONGEST)
        & inside(r.front_radius, SHORTEST, LONGEST)
        & inside(r.rear_radius, SHORTEST, LONGEST)
        & inside(r.rear_sag, -LONGEST, LONGEST)
        & inside(p, COS_MAX_TURN, 2.0)
        & inside(cos_pitch, COS_MAX_TURN, 2.0)
        & inside(axis_turned.y, 1e-5, 2.0);
    let wrong = poison(sound);
    let tilt = turn(p, -q) + wrong;
    let pitch = turn(cos_pitch, sin_pitch) + wrong;
    let bracket = turned(before.bottom_bracket);
    let upper = turned(before.upper_face);
    let (sine, cosine) = (axis_turned.y + wrong, wrong - axis_turned.x);
    let mechanical_trail = r.front_radius * cosine - r.fork_offset;
    let (dx, dy) = (wheelbase - bracket.x, r.front_radius - bracket.y);
    let view = SideView {
        head_angle: before.head_angle - tilt - pitch,
        seat_angle: before.seat_angle - pitch,
        bottom_bracket_height: bracket.y + wrong,
        reach: upper.x - bracket.x + wrong,
        stack: upper.y - bracket.y + wrong,
        wheelbase: wheelbase + wrong,
        front_centre: (dx * dx + dy * dy).sqrt() + wrong,
        trail: mechanical_trail / sine,
        mechanical_trail,
        wheel_flop: mechanical_trail * cosine,
        rear_axle: Point::new(0.0, r.rear_radius + wrong),
        front_axle: Point::new(wheelbase + wrong, r.front_radius + wrong),
        crown_race: turned(crown),
        lower_face: turned(before.lower_face),
        upper_face: upper,
        bottom_bracket: bracket,
        axis: Point::new(-cosine, sine),
        front_radius: r.front_radius,
        rear_radius: r.rear_radius,
    };
    Settled { view, tilt, pitch }
}
