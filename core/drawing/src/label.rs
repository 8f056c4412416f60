//! Label placement: near the labelled point, without overlap.

use super::plain::{plain_item, strokes};
use super::text::{LINE_STEP, wrapped};
use super::{Anchor, BoundingBox, Fill, Item, Point, Role, SMALL_TEXT_MM, Target, Text, text_width};

/// Clearance around a label to other text and to strokes, mm.
const WORD_GAP_MM: f64 = 0.7;
const STROKE_GAP_MM: f64 = 0.45;
/// Free margin of the sheet, mm.
const MARGIN_MM: f64 = 1.0;
/// A label farther than this from its point gets a leader, mm.
const LEADER_FROM_MM: f64 = 3.0;
/// Radius of the dot at a leader's end, mm.
const DOT_MM: f64 = 0.45;
/// Preferred distance of a label from its point, mm.
const BESIDE_MM: f64 = 1.2;

/// A label to be placed.
pub(super) struct LabelRequest {
    text: String,
    role: Role,
    about: Point,
    towards: Point,
    width_mm: f64,
    size_mm: f64,
    bold: bool,
    dot: bool,
    opens: Option<String>,
}

impl LabelRequest {
    /// A small label for the point `about`, wrapped to `width_mm`.
    pub(super) fn new(text: &str, role: Role, about: Point, width_mm: f64) -> Self {
        Self {
            text: text.to_owned(),
            role,
            about,
            towards: Point::new(0.0, -1.0),
            width_mm,
            size_mm: SMALL_TEXT_MM,
            bold: false,
            dot: true,
            opens: None,
        }
    }

    /// Sets the preferred direction from its point.
    pub(super) fn beside(self, towards: Point) -> Self {
        Self { towards: towards.unit(), ..self }
    }

    /// Without a dot at the end of the leader, as for a dimension or a cross.
    pub(super) fn without_dot(self) -> Self {
        Self { dot: false, ..self }
    }

    /// Makes the label a target that opens this quantity.
    pub(super) fn opens(self, what: &str) -> Self {
        Self { opens: Some(what.to_owned()), ..self }
    }

    pub(super) fn bold_if(self, bold: bool) -> Self {
        Self { bold, ..self }
    }
}

/// A label and its position.
pub(super) struct Placed {
    pub(super) lines: Vec<Text>,
    pub(super) leader: Vec<Item>,
    pub(super) target: Option<Target>,
}

/// The obstacles on the sheet, and the labels placed so far.
pub(super) struct LabelPlacer {
    width_mm: f64,
    height_mm: f64,
    words: Vec<BoundingBox>,
    strokes: Vec<(Point, Point)>,
    surfaces: Vec<Vec<Point>>,
}

impl LabelPlacer {
    pub(super) fn new(width_mm: f64, height_mm: f64) -> Self {
        Self { width_mm, height_mm, words: Vec::new(), strokes: Vec::new(), surfaces: Vec::new() }
    }

    /// The sheet's height, larger than at first if labels had to go below the picture.
    pub(super) fn height_mm(&self) -> f64 {
        self.height_mm
    }

