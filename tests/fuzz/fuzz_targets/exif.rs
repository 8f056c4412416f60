//! Arbitrary bytes as the Exif block of a valid JPEG: the photo is ingested, the facts are plausible, and a copy
//! contains no more metadata than allowed.
#![no_main]

use libfuzzer_sys::fuzz_target;
use steerwright_core::photo::{BuiltIn, Keep, Limits, for_sending, ingest};

const PHOTO: &[u8] = include_bytes!("../../data/photo/baseline-420.jpg");

fuzz_target!(|block: &[u8]| {
    let block = &block[..block.len().min(65_000)];
    let mut file = PHOTO[..2].to_vec();
    file.extend([0xFF, 0xE1]);
    file.extend((block.len() as u16 + 8).to_be_bytes());
    file.extend(b"Exif\0\0");
    file.extend(block);
    file.extend(&PHOTO[2..]);
    let facts = ingest(&file, &Limits::default(), &BuiltIn).expect("the pixels are sound").facts;
    assert!(matches!((facts.width, facts.height), (48, 36) | (36, 48)));
    assert!(
        [facts.focal_length_mm, facts.focal_length_35mm].iter().flatten().all(|&f| f > 0.0 && f <= 10_000.0)
    );
    if let Some(camera) = &facts.camera {
        assert!(!camera.is_empty() && camera.chars().count() <= 80 && !camera.contains(char::is_control));
    }
    let sent =
        for_sending(&file, &Limits::default(), &BuiltIn, Keep::FocalLength).expect("the pixels are sound");
    let again = ingest(&sent, &Limits::default(), &BuiltIn).expect("our own copy").facts;
    assert_eq!((again.width, again.height), (facts.width, facts.height));
    assert_eq!(again.focal_length_35mm, facts.focal_length_35mm);
    let rounding = 0.0005 + 1e-9;
    let (asked, kept) = (facts.focal_length_mm.unwrap_or(0.0), again.focal_length_mm.unwrap_or(0.0));
    assert!((asked - kept).abs() <= rounding, "{asked} {kept}");
    assert_eq!((again.taken_at, again.camera), (None, None));
});
