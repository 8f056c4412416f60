//! Seat codes and the table of sizes compared with published figures.
#![expect(clippy::unwrap_used, reason = "a helper of tests may panic like a test")]

use proptest::prelude::*;
use steerwright_core::headset::{
    End, Flag, FrameSeat, FullCode, HalfCode, SeatCode, Style, Tenths, bearing_size, bearing_sizes,
    fork_sizes, frame_seat, same_frame_seat, size, sizes,
};

fn code(text: &str) -> SeatCode {
    text.parse().unwrap()
}

#[track_caller]
fn close(actual: f64, expected: f64, tolerance: f64) {
    assert!((actual - expected).abs() <= tolerance, "{actual} is not {expected} within {tolerance}");
}

// Codes.

/// Full codes as the system prints them (F): `EC34/28.6 | EC34/30`, `ZS44/28.6 | ZS56/40`, `H16` for the stack.
#[test]
fn codes_of_the_system_print_as_they_are_read() {
    for text in
        ["EC34/28.6 | EC34/30", "ZS44/28.6 | ZS56/40", "IS42/28.6 | IS52/40", "EC34/28.6/H16 | EC34/30/H12.5"]
    {
        assert_eq!(text.parse::<FullCode>().unwrap().to_string(), text);
    }
}

#[test]
fn a_code_is_read_into_its_parts() {
    let half: HalfCode = "EC34/28.6/H16".parse().unwrap();
    assert_eq!(half, HalfCode { seat: code("EC34"), fork: Tenths(286), stack: Some(Tenths(160)) });
    let FullCode { upper, lower } = "is42/28.6 h9|IS52/40".parse().unwrap();
    assert_eq!(upper, HalfCode { seat: code("IS42"), fork: Tenths(286), stack: Some(Tenths(90)) });
    assert_eq!(lower, HalfCode { seat: code("IS52"), fork: Tenths(400), stack: None });
}

#[test]
fn the_stack_height_is_known_by_its_letter_wherever_it_stands() {
    let last: HalfCode = "ZS44/28.6/H9".parse().unwrap();
    for other in ["ZS44/H9/28.6", "ZS44 H9 /28.6", " zs44/28.6 H9 "] {
        assert_eq!(other.parse::<HalfCode>().unwrap(), last, "{other}");
    }
}

#[test]
fn errors_name_the_part() {
    for (code, message) in [
        (
            "IS42/28.6",
            "`IS42/28.6` has not two halves parted by one bar; expected such as IS42/28.6 | IS52/40",
        ),
        (
            "A | B | C",
            "`A | B | C` has not two halves parted by one bar; expected such as IS42/28.6 | IS52/40",
        ),
        (
            "IS42/28.6 | XS52/40",
            "lower half `XS52/40`: seat `XS52` is not a seat code; expected IS, ZS or EC and two digits, such as \
             IS42, ZS44 or EC34",
        ),
        (
            "IS42 | IS52/40",
            "upper half `IS42`: the steerer or crown race seat is missing after the slash; expected such as /28.6 \
             or /40",
        ),
        (
            "IS42/286 | IS52/40",
            "upper half `IS42/286`: `286` is not a steerer or crown race seat; expected 20 to 60 mm, one decimal \
             at most, such as 28.6",
        ),
        (
            "IS42/28.6 | IS52/40/H",
            "lower half `IS52/40/H`: `H` is not a stack height; expected H and up to 60 mm, one decimal at most, \
             such as H16",
        ),
        (
            "IS42/28.6/30 | IS52/40",
            "upper half `IS42/28.6/30`: `30` is one part too many; a half is seat, fork size and, at most once, a \
             stack height",
        ),
    ] {
        assert_eq!(code.parse::<FullCode>().unwrap_err().to_string(), message);
    }
}

fn seat_codes() -> impl Strategy<Value = SeatCode> {
    (prop_oneof![Just(Style::Is), Just(Style::Zs), Just(Style::Ec)], 0u16..100)
        .prop_map(|(style, name_mm)| SeatCode { style, name_mm })
}

