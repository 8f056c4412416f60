//! Files that are not a photo, truncated, damaged, or exceed the limits.

use crate::made::{Exif, Image, Order, ingested};
use proptest::prelude::*;
use std::sync::LazyLock;
use steerwright_core::photo::{BuiltIn, Format, Limits, PhotoError, ingest};

fn picture() -> Image {
    Image::rgb(96, 64, |x, y| [(x * 2) as u8, (y * 3) as u8, ((x * y) % 256) as u8])
}

fn progressive() -> Vec<u8> {
    let image = picture();
    let mut out = Vec::new();
    let mut encoder = jpeg_encoder::Encoder::new(&mut out, 80);
    encoder.set_progressive(true);
    encoder.encode(&image.data, 96, 64, jpeg_encoder::ColorType::Rgb).unwrap();
    out
}

/// Offset of a marker, and of a progressive frame's height and width after it.
fn marker(jpeg: &[u8], marker: u8) -> usize {
    jpeg.windows(2).position(|pair| pair == [0xFF, marker]).unwrap()
}

fn with_size(mut jpeg: Vec<u8>, frame: u8, width: u16, height: u16) -> Vec<u8> {
    let at = marker(&jpeg, frame) + 5;
    jpeg.splice(at..at + 4, [height.to_be_bytes(), width.to_be_bytes()].concat());
    jpeg
}

fn png_header(width: u32, height: u32, interlaced: bool) -> Vec<u8> {
    // Signature; length and name of the header, size, eight bits, colour type 6 (RGBA), methods, checksum (W3C PNG,
    // 11.2.1).
    let mut out = b"\x89PNG\r\n\x1A\n\0\0\0\x0DIHDR".to_vec();
    out.extend([width.to_be_bytes(), height.to_be_bytes()].concat());
    out.extend([8, 6, 0, 0, u8::from(interlaced)]);
    let mut crc = !0u32;
    for byte in &out[12..29] {
        crc ^= u32::from(*byte);
        (0..8).for_each(|_| crc = if crc & 1 == 1 { 0xEDB8_8320 ^ (crc >> 1) } else { crc >> 1 });
    }
    out.extend((!crc).to_be_bytes());
    // Some picture data, so that only the header is a reason for refusal.
    out.extend(b"\0\0\0\x08IDAT\x78\x9C\x03\x00\x00\x00\x00\x01");
    out
}

