//! Parts of a bike in world coordinates, to be drawn at more than one scale and clipped to a window.

use super::sheet::Sheet;
use super::{BoundingBox, Fill, Item, Point, Role};

/// Maps world coordinates (mm, `x` forward, `y` up) to the sheet.
#[derive(Clone, Copy)]
pub(super) struct View {
    /// Position of the world's origin on the sheet.
    pub(super) origin: Point,
    /// Sheet millimetres per world millimetre.
    pub(super) scale: f64,
}

impl View {
    pub(super) fn at(self, x: f64, y: f64) -> Point {
        self.origin + Point::new(x, -y) * self.scale
    }

    /// The view at `scale` that shows the world's point `(x, y)` at `on_sheet`.
    pub(super) fn centred(scale: f64, (x, y): (f64, f64), on_sheet: Point) -> Self {
        Self { origin: on_sheet - Point::new(x, -y) * scale, scale }
    }
}

/// One shape in the world.
enum Shape {
    Surface { points: Vec<Point>, role: Role, fill: Fill },
    Chain { points: Vec<Point>, role: Role, fine: bool },
    Circle { centre: Point, radius_mm: f64, role: Role },
}

/// Shapes in the world by layer; coordinates are world coordinates with `y` up.
#[derive(Default)]
pub(super) struct World {
    layers: Vec<(String, Vec<Shape>)>,
}

impl World {
    pub(super) fn layer(&mut self, name: &str) {
        self.layers.push((name.to_owned(), Vec::new()));
    }

    fn push(&mut self, shape: Shape) {
        if let Some((_, shapes)) = self.layers.last_mut() {
            shapes.push(shape);
        }
    }

    /// A filled surface without an edge.
    pub(super) fn surface(&mut self, role: Role, fill: Fill, points: impl IntoIterator<Item = (f64, f64)>) {
        self.push(Shape::Surface { points: places(points), role, fill });
    }

    /// Strokes end to end.
    pub(super) fn chain(&mut self, role: Role, points: impl IntoIterator<Item = (f64, f64)>) {
        self.push(Shape::Chain { points: places(points), role, fine: false });
    }

    /// Thin unbroken strokes end to end.
    pub(super) fn fine_chain(&mut self, role: Role, points: impl IntoIterator<Item = (f64, f64)>) {
        self.push(Shape::Chain { points: places(points), role, fine: true });
    }

    /// A surface with its edge.
    pub(super) fn part(&mut self, role: Role, fill: Fill, points: &[(f64, f64)]) {
        self.surface(role, fill, points.iter().copied());
        self.chain(role, points.iter().chain(points.first()).copied());
    }

    pub(super) fn circle(&mut self, role: Role, (x, y): (f64, f64), radius_mm: f64) {
        self.push(Shape::Circle { centre: Point::new(x, y), radius_mm, role });
    }

    /// Draws everything.
    pub(super) fn draw(&self, sheet: &mut Sheet, view: View) {
        for (name, shapes) in &self.layers {
            sheet.layer(name);
            for shape in shapes {
                sheet.push(item(shape, view));
            }
        }
    }

    /// Draws the part inside a window of the sheet, in layers named after the window; circles are left out.
    pub(super) fn draw_in(&self, sheet: &mut Sheet, view: View, window: BoundingBox, name: &str) {
        for (layer, shapes) in &self.layers {
            sheet.layer(&format!("{name}: {layer}"));
            for shape in shapes {
                match item(shape, view) {
                    Item::Polygon { points, role, fill, .. } => {
                        let points = cut_surface(&points, window);
                        if points.len() > 2 {
                            sheet.surface(role, fill, points);
                        }
                    }
                    Item::Polyline { points, role } => {
                        for chain in cut_chain(&points, window) {
                            sheet.polyline(role, chain);
                        }
                    }
                    Item::Line { from, to, role, fine } => {
                        if let Some((from, to)) = window.cut(from, to) {
                            sheet.push(Item::Line { from, to, role, fine });
                        }
                    }
                    _ => {}
                }
            }
        }
    }
}

