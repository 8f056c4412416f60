//! The display list: items and their positions, in millimetres on the sheet, styled by role and never by
//! colour.

use super::{BoundingBox, Point};
use serde::{Deserialize, Serialize};

/// A picture. Every shell draws the same list: the page through SVG, a phone with its own canvas.
///
/// Coordinates are millimetres on the sheet, `x` to the right and `y` down. A sheet is [`SHEET_WIDTH_MM`]
/// wide, so that its smallest text is still 11 px tall on a page 360 px wide.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Drawing {
    /// Short title.
    pub title: String,
    /// Description in sentences, for users who cannot see the picture.
    pub description: String,
    /// Width of the sheet, mm.
    pub width_mm: f64,
    /// Height of the sheet, mm.
    pub height_mm: f64,
    /// Layers in drawing order, the first at the bottom.
    pub layers: Vec<Layer>,
    /// What can be touched, in reading order. Where two areas overlap, the later target is on top.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub targets: Vec<Target>,
}

/// A place of the picture that stands for a quantity or an observation, so that every shell hits the same places.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Target {
    /// The quantity's or observation's name in a bike file.
    pub what: String,
    /// Its name for someone who cannot see the picture, with its value: "upper throat Ø 38.2 mm".
    pub name: String,
    /// Where it is.
    pub area: BoundingBox,
}

/// Width of every sheet, mm.
pub const SHEET_WIDTH_MM: f64 = 100.0;
/// The smallest text on a sheet, mm of font size: 11.5 px where the sheet is shown 360 px wide.
pub const SMALL_TEXT_MM: f64 = 3.2;

/// Items that belong together, such as the frame or the tool.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Layer {
    /// Its name, lower case: "frame", "new axis".
    pub name: String,
    /// Its items, the first at the bottom.
    pub items: Vec<Item>,
}

/// The meaning of a stroke, a surface or a text. A theme gives each role its colour, weight and dashes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// A visible edge of a part.
    Outline,
    /// A minor edge, or a part shown only for its position.
    Thin,
    /// Something that was not measured or cannot be seen.
    Hidden,
    /// A centre line.
    Axis,
    /// The bike in its present state.
    Before,
    /// The bike after the change.
    After,
    /// Material to remove.
    Remove,
    /// Clearance between two parts.
    Clearance,
    /// A measuring tool.
    Tool,
    /// A dimension line and its number.
    Dimension,
    /// A remark.
    Note,
    /// A position where one must not measure.
    Wrong,
    /// The ground.
    Ground,
}

impl Role {
    /// Every role.
    pub const ALL: [Self; 13] = [
        Self::Outline,
        Self::Thin,
        Self::Hidden,
        Self::Axis,
        Self::Before,
        Self::After,
        Self::Remove,
        Self::Clearance,
        Self::Tool,
        Self::Dimension,
        Self::Note,
        Self::Wrong,
        Self::Ground,
    ];

    /// The name used in the list and in the SVG's classes.
    pub fn name(self) -> &'static str {
        match self {
            Self::Outline => "outline",
            Self::Thin => "thin",
            Self::Hidden => "hidden",
            Self::Axis => "axis",
            Self::Before => "before",
            Self::After => "after",
            Self::Remove => "remove",
            Self::Clearance => "clearance",
            Self::Tool => "tool",
            Self::Dimension => "dimension",
            Self::Note => "note",
            Self::Wrong => "wrong",
            Self::Ground => "ground",
        }
    }
}

/// How a surface is filled.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fill {
    /// Not at all.
    None,
    /// With the role's light surface colour, which covers the items below.
    Tint,
    /// With the role's full colour.
    Solid,
    /// With parallel strokes, and nothing between them.
    Hatch {
        /// Distance between strokes, mm on the sheet.
        spacing_mm: f64,
        /// Their direction, degrees anticlockwise from the right.
        direction_deg: f64,
    },
}

/// The point of a line of text that is at its position; vertically always the base line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Anchor {
    /// The left end.
    Start,
    /// The middle.
    Middle,
    /// The right end.
    End,
}

/// One line of text.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Text {
    /// Its anchor on the base line.
    pub at: Point,
    /// The text itself.
    pub text: String,
    /// Font size, mm.
    pub size_mm: f64,
    /// The point of the text that is at `at`.
    pub anchor: Anchor,
    /// Its meaning.
    pub role: Role,
    /// Set in bold.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub bold: bool,
}

/// A length shown with extension lines, a dimension line with arrow heads and a label.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LengthDimension {
    /// The first point measured.
    pub from: Point,
    /// The second point measured.
    pub to: Point,
    /// Start of the dimension line, next to `from`.
    pub line_from: Point,
    /// End of the dimension line, next to `to`.
    pub line_to: Point,
    /// The value, mm in the world; `None` in a picture that only shows a position.
    pub value_mm: Option<f64>,
    /// Sheet millimetres per world millimetre; `None` in a picture that is not to scale.
    pub scale: Option<f64>,
    /// The label's lines.
    pub label: Vec<Text>,
    /// Usually [`Role::Dimension`]; before or after where both are shown.
    pub role: Role,
}

