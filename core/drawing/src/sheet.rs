//! Builds a drawing: items by layer, then labels placed without overlap.

use super::label::{LabelPlacer, LabelRequest};
use super::plain::{plain_item, strokes};
use super::{
    AngleDimension, BoundingBox, Drawing, Fill, Item, Layer, LengthDimension, Point, Role, SHEET_WIDTH_MM,
    SMALL_TEXT_MM, Target, Text,
};

/// A drawing under construction.
pub(super) struct Sheet {
    drawing: Drawing,
    asks: Vec<(Home, LabelRequest)>,
    bold_dimensions: bool,
}

/// Destination of a placed label.
enum Home {
    /// The dimension at this index of this layer.
    Dimension { layer: usize, item: usize },
    /// The layer of labels on top.
    Labels,
}

/// The value of a dimension, and sheet millimetres per world millimetre.
#[derive(Clone, Copy)]
pub(super) struct Measured {
    pub(super) value: f64,
    pub(super) scale: f64,
}

/// Margin above and below a picture, mm.
const EDGE_MM: f64 = 2.0;

/// The picture with the sheet cropped above and below to its content.
fn trimmed(drawing: &Drawing) -> Drawing {
    let Some(extent) = BoundingBox::of(drawing.items().flat_map(reach)) else { return drawing.clone() };
    let up = Point::new(0.0, EDGE_MM - extent.min.y);
    let layers = drawing.layers.iter().map(|layer| Layer {
        name: layer.name.clone(),
        items: layer.items.iter().map(|item| item.moved(up)).collect(),
    });
    let moved = |area: BoundingBox| BoundingBox { min: area.min + up, max: area.max + up };
    let targets = drawing.targets.iter().map(|it| Target { area: moved(it.area), ..it.clone() });
    Drawing {
        height_mm: extent.max.y - extent.min.y + 2.0 * EDGE_MM,
        layers: layers.collect(),
        targets: targets.collect(),
        ..drawing.clone()
    }
}

/// The corners of an item's extent.
fn reach(item: &Item) -> Vec<Point> {
    plain_item(item)
        .iter()
        .flat_map(|item| match item {
            Item::Text(text) => {
                let BoundingBox { min, max } = text.extent();
                vec![min, max]
            }
            other => strokes(other).into_iter().flat_map(|(from, to)| [from, to]).collect(),
        })
        .collect()
}

/// Width to which labels are wrapped, mm.
pub(super) const LABEL_WIDTH_MM: f64 = 27.0;

impl Sheet {
    pub(super) fn new(title: &str, description: &str, height_mm: f64) -> Self {
        Self {
            drawing: Drawing {
                title: title.to_owned(),
                description: description.to_owned(),
                width_mm: SHEET_WIDTH_MM,
                height_mm,
                layers: vec![Layer { name: "base".to_owned(), items: Vec::new() }],
                targets: Vec::new(),
            },
            asks: Vec::new(),
            bold_dimensions: false,
        }
    }

    /// Names of dimensions in bold: for pictures that are about one dimension.
    pub(super) fn with_bold_dimensions(self) -> Self {
        Self { bold_dimensions: true, ..self }
    }

    /// Starts a layer on top; following items go into it.
    pub(super) fn layer(&mut self, name: &str) {
        self.drawing.layers.push(Layer { name: name.to_owned(), items: Vec::new() });
    }

    pub(super) fn push(&mut self, item: Item) {
        if let Some(layer) = self.drawing.layers.last_mut() {
            layer.items.push(item);
        }
    }

    pub(super) fn line(&mut self, role: Role, from: Point, to: Point) {
        self.push(Item::Line { from, to, role, fine: false });
    }

    pub(super) fn fine_line(&mut self, role: Role, from: Point, to: Point) {
        self.push(Item::Line { from, to, role, fine: true });
    }

    pub(super) fn polyline(&mut self, role: Role, points: Vec<Point>) {
        self.push(Item::Polyline { points, role });
    }

    pub(super) fn polygon(&mut self, role: Role, fill: Fill, points: Vec<Point>) {
        self.push(Item::Polygon { points, role, fill, edge: true });
    }

    pub(super) fn surface(&mut self, role: Role, fill: Fill, points: Vec<Point>) {
        self.push(Item::Polygon { points, role, fill, edge: false });
    }

    pub(super) fn circle(&mut self, role: Role, fill: Fill, centre: Point, radius_mm: f64) {
        self.push(Item::Circle { centre, radius_mm, role, fill });
    }

