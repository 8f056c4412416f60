//! Drawings: a display list that the host app renders on its own canvas, and the same drawing as SVG.

use steerwright_core::drawing::{SvgOptions, palette};

pub use steerwright_core::drawing::{
    Anchor as TextAnchor, AngleDimension, BoundingBox, Drawing, Fill as DrawingFill, Item as DrawingItem,
    Layer as DrawingLayer, LengthDimension, Point, Role as DrawingRole, Target as DrawingTarget,
    Text as DrawingText, Theme,
};

/// A point on the sheet in millimetres: `x` to the right, `y` down.
#[uniffi::remote(Record)]
pub struct Point {
    pub x: f64,
    pub y: f64,
}

/// An upright rectangle on the sheet.
#[uniffi::remote(Record)]
pub struct BoundingBox {
    /// The upper left corner.
    pub min: Point,
    /// The lower right corner.
    pub max: Point,
}

/// The meaning of a stroke, a surface or a text. A theme assigns each role its colour, line width and dashes.
#[uniffi::remote(Enum)]
pub enum DrawingRole {
    /// A visible edge of a part.
    Outline,
    /// A minor edge, or a part drawn only for reference.
    Thin,
    /// Something not measured or not visible.
    Hidden,
    /// A centre line.
    Axis,
    /// The bike in its current state.
    Before,
    /// The bike after the change.
    After,
    /// Material to remove.
    Remove,
    /// Clearance between two parts.
    Clearance,
    /// A measuring tool.
    Tool,
    /// A dimension line and its value.
    Dimension,
    /// A remark.
    Note,
    /// A location where one must not measure.
    Wrong,
    /// The ground.
    Ground,
}

/// Fill of a surface.
#[uniffi::remote(Enum)]
pub enum DrawingFill {
    /// No fill.
    None,
    /// The role's light surface colour; opaque.
    Tint,
    /// The role's full colour.
    Solid,
    /// Parallel strokes; transparent between them.
    Hatch {
        /// Distance between strokes, mm on the sheet.
        spacing_mm: f64,
        /// Direction of the strokes, degrees anticlockwise from the right.
        direction_deg: f64,
    },
}

/// Horizontal anchor of a line of text. Vertically the anchor is always the baseline.
#[uniffi::remote(Enum)]
pub enum TextAnchor {
    /// Left end.
    Start,
    /// Middle.
    Middle,
    /// Right end.
    End,
}

/// One line of text.
#[uniffi::remote(Record)]
pub struct DrawingText {
    /// Position of the anchor on the baseline.
    pub at: Point,
    /// The text.
    pub text: String,
    /// Font size, mm.
    pub size_mm: f64,
    /// Which point of the text is at `at`.
    pub anchor: TextAnchor,
    /// Its meaning.
    pub role: DrawingRole,
    /// Whether the text is bold.
    pub bold: bool,
}

/// A length shown with extension lines, a dimension line with arrow heads and a label.
#[uniffi::remote(Record)]
pub struct LengthDimension {
    /// First point of the measured length.
    pub from: Point,
    /// Second point of the measured length.
    pub to: Point,
    /// Start of the dimension line, next to `from`.
    pub line_from: Point,
    /// End of the dimension line, next to `to`.
    pub line_to: Point,
    /// The measured length in reality, mm; `None` in a drawing that only shows a location.
    pub value_mm: Option<f64>,
    /// Scale, mm on the sheet per mm in reality; `None` in a drawing that is not to scale.
    pub scale: Option<f64>,
    /// Lines of the label.
    pub label: Vec<DrawingText>,
    /// `Dimension` in general; `Before` or `After` where both states are shown.
    pub role: DrawingRole,
}

/// An angle shown as an arc with arrow heads between two legs, and a label.
#[uniffi::remote(Record)]
pub struct AngleDimension {
    /// Vertex of the angle.
    pub centre: Point,
    /// Radius of the arc, mm on the sheet.
    pub radius_mm: f64,
    /// Direction of the first leg, degrees anticlockwise from the right.
    pub start_deg: f64,
    /// Angle from the first leg to the second, degrees anticlockwise.
    pub sweep_deg: f64,
    /// The measured angle in reality, degrees; `None` in a drawing that only shows a location.
    pub value_deg: Option<f64>,
    /// Lines of the label.
    pub label: Vec<DrawingText>,
    /// `Dimension` in general; `Before` or `After` where both states are shown.
    pub role: DrawingRole,
}

