//! The facts from Exif fields, and those that remain when some fields are broken.

use crate::made::{Exif, Image, Order, ingested};
use steerwright_core::photo::{Format, PhotoFacts};
use time::UtcOffset;

fn picture() -> Image {
    Image::rgb(64, 48, |x, y| [x as u8, y as u8, 90])
}

fn facts(exif: &[u8]) -> PhotoFacts {
    ingested(&picture().jpeg_with_exif(80, exif)).unwrap().facts
}

#[test]
fn time_lens_and_camera_are_read() {
    for order in [Order::Big, Order::Little] {
        let exif = Exif::new(order)
            .text(0x010F, "Tarn & Tiller")
            .text(0x0110, "Pinhole 3  ")
            .short(0x0112, 6)
            .text(0x0132, "2026:06:01 08:00:00")
            .text(0x9003, "2026:05:31 17:45:09")
            .text(0x9011, "+02:00")
            .rationals(0x920A, &[(543, 100)])
            .short(0xA405, 26)
            .build();
        let facts = facts(&exif);
        assert_eq!(facts.format, Format::Jpeg);
        assert_eq!((facts.width, facts.height), (48, 64));
        let taken = facts.taken_at.unwrap();
        assert_eq!(taken.local.to_string(), "2026-05-31 17:45:09.0", "when taken, not when changed");
        assert_eq!(taken.offset, Some(UtcOffset::from_hms(2, 0, 0).unwrap()));
        assert_eq!(facts.focal_length_mm, Some(5.43));
        assert_eq!(facts.focal_length_35mm, Some(26.0));
        assert_eq!(facts.camera.as_deref(), Some("Tarn & Tiller Pinhole 3"));
    }
}

#[test]
fn a_file_without_exif_has_a_size_and_no_more() {
    let facts = ingested(&picture().jpeg(80, &[])).unwrap().facts;
    let PhotoFacts { width, height, taken_at, focal_length_mm, focal_length_35mm, camera, .. } = facts;
    assert_eq!((width, height), (64, 48));
    assert_eq!((taken_at, focal_length_mm, focal_length_35mm, camera), (None, None, None, None));
}

#[test]
fn sizes_come_from_the_picture_not_from_tags() {
    let exif = Exif::new(Order::Big)
        .long(0x0100, 4000)
        .long(0x0101, 3000)
        .long(0xA002, 4000)
        .long(0xA003, 3000)
        .build();
    let facts = facts(&exif);
    assert_eq!((facts.width, facts.height), (64, 48));
}

#[test]
fn fields_that_make_no_sense_are_absent() {
    let exif = Exif::new(Order::Little)
        .short(0x0112, 9)
        .text(0x9003, "0000:00:00 00:00:00")
        .rationals(0x920A, &[(26, 0)])
        .short(0xA405, 0)
        .text(0x0110, " \n ")
        .build();
    let facts = facts(&exif);
    assert_eq!((facts.width, facts.height), (64, 48));
    assert_eq!((facts.taken_at, facts.focal_length_mm, facts.focal_length_35mm), (None, None, None));
    assert_eq!(facts.camera, None);
}

#[test]
fn broken_fields_do_not_take_the_others_with_them() {
    for order in [Order::Big, Order::Little] {
        // A maker before the orientation, and a maker's note before the focal length, that point beyond the block.
        let exif = Exif::new(order)
            .broken(0x010F)
            .short(0x0112, 8)
            .broken(0x9000)
            .rationals(0x920A, &[(4, 1)])
            .build();
        let facts = facts(&exif);
        assert_eq!((facts.width, facts.height), (48, 64), "{order:?}: orientation was kept");
        assert_eq!(facts.focal_length_mm, Some(4.0), "{order:?}");
        assert_eq!(facts.camera, None, "{order:?}");
    }
}

#[test]
fn fields_in_the_wrong_directory_are_read() {
    let exif = Exif::new(Order::Little).misplaced_short(0xA405, 69).rationals(0x920A, &[(142, 10)]).build();
    let facts = facts(&exif);
    assert_eq!((facts.focal_length_35mm, facts.focal_length_mm), (Some(69.0), Some(14.2)));
}

#[test]
fn a_block_that_is_cut_keeps_what_came_before() {
    let exif = Exif::new(Order::Little).short(0x0112, 6).text(0x0132, "2026:05:31 17:45:09").build();
    assert!(facts(&exif).taken_at.is_some());
    // Header 8, count 2, two entries of 12: the cut goes through the second.
    let facts = facts(&exif[..8 + 2 + 12 + 5]);
    assert_eq!((facts.width, facts.height), (48, 64));
    assert_eq!(facts.taken_at, None);
    let nothing = self::facts(b"II");
    assert_eq!((nothing.width, nothing.height), (64, 48));
}

#[test]
fn the_maker_is_named_once_and_names_have_an_end() {
    let named = |make: &str, model: &str| {
        facts(&Exif::new(Order::Big).text(0x010F, make).text(0x0110, model).build()).camera.unwrap()
    };
    assert_eq!(named("TILLER", "Tiller Pinhole"), "Tiller Pinhole");
    assert_eq!(named("Tiller\r\nWorks", "3"), "Tiller Works 3");
    assert_eq!(named("Tiller", &"x".repeat(300)).chars().count(), 80);
}
