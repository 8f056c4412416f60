//! Lines to tap instead of one that could not be placed.

use crate::measure::{Image, Marks, Pixel};
use serde::Serialize;
use std::fmt;
use steerwright_drawing::{
    Anchor, Drawing, Fill, Item, Layer, Point, Role, SHEET_WIDTH_MM, SMALL_TEXT_MM, Text,
};

/// A line parallel to the steering axis that may be tapped as a leg of the fork.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(tag = "line", rename_all = "snake_case")]
pub enum ParallelLine {
    /// The front edge of the near leg.
    FrontEdge,
    /// The near leg's lower leg.
    LowerLeg,
    /// The head tube.
    HeadTube,
}

impl fmt::Display for ParallelLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::FrontEdge => "Tap both ends of the near leg's front edge instead",
            Self::LowerLeg => "Tap the lower leg instead, above the axle and below the stanchion",
            Self::HeadTube => "Tap both ends of the head tube instead",
        })
    }
}

/// A line to tap instead of one that could not be placed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Instead {
    /// Which line.
    pub what: ParallelLine,
    /// Where it appears to be, pixels of the marked picture.
    pub ends: [Pixel; 2],
    /// Whether an edge is found when this line is tapped.
    pub seen: bool,
}

/// Offset of a leg's front edge from its middle, mm: half a stanchion. Common practice, no source.
const HALF_LEG: f64 = 17.0;
/// A lower leg's straight part above the axle, mm: common practice, no source.
const LOWER_LEG: [f64; 2] = [70.0, 210.0];

/// The lines that may be tapped instead of a leg between these taps; `scale` is pixels of the marked picture per
/// millimetre.
pub(super) fn other_lines([a, b]: [Pixel; 2], marks: &Marks, scale: f64) -> Vec<(ParallelLine, [Pixel; 2])> {
    let hub = |tyre: &[Pixel]| {
        let n = tyre.len().max(1) as f64;
        tyre.iter().fold([0.0, 0.0], |[x, y], [px, py]| [x + px / n, y + py / n])
    };
    let (front, rear) = (hub(&marks.front.tyre), hub(&marks.rear.tyre));
    let ([fx, fy], [rx, ry]) = (front, rear);
    let far = |[x, y]: Pixel| libm::hypot(x - fx, y - fy);
    let (top, low) = if far(a) > far(b) { (a, b) } else { (b, a) };
    let ([tx, ty], [lx, ly]) = (top, low);
    let length = libm::hypot(tx - lx, ty - ly).max(1e-9);
    let (ux, uy) = ((tx - lx) / length, (ty - ly) / length);
    let ahead = ux * (fy - ry) - uy * (fx - rx);
    let way = if ahead > 0.0 { HALF_LEG * scale } else { -HALF_LEG * scale };
    let edge = [top, low].map(|[x, y]| [x - way * uy, y + way * ux]);
    // From abreast of the axle on the tapped line.
    let along = ux * (fx - lx) + uy * (fy - ly);
    let lower = LOWER_LEG.map(|above| {
        let far = along + above * scale;
        [lx + far * ux, ly + far * uy]
    });
    let mut lines = vec![(ParallelLine::FrontEdge, edge), (ParallelLine::LowerLeg, lower)];
    if let (Some(top), Some(bottom)) = (marks.head_tube_top, marks.head_tube_bottom) {
        lines.push((ParallelLine::HeadTube, [top.at, bottom.at]));
    }
    let (width, height) = (f64::from(marks.image.width), f64::from(marks.image.height));
    let inside = |[x, y]: &Pixel| (0.0..=width).contains(x) && (0.0..=height).contains(y);
    lines.retain(|(_, ends)| ends.iter().all(inside));
    lines
}

/// Height of a line of text, mm.
const LINE_MM: f64 = 4.6;
/// Margin of the sheet, mm.
const EDGE_MM: f64 = 2.0;

/// The lines that can be tapped instead, drawn over the picture and numbered, with the words below it; the tapped line is
/// marked as wrong.
pub(super) fn overlay(image: Image, tapped: &[(String, [Pixel; 2])], instead: &[Instead]) -> Drawing {
    let scale = SHEET_WIDTH_MM / f64::from(image.width.max(1));
    let sheet = |[x, y]: Pixel| Point::new(x * scale, y * scale);
    let line = |[from, to]: [Pixel; 2], role: Role| Item::Line {
        from: sheet(from),
        to: sheet(to),
        role,
        fine: false,
    };
    let text = |at: Point, text: String| {
        let (size_mm, anchor, role) = (SMALL_TEXT_MM, Anchor::Start, Role::Note);
        Item::Text(Text { at, text, size_mm, anchor, role, bold: false })
    };
    let words: Vec<String> =
        instead.iter().enumerate().map(|(i, it)| format!("{}: {}", i + 1, it.what)).collect();
    let mut lines = Vec::new();
    for (i, it) in instead.iter().enumerate() {
        let [from, to] = it.ends;
        lines.push(line(it.ends, Role::After));
        for centre in [sheet(from), sheet(to)] {
            lines.push(Item::Circle { centre, radius_mm: 0.8, role: Role::After, fill: Fill::Solid });
        }
        let beside = sheet(from);
        lines.push(text(Point::new(beside.x + 1.5, beside.y), format!("{}", i + 1)));
    }
    let picture = f64::from(image.height) * scale;
    let below = |i: usize| Point::new(EDGE_MM, picture + EDGE_MM + LINE_MM * (i as f64 + 1.0) - 1.0);
    let names: Vec<&str> = tapped.iter().map(|(name, _)| name.as_str()).collect();
    Drawing {
        targets: Vec::new(),
        title: "What to tap instead".to_owned(),
        description: format!(
            "No edge was found along the {}. {}.",
            names.join(" and the "),
            words.join(". ")
        ),
        width_mm: SHEET_WIDTH_MM,
        height_mm: picture + 2.0 * EDGE_MM + LINE_MM * words.len() as f64,
        layers: vec![
            Layer {
                name: "tapped".to_owned(),
                items: tapped.iter().map(|(_, ends)| line(*ends, Role::Wrong)).collect(),
            },
            Layer { name: "instead".to_owned(), items: lines },
            Layer {
                name: "words".to_owned(),
                items: words.iter().enumerate().map(|(i, it)| text(below(i), it.clone())).collect(),
            },
        ],
    }
}