/// An angle shown as an arc with arrow heads between two legs, and a label.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AngleDimension {
    /// Intersection of the legs.
    pub centre: Point,
    /// Radius of the arc, mm on the sheet.
    pub radius_mm: f64,
    /// Direction of the first leg, degrees anticlockwise from the right.
    pub start_deg: f64,
    /// From the first leg to the second, degrees anticlockwise.
    pub sweep_deg: f64,
    /// The value, degrees in the world; `None` in a picture that only shows a position.
    pub value_deg: Option<f64>,
    /// The label's lines.
    pub label: Vec<Text>,
    /// Usually [`Role::Dimension`]; before or after where both are shown.
    pub role: Role,
}

/// One item.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "item", rename_all = "snake_case", deny_unknown_fields)]
pub enum Item {
    /// A straight stroke.
    Line {
        /// One end.
        from: Point,
        /// The other end.
        to: Point,
        /// Its meaning.
        role: Role,
        /// Drawn thin and unbroken regardless of the role, as a hatch is.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        fine: bool,
    },
    /// Straight strokes end to end.
    Polyline {
        /// The corners.
        points: Vec<Point>,
        /// Its meaning.
        role: Role,
    },
    /// A closed outline of straight strokes.
    Polygon {
        /// The corners.
        points: Vec<Point>,
        /// Its meaning.
        role: Role,
        /// How it is filled.
        fill: Fill,
        /// Whether its edge is drawn.
        edge: bool,
    },
    /// Part of a circle's edge.
    Arc {
        /// The circle's centre.
        centre: Point,
        /// Its radius, mm.
        radius_mm: f64,
        /// Where it starts, degrees anticlockwise from the right.
        start_deg: f64,
        /// Its extent, degrees anticlockwise.
        sweep_deg: f64,
        /// Its meaning.
        role: Role,
    },
    /// A circle.
    Circle {
        /// Its centre.
        centre: Point,
        /// Its radius, mm.
        radius_mm: f64,
        /// Its meaning.
        role: Role,
        /// How it is filled.
        fill: Fill,
    },
    /// An ellipse.
    Ellipse {
        /// Its centre.
        centre: Point,
        /// Half-axis along `turn_deg`, mm.
        along_mm: f64,
        /// Half-axis across, mm.
        across_mm: f64,
        /// Direction of the first half-axis, degrees anticlockwise from the right.
        turn_deg: f64,
        /// Its meaning.
        role: Role,
        /// How it is filled.
        fill: Fill,
    },
    /// A line of text.
    Text(Text),
    /// A length.
    Length(LengthDimension),
    /// An angle.
    Angle(AngleDimension),
}

impl Drawing {
    /// Every item of every layer, bottom first.
    pub fn items(&self) -> impl Iterator<Item = &Item> {
        self.layers.iter().flat_map(|layer| layer.items.iter())
    }

    /// The layer of that name.
    pub fn layer(&self, name: &str) -> Option<&Layer> {
        self.layers.iter().find(|layer| layer.name == name)
    }

    /// The target at a point of the sheet; where there is none, the nearest within `reach_mm`.
    pub fn target_at(&self, point: Point, reach_mm: f64) -> Option<&Target> {
        let distances = self.targets.iter().rev().map(|target| (target.area.distance_to(point), target));
        distances
            .filter(|(distance, _)| *distance <= reach_mm)
            .min_by(|(one, _), (two, _)| one.total_cmp(two))
            .map(|(_, target)| target)
    }

    /// Every line of text, those of dimensions included.
    pub fn texts(&self) -> impl Iterator<Item = &Text> {
        self.items().flat_map(|item| match item {
            Item::Text(text) => std::slice::from_ref(text),
            Item::Length(LengthDimension { label, .. }) | Item::Angle(AngleDimension { label, .. }) => {
                label.as_slice()
            }
            _ => &[],
        })
    }
}

impl Text {
    fn moved(&self, by: Point) -> Self {
        Self { at: self.at + by, ..self.clone() }
    }
}

impl Item {
    /// The same drawing, translated by `by` on the sheet.
    pub(super) fn moved(&self, by: Point) -> Self {
        let all = |points: &[Point]| points.iter().map(|point| *point + by).collect::<Vec<_>>();
        let mut item = self.clone();
        match &mut item {
            Self::Line { from, to, .. } => {
                *from = *from + by;
                *to = *to + by;
            }
            Self::Polyline { points, .. } | Self::Polygon { points, .. } => *points = all(points),
            Self::Arc { centre, .. } | Self::Circle { centre, .. } | Self::Ellipse { centre, .. } => {
                *centre = *centre + by;
            }
            Self::Text(text) => *text = text.moved(by),
            Self::Length(LengthDimension { from, to, line_from, line_to, label, .. }) => {
                for point in [from, to, line_from, line_to] {
                    *point = *point + by;
                }
                *label = label.iter().map(|text| text.moved(by)).collect();
            }
            Self::Angle(AngleDimension { centre, label, .. }) => {
                *centre = *centre + by;
                *label = label.iter().map(|text| text.moved(by)).collect();
            }
        }
        item
    }
}