fn half_codes() -> impl Strategy<Value = HalfCode> {
    (seat_codes(), 200u16..=600, proptest::option::of(0u16..=600)).prop_map(|(seat, fork, stack)| HalfCode {
        seat,
        fork: Tenths(fork),
        stack: stack.map(Tenths),
    })
}

proptest! {
    #[test]
    fn every_code_comes_back_from_its_text(upper in half_codes(), lower in half_codes()) {
        let full = FullCode { upper, lower };
        prop_assert_eq!(full.to_string().parse::<FullCode>().unwrap(), full);
        prop_assert_eq!(upper.to_string().parse::<HalfCode>().unwrap(), upper);
    }

    #[test]
    fn no_text_breaks_the_reader(text in "[ISZECH0-9./| é-]{0,24}") {
        if let Ok(full) = text.parse::<FullCode>() {
            prop_assert_eq!(full.to_string().parse::<FullCode>().unwrap(), full);
        }
    }
}

// The table.

/// Bore limits, mm, read in the system's release text and a tool maker's table (F) or from memory (M).
#[test]
fn bores_are_those_published() {
    for (name, low, high, flag) in [
        ("EC29", 29.8, 29.9, Flag::F),
        ("EC30", 30.0, 30.15, Flag::F),
        ("EC34", 33.8, 33.95, Flag::F),
        ("EC37", 36.8, 36.95, Flag::F),
        ("EC44", 43.90, 43.95, Flag::F),
        ("ZS44", 43.90, 43.95, Flag::F),
        ("EC49", 49.55, 49.60, Flag::F),
        ("ZS49", 49.57, 49.65, Flag::F),
        ("ZS41", 41.35, 41.40, Flag::F),
        ("ZS56", 55.90, 55.95, Flag::F),
        ("IS38", 38.15, 38.25, Flag::F),
        ("IS41", 41.10, 41.20, Flag::F),
        ("IS42", 41.95, 42.05, Flag::F),
        ("EC56", 55.90, 55.95, Flag::M),
        ("IS47", 47.05, 47.10, Flag::M),
        ("IS52", 52.05, 52.15, Flag::M),
        ("ZS55", 54.90, 54.95, Flag::M),
        ("ZS62", 61.90, 61.95, Flag::M),
    ] {
        let bore = &size(code(name)).unwrap().bore;
        assert_eq!((bore.limits, bore.flag), ([low, high], flag), "{name}");
    }
    // M: 49.1 without limits.
    close(size(code("IS49")).unwrap().bore.estimate().value, 49.1, 1e-9);
}

/// Outside diameters (P): IS41 41.0, IS42 41.8, IS52 52.0, sold as 51.8 to 52.
#[test]
fn a_bearing_is_not_named_after_its_bore() {
    let outer = |seat| {
        let row = size(code(seat)).unwrap();
        assert_eq!(row.bearings.len(), 1, "a drop-in seat takes one bearing");
        bearing_size(&row.bearings[0].bearing).unwrap().outer.clone()
    };
    close(outer("IS41").estimate().value, 41.0, 1e-9);
    close(outer("IS42").estimate().value, 41.8, 1e-9);
    let [low, high] = outer("IS52").limits;
    assert!(low <= 51.8 && high >= 52.0);
}

/// Steerers 25.4, 28.6, 31.8, 38.1 (F); crown race seats 26 = 26.4 (F), 27 = 27.0 (F), 30 = 30.0 (M),
/// 33 = 33.0-33.06 (F), 40 = 39.8 (M).
#[test]
fn fork_sizes_are_those_published() {
    for (end, tenths, mm) in [
        (End::Upper, 254, 25.4),
        (End::Upper, 286, 28.6),
        (End::Upper, 318, 31.8),
        (End::Upper, 381, 38.1),
        (End::Lower, 260, 26.4),
        (End::Lower, 270, 27.0),
        (End::Lower, 300, 30.0),
        (End::Lower, 330, 33.03),
        (End::Lower, 400, 39.8),
    ] {
        let mut named = fork_sizes().iter().filter(|fork| fork.end == end && fork.name() == Tenths(tenths));
        close(named.next().unwrap().diameter.estimate().value, mm, 1e-9);
    }
    assert!(!fork_sizes().iter().any(|fork| fork.end == End::Upper && fork.name() == Tenths(400)));
}

