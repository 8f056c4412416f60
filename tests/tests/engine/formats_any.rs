//! Generated files: arbitrary bytes, damaged valid files, and arbitrary valid bikes and catalogues.

use proptest::prelude::*;
use proptest::sample::{Index, select};
use steerwright_core::bike::{Bike, demo_bikes_json};
use steerwright_core::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_core::input::FileErrors;
use steerwright_core::quantity::Instruments;
use steerwright_tests::any::{bike, catalogue};

/// Reads bytes as every format; the result is a value or reasons, and the reasons can be displayed.
fn read_all(bytes: &[u8]) {
    let shown = |errors: FileErrors| {
        assert!(!errors.errors().is_empty() && errors.errors().len() <= FileErrors::MOST);
        for error in &errors {
            assert!(!error.expected.is_empty(), "{error:?}");
            assert!(!error.to_string().chars().any(char::is_control), "{error:?}");
        }
    };
    match Bike::from_json(bytes, "f") {
        Ok(bike) => assert_eq!(Bike::from_json(bike.to_json().as_bytes(), "f").unwrap(), bike),
        Err(errors) => shown(errors),
    }
    match Catalogue::from_json(bytes, "f") {
        Ok(one) => assert_eq!(Catalogue::from_json(one.to_json().as_bytes(), "f").unwrap(), one),
        Err(errors) => shown(errors),
    }
    if let Err(errors) = Instruments::from_json(bytes, "f") {
        shown(errors);
    }
}

fn valid_texts() -> Vec<&'static str> {
    let mut texts: Vec<&str> = demo_bikes_json().into_iter().map(|(_, text)| text).collect();
    texts.push(demo_catalogue_json());
    texts.push(include_str!("../../../core/metrology/data/instruments.json"));
    texts
}

/// Pieces that turn one kind of JSON value into another.
const PIECES: [&str; 16] = [
    "{", "}", "[", "]", ",", ":", "\"", "null", "true", "-1", "1e308", "1e999", "\\u0000", "\"what\"", "{}",
    "\u{feff}",
];

proptest! {
    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        read_all(&bytes);
    }

    #[test]
    fn any_json_like_text_is_read_or_refused(pieces in prop::collection::vec(select(PIECES.to_vec()), 0..60)) {
        read_all(pieces.concat().as_bytes());
    }

    /// A valid file with some bytes replaced, pieces inserted, and a section removed.
    #[test]
    fn a_damaged_file_is_read_or_refused(
        text in select(valid_texts()),
        bytes in prop::collection::vec((any::<Index>(), any::<u8>()), 0..6),
        pieces in prop::collection::vec((any::<Index>(), select(PIECES.to_vec())), 0..4),
        cut in (any::<Index>(), 0..200usize),
    ) {
        let mut damaged = text.as_bytes().to_vec();
        for (place, byte) in bytes {
            *place.get_mut(&mut damaged) = byte;
        }
        for (place, piece) in pieces {
            let place = place.index(damaged.len());
            damaged.splice(place..place, piece.bytes());
        }
        let start = cut.0.index(damaged.len());
        let end = (start + cut.1).min(damaged.len());
        damaged.drain(start..end);
        read_all(&damaged);
    }

    #[test]
    fn every_valid_bike_survives_writing_and_reading(bike in bike()) {
        let read = Bike::from_json(bike.to_json().as_bytes(), "f");
        prop_assert_eq!(read.as_ref().map_err(ToString::to_string), Ok(&bike));
    }

    #[test]
    fn every_valid_catalogue_survives_writing_and_reading(catalogue in catalogue()) {
        let read = Catalogue::from_json(catalogue.to_json().as_bytes(), "f");
        prop_assert_eq!(read.as_ref().map_err(ToString::to_string), Ok(&catalogue));
    }
}
