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

/// Size of the rectified view of a photo, pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RectifiedView {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Where the rear wheel touches the ground, from the left edge.
    pub rear_contact: f64,
    /// Millimetres of the plane at the left edge, and their change with each pixel to the right.
    across: [f64; 2],
}

impl RectifiedView {
    /// The view that [`rectify`] draws; `None` for a scale that is not a positive number or gives more than 8192 pixels a
    /// side.
    pub fn new(seen: &PhotoMeasurement, mm_per_px: f64) -> Option<Self> {
        let plane = &seen.plane;
        let [front_x, _] = plane.front_axle;
        let (left, right) = (-plane.rear_radius - ROOM, front_x + plane.front_radius + ROOM);
        let sides = [(right - left) / mm_per_px, (HIGH + ROOM) / mm_per_px];
        if !sides.iter().all(|side| (1.0..=LONGEST).contains(side)) {
            return None;
        }
        let [width, height] = sides.map(|side| side.ceil() as u32);
        // Heading left, forward is to the left in the view too.
        let (way, from) = if plane.heads_left() { (-mm_per_px, right) } else { (mm_per_px, left) };
        Some(Self { width, height, rear_contact: -from / way, across: [from, way] })
    }
}

/// The bike's plane as seen square on from infinity, with lens distortion removed: every length in the plane has the
/// scale `mm_per_px`, the ground is horizontal, and the view contains both wheels. A bike that heads left in the
/// picture does so in the view. Parts outside the plane keep their parallax.
///
/// `picture` is the whole upright picture to which the marks belong, at any scale. Interpolation is bilinear: intended
/// for scales near the picture's own. `None` for a scale that is not a positive number or gives a view of more than
/// 8192 pixels a side, and for a picture whose data do not match its size.
pub fn rectify(picture: &Pixels, seen: &PhotoMeasurement, mm_per_px: f64) -> Option<Pixels> {
    let view = RectifiedView::new(seen, mm_per_px).filter(|_| picture.is_sound())?;
    let marked = [f64::from(seen.image.width), f64::from(seen.image.height)];
    let scale = [f64::from(picture.width) / marked[0], f64::from(picture.height) / marked[1]];
    let [from, way] = view.across;
    let to_places = Matrix3::new(way, 0.0, from, 0.0, -mm_per_px, HIGH, 0.0, 0.0, 1.0);
    seen.plane.warp(to_places, scale).view(picture, [view.width, view.height], NOTHING)
}