    /// Adds drawn items as obstacles.
    pub(super) fn settle<'a>(&mut self, items: impl Iterator<Item = &'a Item>) {
        for item in items.flat_map(plain_item) {
            if let Item::Text(text) = &item {
                self.words.push(text.extent());
            }
            if let Item::Polygon { points, fill: Fill::Tint | Fill::Solid, .. } = &item {
                self.surfaces.push(points.clone());
            }
            self.strokes.extend(strokes(&item));
        }
    }

    /// Finds the position nearest to the preferred one at which the label overlaps no text and no stroke.
    pub(super) fn place(&mut self, ask: &LabelRequest) -> Placed {
        let lines = wrapped(&ask.text, ask.size_mm, ask.bold, ask.width_mm);
        let width = lines.iter().map(|line| text_width(line, ask.size_mm, ask.bold)).fold(0.0, f64::max);
        let step = LINE_STEP * ask.size_mm;
        let count = lines.iter().fold(0.0, |count, _| count + 1.0);
        let half = Point::new(width / 2.0, (count * step).max(ask.size_mm) / 2.0);
        let reach = BESIDE_MM + (ask.towards.x * half.x).abs() + (ask.towards.y * half.y).abs();
        let wanted = ask.about + ask.towards * reach;
        let found = self.search(ask, wanted, half);
        let centre = found.unwrap_or_else(|| self.below(half));
        let extent = BoundingBox { min: centre - half, max: centre + half };
        let leader = found.and_then(|_| leader(ask, extent)).map(|(from, to)| {
            self.strokes.push((from, to));
            let line = Item::Line { from, to, role: ask.role, fine: true };
            let dot = Item::Circle { centre: to, radius_mm: DOT_MM, role: ask.role, fill: Fill::Solid };
            if ask.dot { vec![line, dot] } else { vec![line] }
        });
        self.words.push(extent);
        let (anchor, x) = anchor_of(ask, extent);
        let mut base = extent.min.y + 0.85 * ask.size_mm + (step - ask.size_mm) / 2.0;
        let mut texts = Vec::new();
        for text in lines {
            texts.push(Text {
                at: Point::new(x, base),
                text,
                size_mm: ask.size_mm,
                anchor,
                role: ask.role,
                bold: ask.bold,
            });
            base += step;
        }
        let target = ask.opens.as_ref().map(|what| Target {
            what: what.clone(),
            name: ask.text.replace('\u{a0}', " "),
            area: extent,
        });
        Placed { lines: texts, leader: leader.unwrap_or_default(), target }
    }

    /// Tries positions in growing rings around `wanted`. The cost of a position is its distance from `wanted` plus a
    /// penalty for what its leader crosses.
    fn search(&self, ask: &LabelRequest, wanted: Point, half: Point) -> Option<Point> {
        let furthest = libm::hypot(self.width_mm, self.height_mm);
        let mut best: Option<(f64, Point)> = None;
        let mut ring = 0.0;
        while ring <= furthest {
            if best.is_some_and(|(cost, _)| cost <= ring) {
                break;
            }
            let turns: u32 = if ring < 0.5 { 1 } else { 24 };
            for turn in 0..turns {
                let centre = wanted + Point::towards(f64::from(turn) * 15.0) * ring;
                if let Some(cost) = self.cost(ask, centre, half)
                    && best.is_none_or(|(least, _)| ring + cost < least - 1e-9)
                {
                    best = Some((ring + cost, centre));
                }
            }
            ring += 1.0;
        }
        best.map(|(_, centre)| centre)
    }

    /// The cost of a position, mm of distance; `None` if the label cannot be placed there.
    fn cost(&self, ask: &LabelRequest, centre: Point, half: Point) -> Option<f64> {
        let extent = BoundingBox { min: centre - half, max: centre + half };
        let sheet = BoundingBox { min: Point::new(0.0, 0.0), max: Point::new(self.width_mm, self.height_mm) };
        if !sheet.grown(-MARGIN_MM).holds(extent) {
            return None;
        }
        let (roomy, clear) = (extent.grown(WORD_GAP_MM), extent.grown(STROKE_GAP_MM));
        if self.words.iter().any(|word| word.overlaps(roomy))
            || self.strokes.iter().any(|(from, to)| clear.meets_stroke(*from, *to))
        {
            return None;
        }
        let mut cost = if self.surfaces.iter().any(|surface| encloses(surface, centre)) { 5.0 } else { 0.0 };
        if let Some((from, to)) = leader(ask, extent) {
            if self.words.iter().any(|word| word.grown(DOT_MM).meets_stroke(from, to)) {
                return None;
            }
            // The tip of a leader reaches its point and may touch it.
            let tip = to.between(from, (0.6 / from.distance(to)).min(0.5));
            let crossed = self.strokes.iter().filter(|stroke| crosses(**stroke, (from, tip))).count();
            cost += 3.0 + 2.0 * f64::from(u32::try_from(crossed).unwrap_or(u32::MAX)).min(20.0);
        }
        Some(cost)
    }

    /// A position below everything else; the sheet grows by the height the label needs.
    fn below(&mut self, half: Point) -> Point {
        let centre = Point::new(
            half.x.max(self.width_mm / 2.0 - MARGIN_MM - 1.0).min(self.width_mm / 2.0),
            self.height_mm + half.y,
        );
        self.height_mm += 2.0 * half.y + WORD_GAP_MM + MARGIN_MM;
        centre
    }
}

