//! The measuring guide: complete, in order, and worth reading.

use std::collections::BTreeSet;
use steerwright_core::bike::{Bike, Observable, demo_bikes_json, observing};
use steerwright_core::quantity::{
    Dismantling, ForkPosition, Instrument, Instruments, Quantity, SeatCase, quantity_info,
};

/// One to four sentences of together 30 to `most` characters; each starts with a capital or a figure, and the last ends
/// with a full stop. Nothing but single spaces parts the words.
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

/// A source opens with its flag: V recomputed, F read, M from memory, P common practice.
fn check_source(source: &str, of: &str) {
    let (flag, rest) = source.split_once(": ").unwrap_or_else(|| panic!("{of}: {source}"));
    assert!(["V", "F", "M", "P"].contains(&flag) && rest.len() > 20, "{of}: {source}");
}

#[test]
fn every_quantity_has_a_row_of_its_own() {
    let mut texts = BTreeSet::new();
    let instruments = Instruments::default();
    for (place, what) in Quantity::ALL.iter().copied().enumerate() {
        // The table is looked up by this number.
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

/// What depends on the seat has a text for every case, and the others have none: no reader of the guide has to guess.
#[test]
fn what_depends_on_the_seat_has_every_case() {
    let mut texts = BTreeSet::new();
    let instruments = Instruments::default();
    for what in Quantity::ALL.iter().copied() {
        let row = quantity_info(what);
        let depends = what.name().contains("_bore_")
            || what.name().contains("_cup_")
            || what.name() == "head_tube_wall";
        let cases: Vec<SeatCase> = row.cases.keys().copied().collect();
        assert_eq!(cases, if depends { SeatCase::ALL.to_vec() } else { Vec::new() }, "{what}");
        assert!(texts.insert(row.place.as_str()) && texts.insert(row.trap.as_str()), "{what}");
        for (case, told) in &row.cases {
            let of = format!("{what}, {}", case.name());
            assert_eq!(serde_json::to_value(case).unwrap(), case.name());
            check_prose(&told.place, 260, &of);
            check_prose(&told.trap, 180, &of);
            assert!((1.0..=30.0).contains(&told.minutes), "{of}: {} minutes", told.minutes);
            assert!(instruments.plus_minus(what, told.tool).is_some(), "{of}");
            assert!(texts.insert(told.place.as_str()), "{of}: place used twice");
            assert!(texts.insert(told.trap.as_str()), "{of}: trap used twice");
        }
    }
    for look in [Observable::UpperSeat, Observable::LowerSeat] {
        let (inside, outside) = (observing(look).instruction(true), observing(look).instruction(false));
        assert!(inside.state.includes(Dismantling::ForkOut) && !outside.state.includes(Dismantling::ForkOut));
        for text in [inside.place, inside.trap] {
            check_prose(text, 280, look.name());
            assert!(texts.insert(text), "{look}: used twice");
        }
    }
}

/// Words that take a cup out.
fn takes_a_cup_out(text: &str) -> bool {
    let text = text.to_lowercase();
    let force = [
        "drive",
        "driving",
        "driven",
        "knock",
        "hammer",
        "tap ",
        "press out",
        "press the cup",
        "pressed out",
    ];
    let hands =
        ["pull the cup", "pull the upper cup", "pull the lower cup", "cup out of", "cup out,", "cup out."];
    force.iter().chain(&hands).any(|word| text.contains(word))
}

/// A bonded cup that is driven out takes the head tube with it: where the material is carbon, or the seat or the material
/// is not known, no text asks for it, no state has the cup out, and the frame maker is asked first.
#[test]
fn no_text_takes_a_cup_out_of_carbon_or_the_unknown() {
    for text in
        ["Drive the upper cup out.", "Knock it through.", "With a hammer, gently.", "Get the cup out."]
    {
        assert!(takes_a_cup_out(text), "{text}");
    }
    for what in Quantity::ALL.iter().copied() {
        let row = quantity_info(what);
        for text in [&row.place, &row.trap] {
            assert!(!takes_a_cup_out(text), "{what}: {text}");
        }
        assert!(row.state <= Dismantling::ForkOut, "{what}");
        for (case, told) in &row.cases {
            let of = format!("{what}, {}: {}", case.name(), told.place);
            match case {
                SeatCase::DropIn => assert!(told.state <= Dismantling::ForkOut, "{of}"),
                SeatCase::ThinLipMetal | SeatCase::ExternalCupMetal => {
                    assert!(told.state > Dismantling::ForkOut, "{of}");
                    assert!(told.place.starts_with("Let a trained mechanic"), "{of}");
                }
                SeatCase::CupCarbon | SeatCase::CupUnknownMaterial => {
                    assert!(
                        !takes_a_cup_out(&told.place) && !takes_a_cup_out(&told.trap),
                        "{of} {}",
                        told.trap
                    );
                    assert_eq!(
                        (told.state, told.tool),
                        (Dismantling::Assembled, Instrument::MakerSheet),
                        "{of}"
                    );
                    assert!(told.place.starts_with("Stop: "), "{of}");
                    assert!(told.place.contains("Ask the frame maker first"), "{of}");
                    assert!(told.place.to_lowercase().contains("bonded cups stay"), "{of}");
                }
            }
        }
        // Bores, cups and walls leave a cup where it is while the seat is not known.
        if !row.cases.is_empty() {
            assert!(row.place.contains("leave it there and record the kind of"), "{what}: {}", row.place);
        }
    }
    for look in Observable::ALL {
        for fork_out in [false, true] {
            let told = observing(look).instruction(fork_out);
            assert!(!takes_a_cup_out(told.place) && !takes_a_cup_out(told.trap), "{look}: {}", told.place);
            assert!(told.state <= Dismantling::ForkOut, "{look}");
        }
    }
}

/// The fork is out for what needs it out, and only for that; what needs it in is measured on a whole bike.
#[test]
fn fork_and_state_agree() {
    let told = Quantity::ALL.iter().flat_map(|what| {
        let row = quantity_info(*what);
        let cases = SeatCase::ALL.into_iter().map(Some).chain([None]);
        cases.map(move |case| (what.name(), row.instruction(case)))
    });
    let looks = Observable::ALL
        .into_iter()
        .flat_map(|look| [false, true].map(|fork_out| (look.name(), observing(look).instruction(fork_out))));
    for (name, told) in told.chain(looks) {
        let is_out = told.state.includes(Dismantling::ForkOut);
        assert_eq!(told.fork == ForkPosition::Out, is_out, "{name}");
        assert!(told.fork != ForkPosition::In || told.state == Dismantling::Assembled, "{name}");
    }
}

/// A slip between centimetres and millimetres has to leave the plausible range wherever the quantity is not near
/// zero: the range may not span a factor of ten.
#[test]
fn a_slip_of_ten_is_caught() {
    // These start at or near nothing, so no range can tell 2 from 20.
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

/// The expectations describe the bikes the guide is for: over the demo fleet's readings the mean distance, in
/// standard deviations, stays near what a normal prior gives (root mean square 1; 2 leaves room for the traps the
/// fleet was made to show).
#[test]
fn expectations_fit_the_demo_fleet() {
    let (mut squares, mut n) = (0.0, 0);
    for (file, text) in demo_bikes_json() {
        let bike = Bike::from_json(text.as_bytes(), file).unwrap();
        // The old steel bike is no bike of today.
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
