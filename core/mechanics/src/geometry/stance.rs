//! The side view of a bicycle from its eleven numbers, and the resting position of a changed bicycle.
//!
//! Frame of reference: `x` forward, `y` up, rear axle at `x = 0`. With head angle H, the unit vector up the steering
//! axis is `a = (-cos H, sin H)`, and the forward normal to it is `n = (sin H, cos H)`.

use super::change::ResolvedChange;
use super::{Bicycle, GeometryError, Point, SideView};

/// Cosine of 30 degrees, the largest rotation of the frame or of the steering axis.
const COS_MAX_TURN: f64 = 0.866_025_403_784_438_6;
/// Least sine of the head angle after a change.
const MIN_SINE: f64 = 1e-5;

impl Point {
    fn plus(self, scale: f64, direction: Self) -> Self {
        Self { x: self.x + scale * direction.x, y: self.y + scale * direction.y }
    }

    /// Rotated counter-clockwise about the origin by the angle with this cosine and sine.
    fn rotated(self, cosine: f64, sine: f64) -> Self {
        Self { x: cosine * self.x - sine * self.y, y: sine * self.x + cosine * self.y }
    }

    fn distance(self, other: Self) -> f64 {
        libm::hypot(self.x - other.x, self.y - other.y)
    }
}

/// The bicycle on level ground.
///
/// With axle-to-crown length A, fork offset O, lower stack S, head tube length L, front radius r, chainstay c and
/// bottom bracket drop d:
/// - `crown = front axle + A a - O n`, `lower face = crown + S a`, `upper face = lower face + L a`
/// - `bottom bracket x = sqrt(c^2 - d^2)`
/// - `mechanical trail = r cos H - O`, `trail = mechanical trail / sin H`, `wheel flop = mechanical trail cos H`
///
/// # Errors
/// As [`Bicycle::side_view`].
pub(super) fn stand(b: &Bicycle) -> Result<SideView, GeometryError> {
    b.check()?;
    let (sine, cosine) = libm::sincos(b.head_angle.to_radians());
    let (axis, normal) = (Point::new(-cosine, sine), Point::new(sine, cosine));
    let drop = b.bottom_bracket_height - b.rear_radius;
    let bottom_bracket =
        Point::new((b.chainstay * b.chainstay - drop * drop).sqrt(), b.bottom_bracket_height);
    let front_axle = Point::new(b.wheelbase, b.front_radius);
    let crown_race = front_axle.plus(b.axle_to_crown, axis).plus(-b.fork_offset, normal);
    let lower_face = crown_race.plus(b.lower_stack, axis);
    let upper_face = lower_face.plus(b.head_tube_length, axis);
    let mechanical_trail = b.front_radius * cosine - b.fork_offset;
    Ok(SideView {
        head_angle: b.head_angle,
        seat_angle: b.seat_angle,
        bottom_bracket_height: bottom_bracket.y,
        reach: upper_face.x - bottom_bracket.x,
        stack: upper_face.y - bottom_bracket.y,
        wheelbase: b.wheelbase,
        front_centre: front_axle.distance(bottom_bracket),
        trail: mechanical_trail / sine,
        mechanical_trail,
        wheel_flop: mechanical_trail * cosine,
        rear_axle: Point::new(0.0, b.rear_radius),
        front_axle,
        crown_race,
        lower_face,
        upper_face,
        bottom_bracket,
        axis,
        front_radius: b.front_radius,
        rear_radius: b.rear_radius,
    })
}

/// A changed bicycle on its wheels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Settled {
    pub(super) view: SideView,
    /// The rotation of the steering axis in the frame, degrees, slacker positive.
    pub(super) tilt: f64,
    /// The turn of the frame on its wheels, degrees, positive where the front rises.
    pub(super) pitch: f64,
}

/// Applies a change to `b`, whose unchanged side view is `before`, and rotates it about the rear axle until both wheels
/// touch the ground.
///
/// With the bearing planes z and offsets e, the new axis runs from the lower to the upper bearing centre,
/// `(L + z_u + z_l)` along the old axis and `(e_u - e_l)` across it. With v the vector from rear to front axle before the
/// rotation, and h the front radius less the rear one, the wheelbase is `sqrt(|v|^2 - h^2)`.
///
/// # Errors
/// A number of the change outside its range, and [`GeometryError::NoStance`] if the frame or the axis would rotate by
/// more than 30 degrees.
pub(super) fn settle(
    b: &Bicycle,
    before: &SideView,
    change: &ResolvedChange,
) -> Result<Settled, GeometryError> {
    change.check()?;
    let normal = Point::new(before.axis.y, -before.axis.x);
    // The direction of the new axis: `p` along the old one, `q` forward of it.
    let along = b.head_tube_length + change.upper_plane + change.lower_plane;
    let across = change.upper - change.lower;
    let span = libm::hypot(along, across);
    let (p, q) = (along / span, across / span);
    let new_axis = Point::default().plus(p, before.axis).plus(q, normal);
    let new_normal = Point::new(new_axis.y, -new_axis.x);
    // From the lower bearing centre down the new axis to the crown race seat and out to the axle.
    let bearing = before.lower_face.plus(-change.lower_plane, before.axis).plus(change.lower, normal);
    let crown_race = bearing.plus(change.lower_plane - change.lower_stack, new_axis);
    let front_axle = crown_race.plus(-change.axle_to_crown, new_axis).plus(change.fork_offset, new_normal);

    let rear_axle = Point::new(0.0, before.rear_axle.y + change.rear_sag);
    let (vx, vy) = (front_axle.x, front_axle.y - rear_axle.y);
    let rise = change.front_radius - change.rear_radius;
    let square = vx * vx + vy * vy;
    let wheelbase = (square - rise * rise).sqrt();
    let (cosine, sine) = ((vx * wheelbase + vy * rise) / square, (vx * rise - vy * wheelbase) / square);
    let axis = new_axis.rotated(cosine, sine);
    // False for NaN as well.
    if !(p >= COS_MAX_TURN && cosine >= COS_MAX_TURN && axis.y >= MIN_SINE) {
        return Err(GeometryError::NoStance);
    }
    let settled = |point: Point| {
        let turned = Point::new(point.x, point.y - rear_axle.y).rotated(cosine, sine);
        Point::new(turned.x, turned.y + change.rear_radius)
    };
    let tilt = libm::atan2(-q, p).to_degrees();
    let pitch = libm::atan2(sine, cosine).to_degrees();
    let (bottom_bracket, upper_face) = (settled(before.bottom_bracket), settled(before.upper_face));
    let front_axle = Point::new(wheelbase, change.front_radius);
    let mechanical_trail = -change.front_radius * axis.x - change.fork_offset;
    let view = SideView {
        head_angle: before.head_angle - tilt - pitch,
        seat_angle: before.seat_angle - pitch,
        bottom_bracket_height: bottom_bracket.y,
        reach: upper_face.x - bottom_bracket.x,
        stack: upper_face.y - bottom_bracket.y,
        wheelbase,
        front_centre: front_axle.distance(bottom_bracket),
        trail: mechanical_trail / axis.y,
        mechanical_trail,
        wheel_flop: -mechanical_trail * axis.x,
        rear_axle: Point::new(0.0, change.rear_radius),
        front_axle,
        crown_race: settled(crown_race),
        lower_face: settled(before.lower_face),
        upper_face,
        bottom_bracket,
        axis,
        front_radius: change.front_radius,
        rear_radius: change.rear_radius,
    };
    Ok(Settled { view, tilt, pitch })
}