fn places(points: impl IntoIterator<Item = (f64, f64)>) -> Vec<Point> {
    points.into_iter().map(|(x, y)| Point::new(x, y)).collect()
}

fn item(shape: &Shape, view: View) -> Item {
    let onto = |points: &[Point]| points.iter().map(|place| view.at(place.x, place.y)).collect::<Vec<_>>();
    match shape {
        Shape::Surface { points, role, fill } => {
            Item::Polygon { points: onto(points), role: *role, fill: *fill, edge: false }
        }
        Shape::Chain { points, role, fine } => match (onto(points).as_slice(), fine) {
            ([from, to], fine) => Item::Line { from: *from, to: *to, role: *role, fine: *fine },
            (points, _) => Item::Polyline { points: points.to_vec(), role: *role },
        },
        Shape::Circle { centre, radius_mm, role } => Item::Circle {
            centre: view.at(centre.x, centre.y),
            radius_mm: radius_mm * view.scale,
            role: *role,
            fill: Fill::None,
        },
    }
}

fn cut_chain(points: &[Point], window: BoundingBox) -> Vec<Vec<Point>> {
    let mut chains: Vec<Vec<Point>> = Vec::new();
    for (from, to) in points.iter().zip(points.iter().skip(1)) {
        let Some((from, to)) = window.cut(*from, *to) else { continue };
        match chains.last_mut() {
            Some(chain) if chain.last().is_some_and(|last| last.distance(from) < 1e-9) => chain.push(to),
            _ => chains.push(vec![from, to]),
        }
    }
    chains
}

/// The part of a surface inside a window (Sutherland and Hodgman 1974, Commun. ACM 17:32-42).
fn cut_surface(points: &[Point], window: BoundingBox) -> Vec<Point> {
    let edges: [(Point, Point); 4] = [
        (window.min, Point::new(1.0, 0.0)),
        (window.min, Point::new(0.0, 1.0)),
        (window.max, Point::new(-1.0, 0.0)),
        (window.max, Point::new(0.0, -1.0)),
    ];
    edges.into_iter().fold(points.to_vec(), |points, (corner, inward)| {
        let depth = |point: Point| (point - corner).dot(inward);
        let mut kept = Vec::new();
        for (from, to) in points.iter().zip(points.iter().cycle().skip(1)) {
            let (before, after) = (depth(*from), depth(*to));
            if before >= 0.0 {
                kept.push(*from);
            }
            if (before >= 0.0) != (after >= 0.0) {
                kept.push(from.between(*to, before / (before - after)));
            }
        }
        kept
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn window() -> BoundingBox {
        BoundingBox { min: Point::new(0.0, 0.0), max: Point::new(10.0, 10.0) }
    }

    fn area(points: &[Point]) -> f64 {
        let twice: f64 =
            points.iter().zip(points.iter().cycle().skip(1)).map(|(a, b)| a.x * b.y - b.x * a.y).sum();
        twice.abs() / 2.0
    }

    #[test]
    fn a_surface_is_cut_to_its_window() {
        let triangle = [[-10.0, 0.0], [10.0, 0.0], [10.0, 20.0]].map(Point::from);
        // Inside the window y < x + 10 always, so all of the window is covered.
        assert!((area(&cut_surface(&triangle, window())) - 100.0).abs() < 1e-9);
        let corner = [[5.0, 5.0], [15.0, 5.0], [15.0, 15.0], [5.0, 15.0]].map(Point::from);
        assert!((area(&cut_surface(&corner, window())) - 25.0).abs() < 1e-9);
        assert!(
            cut_surface(&[[20.0, 20.0], [30.0, 20.0], [30.0, 30.0]].map(Point::from), window()).is_empty()
        );
    }

    #[test]
    fn a_chain_leaving_and_coming_back_falls_in_two() {
        let chain = [[5.0, 5.0], [15.0, 5.0], [15.0, 8.0], [5.0, 8.0]].map(Point::from);
        let cut = cut_chain(&chain, window());
        assert_eq!(cut.len(), 2);
        assert!(cut.iter().flatten().all(|point| point.x <= 10.0));
    }
}
