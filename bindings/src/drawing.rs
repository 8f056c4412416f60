//! Pictures: the display list that a shell draws with its own canvas, and the same as SVG.

use steerwright_core::drawing::SvgOptions;

pub use steerwright_core::drawing::{
    Anchor as TextAnchor, AngleDimension, Drawing, Fill as DrawingFill, Item as DrawingItem,
    Layer as DrawingLayer, LengthDimension, Point, Role as DrawingRole, Text as DrawingText, Theme,
};

/// A place on the sheet in millimetres: `x` to the right, `y` down.
#[uniffi::remote(Record)]
pub struct Point {
    pub x: f64,
    pub y: f64,
}

/// What a stroke, a surface or a word means. A theme gives each role its colour, weight and dashes.
#[uniffi::remote(Enum)]
pub enum DrawingRole {
    /// A visible edge of a part.
    Outline,
    /// A lesser edge, or a part shown only for its place.
    Thin,
    /// Something that was not measured or cannot be seen.
    Hidden,
    /// A centre line.
    Axis,
    /// As the bike is now.
    Before,
    /// As it would be.
    After,
    /// Material to take away.
    Remove,
    /// Room between two parts.
    Clearance,
    /// A measuring tool.
    Tool,
    /// A dimension line and its number.
    Dimension,
    /// A remark.
    Note,
    /// The place where one must not measure.
    Wrong,
    /// The ground.
    Ground,
}

/// How a surface is filled.
#[uniffi::remote(Enum)]
pub enum DrawingFill {
    /// Not at all.
    None,
    /// With the role's light surface colour, which covers what lies beneath.
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

/// Which point of a line of text its place is; the line's base line in every case.
#[uniffi::remote(Enum)]
pub enum TextAnchor {
    /// The left end.
    Start,
    /// The middle.
    Middle,
    /// The right end.
    End,
}

/// One line of text.
#[uniffi::remote(Record)]
pub struct DrawingText {
    /// Its anchor on the base line.
    pub at: Point,
    /// What it says.
    pub text: String,
    /// Font size, mm.
    pub size_mm: f64,
    /// Which point of it lies at `at`.
    pub anchor: TextAnchor,
    /// Its meaning.
    pub role: DrawingRole,
    /// Set in bold.
    pub bold: bool,
}

/// A length shown with extension lines, a dimension line with arrow heads and a label.
#[uniffi::remote(Record)]
pub struct LengthDimension {
    /// The first point measured.
    pub from: Point,
    /// The second point measured.
    pub to: Point,
    /// Where the dimension line starts, beside `from`.
    pub line_from: Point,
    /// Where the dimension line ends, beside `to`.
    pub line_to: Point,
    /// What is measured, mm in the world; `None` in a picture that only shows a place.
    pub value_mm: Option<f64>,
    /// Sheet millimetres to one in the world; `None` in a picture that is not to scale.
    pub scale: Option<f64>,
    /// The label's lines.
    pub label: Vec<DrawingText>,
    /// Dimension as a rule; before or after where both are shown.
    pub role: DrawingRole,
}

/// An angle shown as an arc with arrow heads between two legs, and a label.
#[uniffi::remote(Record)]
pub struct AngleDimension {
    /// Where the legs meet.
    pub centre: Point,
    /// Radius of the arc, mm on the sheet.
    pub radius_mm: f64,
    /// Direction of the first leg, degrees anticlockwise from the right.
    pub start_deg: f64,
    /// From the first leg to the second, degrees anticlockwise.
    pub sweep_deg: f64,
    /// What is measured, degrees in the world; `None` in a picture that only shows a place.
    pub value_deg: Option<f64>,
    /// The label's lines.
    pub label: Vec<DrawingText>,
    /// Dimension as a rule; before or after where both are shown.
    pub role: DrawingRole,
}

/// One thing drawn.
#[uniffi::remote(Enum)]
pub enum DrawingItem {
    /// A straight stroke.
    Line {
        /// One end.
        from: Point,
        /// The other end.
        to: Point,
        /// Its meaning.
        role: DrawingRole,
        /// Drawn thin and unbroken whatever the role, as a hatch is.
        fine: bool,
    },
    /// Straight strokes end to end.
    Polyline {
        /// The corners.
        points: Vec<Point>,
        /// Its meaning.
        role: DrawingRole,
    },
    /// A closed outline of straight strokes.
    Polygon {
        /// The corners.
        points: Vec<Point>,
        /// Its meaning.
        role: DrawingRole,
        /// How it is filled.
        fill: DrawingFill,
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
        /// How far it goes, degrees anticlockwise.
        sweep_deg: f64,
        /// Its meaning.
        role: DrawingRole,
    },
    /// A circle.
    Circle {
        /// Its centre.
        centre: Point,
        /// Its radius, mm.
        radius_mm: f64,
        /// Its meaning.
        role: DrawingRole,
        /// How it is filled.
        fill: DrawingFill,
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
        role: DrawingRole,
        /// How it is filled.
        fill: DrawingFill,
    },
    /// A line of text.
    Text(DrawingText),
    /// A length.
    Length(LengthDimension),
    /// An angle.
    Angle(AngleDimension),
}

/// Items that belong together, such as the frame or the tool.
#[uniffi::remote(Record)]
pub struct DrawingLayer {
    /// Its name, lower case: "frame", "new axis".
    pub name: String,
    /// What it holds, the first at the bottom.
    pub items: Vec<DrawingItem>,
}

/// A picture. Every shell draws the same list: the page through SVG, a phone with its own canvas.
///
/// Coordinates are millimetres on the sheet, `x` to the right and `y` down. A sheet is
/// 100 mm wide, so that its smallest text is still 11 px tall on a page 360 px wide.
#[uniffi::remote(Record)]
pub struct Drawing {
    /// What it shows, in a few words.
    pub title: String,
    /// The same in sentences, for those who cannot see it.
    pub description: String,
    /// Width of the sheet, mm.
    pub width_mm: f64,
    /// Height of the sheet, mm.
    pub height_mm: f64,
    /// Drawn one after the other, the first at the bottom.
    pub layers: Vec<DrawingLayer>,
}

/// Colours of an SVG.
#[uniffi::remote(Enum)]
pub enum Theme {
    Auto,
    Light,
    Dark,
    Print,
}

/// A picture with a name that can be a file's.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct NamedDrawing {
    /// Its name, such as `section-TT-4180-15` or `where-head_tube_length`.
    pub name: String,
    /// The picture as a display list.
    pub drawing: Drawing,
    /// The same as one `<svg>` element, for shells that show SVG.
    pub svg: String,
}

impl NamedDrawing {
    pub(crate) fn new(name: String, drawing: Drawing, theme: Theme) -> Self {
        Self { svg: drawing.to_svg(&SvgOptions { theme, width_px: None }), name, drawing }
    }
}

/// A picture as one `<svg>` element.
#[uniffi::export]
pub fn drawing_svg(drawing: Drawing, theme: Theme) -> String {
    drawing.to_svg(&SvgOptions { theme, width_px: None })
}
