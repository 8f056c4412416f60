//! The number lines: positions to scale, and what no one may read wrongly.

use super::samples::{check_legible, hatched, number_lines as sample};
use steerwright_core::drawing::{
    Drawing, DrawingError, Fill, Item, Layer, NumberLineInput, NumberLineRow, Point, Role, StretchEnd,
    SvgOptions, Theme, number_line,
};
use steerwright_core::quantity::Unit;

fn words(layer: &Layer) -> Vec<String> {
    let text = |item: &Item| if let Item::Text(text) = item { Some(text.text.clone()) } else { None };
    layer.items.iter().filter_map(text).collect()
}

/// Left and right end of the band in which the answer holds.
fn band(layer: &Layer) -> (f64, f64) {
    let found = layer.items.iter().find_map(|item| match item {
        Item::Polygon { points, fill: Fill::Tint, .. } => Some((points[0].x, points[1].x)),
        _ => None,
    });
    found.unwrap()
}

fn dot(layer: &Layer) -> f64 {
    let found = layer.items.iter().find_map(|item| match item {
        Item::Circle { centre, .. } => Some(centre.x),
        _ => None,
    });
    found.unwrap()
}

/// The two tips of the uncertainty's bar.
fn bar(layer: &Layer) -> (f64, f64) {
    let found = layer.items.iter().find_map(|item| match item {
        Item::Line { from, to, role: Role::Tool, .. } if from.y == to.y => Some((from.x, to.x)),
        _ => None,
    });
    found.unwrap()
}

fn drawn(row: NumberLineRow) -> Drawing {
    let input = NumberLineInput { title: "One".to_owned(), holds: "fits".to_owned(), rows: vec![row] };
    number_line(&input).unwrap()
}

fn row(value: f64, u: f64, from: Option<f64>, to: Option<f64>) -> NumberLineRow {
    let end = |at: Option<f64>, beyond: &str| at.map(|at| StretchEnd { at, beyond: beyond.to_owned() });
    NumberLineRow {
        label: "upper bore diameter".to_owned(),
        unit: Unit::Mm,
        value,
        u,
        from: end(from, "does not fit"),
        to: end(to, "measure first"),
    }
}

/// The value, its uncertainty and both ends have one scale: 0.1 mm is as long everywhere in a row.
#[test]
fn a_row_is_to_scale() {
    let drawing = drawn(row(41.9, 0.025, Some(41.8), Some(42.1)));
    let layer = drawing.layer("upper bore diameter").unwrap();
    let ((left, right), dot, (low, high)) = (band(layer), dot(layer), bar(layer));
    let per_mm = (right - left) / 0.3;
    assert!((dot - left - 0.1 * per_mm).abs() < 1e-9, "{dot}");
    // Twice the standard uncertainty to either side.
    assert!((dot - low - 0.05 * per_mm).abs() < 1e-9 && (high - dot - 0.05 * per_mm).abs() < 1e-9);
    let shown = [
        "upper bore diameter",
        "41.90\u{a0}±\u{a0}0.05\u{a0}mm",
        "41.8",
        "42.1",
        "does not fit",
        "fits",
        "measure first",
    ];
    assert_eq!(words(layer), shown);
    // The two ends are where their numbers are.
    let text = |word: &str| drawing.texts().find(|text| text.text == word).unwrap().at.x;
    assert!((text("41.8") - left).abs() < 1e-9 && (text("42.1") - right).abs() < 1e-9);
}

/// Beyond an end is hatched and named; a side without an end has neither, and the band goes on to the sheet's edge.
#[test]
fn only_what_is_beyond_an_end_is_hatched() {
    for (from, to, hatches) in [(Some(41.8), Some(42.1), 2), (Some(41.8), None, 1), (None, Some(42.1), 1)] {
        let drawing = drawn(row(41.9, 0.025, from, to));
        let layer = drawing.layer("upper bore diameter").unwrap();
        assert_eq!(layer.items.iter().filter(|item| hatched(item)).count(), hatches);
        assert_eq!(words(layer).contains(&"does not fit".to_owned()), from.is_some());
        assert_eq!(words(layer).contains(&"measure first".to_owned()), to.is_some());
        let (left, right) = band(layer);
        assert_eq!(left < 10.0, from.is_none(), "{left}");
        assert_eq!(right > 90.0, to.is_none(), "{right}");
        assert_eq!(check_legible(&drawing), Ok(()));
    }
}