#[test]
fn every_row_is_ordered_sourced_and_used() {
    let sound =
        |limits: [f64; 2], source: &str| limits[0] < limits[1] && limits[0] > 5.0 && source.len() > 10;
    for bearing in bearing_sizes() {
        for span in [&bearing.outer, &bearing.inner, &bearing.height] {
            assert!(sound(span.limits, &span.source), "{bearing:?}");
        }
        assert!(bearing.inner.limits[1] + 5.0 < bearing.outer.limits[0], "{bearing:?}");
        assert!(!bearing.contact.deg.is_empty() && bearing.contact.source.len() > 10);
        // 36/45 and 45/45 are the existing chamfer pairs (F).
        assert!(bearing.contact.deg.iter().flatten().all(|deg| [36.0, 45.0].contains(deg)), "{bearing:?}");
        assert!(sizes().iter().any(|size| size.bearings.iter().any(|inside| inside.bearing == bearing.name)));
    }
    for row in sizes() {
        assert!(sound(row.bore.limits, &row.bore.source), "{}", row.code);
        assert!(!row.speech.is_empty() && row.weight.source.len() > 10, "{}", row.code);
        assert!(End::BOTH.iter().any(|end| row.weight_at(*end) > 0.0), "{}", row.code);
        let shares: f64 = row.bearings.iter().map(|inside| inside.share).sum();
        close(shares, 1.0, 1e-9);
        assert_eq!(row.cup.is_some(), row.code.style != Style::Is, "{}", row.code);
        for inside in &row.bearings {
            let bearing = bearing_size(&inside.bearing).unwrap();
            assert!(inside.share > 0.0 && inside.source.len() > 10);
            // A bearing inside the frame has to fit its bore.
            if row.code.style != Style::Ec {
                assert!(
                    bearing.outer.limits[1] <= row.bore.limits[0] + 0.01,
                    "{} {}",
                    row.code,
                    inside.bearing
                );
            }
        }
        if let Some(cup) = &row.cup {
            assert!(sound(cup.limits, &cup.source), "{}", row.code);
            // No cup within limits is loose in a bore within limits (0.02 mm, P) ...
            assert!(cup.limits[0] - row.bore.limits[1] >= 0.02 - 1e-9, "{}", row.code);
        }
        let number = f64::from(row.code.name_mm);
        assert!((row.bore.limits[0] - number).abs() < 1.0, "{} is named after its bore", row.code);
    }
    for fork in fork_sizes() {
        assert!(sound(fork.diameter.limits, &fork.diameter.source) && !fork.speech.is_empty(), "{fork:?}");
        assert!((fork.diameter.estimate().value - fork.name().mm()).abs() < 0.5, "{fork:?}");
    }
    let mut codes: Vec<_> = sizes().iter().map(|size| size.code).collect();
    codes.sort();
    codes.dedup();
    assert_eq!(codes.len(), sizes().len());
}

// Frame seats.

#[test]
fn a_bore_takes_both_styles_of_cup() {
    assert!(same_frame_seat(code("ZS44"), code("EC44")));
    assert!(same_frame_seat(code("ZS49"), code("EC49")));
    assert!(same_frame_seat(code("ZS56"), code("EC56")));
    assert!(!same_frame_seat(code("IS49"), code("EC49")));
    assert!(!same_frame_seat(code("ZS55"), code("ZS56")));
    assert_eq!(frame_seat(code("IS42")), FrameSeat::DropIn(42));
    assert_eq!(frame_seat(code("EC44")).to_string(), "pressed 44");
}

/// Same seat by name if and only if the printed bores meet; "meet" is closer than the ovality of reamed bores
/// (0.05 mm, F).
#[test]
fn names_of_pressed_seats_tell_bores_apart() {
    let pressed = || sizes().iter().filter(|size| size.code.style != Style::Is);
    for a in pressed() {
        for b in pressed() {
            let gap = (a.bore.limits[0] - b.bore.limits[1]).max(b.bore.limits[0] - a.bore.limits[1]);
            assert_eq!(same_frame_seat(a.code, b.code), gap < 0.05, "{} {}", a.code, b.code);
        }
    }
}