/// One element of a drawing.
#[uniffi::remote(Enum)]
pub enum DrawingItem {
    /// A straight line.
    Line {
        /// One end.
        from: Point,
        /// The other end.
        to: Point,
        /// Its meaning.
        role: DrawingRole,
        /// Drawn thin and solid regardless of the role, like a hatch line.
        fine: bool,
    },
    /// Connected straight lines.
    Polyline {
        /// The vertices.
        points: Vec<Point>,
        /// Its meaning.
        role: DrawingRole,
    },
    /// A closed polygon.
    Polygon {
        /// The vertices.
        points: Vec<Point>,
        /// Its meaning.
        role: DrawingRole,
        /// How it is filled.
        fill: DrawingFill,
        /// Whether the outline is drawn.
        edge: bool,
    },
    /// A circular arc.
    Arc {
        /// The circle's centre.
        centre: Point,
        /// Its radius, mm.
        radius_mm: f64,
        /// Start angle, degrees anticlockwise from the right.
        start_deg: f64,
        /// Sweep angle, degrees anticlockwise.
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
        /// Semi-axis along `turn_deg`, mm.
        along_mm: f64,
        /// Semi-axis across `turn_deg`, mm.
        across_mm: f64,
        /// Direction of the first semi-axis, degrees anticlockwise from the right.
        turn_deg: f64,
        /// Its meaning.
        role: DrawingRole,
        /// How it is filled.
        fill: DrawingFill,
    },
    /// A line of text.
    Text(DrawingText),
    /// A length dimension.
    Length(LengthDimension),
    /// An angle dimension.
    Angle(AngleDimension),
}

/// A group of items that belong together, such as the frame or the tool.
#[uniffi::remote(Record)]
pub struct DrawingLayer {
    /// Lower-case name: "frame", "new axis".
    pub name: String,
    /// The items, bottom to top.
    pub items: Vec<DrawingItem>,
}

/// A drawing. Every host app renders the same list: the web page through SVG, a phone with its own canvas.
///
/// Coordinates are millimetres on the sheet, `x` to the right and `y` down. A sheet is 100 mm wide, so that
/// its smallest text is 11 px tall on a page 360 px wide.
#[uniffi::remote(Record)]
pub struct Drawing {
    /// Short title.
    pub title: String,
    /// Text alternative in full sentences, for accessibility.
    pub description: String,
    /// Width of the sheet, mm.
    pub width_mm: f64,
    /// Height of the sheet, mm.
    pub height_mm: f64,
    /// The layers, bottom to top.
    pub layers: Vec<DrawingLayer>,
    /// What can be touched, in reading order. Where two areas overlap, the later target is on top.
    pub targets: Vec<DrawingTarget>,
}

/// A place of the drawing that stands for a quantity or an observation.
#[uniffi::remote(Record)]
pub struct DrawingTarget {
    /// The quantity's or observation's name in a bike file.
    pub what: String,
    /// Its name for someone who cannot see the drawing, with its value.
    pub name: String,
    /// Where it is.
    pub area: BoundingBox,
}

/// The target at a point of the sheet; where there is none, the nearest within `reach_mm`.
#[uniffi::export]
pub fn drawing_target_at(drawing: Drawing, point: Point, reach_mm: f64) -> Option<DrawingTarget> {
    drawing.target_at(point, reach_mm).cloned()
}

/// Colour theme of an SVG.
#[uniffi::remote(Enum)]
pub enum Theme {
    Auto,
    Light,
    Dark,
    Print,
}

/// A drawing with a name that is usable as a file name.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct NamedDrawing {
    /// Name, such as `section-TT-4180-15` or `where-head_tube_length`.
    pub name: String,
    /// The drawing as a display list.
    pub drawing: Drawing,
    /// The drawing as one `<svg>` element, for host apps that display SVG.
    pub svg: String,
}

impl NamedDrawing {
    pub(crate) fn new(name: String, drawing: Drawing, theme: Theme) -> Self {
        Self { svg: drawing.to_svg(&SvgOptions { theme, ..SvgOptions::default() }), name, drawing }
    }
}

/// Renders a drawing as one `<svg>` element.
#[uniffi::export]
pub fn drawing_svg(drawing: Drawing, theme: Theme) -> String {
    drawing.to_svg(&SvgOptions { theme, ..SvgOptions::default() })
}

/// The drawing with every dimension and hatch expanded: lines, polylines, polygons, arcs, circles, ellipses and texts
/// remain, without fill, tinted or solid. A host app that draws on a canvas plays this one.
#[uniffi::export]
pub fn plain_drawing(drawing: Drawing) -> Drawing {
    drawing.plain()
}

/// How a role is drawn in a theme.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct RoleStyle {
    /// Colour of strokes, texts and solid surfaces: `0xRRGGBB`.
    pub stroke: u32,
    /// Colour of tinted surfaces: `0xRRGGBB`.
    pub tint: u32,
    /// Line width, mm on the sheet.
    pub weight_mm: f64,
    /// Line width of a fine line, mm on the sheet; it has no dashes.
    pub fine_mm: f64,
    /// Dashes: drawn, left out, and so on, mm on the sheet; none for a solid line.
    pub dashes_mm: Vec<f64>,
}

/// The colours, line width and dashes of a role. `Auto` gives the light colours.
#[uniffi::export]
pub fn role_style(role: DrawingRole, theme: Theme) -> RoleStyle {
    let ink = palette::ink(theme, role);
    let (weight_mm, dashes) = palette::stroke(role);
    let rgb = |palette::Colour(red, green, blue)| u32::from_be_bytes([0, red, green, blue]);
    RoleStyle {
        stroke: rgb(ink.stroke),
        tint: rgb(ink.tint),
        weight_mm,
        fine_mm: palette::FINE_MM,
        dashes_mm: dashes.to_vec(),
    }
}