#[test]
fn what_is_no_photo_is_told_so() {
    for bytes in
        [b"".as_slice(), b"%PDF-1.7", b"GIF89a\x01\0\x01\0", b"\0\0\0\x18ftypisom", b"II*\0\x08\0\0\0"]
    {
        assert_eq!(ingested(bytes), Err(PhotoError::NotAPhoto));
    }
    let refused = ingested(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic").unwrap_err();
    assert_eq!(refused, PhotoError::Heic);
    assert!(refused.to_string().contains("export it as JPEG"), "{refused}");
}

#[test]
fn files_that_end_early_are_cut_short() {
    let image = picture();
    let whole = [
        (Format::Jpeg, image.jpeg(80, &[])),
        (Format::Png, image.png(None)),
        (Format::WebP, image.webp(None)),
    ];
    for (format, bytes) in whole {
        assert!(ingested(&bytes).is_ok(), "{format}");
        let refused = ingested(&bytes[..bytes.len() * 2 / 3]).unwrap_err();
        let said = matches!(&refused, PhotoError::CutShort { format: of } if *of == format);
        assert!(said, "{format}: {refused:?}");
        assert!(refused.to_string().contains("cut short"));
    }
}

#[test]
fn too_many_bytes_or_pixels_are_refused_from_the_header() {
    let jpeg = picture().jpeg(80, &[]);
    let limits = Limits { bytes: jpeg.len() - 1, ..Limits::default() };
    let refused = ingest(&jpeg, &limits, &BuiltIn);
    assert_eq!(refused, Err(PhotoError::TooManyBytes { bytes: jpeg.len(), limit: jpeg.len() - 1 }));

    let exact = Limits { pixels: 96 * 64, ..Limits::default() };
    assert!(ingest(&jpeg, &exact, &BuiltIn).is_ok());
    let less = Limits { pixels: 96 * 64 - 1, ..Limits::default() };
    for file in [jpeg.clone(), picture().png(None), picture().webp(None)] {
        assert_eq!(ingest(&file, &less, &BuiltIn), Err(PhotoError::TooLarge { width: 96, height: 64 }));
    }
    let vast = with_size(jpeg, 0xC0, 65_000, 64_000);
    assert_eq!(ingested(&vast), Err(PhotoError::TooLarge { width: 65_000, height: 64_000 }));
    let vast = png_header(100_000, 100_000, false);
    assert_eq!(ingested(&vast), Err(PhotoError::TooLarge { width: 100_000, height: 100_000 }));
}

#[test]
fn what_must_be_held_whole_is_held_against_the_memory_limit() {
    // 14,000 x 14,000 pixels, one and a half samples each, 16 bits a coefficient: 588 MB.
    let refused = ingested(&with_size(progressive(), 0xC2, 14_000, 14_000)).unwrap_err();
    let PhotoError::TooMuchMemory { needed, .. } = refused else { panic!("{refused:?}") };
    assert!(needed >= 588_000_000, "{needed}");
    // 12,000 x 12,000 pixels of four channels: 576 MB, whether interlaced or not.
    for interlaced in [false, true] {
        let refused = ingested(&png_header(12_000, 12_000, interlaced)).unwrap_err();
        let PhotoError::TooMuchMemory { needed, .. } = refused else { panic!("{refused:?}") };
        assert!(needed >= 576_000_000, "{needed}");
        // A smaller one lacks only its rows.
        let refused = ingested(&png_header(3000, 2000, interlaced));
        assert_eq!(refused, Err(PhotoError::CutShort { format: Format::Png }), "{interlaced}");
    }
    let little = Limits { memory: 96 * 64 * 3, ..Limits::default() };
    let refused = ingest(&picture().webp(None), &little, &BuiltIn);
    assert!(matches!(refused, Err(PhotoError::TooMuchMemory { .. })), "{refused:?}");
}

#[test]
fn thousands_of_passes_are_refused() {
    let jpeg = with_size(progressive(), 0xC2, 5000, 4000);
    // Scans without data, each of which would process all coefficients again: 20 Mpx, 200 times.
    let scan = b"\xFF\xDA\0\x08\x01\x01\0\x01\x3F\0";
    let mut bomb = jpeg[..jpeg.len() - 2].to_vec();
    (0..200).for_each(|_| bomb.extend(scan));
    bomb.extend(b"\xFF\xD9");
    let refused = ingested(&bomb).unwrap_err();
    assert!(matches!(refused, PhotoError::TooMuchWork { scans } if scans >= 200), "{refused:?}");
    // The same number of passes over a small picture is cheap.
    assert!(ingested(&progressive()).is_ok());
}

#[test]
fn kinds_that_cameras_do_not_write_are_named() {
    let image = picture();
    let mut lossless = image.jpeg(80, &[]);
    let at = marker(&lossless, 0xC0) + 1;
    lossless[at] = 0xC3;
    let refused = ingested(&lossless).unwrap_err();
    assert!(matches!(refused, PhotoError::Unsupported { format: Format::Jpeg, .. }), "{refused:?}");

    let mut cmyk = Vec::new();
    let encoder = jpeg_encoder::Encoder::new(&mut cmyk, 80);
    encoder.encode(&[128; 16 * 16 * 4], 16, 16, jpeg_encoder::ColorType::Cmyk).unwrap();
    let refused = ingested(&cmyk).unwrap_err();
    assert!(refused.to_string().contains("for printing"), "{refused}");
}

#[test]
fn of_an_animation_the_first_frame_counts() {
    let chunk = |name: &[u8; 4], body: &[u8]| {
        let mut chunk = [name.as_slice(), &(body.len() as u32).to_le_bytes(), body].concat();
        chunk.resize(chunk.len().next_multiple_of(2), 0);
        chunk
    };
    let frame = |colour: [u8; 3]| {
        let file = Image::rgb(16, 8, |_, _| colour).webp(None);
        // Position 0, 0; size minus one; 100 ms; then the frame's own chunk, which follows the file's header.
        let head = [0, 0, 0, 0, 0, 0, 15, 0, 0, 7, 0, 0, 100, 0, 0, 0];
        chunk(b"ANMF", &[&head, &file[12..]].concat())
    };
    let mut body = b"WEBP".to_vec();
    body.extend(chunk(b"VP8X", &[2, 0, 0, 0, 15, 0, 0, 7, 0, 0]));
    body.extend(chunk(b"ANIM", &[0; 6]));
    body.extend(frame([220, 20, 20]));
    body.extend(frame([20, 20, 220]));
    let intake = ingested(&chunk(b"RIFF", &body)).unwrap();
    let copy = Image::decoded(&intake.working);
    assert_eq!((copy.width, copy.height), (16, 8));
    assert!(copy.at(8, 4) > 200, "red, from the first frame: {}", copy.at(8, 4));
}

/// A file of each kind, with Exif.
static FILES: LazyLock<Vec<Vec<u8>>> = LazyLock::new(|| {
    let exif = Exif::new(Order::Big)
        .short(0x0112, 6)
        .text(0x0110, "Pinhole 3 with a name")
        .text(0x9003, "2026:05:31 17:45:09")
        .rationals(0x920A, &[(543, 100)])
        .build();
    let image = picture();
    vec![image.jpeg_with_exif(80, &exif), progressive(), image.png(Some(&exif)), image.webp(Some(&exif))]
});

proptest! {
    /// For any modification of a file's bytes, the answer is a photo within its limits or a reason.
    #[test]
    fn damage_never_panics(
        file in 0..4_usize,
        changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 0..8),
        cut in proptest::option::of(any::<prop::sample::Index>()),
    ) {
        let mut bytes = FILES[file].clone();
        for (at, value) in changes {
            let at = at.index(bytes.len());
            bytes[at] = value;
        }
        if let Some(cut) = cut {
            bytes.truncate(cut.index(bytes.len()));
        }
        let limits = Limits { pixels: 1_000_000, memory: 16 << 20, work: 50_000_000, ..Limits::default() };
        match ingest(&bytes, &limits, &BuiltIn) {
            Ok(intake) => {
                prop_assert!(u64::from(intake.facts.width) * u64::from(intake.facts.height) <= limits.pixels);
                let copy = Image::decoded(&intake.working);
                prop_assert!(copy.width <= 1600 && copy.height <= 1600);
            }
            Err(reason) => prop_assert!(!reason.to_string().is_empty()),
        }
    }
}
