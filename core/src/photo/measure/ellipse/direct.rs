//! The direct fit.

use super::super::marks::Pixel;
use super::Ellipse;
use nalgebra::{Matrix3, Vector3};

/// Share of its largest eigenvalue that is added to the scatter matrix, which is singular where the marks lie on
/// an ellipse exactly: far below any mark's noise.
const RIDGE: f64 = 1e-15;
/// A conic flatter than this is a line.
const FLATTEST: f64 = 1e-4;

impl Ellipse {
    /// The ellipse that fits the points best by its equation, scaled so that `4 a c - b^2 = 1`: quick, always an
    /// ellipse, and drawn towards flat ones by noise. `None` for fewer than five points, points that are not finite
    /// and points on a line or on top of each other.
    pub fn direct(points: &[Pixel]) -> Option<Self> {
        if points.len() < 5 || !points.iter().flatten().all(|value| value.is_finite()) {
            return None;
        }
        let n = points.len() as f64;
        let mean = |of: fn(&Pixel) -> f64| points.iter().map(of).sum::<f64>() / n;
        let (mx, my) = (mean(|[x, _]| *x), mean(|[_, y]| *y));
        let spread =
            (points.iter().map(|[x, y]| (x - mx).powi(2) + (y - my).powi(2)).sum::<f64>() / n).sqrt();
        if !(spread.is_finite() && spread > 1e-12 * (mx.abs() + my.abs())) {
            return None;
        }
        let (mut s1, mut s2, mut s3) = (Matrix3::zeros(), Matrix3::zeros(), Matrix3::zeros());
        for [x, y] in points {
            let (x, y) = ((x - mx) / spread, (y - my) / spread);
            let (quadratic, linear) = (Vector3::new(x * x, x * y, y * y), Vector3::new(x, y, 1.0));
            s1 += quadratic * quadratic.transpose();
            s2 += quadratic * linear.transpose();
            s3 += linear * linear.transpose();
        }
        // Points on a line leave `s3` singular.
        let least = s3.symmetric_eigenvalues().min();
        if least < 1e-10 * s3.trace() {
            return None;
        }
        let reduce = s3.cholesky()?.solve(&s2.transpose());
        let scatter = s1 - s2 * reduce;
        let scatter = (scatter + scatter.transpose()) / 2.0 + Matrix3::identity() * (RIDGE * s1.trace());
        // The constraint 4 a c - b^2 = 1 as a symmetric form with one positive eigenvalue. By the root of the
        // scatter, the pencil becomes one symmetric matrix, whose positive eigenvalue belongs to the ellipse.
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
