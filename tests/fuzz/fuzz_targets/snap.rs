//! Arbitrary bytes as a small picture with taps on it: an ellipse and a tube with sound numbers, or a refusal in words.
#![no_main]

use libfuzzer_sys::fuzz_target;
use steerwright_core::photogrammetry::edges::{Grey, Tube, snap_line, snap_tyre};

/// A number from four bytes: any position, mostly in the picture.
fn number(bytes: &[u8; 4]) -> f64 {
    let [a, b, c, kind] = *bytes;
    match kind {
        255 => f64::NAN,
        254 => f64::INFINITY,
        253 => -1e300,
        _ => f64::from(u32::from_le_bytes([a, b, c, 0])) / 65_536.0,
    }
}

fuzz_target!(|bytes: &[u8]| {
    let Some(([width, taps], rest)) = bytes.split_first_chunk::<2>() else { return };
    let (places, rest) = rest.split_at((usize::from(taps % 16) * 8).min(rest.len()));
    let numbers: Vec<f64> = places.as_chunks::<4>().0.iter().map(number).collect();
    let taps: Vec<[f64; 2]> = numbers.as_chunks::<2>().0.to_vec();
    let width = u32::from(*width);
    let Some(height) = (rest.len() as u32).checked_div(width) else { return };
    let Some(pixels) = rest.get(..(width * height) as usize) else { return };
    let Some(grey) = Grey::new(width, height, pixels.to_vec()) else { return };
    match snap_tyre(&grey, &taps) {
        Ok(it) => {
            assert!((12..=48).contains(&it.marks.len()), "{}", it.marks.len());
            assert!(it.marks.iter().flatten().all(|value| value.is_finite()));
            assert!(it.covariance.iter().all(|value| value.is_finite()));
            assert!(it.noise_px > 0.0 && it.noise_px.is_finite() && (0.0..=1.0).contains(&it.sure));
        }
        Err(why) => assert!(!why.to_string().is_empty() && !why.remedy().is_empty()),
    }
    if let [from, to, wide, ..] = *taps.as_slice() {
        match snap_line(&grey, &Tube { from, to, wide, off: 2.0 }) {
            Ok(it) => {
                assert!(it.ends.iter().flatten().all(|value| value.is_finite()));
                assert!(it.covariance.iter().all(|value| value.is_finite()));
                assert!(it.noise_px > 0.0 && (0.0..=1.0).contains(&it.sure));
            }
            Err(why) => assert!(!why.to_string().is_empty() && !why.remedy().is_empty()),
        }
    }
});
