//! Dimensions and hatches expanded into strokes, so that a shell needs to support only the simplest items.

use super::{AngleDimension, Drawing, Fill, Item, Layer, LengthDimension, Point, Role};

/// Length of an arrow head, mm on the sheet.
const HEAD_MM: f64 = 2.2;
/// Half its width.
const HEAD_HALF_MM: f64 = 0.55;
/// Distance of extension lines from the part, and their overhang beyond the dimension line.
const EXTENSION_GAP_MM: f64 = 0.6;
const EXTENSION_PAST_MM: f64 = 1.0;
/// Dimension lines shorter than this have their arrow heads outside.
const TIGHT_MM: f64 = 6.0;

impl Drawing {
    /// The same picture with every dimension and hatch expanded. The result has only lines, polylines, polygons, arcs,
    /// circles, ellipses and texts, whose fill is none, tint or solid.
    pub fn plain(&self) -> Self {
        let layers = self
            .layers
            .iter()
            .map(|layer| Layer {
                name: layer.name.clone(),
                items: layer.items.iter().flat_map(plain_item).collect(),
            })
            .collect();
        Self { layers, ..self.clone() }
    }
}

/// One item expanded.
pub(super) fn plain_item(item: &Item) -> Vec<Item> {
    match item {
        Item::Length(dimension) => length(dimension),
        Item::Angle(dimension) => angle(dimension),
        Item::Polygon { points, role, fill: Fill::Hatch { spacing_mm, direction_deg }, edge } => {
            let mut items = hatch(points, *spacing_mm, *direction_deg, *role);
            if *edge {
                items.push(Item::Polygon {
                    points: points.clone(),
                    role: *role,
                    fill: Fill::None,
                    edge: true,
                });
            }
            items
        }
        Item::Circle { centre, radius_mm, role, fill: Fill::Hatch { spacing_mm, direction_deg } } => {
            let points = ellipse_points(*centre, *radius_mm, *radius_mm, 0.0);
            let mut items = hatch(&points, *spacing_mm, *direction_deg, *role);
            items.push(Item::Circle {
                centre: *centre,
                radius_mm: *radius_mm,
                role: *role,
                fill: Fill::None,
            });
            items
        }
        Item::Ellipse {
            centre,
            along_mm,
            across_mm,
            turn_deg,
            role,
            fill: Fill::Hatch { spacing_mm, direction_deg },
        } => {
            let points = ellipse_points(*centre, *along_mm, *across_mm, *turn_deg);
            let mut items = hatch(&points, *spacing_mm, *direction_deg, *role);
            items.push(Item::Ellipse {
                centre: *centre,
                along_mm: *along_mm,
                across_mm: *across_mm,
                turn_deg: *turn_deg,
                role: *role,
                fill: Fill::None,
            });
            items
        }
        other => vec![other.clone()],
    }
}

/// Straight strokes that approximate an item's edges, finely enough to keep text off them.
pub(super) fn strokes(item: &Item) -> Vec<(Point, Point)> {
    let chain = |points: &[Point], closed: bool| {
        let mut strokes: Vec<_> = points.iter().copied().zip(points.iter().copied().skip(1)).collect();
        if let (true, Some(last), Some(first)) = (closed, points.last(), points.first()) {
            strokes.push((*last, *first));
        }
        strokes
    };
    match item {
        Item::Line { from, to, .. } => vec![(*from, *to)],
        Item::Polyline { points, .. } => chain(points, false),
        Item::Polygon { points, .. } => chain(points, true),
        Item::Arc { centre, radius_mm, start_deg, sweep_deg, .. } => {
            chain(&arc_points(*centre, *radius_mm, *start_deg, *sweep_deg), false)
        }
        Item::Circle { centre, radius_mm, .. } => {
            chain(&ellipse_points(*centre, *radius_mm, *radius_mm, 0.0), true)
        }
        Item::Ellipse { centre, along_mm, across_mm, turn_deg, .. } => {
            chain(&ellipse_points(*centre, *along_mm, *across_mm, *turn_deg), true)
        }
        Item::Text(_) => Vec::new(),
        Item::Length(_) | Item::Angle(_) => plain_item(item).iter().flat_map(strokes).collect(),
    }
}