    /// Text at a fixed position; labels do not overlap it.
    pub(super) fn text(&mut self, text: Text) {
        self.push(Item::Text(text));
    }

    /// A dimension line next to the two measured points; its label prefers the left of it (`outward` +1) or the right
    /// (-1).
    pub(super) fn length_along(
        &mut self,
        role: Role,
        (from, to): (Point, Point),
        (line_from, line_to): (Point, Point),
        outward: f64,
        label: &str,
        measured: Option<Measured>,
    ) {
        let ask = LabelRequest::new(label, role, line_from.between(line_to, 0.5), LABEL_WIDTH_MM)
            .beside((line_to - line_from).unit().left() * outward)
            .without_dot()
            .bold_if(self.bold_dimensions);
        self.push(Item::Length(LengthDimension {
            from,
            to,
            line_from,
            line_to,
            value_mm: measured.map(|measured| measured.value),
            scale: measured.map(|measured| measured.scale),
            label: Vec::new(),
            role,
        }));
        self.ask_for_last_item(ask);
    }

    /// An angle's arc; its label prefers the outside of the middle of the arc.
    pub(super) fn angle(
        &mut self,
        role: Role,
        centre: Point,
        radius_mm: f64,
        (start_deg, sweep_deg): (f64, f64),
        label: &str,
        value_deg: Option<f64>,
    ) {
        let out = Point::towards(start_deg + sweep_deg / 2.0);
        let ask = LabelRequest::new(label, role, centre + out * radius_mm, LABEL_WIDTH_MM)
            .beside(out)
            .without_dot()
            .bold_if(self.bold_dimensions);
        self.push(Item::Angle(AngleDimension {
            centre,
            radius_mm,
            start_deg,
            sweep_deg,
            value_deg,
            label: Vec::new(),
            role,
        }));
        self.ask_for_last_item(ask);
    }

    /// Makes the label of the last dimension or note a target that opens this quantity.
    pub(super) fn opening(&mut self, what: &str) {
        if let Some((home, ask)) = self.asks.pop() {
            self.asks.push((home, ask.opens(what)));
        }
    }

    /// A remark at a point, with a leader where it cannot be next to it.
    pub(super) fn note(&mut self, role: Role, about: Point, towards: Point, text: &str) {
        self.ask(LabelRequest::new(text, role, about, LABEL_WIDTH_MM).beside(towards));
    }

    pub(super) fn ask(&mut self, ask: LabelRequest) {
        self.asks.push((Home::Labels, ask));
    }

    /// A shape that opens a quantity or an observation; labels lie on top of it.
    pub(super) fn target(&mut self, what: &str, name: &str, area: BoundingBox) {
        self.drawing.targets.push(Target { what: what.to_owned(), name: name.to_owned(), area });
    }

    fn ask_for_last_item(&mut self, ask: LabelRequest) {
        let layer = self.drawing.layers.len().saturating_sub(1);
        let item = self.drawing.layers.last().map_or(0, |layer| layer.items.len().saturating_sub(1));
        self.asks.push((Home::Dimension { layer, item }, ask));
    }

    /// Places the labels and returns the picture. A label without a free position goes below the picture, and the sheet
    /// grows.
    pub(super) fn finish(mut self) -> Drawing {
        let mut crowd = LabelPlacer::new(self.drawing.width_mm, self.drawing.height_mm);
        crowd.settle(self.drawing.items());
        let mut labels = Vec::new();
        for (home, ask) in self.asks {
            let placed = crowd.place(&ask);
            labels.extend(placed.leader);
            self.drawing.targets.extend(placed.target);
            let target = match home {
                Home::Dimension { layer, item } => {
                    self.drawing.layers.get_mut(layer).and_then(|layer| layer.items.get_mut(item))
                }
                Home::Labels => None,
            };
            match target {
                Some(
                    Item::Length(LengthDimension { label, .. }) | Item::Angle(AngleDimension { label, .. }),
                ) => {
                    *label = placed.lines;
                }
                _ => labels.extend(placed.lines.into_iter().map(Item::Text)),
            }
        }
        self.drawing.layers.push(Layer { name: "labels".to_owned(), items: labels });
        self.drawing.layers.retain(|layer| !layer.items.is_empty());
        self.drawing.height_mm = crowd.height_mm();
        trimmed(&self.drawing)
    }
}

/// A line of small text at a fixed position.
pub(super) fn words(role: Role, at: Point, anchor: super::Anchor, text: &str) -> Text {
    Text { at, text: text.to_owned(), size_mm: SMALL_TEXT_MM, anchor, role, bold: false }
}
