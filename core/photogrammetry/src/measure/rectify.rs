//! The bike's plane seen square on.

use super::measurement::PhotoMeasurement;
use nalgebra::Matrix3;
use steerwright_photo::Pixels;

/// The longest side of a rectified view, pixels.
const LONGEST: f64 = 8_192.0;
/// Room round the wheels, mm.
const ROOM: f64 = 60.0;
/// How high the view reaches above the ground, mm: the bars of a large bike.
const HIGH: f64 = 1_250.0;
/// What lies outside the picture is this grey.
const NOTHING: u8 = 0xd8;

/// The view of the bike's plane as from far away and square on, lens distortion taken out: every length in the plane
/// is `mm_per_px` to the pixel, the ground level, as far as both wheels reach. Where the bike heads left in the
/// picture, it does so in the view. What stands beside the plane is shifted as seen from the camera.
///
/// `picture` is the whole upright picture that the marks are of, at any scale. Bilinear: meant for scales about the
/// picture's own. `None` for a scale that is no positive number or gives a view of more than 8192 pixels a side, and
/// for a picture whose data are not of its size.
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