/// Points along an arc, at most 5 degrees apart.
pub(super) fn arc_points(centre: Point, radius_mm: f64, start_deg: f64, sweep_deg: f64) -> Vec<Point> {
    let steps = (sweep_deg.abs() / 5.0).ceil().clamp(1.0, 144.0);
    std::iter::successors(Some(0.0), |step| Some(step + 1.0))
        .take_while(|step| *step <= steps)
        .map(|step| centre + Point::towards(start_deg + sweep_deg * step / steps) * radius_mm)
        .collect()
}

fn ellipse_points(centre: Point, along_mm: f64, across_mm: f64, turn_deg: f64) -> Vec<Point> {
    let along = Point::towards(turn_deg);
    (0..72_u32)
        .map(|step| {
            let (sin, cos) = libm::sincos((f64::from(step) * 5.0).to_radians());
            centre + along * (along_mm * cos) + along.left() * (across_mm * sin)
        })
        .collect()
}

/// Parallel strokes inside a closed outline (even-odd), `spacing_mm` apart. They are counted from the sheet's corner,
/// so that the strokes of two neighbouring outlines with the same spacing and direction line up.
fn hatch(outline: &[Point], spacing_mm: f64, direction_deg: f64, role: Role) -> Vec<Item> {
    let along = Point::towards(direction_deg);
    let across = along.left();
    let depth = |point: &Point| point.dot(across);
    let lowest = outline.iter().map(depth).fold(f64::INFINITY, f64::min);
    let highest = outline.iter().map(depth).fold(f64::NEG_INFINITY, f64::max);
    // More strokes than this look like a grey surface. The comparison is also false for NaN.
    let drawable = spacing_mm > 0.0 && (highest - lowest) / spacing_mm < 2000.0;
    if !drawable {
        return Vec::new();
    }
    let mut items = Vec::new();
    let mut at = (lowest / spacing_mm).floor() * spacing_mm + spacing_mm / 2.0;
    while at < highest {
        let mut cuts: Vec<f64> = outline
            .iter()
            .zip(outline.iter().cycle().skip(1))
            .filter_map(|(from, to)| {
                let (before, after) = (depth(from) - at, depth(to) - at);
                ((before < 0.0) != (after < 0.0))
                    .then(|| from.between(*to, before / (before - after)).dot(along))
            })
            .collect();
        cuts.sort_by(f64::total_cmp);
        let starts = cuts.iter().step_by(2);
        let ends = cuts.iter().skip(1).step_by(2);
        items.extend(starts.zip(ends).map(|(start, end)| Item::Line {
            from: along * *start + across * at,
            to: along * *end + across * at,
            role,
            fine: true,
        }));
        at += spacing_mm;
    }
    items
}

/// An arrow head whose tip is at `tip`, pointing along `direction`.
fn arrow_head(tip: Point, direction: Point, role: Role) -> Item {
    let back = tip - direction * HEAD_MM;
    let half = direction.left() * HEAD_HALF_MM;
    Item::Polygon { points: vec![tip, back + half, back - half], role, fill: Fill::Solid, edge: false }
}

fn length(dimension: &LengthDimension) -> Vec<Item> {
    let LengthDimension { from, to, line_from, line_to, role, label, .. } = dimension;
    let stroke = |from: Point, to: Point| Item::Line { from, to, role: *role, fine: true };
    let mut items = Vec::new();
    for (point, end) in [(*from, *line_from), (*to, *line_to)] {
        let way = end - point;
        if way.length() > EXTENSION_GAP_MM {
            let direction = way.unit();
            items.push(stroke(point + direction * EXTENSION_GAP_MM, end + direction * EXTENSION_PAST_MM));
        }
    }
    let direction = (*line_to - *line_from).unit();
    if line_from.distance(*line_to) < TIGHT_MM {
        // Too tight for two heads: they point inwards from outside.
        let tail = direction * (HEAD_MM + 2.0);
        items.push(stroke(*line_from - tail, *line_to + tail));
        items.push(arrow_head(*line_from, direction, *role));
        items.push(arrow_head(*line_to, -direction, *role));
    } else {
        items.push(stroke(*line_from, *line_to));
        items.push(arrow_head(*line_from, -direction, *role));
        items.push(arrow_head(*line_to, direction, *role));
    }
    items.extend(label.iter().cloned().map(Item::Text));
    items
}

