//! Copies contain only pixels: no location, serial numbers, notes, comments, profiles or trailing data.

use crate::made::{Exif, Image, Order, ingested, segments};
use image::codecs::webp::WebPEncoder;
use image::{ExtendedColorType, ImageEncoder};
use steerwright_core::photo::{BuiltIn, Keep, Limits, for_sending};

/// 47 degrees 38 minutes 41.27 seconds, as three fractions.
const LATITUDE: [(u32, u32); 3] = [(47, 1), (38, 1), (412_700, 10_000)];
const LONGITUDE: [(u32, u32); 3] = [(9, 1), (10, 1), (295_113, 10_000)];
const SECRETS: [&str; 9] = [
    "SERIAL-4711-0815",
    "LENS-SERIAL-99",
    "NOTE-OF-THE-MAKER",
    "OWNER-OF-THE-CAMERA",
    "COMMENT-OF-SOMEONE",
    "XMP-PLACE-47.6448",
    "PROFILE-OF-A-SCREEN",
    "AFTER-THE-END",
    "DESCRIPTION-OF-HOME",
];

fn exif(order: Order) -> Vec<u8> {
    Exif::new(order)
        .text(0x010E, SECRETS[8])
        .text(0x010F, "Tarn & Tiller")
        .short(0x0112, 6)
        .text(0x013B, SECRETS[3])
        .text(0x9003, "2026:05:31 17:45:09")
        .rationals(0x920A, &[(543, 100)])
        .short(0xA405, 26)
        .undefined(0x927C, SECRETS[2].as_bytes())
        .text(0xA431, SECRETS[0])
        .text(0xA435, SECRETS[1])
        .text(1, "N")
        .rationals(2, &LATITUDE)
        .text(3, "E")
        .rationals(4, &LONGITUDE)
        .build()
}

fn picture() -> Image {
    // Detailed enough that coded data is long, and without values that could contain a secret's bytes by chance.
    Image::rgb(320, 240, |x, y| [(x * 7 % 251) as u8, (y * 5 % 241) as u8, ((x ^ y) % 256) as u8])
}

fn jpeg(order: Order) -> Vec<u8> {
    let exif = [b"Exif\0\0".as_slice(), &exif(order)].concat();
    let xmp = [b"http://ns.adobe.com/xap/1.0/\0".as_slice(), SECRETS[5].as_bytes()].concat();
    let profile = [b"ICC_PROFILE\0\x01\x01".as_slice(), SECRETS[6].as_bytes()].concat();
    let mut file = picture().jpeg(90, &[(1, &exif), (1, &xmp), (2, &profile), (13, SECRETS[4].as_bytes())]);
    let comment = [b"\xFF\xFE\0\x14".as_slice(), SECRETS[4].as_bytes()].concat();
    file.splice(2..2, comment);
    file.extend(SECRETS[7].as_bytes());
    file
}

fn png() -> Vec<u8> {
    let mut file = picture().png(Some(&exif(Order::Big)));
    // A text chunk after the header; its checksum is not verified, as the chunk is not needed.
    let mut text = (SECRETS[5].len() as u32 + 8).to_be_bytes().to_vec();
    text.extend(b"tEXtComment\0");
    text.extend(SECRETS[5].as_bytes());
    text.extend([0; 4]);
    file.splice(33..33, text);
    file.extend(SECRETS[7].as_bytes());
    file
}

fn webp() -> Vec<u8> {
    let image = picture();
    let mut out = Vec::new();
    let mut encoder = WebPEncoder::new_lossless(&mut out);
    encoder.set_exif_metadata(exif(Order::Little)).unwrap();
    encoder.set_icc_profile(SECRETS[6].into()).unwrap();
    encoder.encode(&image.data, 320, 240, ExtendedColorType::Rgb8).unwrap();
    // The encoder writes no XMP: a chunk of it is appended, and its flag (RFC 9649, 2.7.1) and the file's length set.
    out.extend(b"XMP ");
    out.extend((SECRETS[5].len() as u32).to_le_bytes());
    out.extend(SECRETS[5].as_bytes());
    out.resize(out.len().next_multiple_of(2), 0);
    out[20] |= 0b100;
    let length = out.len() as u32 - 8;
    out[4..8].copy_from_slice(&length.to_le_bytes());
    out
}

