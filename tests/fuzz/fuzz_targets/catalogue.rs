//! Arbitrary bytes as a catalogue file: accepted or refused, never a panic; an accepted file survives a round
//! trip.
#![no_main]

use libfuzzer_sys::fuzz_target;
use steerwright_core::catalogue::Catalogue;

fuzz_target!(|bytes: &[u8]| {
    match Catalogue::from_json(bytes, "f") {
        Ok(catalogue) => {
            let again = Catalogue::from_json(catalogue.to_json().as_bytes(), "f");
            assert_eq!(again.as_ref(), Ok(&catalogue));
        }
        Err(errors) => {
            assert!(!errors.errors().is_empty());
            assert!(!errors.to_string().contains('\u{1b}'));
        }
    }
});