/// Text is aligned towards its point: right-aligned if it is to the left of it.
fn anchor_of(ask: &LabelRequest, extent: BoundingBox) -> (Anchor, f64) {
    if extent.max.x <= ask.about.x {
        (Anchor::End, extent.max.x)
    } else if extent.min.x >= ask.about.x {
        (Anchor::Start, extent.min.x)
    } else {
        (Anchor::Middle, extent.centre().x)
    }
}

/// The leader from a label to its point, if they are apart.
fn leader(ask: &LabelRequest, extent: BoundingBox) -> Option<(Point, Point)> {
    let near = Point::new(
        ask.about.x.clamp(extent.min.x, extent.max.x),
        ask.about.y.clamp(extent.min.y, extent.max.y),
    );
    let way = ask.about - near;
    (way.length() > LEADER_FROM_MM).then(|| (near + way.unit() * 0.4, ask.about))
}

/// Whether two strokes cross.
fn crosses((a, b): (Point, Point), (c, d): (Point, Point)) -> bool {
    let side = |from: Point, to: Point, point: Point| (to - from).left().dot(point - from);
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

/// Whether a point is inside a closed outline (even-odd).
fn encloses(outline: &[Point], place: Point) -> bool {
    outline
        .iter()
        .zip(outline.iter().cycle().skip(1))
        .filter(|(from, to)| {
            (from.y > place.y) != (to.y > place.y)
                && place.x < from.x + (place.y - from.y) / (to.y - from.y) * (to.x - from.x)
        })
        .count()
        % 2
        == 1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(text: &str, about: Point) -> LabelRequest {
        LabelRequest::new(text, Role::Note, about, 20.0)
    }

    #[test]
    fn a_label_stands_beside_its_place_where_there_is_room() {
        let mut crowd = LabelPlacer::new(100.0, 50.0);
        let placed = crowd.place(&ask("bore", Point::new(50.0, 25.0)));
        let [line] = placed.lines.as_slice() else { panic!("one line") };
        assert!(placed.leader.is_empty());
        assert!(line.at.y < 25.0 && line.at.y > 20.0, "{line:?}");
    }

    #[test]
    fn a_label_gives_way_to_a_stroke_and_gets_a_leader() {
        let mut crowd = LabelPlacer::new(100.0, 50.0);
        let wall: Vec<Item> = (10..=25)
            .map(|y| {
                let y = f64::from(y);
                let (from, to) = (Point::new(30.0, y), Point::new(70.0, y));
                Item::Line { from, to, role: Role::Outline, fine: false }
            })
            .collect();
        crowd.settle(wall.iter());
        let placed = crowd.place(&ask("bore", Point::new(50.0, 20.0)));
        let extent = placed.lines[0].extent();
        assert!(wall.iter().flat_map(strokes).all(|(from, to)| !extent.meets_stroke(from, to)));
        assert!(!placed.leader.is_empty());
    }

    #[test]
    fn more_labels_than_the_sheet_holds_make_it_grow() {
        let mut crowd = LabelPlacer::new(30.0, 12.0);
        let placed: Vec<Placed> =
            (0..12).map(|_| crowd.place(&ask("a crowded place", Point::new(15.0, 6.0)))).collect();
        let extents: Vec<BoundingBox> =
            placed.iter().flat_map(|placed| placed.lines.iter().map(Text::extent)).collect();
        for (index, extent) in extents.iter().enumerate() {
            assert!(extents.iter().skip(index + 1).all(|other| !other.overlaps(*extent)), "{index}");
            assert!(extent.max.y <= crowd.height_mm());
        }
        assert!(crowd.height_mm() > 50.0);
    }
}
