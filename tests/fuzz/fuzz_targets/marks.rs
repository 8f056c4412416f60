//! Arbitrary bytes as marks on a photo: accepted or refused, and accepted marks give sound numbers or a
//! refusal in words.
#![no_main]

use libfuzzer_sys::fuzz_target;
use steerwright_core::photogrammetry::measure::{Marks, measure};

fuzz_target!(|bytes: &[u8]| {
    let Ok(marks) = Marks::from_json(bytes, "fuzz") else { return };
    let text = marks.to_json();
    assert_eq!(Marks::from_json(text.as_bytes(), "again").expect("our own text"), marks);
    match measure(&marks) {
        Ok(seen) => {
            assert!(seen.values.iter().all(|(_, it)| it.is_sound()));
            assert_eq!(seen.covariance.nrows(), seen.values.len());
            assert!(seen.covariance.iter().all(|it| it.is_finite()));
            assert!(seen.measurements().iter().all(|it| it.check("fuzz").is_ok()));
            let _ = seen.overlay.to_svg(&Default::default());
        }
        Err(refusal) => assert!(!refusal.to_string().is_empty() && !refusal.remedy().is_empty()),
    }
});
