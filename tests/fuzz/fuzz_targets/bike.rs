//! Arbitrary bytes as a bike file: accepted or refused, never a panic; an accepted file survives a round
//! trip, and its findings are sound.
#![no_main]

use libfuzzer_sys::fuzz_target;
use steerwright_core::bike::Bike;

fuzz_target!(|bytes: &[u8]| {
    match Bike::from_json(bytes, "f") {
        Ok(bike) => {
            assert_eq!(Bike::from_json(bike.to_json().as_bytes(), "f").as_ref(), Ok(&bike));
            let findings = bike.findings();
            assert!(findings.unusable().is_empty());
            assert!(findings.iter().all(|(_, estimate)| estimate.is_sound()));
        }
        Err(errors) => {
            assert!(!errors.errors().is_empty());
            assert!(!errors.to_string().contains('\u{1b}'));
        }
    }
});