fn holds(haystack: &[u8], needle: &[u8]) -> bool {
    haystack.windows(needle.len()).any(|window| window == needle)
}

/// The stored bytes of a location, in either byte order: each coordinate, and its seconds separately.
fn place_bytes() -> Vec<Vec<u8>> {
    let bytes = |fractions: &[(u32, u32)], order: fn(u32) -> [u8; 4]| -> Vec<u8> {
        fractions.iter().flat_map(|part| [order(part.0), order(part.1)].concat()).collect()
    };
    [LATITUDE, LONGITUDE]
        .iter()
        .flat_map(|place| [&place[..], &place[2..]])
        .flat_map(|part| [bytes(part, u32::to_be_bytes), bytes(part, u32::to_le_bytes)])
        .collect()
}

#[test]
fn no_copy_holds_anything_but_pixels() {
    let originals =
        [("big", jpeg(Order::Big)), ("little", jpeg(Order::Little)), ("png", png()), ("webp", webp())];
    for (name, original) in originals {
        assert!(
            place_bytes().iter().any(|place| holds(&original, place)),
            "{name}: the original holds the place"
        );
        assert!(holds(&original, SECRETS[0].as_bytes()), "{name}: and the serial number");
        let intake = ingested(&original).unwrap();
        let sent = |keep| for_sending(&original, &Limits::default(), &BuiltIn, keep).unwrap();
        let copies = [intake.working, intake.thumbnail, sent(Keep::Nothing), sent(Keep::FocalLength)];
        for (index, copy) in copies.iter().enumerate() {
            for secret in SECRETS {
                assert!(!holds(copy, secret.as_bytes()), "{name} copy {index}: {secret}");
            }
            for place in place_bytes() {
                assert!(!holds(copy, &place), "{name} copy {index}: {place:?}");
            }
            for text in ["Tarn", "2026:", "Tiller"] {
                assert!(!holds(copy, text.as_bytes()), "{name} copy {index}: {text}");
            }
            // JFIF, Exif, tables, frame, tables, scan: no comment, no other application segment.
            for (marker, body) in segments(copy) {
                match marker {
                    0xE0 => assert!(body.starts_with(b"JFIF\0"), "{name} copy {index}"),
                    0xE1 => assert_eq!(fields(body), expected(index == 3), "{name} copy {index}"),
                    0xDB | 0xC0 | 0xC4 | 0xDA => {}
                    _ => panic!("{name} copy {index}: segment {marker:02X}"),
                }
            }
        }
    }
}

fn fields(segment: &[u8]) -> Vec<String> {
    let block = segment.strip_prefix(b"Exif\0\0").unwrap().to_vec();
    let exif = exif::Reader::new().read_raw(block).unwrap();
    exif.fields().map(|field| format!("{} {}", field.tag, field.display_value())).collect()
}

fn expected(focal_length: bool) -> Vec<&'static str> {
    let mut expected = vec!["Orientation row 0 at top and column 0 at left"];
    if focal_length {
        expected.extend(["ExifVersion 2.32", "FocalLength 5.43", "FocalLengthIn35mmFilm 26"]);
    }
    expected
}

#[test]
fn a_copy_taken_in_again_says_the_same_and_stays_clean() {
    let sent = for_sending(&jpeg(Order::Little), &Limits::default(), &BuiltIn, Keep::FocalLength).unwrap();
    let again = ingested(&sent).unwrap();
    assert_eq!((again.facts.width, again.facts.height), (240, 320), "upright already, not turned twice");
    assert_eq!(again.facts.focal_length_mm, Some(5.43));
    assert_eq!(again.facts.focal_length_35mm, Some(26.0));
    assert_eq!((again.facts.taken_at, again.facts.camera), (None, None));
}