fn angle(dimension: &AngleDimension) -> Vec<Item> {
    let AngleDimension { centre, radius_mm, start_deg, sweep_deg, role, label, .. } = dimension;
    let mut items = Vec::new();
    let tip = |degrees: f64| *centre + Point::towards(degrees) * *radius_mm;
    let end_deg = start_deg + sweep_deg;
    // A head is a chord of the arc, so it turns by half the angle it covers.
    let chord = (HEAD_MM / radius_mm.max(HEAD_MM)).to_degrees() / 2.0;
    let along = |degrees: f64| Point::towards(degrees).left() * sweep_deg.signum();
    let arc_mm = radius_mm * sweep_deg.abs().to_radians();
    let (start, sweep) = if arc_mm < TIGHT_MM {
        let tail = ((HEAD_MM + 2.0) / radius_mm.max(0.1)).to_degrees() * sweep_deg.signum();
        items.push(arrow_head(tip(*start_deg), along(start_deg - chord * sweep_deg.signum()), *role));
        items.push(arrow_head(tip(end_deg), -along(end_deg + chord * sweep_deg.signum()), *role));
        (start_deg - tail, sweep_deg + 2.0 * tail)
    } else {
        items.push(arrow_head(tip(*start_deg), -along(start_deg + chord * sweep_deg.signum()), *role));
        items.push(arrow_head(tip(end_deg), along(end_deg - chord * sweep_deg.signum()), *role));
        (*start_deg, *sweep_deg)
    };
    items.push(Item::Arc {
        centre: *centre,
        radius_mm: *radius_mm,
        start_deg: start,
        sweep_deg: sweep,
        role: *role,
    });
    items.extend(label.iter().cloned().map(Item::Text));
    items
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hatch_fills_its_outline_and_stays_inside() {
        // An L of area 300: a 20 x 20 square without a 10 x 10 corner.
        let outline: Vec<Point> =
            [[0., 0.], [20., 0.], [20., 10.], [10., 10.], [10., 20.], [0., 20.]].map(Point::from).to_vec();
        let strokes = hatch(&outline, 0.25, 45.0, Role::Remove);
        let mut length = 0.0;
        for stroke in &strokes {
            let Item::Line { from, to, .. } = stroke else { panic!("{stroke:?}") };
            length += from.distance(*to);
            let middle = from.between(*to, 0.5);
            assert!(!(middle.x > 10.0 + 1e-9 && middle.y > 10.0 + 1e-9), "in the missing corner: {middle:?}");
        }
        // Strokes a spacing apart stand for the area; a few strokes at the corners are cut short.
        assert!((length * 0.25 - 300.0).abs() < 1.5, "{length}");
    }

    #[test]
    fn a_hatch_without_sense_is_empty_rather_than_endless() {
        let outline = [[0., 0.], [1e9, 0.], [0., 1e9]].map(Point::from);
        assert!(hatch(&outline, 0.5, 45.0, Role::Remove).is_empty());
        assert!(hatch(&outline, 0.0, 45.0, Role::Remove).is_empty());
        assert!(hatch(&[], 1.0, 45.0, Role::Remove).is_empty());
    }

    #[test]
    fn arrow_heads_of_a_short_dimension_point_inwards() {
        let point = |x| Point::new(x, 0.0);
        let tips = |gap: f64| {
            let dimension = LengthDimension {
                from: point(0.0),
                to: point(gap),
                line_from: point(0.0),
                line_to: point(gap),
                value_mm: None,
                scale: None,
                label: Vec::new(),
                role: Role::Dimension,
            };
            length(&dimension)
                .into_iter()
                .filter_map(|item| match item {
                    Item::Polygon { points, .. } => Some((points[0].x, points[1].x)),
                    _ => None,
                })
                .collect::<Vec<_>>()
        };
        for (gap, inwards) in [(3.0, true), (30.0, false)] {
            for (index, (tip, back)) in tips(gap).into_iter().enumerate() {
                assert!((tip - if index == 0 { 0.0 } else { gap }).abs() < 1e-12);
                let outside = back < 0.0 || back > gap;
                assert_eq!(outside, inwards, "gap {gap}, head {index}");
            }
        }
    }
}
