//! Values between four pixels' middles, in whole numbers.

use super::rows::{STEPS, Spot};
use crate::photo::{Colour, Pixels};

/// Half of the product of two weights that add up to one, for rounding.
const HALF: u32 = STEPS * STEPS / 2;

/// Fills a row of a view; what is not seen is left alone.
#[inline(always)]
pub(super) fn sample(picture: &Pixels, spots: &[Spot], out: &mut [u8]) {
    let (data, width) = (picture.data.as_slice(), picture.width as usize);
    match picture.colour {
        Colour::Grey => {
            for (spot, out) in spots.iter().zip(out).filter(|(spot, _)| spot.is_seen()) {
                let at = spot.at as usize;
                *out = grey(pair(data, at), pair(data, at + width), spot);
            }
        }
        Colour::Rgb => {
            for (spot, out) in spots.iter().zip(out.as_chunks_mut::<3>().0).filter(|(spot, _)| spot.is_seen())
            {
                let at = spot.at as usize;
                *out = rgb(eight(data, at * 3), eight(data, (at + width) * 3), spot);
            }
        }
    }
}

#[inline(always)]
fn grey([a, b]: [u8; 2], [c, d]: [u8; 2], spot: &Spot) -> u8 {
    let [a, b, c, d] = [a, b, c, d].map(u32::from);
    let (right, below) = (u32::from(spot.right), u32::from(spot.below));
    let (upper, lower) = (a * (STEPS - right) + b * right, c * (STEPS - right) + d * right);
    ((upper * (STEPS - below) + lower * below + HALF) >> 16) as u8
}

/// Two pixels of each row. Every second byte has 16 bits of a number of 64, which its value times a weight fills, so
/// that the rows are mixed four bytes at a time.
#[inline(always)]
fn rgb(upper: u64, lower: u64, spot: &Spot) -> [u8; 3] {
    const EVEN: u64 = 0x00ff_00ff_00ff_00ff;
    let below = u64::from(spot.below);
    let above = u64::from(STEPS) - below;
    let even = (upper & EVEN) * above + (lower & EVEN) * below;
    let odd = ((upper >> 8) & EVEN) * above + ((lower >> 8) & EVEN) * below;
    let part = |of: u64, place: u32| (of >> (16 * place)) as u32 & 0xffff;
    let right = u32::from(spot.right);
    let mix = |first: u32, second: u32| ((first * (STEPS - right) + second * right + HALF) >> 16) as u8;
    [mix(part(even, 0), part(odd, 1)), mix(part(odd, 0), part(even, 2)), mix(part(even, 1), part(odd, 2))]
}

/// Eight bytes from a place on, the first the lowest; zero beyond the data, where no weight is.
#[inline(always)]
fn eight(data: &[u8], from: usize) -> u64 {
    let rest = data.get(from..).unwrap_or_default();
    rest.first_chunk::<8>().map_or_else(|| last(rest), |bytes| u64::from_le_bytes(*bytes))
}

#[cold]
fn last(rest: &[u8]) -> u64 {
    rest.iter().rev().fold(0, |all, byte| (all << 8) | u64::from(*byte))
}

#[inline(always)]
fn pair(data: &[u8], from: usize) -> [u8; 2] {
    let rest = data.get(from..).unwrap_or_default();
    rest.first_chunk::<2>().copied().unwrap_or_else(|| [rest.first().copied().unwrap_or(0), 0])
}
