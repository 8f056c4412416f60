//! Text: its width, and no overlaps.

use super::samples::{
    any_number_lines, any_section, any_side_view, check_legible, number_lines, section,
    side_view as sample_side_view,
};
use proptest::prelude::*;
use std::collections::BTreeMap;
use steerwright_core::drawing::{head_tube_section, number_line, side_view, text_width};

#[derive(serde::Deserialize)]
struct Widths {
    regular: BTreeMap<char, f64>,
    bold: BTreeMap<char, f64>,
}

/// No letter of a wide real font is wider than its bound, and the bound is not so loose that labels would be too far
/// apart: a usual line is bounded by at most a third more than its width.
#[test]
fn text_widths_bound_a_real_font() {
    let widths: Widths = serde_json::from_str(include_str!("../../../data/oracle/text_widths.json")).unwrap();
    for (table, bold) in [(&widths.regular, false), (&widths.bold, true)] {
        assert!(table.len() > 90);
        for (letter, width) in table {
            let bound = text_width(&letter.to_string(), 1.0, bold);
            assert!(bound >= *width, "{letter:?} bold {bold}: {bound} < {width}");
        }
        let line = "least room 0.6 mm, rear; needs 1.2 mm";
        let real: f64 = line.chars().map(|letter| table[&letter]).sum();
        let bound = text_width(line, 1.0, bold);
        assert!(bound < real * 4.0 / 3.0, "{bound} for {real}");
    }
}

#[test]
fn the_sample_pictures_are_legible() {
    check_legible(&head_tube_section(&section()).unwrap()).unwrap();
    check_legible(&side_view(&sample_side_view()).unwrap()).unwrap();
    check_legible(&number_line(&number_lines()).unwrap()).unwrap();
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    #[test]
    fn no_section_has_words_on_words_or_strokes(input in any_section()) {
        if let Ok(drawing) = head_tube_section(&input) {
            prop_assert_eq!(check_legible(&drawing), Ok(()));
        }
    }

    #[test]
    fn no_number_line_has_words_on_words_or_strokes(input in any_number_lines()) {
        let drawing = number_line(&input).expect("rows that could be");
        prop_assert_eq!(check_legible(&drawing), Ok(()));
    }

    #[test]
    fn no_side_view_has_words_on_words_or_strokes(input in any_side_view()) {
        let drawing = side_view(&input).expect("a bike that could be");
        prop_assert_eq!(check_legible(&drawing), Ok(()));
    }
}
