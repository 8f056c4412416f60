//! The bike's plane seen square on.

use super::measurement::PhotoMeasurement;
use nalgebra::Matrix3;
use steerwright_photo::Pixels;

/// The longest side of a rectified view, pixels.
const LONGEST: f64 = 8_192.0;
/// Margin around the wheels, mm.
const ROOM: f64 = 60.0;
/// Height of the view above the ground, mm: the bars of a large bike.
const HIGH: f64 = 1_250.0;
/// Grey level of areas outside the picture.
const NOTHING: u8 = 0xd8;

/// The bike's plane as seen square on from infinity, with lens distortion removed: every length in the plane has the
/// scale `mm_per_px`, the ground is horizontal, and the view contains both wheels. A bike that heads left in the
/// picture does so in the view. Parts outside the plane keep their parallax.
///
/// `picture` is the whole upright picture to which the marks belong, at any scale. Interpolation is bilinear: intended
/// for scales near the picture's own. `None` for a scale that is not a positive number or gives a view of more than
/// 8192 pixels a side, and for a picture whose data do not match its size.
pub fn rectify(picture: &Pixels, seen: &PhotoMeasurement, mm_per_px: f64) -> Option<Pixels> {
    let plane = &seen.plane;
    let [front_x, _] = plane.front_axle;
    let (left, right) = (-plane.rear_radius - ROOM, front_x + plane.front_radius + ROOM);
    let sides = [(right - left) / mm_per_px, (HIGH + ROOM) / mm_per_px];
    if !picture.is_sound() || !sides.iter().all(|side| (1.0..=LONGEST).contains(side)) {
        return None;
    }
    let [width, height] = sides.map(|side| side.ceil() as u32);
    let marked = [f64::from(seen.image.width), f64::from(seen.image.height)];
    let scale = [f64::from(picture.width) / marked[0], f64::from(picture.height) / marked[1]];
    // Heading left, forward is to the left in the view too.
    let leftward = plane.heads_left();
    let (way, from) = if leftward { (-mm_per_px, right) } else { (mm_per_px, left) };
    let to_places = Matrix3::new(way, 0.0, from, 0.0, -mm_per_px, HIGH, 0.0, 0.0, 1.0);
    plane.warp(to_places, scale).view(picture, [width, height], NOTHING)
}
