//! How far an answer holds: for each quantity a number line with the present value and the stretch around it in which
//! the answer stays the same.

mod input;

pub use input::{NumberLineInput, NumberLineRow, StretchEnd};

use super::sheet::{Sheet, words};
use super::text::{LINE_STEP, wrapped};
use super::{
    Anchor, Drawing, DrawingError, Fill, Point, Role, SHEET_WIDTH_MM, SMALL_TEXT_MM, Text, text_width,
};
use steerwright_metrology::quantity::{Estimate, Unit, shown};
use steerwright_metrology::voice::Voice;
use steerwright_words::say;

/// The most rows of a picture.
const ROWS: usize = 4;
/// Ends of every line on the sheet, mm.
const LEFT_MM: f64 = 3.0;
const RIGHT_MM: f64 = SHEET_WIDTH_MM - 3.0;
/// Position of a stretch on the sheet, mm: what is beyond it has as much room on either side.
const FROM_MM: f64 = 31.0;
const TO_MM: f64 = SHEET_WIDTH_MM - FROM_MM;
/// Height of a stretch, and how far the strokes at its ends go past it.
const BAND_MM: f64 = 4.4;
const TICK_MM: f64 = 1.4;
/// Width of a quantity's name, and font size of it and of its value.
const NAME_MM: f64 = 54.0;
const NAME_TEXT_MM: f64 = 3.4;
/// Free space between text and strokes, and between two rows.
const GAP_MM: f64 = 0.9;
const ROW_GAP_MM: f64 = 5.0;
const HATCH: Fill = Fill::Hatch { spacing_mm: 1.3, direction_deg: 60.0 };
/// Radius of the present value's dot, and half the height of its bar's ends.
const DOT_MM: f64 = 0.85;
const CAP_MM: f64 = 1.1;

/// For each quantity, at most four: its value with twice its standard uncertainty on either side, the stretch in which
/// the answer holds (a plain band between two strokes with their numbers), and the answer beyond each end (hatched).
/// Every row has a scale of its own.
///
/// # Errors
/// No row, a number that is not finite, a stretch without an end or without the value in it.
pub fn number_line(input: &NumberLineInput) -> Result<Drawing, DrawingError> {
    number_line_in(Voice::english(), input)
}

/// The same in another language.
///
/// # Errors
/// As [`number_line`].
pub fn number_line_in(voice: Voice<'_>, input: &NumberLineInput) -> Result<Drawing, DrawingError> {
    input.check()?;
    let mut sheet = Sheet::new(&input.title, &description(voice, input), 0.0);
    let mut top = 2.0;
    for (index, row) in input.rows.iter().take(ROWS).enumerate() {
        if index > 0 {
            top += ROW_GAP_MM;
        }
        sheet.layer(&row.label);
        top = draw(voice, &mut sheet, row, &input.holds, top);
    }
    Ok(sheet.finish())
}

/// A row's numbers to millimetres on the sheet.
struct Scale {
    value: f64,
    at_mm: f64,
    mm_per_unit: f64,
}

impl Scale {
    fn new(row: &NumberLineRow) -> Self {
        let ends = [&row.from, &row.to].map(|end| end.as_ref().map(|end| end.at));
        // With three standard uncertainties to a stretch, the bar of two on either side of the value stays on the sheet.
        let least = (3.0 * row.u).max(0.01);
        let (value, at_mm, span) = match ends {
            [Some(from), Some(to)] => (f64::midpoint(from, to), SHEET_WIDTH_MM / 2.0, to - from),
            [Some(from), None] => (from, FROM_MM, row.value - from),
            [None, Some(to)] => (to, TO_MM, to - row.value),
            [None, None] => (row.value, SHEET_WIDTH_MM / 2.0, 0.0),
        };
        Self { value, at_mm, mm_per_unit: (TO_MM - FROM_MM) / span.max(least) }
    }

    fn x(&self, value: f64) -> f64 {
        self.at_mm + (value - self.value) * self.mm_per_unit
    }
}

fn draw(voice: Voice<'_>, sheet: &mut Sheet, row: &NumberLineRow, holds: &str, top: f64) -> f64 {
    let top = heading(voice, sheet, row, top) + TICK_MM;
    let scale = Scale::new(row);
    let bottom = top + BAND_MM;
    let [from, to] = [&row.from, &row.to].map(|end| end.as_ref().map(|end| scale.x(end.at)));
    let (left, right) = (from.unwrap_or(LEFT_MM), to.unwrap_or(RIGHT_MM));
    let corners = |left: f64, right: f64| {
        [(left, top), (right, top), (right, bottom), (left, bottom)].map(|(x, y)| Point::new(x, y)).to_vec()
    };
    if from.is_some() {
        sheet.surface(Role::Note, HATCH, corners(LEFT_MM, left));
    }
    if to.is_some() {
        sheet.surface(Role::Note, HATCH, corners(right, RIGHT_MM));
    }
    sheet.surface(Role::Dimension, Fill::Tint, corners(left, right));
    for y in [top, bottom] {
        sheet.line(Role::Outline, Point::new(left, y), Point::new(right, y));
    }
    for x in [from, to].into_iter().flatten() {
        sheet.line(Role::Outline, Point::new(x, top - TICK_MM), Point::new(x, bottom + TICK_MM));
    }
    let middle = f64::midpoint(top, bottom);
    present(sheet, row, &scale, middle);
    let base = bottom + TICK_MM + GAP_MM + 0.82 * SMALL_TEXT_MM;
    let base = end_numbers(voice, sheet, row, [from, to], base);
    answers(sheet, row, holds, base + LINE_STEP * SMALL_TEXT_MM)
}

