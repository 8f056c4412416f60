//! What lies over a photo: marks and outlines, in pixels of its working copy.

use super::draft::{Draft, Part};
use serde::{Deserialize, Serialize};
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
    pub role: String,
    /// The corners.
    pub points: Vec<ImagePoint>,
    /// A number beside them.
    pub label: Option<String>,
}

/// A mark.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MarkPoint {
    /// What it is on.
    pub part: Part,
    /// Which step set it.
    pub step: u32,
    /// Its number among those that the step set.
    pub number: u32,
    /// Where it is.
    pub at: ImagePoint,
}

/// A place on a photo, in pixels of its working copy. Serialized as `[x, y]`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
pub struct ImagePoint {
    /// Pixels from the left edge.
    pub x: f64,
    /// Pixels from the upper edge.
    pub y: f64,
}

impl From<Pixel> for ImagePoint {
    fn from([x, y]: Pixel) -> Self {
        Self { x, y }
    }
}

impl From<ImagePoint> for Pixel {
    fn from(ImagePoint { x, y }: ImagePoint) -> Self {
        [x, y]
    }
}

fn tenths(place: Pixel) -> ImagePoint {
    place.map(|value| (10.0 * value).round() / 10.0).into()
}

impl Outline {
    pub(super) fn line(role: &str, points: &[Pixel], label: Option<String>) -> Self {
        Self { role: role.to_owned(), points: points.iter().copied().map(tenths).collect(), label }
    }

    pub(super) fn ellipse(role: &str, ellipse: &Ellipse) -> Self {
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

pub(super) fn count(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

/// The marks of a draft.
pub(super) fn marks(draft: &Draft) -> Vec<MarkPoint> {
    let parts = Part::NEEDED.into_iter().chain(Part::MORE);
    parts
        .flat_map(|part| {
            draft.places(part).into_iter().map(move |(step, number, at)| MarkPoint {
                part,
                step: count(step),
                number: count(number),
                at: tenths(at),
            })
        })
        .collect()
}
