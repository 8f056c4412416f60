//! The direct least squares fit.

use super::super::marks::Pixel;
use super::Ellipse;
use nalgebra::{Matrix3, Vector3};

/// Share of its largest eigenvalue that is added to the scatter matrix, which is singular where the marks are exactly
/// on an ellipse: far below the noise of any mark.
const RIDGE: f64 = 1e-15;
/// A conic flatter than this is a line.
const FLATTEST: f64 = 1e-4;

impl Ellipse {
    /// The ellipse that minimises the algebraic distance of the points, scaled so that `4 a c - b^2 = 1`: fast, always
    /// an ellipse, but biased towards flat ones by noise. `None` for fewer than five points, points that are not finite
    /// and points that are collinear or coincident.
    pub fn direct(points: &[Pixel]) -> Option<Self> {
        if points.len() < 5 {
            return None;
        }
        let n = points.len() as f64;
        let Moments { middle: [mx, my], first: [x, y], second, third, fourth } = Moments::of(points);
        let [xx, xy, yy] = second;
        let spread = ((xx + yy) / n).sqrt();
        if !(spread.is_finite() && spread > 1e-12 * (mx.abs() + my.abs())) {
            return None;
        }
        // Scaling by the spread makes all terms of the same magnitude.
        let by = 1.0 / spread;
        let [x, y] = [x, y].map(|sum| sum * by);
        let [xx, xy, yy] = [xx, xy, yy].map(|sum| sum * by.powi(2));
        let [xxx, xxy, xyy, yyy] = third.map(|sum| sum * by.powi(3));
        let [xxxx, xxxy, xxyy, xyyy, yyyy] = fourth.map(|sum| sum * by.powi(4));
        let s1 = Matrix3::new(xxxx, xxxy, xxyy, xxxy, xxyy, xyyy, xxyy, xyyy, yyyy);
        let s2 = Matrix3::new(xxx, xxy, xx, xxy, xyy, xy, xyy, yyy, yy);
        let s3 = Matrix3::new(xx, xy, x, xy, yy, y, x, y, n);
        // Collinear points leave `s3` singular. Their sum of squares is n, and the first moments are zero up to
        // rounding: the lesser eigenvalue of the other two rows detects it.
        let least = (n - libm::hypot(xx - yy, 2.0 * xy)) / 2.0;
        let enough = least >= 1e-10 * 2.0 * n;
        if !enough {
            return None;
        }
        let reduce = s3.cholesky()?.solve(&s2.transpose());
        let scatter = s1 - s2 * reduce;
        let scatter = (scatter + scatter.transpose()) / 2.0 + Matrix3::identity() * (RIDGE * s1.trace());
        // The constraint 4 a c - b^2 = 1 as a symmetric form with one positive eigenvalue. The Cholesky factor of the
        // scatter turns the pencil into one symmetric matrix, whose positive eigenvalue belongs to the ellipse.
        let constraint = Matrix3::new(0.0, 0.0, 2.0, 0.0, -1.0, 0.0, 2.0, 0.0, 0.0);
        let l = scatter.cholesky()?.l();
        let half = l.solve_lower_triangular(&constraint)?;
        let whole = l.solve_lower_triangular(&half.transpose())?;
        let eigen = ((whole + whole.transpose()) / 2.0).symmetric_eigen();
        let y = eigen.eigenvectors.column(eigen.eigenvalues.imax()).into_owned();
        let quadratic = l.transpose().solve_upper_triangular(&y)?;
        let linear = -(reduce * quadratic);
        let found = from_equation(quadratic, linear)?;
        let [x, y] = found.centre;
        let (major, minor) = (found.major * spread, found.minor * spread);
        (major.is_finite() && minor > FLATTEST * major && major < 1e3 * spread).then_some(Self {
            centre: [x * spread + mx, y * spread + my],
            major,
            minor,
            ..found
        })
    }
}

/// The ellipse `a x^2 + b x y + c y^2 + d x + e y + f = 0`.
fn from_equation(quadratic: Vector3<f64>, linear: Vector3<f64>) -> Option<Ellipse> {
    let (a, b, c) = (quadratic.x, quadratic.y, quadratic.z);
    let (d, e, f) = (linear.x, linear.y, linear.z);
    let det = 4.0 * a * c - b * b;
    if det <= 0.0 || !det.is_finite() {
        return None;
    }
    let (x, y) = ((b * e - 2.0 * c * d) / det, (b * d - 2.0 * a * e) / det);
    let level = -(f + (d * x + e * y) / 2.0);
    let (mean, half) = (f64::midpoint(a, c), libm::hypot((a - c) / 2.0, b / 2.0));
    let turn = libm::atan2(b, a - c) / 2.0;
    // Along `turn` the form is `mean + half`.
    let (along, across) = (level / (mean + half), level / (mean - half));
    if along > 0.0 && across > 0.0 {
        Ellipse::sorted([x, y], along.sqrt(), across.sqrt(), turn)
    } else {
        None
    }
}

/// Central moments of the points' coordinates.
struct Moments {
    middle: Pixel,
    /// x, y
    first: [f64; 2],
    /// xx, xy, yy
    second: [f64; 3],
    /// xxx, xxy, xyy, yyy
    third: [f64; 4],
    /// xxxx, xxxy, xxyy, xyyy, yyyy
    fourth: [f64; 5],
}

impl Moments {
    fn of(points: &[Pixel]) -> Self {
        let n = points.len() as f64;
        let [mx, my] = points.iter().fold([0.0, 0.0], |[sx, sy], [x, y]| [sx + x / n, sy + y / n]);
        let mut moments =
            Self { middle: [mx, my], first: [0.0; 2], second: [0.0; 3], third: [0.0; 4], fourth: [0.0; 5] };
        for [x, y] in points {
            let (x, y) = (x - mx, y - my);
            let [xx, xy, yy] = [x * x, x * y, y * y];
            add(&mut moments.first, [x, y]);
            add(&mut moments.second, [xx, xy, yy]);
            add(&mut moments.third, [xx * x, xx * y, x * yy, yy * y]);
            add(&mut moments.fourth, [xx * xx, xx * xy, xx * yy, xy * yy, yy * yy]);
        }
        moments
    }
}

fn add<const COUNT: usize>(sums: &mut [f64; COUNT], terms: [f64; COUNT]) {
    for (sum, term) in sums.iter_mut().zip(terms) {
        *sum += term;
    }
}
