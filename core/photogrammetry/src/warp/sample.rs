//! Values between four pixels' middles, in whole numbers.

use super::rows::{STEPS, STRETCH, Spots};
use steerwright_photo::{Colour, Pixels};

/// The pixels around each place of a stretch, a number of four bytes for a few channels: of the upper row, then of the
/// lower. Gathered first, so that the rest is the same for every place and the compiler does several at a time.
struct Around {
    upper: [[u32; STRETCH]; 2],
    lower: [[u32; STRETCH]; 2],
}

/// Fills as much of a view's row as a stretch has places. What is not seen becomes `nothing`.
#[inline(always)]
pub(super) fn sample(picture: &Pixels, spots: &Spots, out: &mut [u8], nothing: u8) {
    match picture.colour {
        Colour::Grey => grey(picture, spots, out, nothing),
        Colour::Rgb => rgb(picture, spots, out, nothing),
    }
}

#[inline(always)]
fn rgb(picture: &Pixels, spots: &Spots, out: &mut [u8], nothing: u8) {
    let below = picture.width as usize * 3;
    let mut around = Around { upper: [[0; STRETCH]; 2], lower: [[0; STRETCH]; 2] };
    let [upper_first, upper_last] = &mut around.upper;
    let [lower_first, lower_last] = &mut around.lower;
    for ((((at, a), b), c), d) in
        spots.at.iter().zip(upper_first).zip(upper_last).zip(lower_first).zip(lower_last)
    {
        let at = *at as usize * 3;
        // The second number begins at the first pixel's last byte.
        [*a, *b] = six(&picture.data, at);
        [*c, *d] = six(&picture.data, at + below);
    }
    let nothing = u32::from_le_bytes([nothing, nothing, nothing, 0]);
    let mut pixels = [0; STRETCH];
    let numbers = around.upper[0].iter().zip(&around.upper[1]).zip(&around.lower[0]).zip(&around.lower[1]);
    let places = spots.right.iter().zip(&spots.below).zip(&spots.seen);
    for ((pixel, (((a, b), c), d)), ((&right, &below), seen)) in pixels.iter_mut().zip(numbers).zip(places) {
        let red = mix([a & 0xff, a >> 24], [c & 0xff, c >> 24], right, below);
        let green =
            mix([(a >> 8) & 0xff, (b >> 16) & 0xff], [(c >> 8) & 0xff, (d >> 16) & 0xff], right, below);
        let blue = mix([b & 0xff, b >> 24], [d & 0xff, d >> 24], right, below);
        let mixed = red | (green << 8) | (blue << 16);
        *pixel = (mixed & seen) | (nothing & !seen);
    }
    for (out, pixel) in out.as_chunks_mut::<3>().0.iter_mut().zip(&pixels) {
        let [red, green, blue, _] = pixel.to_le_bytes();
        *out = [red, green, blue];
    }
}

#[inline(always)]
fn grey(picture: &Pixels, spots: &Spots, out: &mut [u8], nothing: u8) {
    let below = picture.width as usize;
    let (mut upper, mut lower) = ([0; STRETCH], [0; STRETCH]);
    for ((at, upper), lower) in spots.at.iter().zip(&mut upper).zip(&mut lower) {
        let at = *at as usize;
        *upper = two(&picture.data, at);
        *lower = two(&picture.data, at + below);
    }
    let mut pixels = [0; STRETCH];
    let places = spots.right.iter().zip(&spots.below).zip(&spots.seen);
    for ((pixel, (upper, lower)), ((&right, &below), seen)) in
        pixels.iter_mut().zip(upper.iter().zip(&lower)).zip(places)
    {
        let mixed = mix([upper & 0xff, upper >> 8], [lower & 0xff, lower >> 8], right, below);
        *pixel = ((mixed & seen) | (u32::from(nothing) & !seen)) as u8;
    }
    for (out, pixel) in out.iter_mut().zip(&pixels) {
        *out = *pixel;
    }
}

/// Four values by how far a place is right of and below the first, in steps, rounded.
#[inline(always)]
fn mix([a, b]: [u32; 2], [c, d]: [u32; 2], right: u32, below: u32) -> u32 {
    let (left, above) = (STEPS - right, STEPS - below);
    let (upper, lower) = (a * left + b * right, c * left + d * right);
    (upper * above + lower * below + STEPS * STEPS / 2) >> 16
}

/// Two pixels of three bytes: four bytes from a place on, and four from two further. Read as eight at once.
#[inline(always)]
fn six(data: &[u8], from: usize) -> [u32; 2] {
    let rest = data.get(from..).unwrap_or_default();
    let bytes = u64::from_le_bytes(rest.first_chunk().copied().unwrap_or_else(|| last(rest)));
    [bytes as u32, (bytes >> 16) as u32]
}

/// Two pixels of a byte.
#[inline(always)]
fn two(data: &[u8], from: usize) -> u32 {
    let rest = data.get(from..).unwrap_or_default();
    u32::from(u16::from_le_bytes(rest.first_chunk().copied().unwrap_or_else(|| last(rest))))
}

/// Zero beyond the data, where no weight is.
#[cold]
fn last<const BYTES: usize>(rest: &[u8]) -> [u8; BYTES] {
    let mut bytes = [0; BYTES];
    for (byte, value) in bytes.iter_mut().zip(rest) {
        *byte = *value;
    }
    bytes
}
