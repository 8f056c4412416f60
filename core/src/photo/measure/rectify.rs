//! The bike's plane seen square on.

use super::seen::Seen;
use crate::photo::Pixels;

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
pub fn rectify(picture: &Pixels, seen: &Seen, mm_per_px: f64) -> Option<Pixels> {
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
    let channels = picture.colour.channels();
    let mut data = Vec::with_capacity(width as usize * height as usize * channels);
    for row in 0..height {
        let y = HIGH - (f64::from(row) + 0.5) * mm_per_px;
        for column in 0..width {
            let along = (f64::from(column) + 0.5) * mm_per_px;
            let x = if leftward { right - along } else { left + along };
            let spot = plane.pixel([x, y]).map(|[px, py]| [px * scale[0], py * scale[1]]);
            for channel in 0..channels {
                let value = spot.and_then(|spot| bilinear(picture, spot, channel));
                data.push(value.unwrap_or(NOTHING));
            }
        }
    }
    Some(Pixels {
        width,
        height,
        colour: picture.colour,
        data,
        full_width: width,
        full_height: height,
        step: 1.0,
        upright: true,
    })
}

/// A channel's value between four pixels' middles; `None` outside the picture.
fn bilinear(picture: &Pixels, [x, y]: [f64; 2], channel: usize) -> Option<u8> {
    let (width, height) = (f64::from(picture.width), f64::from(picture.height));
    if !((0.0..=width).contains(&x) && (0.0..=height).contains(&y)) {
        return None;
    }
    let (x, y) = ((x - 0.5).clamp(0.0, width - 1.0), (y - 0.5).clamp(0.0, height - 1.0));
    let (column, row) = (x.floor() as usize, y.floor() as usize);
    let (right, below) = (x - x.floor(), y - y.floor());
    let (across, down) = (picture.width as usize, picture.height as usize);
    let at = |column: usize, row: usize| {
        let place = (row.min(down - 1) * across + column.min(across - 1)) * picture.colour.channels();
        picture.data.get(place + channel).map(|value| f64::from(*value))
    };
    let upper = at(column, row)? * (1.0 - right) + at(column + 1, row)? * right;
    let lower = at(column, row + 1)? * (1.0 - right) + at(column + 1, row + 1)? * right;
    Some((upper * (1.0 - below) + lower * below).round() as u8)
}