/// The quantity's name and value; returns where what follows begins.
fn heading(voice: Voice<'_>, sheet: &mut Sheet, row: &NumberLineRow, top: f64) -> f64 {
    let text = |x: f64, line: f64, anchor: Anchor, text: &str, bold: bool| Text {
        at: Point::new(x, top + (0.82 + line * LINE_STEP) * NAME_TEXT_MM),
        text: text.to_owned(),
        size_mm: NAME_TEXT_MM,
        anchor,
        role: Role::Note,
        bold,
    };
    let mut lines = 0.0;
    for line in wrapped(&row.label, NAME_TEXT_MM, true, NAME_MM) {
        sheet.text(text(LEFT_MM, lines, Anchor::Start, &line, true));
        lines += 1.0;
    }
    let mut value_lines = 0.0;
    for line in wrapped(
        &value(voice, row).replace(' ', "\u{a0}"),
        NAME_TEXT_MM,
        false,
        RIGHT_MM - LEFT_MM - NAME_MM - GAP_MM,
    ) {
        sheet.text(text(RIGHT_MM, value_lines, Anchor::End, &line, false));
        value_lines += 1.0;
    }
    top + f64::max(lines, value_lines) * LINE_STEP * NAME_TEXT_MM + GAP_MM
}

/// "41.92 ± 0.10 mm", with twice the standard uncertainty.
fn value(voice: Voice<'_>, row: &NumberLineRow) -> String {
    shown(Estimate::new(row.value, row.u), row.unit, voice.notation).text
}

/// "41.92 mm".
fn number(voice: Voice<'_>, value: f64, unit: Unit) -> String {
    shown(Estimate::new(value, 0.0), unit, voice.notation).text
}

/// The present value as a dot and its uncertainty as a bar.
fn present(sheet: &mut Sheet, row: &NumberLineRow, scale: &Scale, y: f64) {
    let at = Point::new(scale.x(row.value), y);
    let [low, high] = [-2.0, 2.0].map(|u| scale.x(row.value + u * row.u));
    // A shorter bar is hidden by the dot.
    if high - at.x > DOT_MM {
        sheet.line(Role::Tool, Point::new(low, y), Point::new(high, y));
        for x in [low, high] {
            sheet.line(Role::Tool, Point::new(x, y - CAP_MM), Point::new(x, y + CAP_MM));
        }
    }
    sheet.circle(Role::Tool, Fill::Solid, at, DOT_MM);
}

/// The number of each end below it, the two pushed apart where they would touch.
fn end_numbers(
    voice: Voice<'_>,
    sheet: &mut Sheet,
    row: &NumberLineRow,
    at: [Option<f64>; 2],
    base: f64,
) -> f64 {
    let texts = [&row.from, &row.to].map(|end| end.as_ref().map(|end| voice.number(end.at, 2)));
    let widths =
        texts.each_ref().map(|text| text.as_ref().map_or(0.0, |text| text_width(text, SMALL_TEXT_MM, true)));
    let push = match at {
        [Some(from), Some(to)] => {
            ((widths.iter().sum::<f64>() / 2.0 + 2.0 * GAP_MM - (to - from)) / 2.0).max(0.0)
        }
        _ => 0.0,
    };
    for ((text, x), way) in texts.into_iter().zip(at).zip([-1.0, 1.0]) {
        if let (Some(text), Some(x)) = (text, x) {
            let number = words(Role::Dimension, Point::new(x + way * push, base), Anchor::Middle, &text);
            sheet.text(Text { bold: true, ..number });
        }
    }
    base
}

/// The answer of the stretch and those beyond its ends, each below its part of the line; returns the row's lower end.
fn answers(sheet: &mut Sheet, row: &NumberLineRow, holds: &str, base: f64) -> f64 {
    let (low, high) = (
        row.from.as_ref().map_or(LEFT_MM, |_| FROM_MM + GAP_MM),
        row.to.as_ref().map_or(RIGHT_MM, |_| TO_MM - GAP_MM),
    );
    let parts = [
        row.from.as_ref().map(|end| (end.beyond.as_str(), LEFT_MM, FROM_MM, false)),
        Some((holds, low, high, true)),
        row.to.as_ref().map(|end| (end.beyond.as_str(), TO_MM, RIGHT_MM, false)),
    ];
    let mut lowest = base;
    for (text, left, right, bold) in parts.into_iter().flatten() {
        let mut y = base;
        for line in wrapped(text, SMALL_TEXT_MM, bold, right - left) {
            let at = Point::new(f64::midpoint(left, right), y);
            sheet.text(Text { bold, ..words(Role::Note, at, Anchor::Middle, &line) });
            lowest = lowest.max(y);
            y += LINE_STEP * SMALL_TEXT_MM;
        }
    }
    lowest + 0.24 * SMALL_TEXT_MM
}

fn description(voice: Voice<'_>, input: &NumberLineInput) -> String {
    let mut said = vec![say!(voice, "drawn-holds", holds = input.holds)];
    for row in input.rows.iter().take(ROWS) {
        let end = |end: &Option<StretchEnd>, id: &str| {
            let end = end.as_ref()?;
            Some(say!(voice, id, at = number(voice, end.at, row.unit), beyond = end.beyond))
        };
        let beyond: Vec<String> =
            [end(&row.from, "drawn-below"), end(&row.to, "drawn-above")].into_iter().flatten().collect();
        let (now, beyond) = (value(voice, row), beyond.join(", "));
        said.push(say!(voice, "drawn-holds-row", what = row.label, now = now, beyond = beyond));
    }
    said.join(" ")
}
