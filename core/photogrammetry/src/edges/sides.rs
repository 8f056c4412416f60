//! Joint fit of both edges of a tube.
//!
//! A side fitted separately follows whatever is next to the tube: a far leg of the same colour a pixel away, a wall as
//! bright as the tube, the end of a shadow. The joint fit constrains both sides: they are parallel except for
//! perspective, and brightness shifts a soft edge towards the dark on either side.

use super::profile::Change;
use nalgebra::{Matrix2, SMatrix, SVector};

/// A brightness change on one side: position as a fraction of the line, offset across it, gradient.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub(super) share: f64,
    pub(super) across: f64,
    pub(super) slope: f64,
}

impl Spot {
    pub(super) fn new(share: f64, line: f64, change: &Change) -> Self {
        Self { share, across: line + change.at, slope: change.slope }
    }
}

/// A tube's centre line, fitted to both sides.
#[derive(Debug, Clone, Copy)]
pub(super) struct Middle {
    /// Offset across the line at its two ends, pixels.
    pub(super) ends: [f64; 2],
    /// Their covariance, squared pixels.
    pub(super) covariance: Matrix2<f64>,
    /// Half the excess divergence of the sides beyond what perspective explains, pixels; zero without excess. If one
    /// side is right and the other is not, the centre line is rotated by this much from end to end.
    pub(super) astray: f64,
}

/// Relative difference in width between a tube's two ends due to perspective, as a standard deviation: for a seat tube
/// of some 300 mm, seen from 3.5 m at 30 degrees off square, the distances of the ends differ by up to 100 mm; usually
/// far less.
const TAPER: f64 = 0.015;
/// Sides that diverge by more than this many times [`TAPER`]: one of them follows something else.
const SKEWED: f64 = 2.0;
/// Shift of a soft edge's steepest point towards dark or light, as a share of its blur, caused by sharpening,
/// reflections and the picture's transfer curve. The value for tyres.
const SOFT: f64 = 0.15;
/// Correlation length of errors, as a share of the line: the extent of a far leg, a tyre or a wall behind it.
const ALIKE_FOR: f64 = 0.25;
/// The smallest scatter that is accepted as credible, pixels.
const LEAST: f64 = 0.1;
/// Tukey's biweight constant: points beyond this many deviations have zero weight.
const TUKEY: f64 = 4.685;

/// Unknowns: the centre at both ends, half the width, its growth along the line, the shift towards the light.
const N: usize = 5;
type Row = SVector<f64, N>;

struct Seen {
    row: Row,
    across: f64,
    weight: f64,
    share: f64,
    side: usize,
}

/// The centre line of the tube between two sides; `None` where they do not determine it.
pub(super) fn middle(sides: [&[Spot]; 2], blur: f64, search: f64) -> Option<Middle> {
    let mut steep: Vec<f64> =
        sides.iter().flat_map(|side| side.iter().map(|spot| spot.slope.abs())).collect();
    steep.sort_by(f64::total_cmp);
    let usual = steep.get(steep.len() / 2).copied()?;
    let mut seen: Vec<Seen> = Vec::with_capacity(steep.len());
    for (side, (spots, way)) in sides.into_iter().zip([-1.0, 1.0]).enumerate() {
        for Spot { share, across, slope } in spots.iter().copied() {
            let light = if slope > 0.0 { 1.0 } else { -1.0 };
            let row = Row::from([1.0 - share, share, way, way * (share - 0.5), light]);
            // A faint change is proportionally noisier, and is shifted more easily by shading on the tube itself.
            let weight = 2.0 / (1.0 + (usual / slope).powi(2));
            seen.push(Seen { row, across, weight, share, side });
        }
    }
    let half = {
        let mean = |spots: &[Spot]| spots.iter().map(|it| it.across).sum::<f64>() / spots.len().max(1) as f64;
        let [left, right] = sides.map(mean);
        (right - left) / 2.0
    };
    let (taper, soft) = ((TAPER * half).max(1e-6), (SOFT * blur).max(1e-3));
    let before =
        SMatrix::<f64, N, N>::from_diagonal(&Row::from([0.0, 0.0, 0.0, taper.powi(-2), soft.powi(-2)]));
    let mut deviation = search;
    let mut x = Row::zeros();
    let mut weights: Vec<f64> = Vec::new();
    let mut normal = before;
    for _ in 0..40 {
        weights = seen
            .iter()
            .map(|it| {
                // In the first round no residuals exist yet, so every point has full weight.
                let off =
                    if weights.is_empty() { 0.0 } else { (it.across - it.row.dot(&x)) / (TUKEY * deviation) };
                let near = if off.abs() < 1.0 { (1.0 - off * off).powi(2) } else { 0.0 };
                it.weight * near / (deviation * deviation)
            })
            .collect();
        normal = before;
        let mut right = Row::zeros();
        for (it, weight) in seen.iter().zip(&weights) {
            normal += it.row * it.row.transpose() * *weight;
            right += it.row * (it.across * weight);
        }
        let next = normal.cholesky()?.solve(&right);
        let still = (next - x).amax() < 1e-5;
        x = next;
        let mut off: Vec<f64> = seen.iter().map(|it| (it.across - it.row.dot(&x)).abs()).collect();
        off.sort_by(f64::total_cmp);
        let median = 1.4826 * off.get(off.len() / 2).copied()?;
        let was = deviation;
        deviation = median.clamp(LEAST, (0.7 * deviation).max(LEAST));
        if still && (was - deviation).abs() < 1e-3 {
            break;
        }
    }
    let inverse = normal.try_inverse()?;
    let pulls: Vec<Row> =
        seen.iter().zip(&weights).map(|(it, w)| it.row * (w * (it.across - it.row.dot(&x)))).collect();
    // Errors near each other along a side are correlated (W. K. Newey and K. D. West, Econometrica 55 (1987) 703).
    let mut spread = before;
    for (a, of_a) in seen.iter().zip(&pulls) {
        for (b, of_b) in seen.iter().zip(&pulls) {
            let apart = (a.share - b.share).abs() / ALIKE_FOR;
            if a.side == b.side && apart < 1.0 {
                spread += of_a * of_b.transpose() * (1.0 - apart);
            }
        }
    }
    let found = inverse * spread * inverse;
    let covariance = found.fixed_view::<2, 2>(0, 0).into_owned();
    let [[m0, m1, _, growth, _]] = x.data.0;
    let astray = if growth.abs() > SKEWED * taper { growth } else { 0.0 };
    let middle = Middle { ends: [m0, m1], covariance, astray };
    (covariance.iter().all(|it| it.is_finite()) && x.iter().all(|it| it.is_finite())).then_some(middle)
}
