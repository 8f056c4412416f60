//! The measuring guide: complete, ordered and readable.

use std::collections::BTreeSet;
use steerwright_core::bike::{Bike, Observable, demo_bikes_json, observing};
use steerwright_core::quantity::{Instruments, Quantity, quantity_info};

/// One to four sentences of together 30 to `most` characters; each starts with a capital or a digit, and the last ends
/// with a full stop. Words are separated by single spaces.
fn check_prose(text: &str, most: usize, of: &str) {
    let characters = text.chars().count();
    assert!((30..=most).contains(&characters), "{of}: {characters} characters: {text}");
    assert!(text.ends_with('.'), "{of}: {text}");
    let sentences: Vec<&str> = text.split(". ").flat_map(|part| part.split("? ")).collect();
    assert!(sentences.len() <= 4, "{of}: {} sentences: {text}", sentences.len());
    for sentence in sentences {
        assert!(sentence.starts_with(|c: char| c.is_uppercase() || c.is_ascii_digit()), "{of}: {sentence}");
    }
    assert!(
        text.split(' ').all(|word| !word.is_empty() && !word.contains(char::is_whitespace)),
        "{of}: {text}"
    );
    assert!(!text.chars().any(char::is_control), "{of}: {text}");
}

#[test]
fn prose_that_is_none_is_found() {
    let sound = "Measure along the tube, 12 mm off. Twice is better.";
    check_prose(sound, 60, "sound");
    for wrong in [
        "Too short.",
        "This goes on for longer than the sixty characters it is given here.",
        "it begins with a small letter, which is no sentence.",
        "The second has no capital either. so it is found.",
        "Nothing ends this one, however long it may be",
        "Two spaces  between words are one too many.",
        "A line\nbreak is not for a table of texts.",
        "One here. Two here. Three here. Four here. Five here.",
    ] {
        assert!(std::panic::catch_unwind(|| check_prose(wrong, 60, "wrong")).is_err(), "{wrong}");
    }
}

/// A source begins with its flag: V recomputed, F read, M from memory, P common practice.
fn check_source(source: &str, of: &str) {
    let (flag, rest) = source.split_once(": ").unwrap_or_else(|| panic!("{of}: {source}"));
    assert!(["V", "F", "M", "P"].contains(&flag) && rest.len() > 20, "{of}: {source}");
}

#[test]
fn every_quantity_has_a_row_of_its_own() {
    let mut texts = BTreeSet::new();
    let instruments = Instruments::default();
    for (place, what) in Quantity::ALL.iter().copied().enumerate() {
        // The table is indexed by this number.
        assert_eq!(what as usize, place);
        assert_eq!(Quantity::from_name(what.name()), Some(what));
        let row = quantity_info(what);
        let [low, high] = row.plausible;
        assert!(low.is_finite() && high.is_finite() && low < high, "{what}");
        if let Some([mean, sd]) = row.expected {
            assert!(low < mean && mean < high, "{what}: expected {mean} outside {low} to {high}");
            assert!(0.0 < sd && sd < (high - low) / 2.0, "{what}: sd {sd}");
        }
        assert!((1.0..=30.0).contains(&row.minutes), "{what}: {} minutes", row.minutes);
        assert!(instruments.plus_minus(what, row.tool).is_some(), "{what}: {} cannot measure it", row.tool);
        assert!(row.label.chars().all(|c| c.is_lowercase() || " '-".contains(c)), "{what}: {}", row.label);
        check_prose(&row.place, 260, what.name());
        check_prose(&row.trap, 180, what.name());
        check_source(&row.source, what.name());
        assert!(texts.insert(row.label.as_str()), "{what}: label used twice");
        assert!(texts.insert(row.place.as_str()), "{what}: place used twice");
        assert!(texts.insert(row.trap.as_str()), "{what}: trap used twice");
    }
}

#[test]
fn everything_to_look_at_has_a_row_of_its_own() {
    let mut texts = BTreeSet::new();
    for (place, what) in Observable::ALL.into_iter().enumerate() {
        assert_eq!(what as usize, place);
        assert_eq!(serde_json::to_value(what).unwrap(), what.name());
        let row = observing(what);
        assert!(0.0 < row.prior && row.prior < 1.0, "{what}: prior {}", row.prior);
        assert!((1.0..=30.0).contains(&row.minutes), "{what}: {} minutes", row.minutes);
        assert!(!row.unfavourable.is_empty(), "{what}");
        check_prose(&row.place, 280, what.name());
        check_prose(&row.trap, 180, what.name());
        check_source(&row.source, what.name());
        assert!(texts.insert(row.label.as_str()), "{what}: label used twice");
        assert!(texts.insert(row.place.as_str()), "{what}: place used twice");
        assert!(texts.insert(row.trap.as_str()), "{what}: trap used twice");
    }
}

/// A mistake between centimetres and millimetres has to leave the plausible range wherever the quantity is not near
/// zero: the range may not span a factor of ten.
#[test]
fn a_slip_of_ten_is_caught() {
    // These start at or near zero, so no range can distinguish 2 from 20.
    let near_zero = [
        Quantity::UpperThroatDepth,
        Quantity::LowerThroatDepth,
        Quantity::UpperBoreDepth,
        Quantity::LowerBoreDepth,
        Quantity::UpperBearingRecess,
        Quantity::UpperStack,
        Quantity::LowerStack,
        Quantity::SpacersBelow,
        Quantity::SpacersAbove,
        Quantity::CapGap,
        Quantity::SteererTaperStart,
        Quantity::SteererTaperEnd,
        Quantity::BottomBracketDrop,
        Quantity::ForkOffset,
        Quantity::ForkTravel,
        Quantity::ForkSag,
        Quantity::RearSag,
        Quantity::TyreToDownTube,
        Quantity::HeadTubeWall,
    ];
    for what in Quantity::ALL.iter().filter(|what| !near_zero.contains(what)) {
        let [low, high] = quantity_info(*what).plausible;
        assert!(high < 10.0 * low, "{what}: {low} to {high}");
    }
}

/// The expectations describe the bikes for which the guide is made: over the demo fleet's readings the mean distance,
/// in standard deviations, is near that of a normal prior (root mean square 1; 2 allows for the deliberate traps of the
/// fleet).
#[test]
fn expectations_fit_the_demo_fleet() {
    let (mut squares, mut n) = (0.0, 0);
    for (file, text) in demo_bikes_json() {
        let bike = Bike::from_json(text.as_bytes(), file).unwrap();
        // The old steel bike is not a modern bike.
        if file == "hire-bike-08.json" {
            continue;
        }
        for (what, estimate) in bike.findings().iter() {
            if let Some([mean, sd]) = quantity_info(what).expected {
                squares += ((estimate.value - mean) / sd).powi(2);
                n += 1;
            }
        }
    }
    let rms = (squares / f64::from(n)).sqrt();
    assert!(n > 200 && rms < 2.0, "root mean square distance {rms} over {n} readings");
}
