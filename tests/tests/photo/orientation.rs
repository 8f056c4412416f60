//! All eight orientations, both byte orders, three containers, compared with arrays made by NumPy.

use crate::made::{Exif, Image, Order, ingested};
use serde::Deserialize;
use std::collections::BTreeMap;

#[derive(Deserialize)]
struct Oracle {
    upright: Vec<Vec<u8>>,
    stored: BTreeMap<u16, Vec<Vec<u8>>>,
    png: String,
    sha256: String,
}

fn oracle() -> Oracle {
    serde_json::from_str(include_str!("../../data/oracle/photo.json")).unwrap()
}

#[test]
fn all_eight_in_both_byte_orders_come_upright() {
    let oracle = oracle();
    assert_eq!(oracle.stored.len(), 8);
    // Squares that are whole blocks after every rotation, so that JPEG keeps their centres to a grey value or
    // two.
    const SIDE: usize = 32;
    for (tag, stored) in &oracle.stored {
        let image = Image::squares(stored, SIDE);
        for order in [Order::Big, Order::Little] {
            let exif = Exif::new(order).short(0x0112, *tag).build();
            let files = [
                ("JPEG", image.jpeg_with_exif(95, &exif)),
                ("PNG", image.png(Some(&exif))),
                ("WebP", image.webp(Some(&exif))),
            ];
            for (format, file) in files {
                let intake = ingested(&file).unwrap();
                assert_eq!((intake.facts.width, intake.facts.height), (128, 96), "{format} {tag} {order:?}");
                for copy in [&intake.working, &intake.thumbnail] {
                    let copy = Image::decoded(copy);
                    assert_eq!((copy.width, copy.height), (128, 96), "{format} {tag} {order:?}");
                    for (y, row) in oracle.upright.iter().enumerate() {
                        for (x, expected) in row.iter().enumerate() {
                            let seen = copy.at(x * SIDE + SIDE / 2, y * SIDE + SIDE / 2);
                            assert!(
                                seen.abs_diff(*expected) <= 3,
                                "{format} {tag} {order:?}: {seen}, not {expected}"
                            );
                        }
                    }
                }
            }
        }
    }
}

#[test]
fn a_large_picture_is_turned_after_it_was_shrunk() {
    let oracle = oracle();
    for (tag, stored) in &oracle.stored {
        let image = Image::squares(stored, 1024);
        let exif = Exif::new(Order::Little).short(0x0112, *tag).build();
        let intake = ingested(&image.jpeg_with_exif(90, &exif)).unwrap();
        assert_eq!((intake.facts.width, intake.facts.height), (4096, 3072), "{tag}");
        for (copy, side) in [(&intake.working, 400), (&intake.thumbnail, 80)] {
            let copy = Image::decoded(copy);
            assert_eq!((copy.width, copy.height), (4 * side, 3 * side), "{tag}");
            for (y, row) in oracle.upright.iter().enumerate() {
                for (x, expected) in row.iter().enumerate() {
                    let seen = copy.at(x * side + side / 2, y * side + side / 2);
                    assert!(seen.abs_diff(*expected) <= 3, "{tag}: {seen}, not {expected}");
                }
            }
        }
    }
}

#[test]
fn the_original_is_known_by_its_digest() {
    let oracle = oracle();
    let file: Vec<u8> = (0..oracle.png.len())
        .step_by(2)
        .map(|i| u8::from_str_radix(&oracle.png[i..i + 2], 16).unwrap())
        .collect();
    let intake = ingested(&file).unwrap();
    let digest: String = intake.sha256.iter().map(|byte| format!("{byte:02x}")).collect();
    assert_eq!(digest, oracle.sha256);
    let copy = Image::decoded(&intake.working);
    assert_eq!(
        (copy.width, copy.height, copy.channels),
        (4, 3, 1),
        "a grey picture stays grey, and its size"
    );
}
