//! Arbitrary bytes as a photo: ingested within its limits or refused, never a panic; its copies can be ingested again.
#![no_main]

use libfuzzer_sys::fuzz_target;
use steerwright_core::photo::{BuiltIn, Keep, Limits, for_sending, ingest};

const LIMITS: Limits = Limits { bytes: 1 << 20, pixels: 1_000_000, memory: 32 << 20, work: 30_000_000 };

fuzz_target!(|bytes: &[u8]| {
    match ingest(bytes, &LIMITS, &BuiltIn) {
        Ok(intake) => {
            let facts = intake.facts;
            assert!(u64::from(facts.width) * u64::from(facts.height) <= LIMITS.pixels);
            let again = ingest(&intake.working, &Limits::default(), &BuiltIn).expect("our own copy");
            assert!(again.facts.width.max(again.facts.height) <= 1600);
            assert!((again.facts.width >= again.facts.height) || (facts.width <= facts.height));
            let small = ingest(&intake.thumbnail, &Limits::default(), &BuiltIn).expect("our own copy");
            assert!(small.facts.width.max(small.facts.height) <= 320);
            assert_eq!((small.facts.taken_at, small.facts.camera), (None, None));
        }
        Err(reason) => {
            assert!(!reason.to_string().is_empty());
            assert!(for_sending(bytes, &LIMITS, &BuiltIn, Keep::FocalLength).is_err());
        }
    }
});
