//! What lies over a photo: marks and outlines, in pixels of its working copy.

use super::draft::{Draft, Part};
use serde::Serialize;
use steerwright_drawing::{Drawing, Item, Point, SHEET_WIDTH_MM};
use steerwright_photogrammetry::measure::{Ellipse, Pixel};

/// A picture with what lies over it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scene {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// The part that a tap belongs to; none while nothing is to be tapped.
    pub open: Option<Part>,
    /// Outlines and lines.
    pub outlines: Vec<Outline>,
    /// The marks.
    pub marks: Vec<MarkPoint>,
}

/// Strokes over the picture.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Outline {
    /// What they mean, by the drawings' roles.
    pub role: &'static str,
    /// The corners.
    pub points: Vec<Pixel>,
    /// A number beside them.
    pub label: Option<String>,
}

/// A mark.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarkPoint {
    /// What it is on.
    pub part: Part,
    /// Which step set it.
    pub step: usize,
    /// Its number among those that the step set.
    pub number: usize,
    /// Where it is.
    pub at: Pixel,
}

fn tenths([x, y]: Pixel) -> Pixel {
    [x, y].map(|value| (10.0 * value).round() / 10.0)
}

impl Outline {
    pub(super) fn line(role: &'static str, points: &[Pixel], label: Option<String>) -> Self {
        Self { role, points: points.iter().copied().map(tenths).collect(), label }
    }

    pub(super) fn ellipse(role: &'static str, ellipse: &Ellipse) -> Self {
        let points: Vec<Pixel> =
            (0..=72).map(|step| ellipse.at(f64::from(step) * 5f64.to_radians())).collect();
        Self::line(role, &points, None)
    }

    /// The strokes of a drawing that lies over the whole width of a picture of `width` pixels. Its words stand beside the
    /// picture.
    pub(super) fn of_drawing(drawing: &Drawing, width: u32) -> Vec<Self> {
        let scale = f64::from(width) / SHEET_WIDTH_MM;
        let place = |point: &Point| [point.x * scale, point.y * scale];
        let items = drawing.layers.iter().flat_map(|layer| &layer.items);
        items
            .filter_map(|item| match item {
                Item::Line { from, to, role, .. } => {
                    Some(Self::line(role.name(), &[place(from), place(to)], None))
                }
                Item::Polyline { points, role } => {
                    let points: Vec<Pixel> = points.iter().map(place).collect();
                    Some(Self::line(role.name(), &points, None))
                }
                _ => None,
            })
            .collect()
    }
}

/// The marks of a draft.
pub(super) fn marks(draft: &Draft) -> Vec<MarkPoint> {
    let parts = Part::NEEDED.into_iter().chain(Part::MORE);
    parts
        .flat_map(|part| {
            draft.places(part).into_iter().map(move |(step, number, at)| MarkPoint {
                part,
                step,
                number,
                at: tenths(at),
            })
        })
        .collect()
}