/// A value on its end, and a stretch narrower than its uncertainty: the bar stays on the sheet in the scale of the row,
/// and the two numbers still stand apart.
#[test]
fn a_stretch_of_nothing_is_drawn() {
    for (u, from, to) in [
        (0.5, Some(41.9), Some(41.9)),
        (0.5, Some(41.9), Some(41.91)),
        (1000.0, Some(41.9), Some(41.95)),
        (0.5, None, Some(41.9)),
        (0.5, Some(41.0), None),
        (0.5, Some(40.4), Some(41.9)),
    ] {
        let drawing = drawn(row(41.9, u, from, to));
        assert_eq!(check_legible(&drawing), Ok(()), "{u} {from:?} {to:?}");
        let layer = drawing.layer("upper bore diameter").unwrap();
        let ((low, high), dot) = (bar(layer), dot(layer));
        assert!(low > 2.0 && high < 98.0 && (dot - (low + high) / 2.0).abs() < 1e-9, "{u}: {low} {high}");
        if let (Some(from), Some(to)) = (from, to) {
            let (left, right) = band(layer);
            assert!(((right - left) * 4.0 * u - (high - low) * (to - from)).abs() < 1e-6 * u, "{u}");
        }
    }
    // Known without uncertainty it is a dot alone.
    let drawing = drawn(row(41.9, 0.0, Some(41.9), Some(41.9)));
    assert!(!drawing.items().any(|item| matches!(item, Item::Line { role: Role::Tool, .. })));
    assert_eq!(check_legible(&drawing), Ok(()));
}

/// The tightest four, in the order given.
#[test]
fn no_more_than_four_rows_are_drawn() {
    let mut input = sample();
    let last = input.rows.last().unwrap().clone();
    input.rows.push(NumberLineRow { label: "one too many".to_owned(), ..last });
    let drawing = number_line(&input).unwrap();
    assert!(drawing.layer("one too many").is_none() && !drawing.description.contains("one too many"));
    let names: Vec<&str> = drawing.layers.iter().map(|layer| layer.name.as_str()).collect();
    let expected: Vec<&str> = input.rows.iter().take(4).map(|row| row.label.as_str()).collect();
    assert_eq!(names, expected);
    assert_eq!(check_legible(&drawing), Ok(()));
}

#[test]
fn the_description_has_every_number() {
    let description = number_line(&sample()).unwrap().description;
    assert_eq!(
        description,
        "How far each quantity could be another one, everything else as it is, before \u{201c}fits after \
         work\u{201d} becomes another answer; the plain band is where it holds, hatched is beyond. \
         lower bore depth: 9.5 ± 0.2 mm now; below 9.31 mm: measure first. \
         upper bore diameter: 41.90 ± 0.05 mm now; below 41.84 mm: does not fit, above 41.99 mm: measure first. \
         steerer upper diameter: 28.60 ± 0.02 mm now; above 28.66 mm: does not fit. \
         head tube length: 112.0 ± 0.5 mm now; below 96.4 mm: measure first, above 131.2 mm: fits."
    );
}

#[test]
fn rows_without_sense_are_refused_by_name() {
    let refused = |row: NumberLineRow| {
        let input = NumberLineInput { title: String::new(), holds: "fits".to_owned(), rows: vec![row] };
        number_line(&input).unwrap_err().to_string()
    };
    assert_eq!(refused(row(f64::NAN, 0.1, Some(1.0), None)), "rows[0].value is not a finite number");
    assert_eq!(refused(row(2.0, -0.1, Some(1.0), None)), "rows[0].u is -0.1; a drawing needs 0 to 100000");
    assert_eq!(refused(row(2.0, 0.1, Some(f64::INFINITY), None)), "rows[0].from.at is not a finite number");
    assert_eq!(refused(row(2.0, 0.1, None, None)), "rows[0] cannot be drawn: its stretch has no end");
    assert_eq!(
        refused(row(2.0, 0.1, Some(3.0), None)),
        "rows[0] cannot be drawn: the value is outside its stretch"
    );
    let empty = NumberLineInput { title: String::new(), holds: "fits".to_owned(), rows: Vec::new() };
    assert!(matches!(number_line(&empty), Err(DrawingError::Contradiction { .. })));
}

/// The whole SVG, so that every change of it is seen.
#[test]
fn the_sample_is_drawn_as_before() {
    let svg = number_line(&sample()).unwrap().to_svg(&SvgOptions {
        theme: Theme::Light,
        width_px: Some(360.0),
        ..SvgOptions::default()
    });
    let mut settings = insta::Settings::clone_current();
    settings.set_snapshot_path("../../../data/golden/drawing");
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| insta::assert_snapshot!("holds", svg));
}

/// Text of any length stays in its part of the row.
#[test]
fn long_words_are_wrapped() {
    let long = "something has to be measured first before anyone can say";
    let mut line = row(41.9, 0.025, Some(41.8), Some(42.1));
    line.label = "the outside diameter of the bearing in the upper end of the head tube".to_owned();
    line.to = Some(StretchEnd { at: 42.1, beyond: long.to_owned() });
    let drawing = drawn(line);
    assert_eq!(check_legible(&drawing), Ok(()));
    let lines: Vec<Point> =
        drawing.texts().filter(|text| long.contains(&text.text)).map(|text| text.at).collect();
    assert!(lines.len() > 2 && lines.windows(2).all(|pair| pair[1].y > pair[0].y), "{lines:?}");
}
