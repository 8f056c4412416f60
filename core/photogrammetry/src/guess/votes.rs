//! Hough vote for centres.

use super::Slope;

/// Side of an accumulator cell, pixels.
const CELL: f64 = 2.0;
/// Candidates within this share of the least radius of a better one are duplicates.
const APART: f64 = 0.35;
/// Maximum number of centres examined for each aspect ratio.
const MOST: usize = 10;

/// A candidate centre in the picture, and its votes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Centre {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) votes: f64,
}

/// The positions where the most gradient lines meet, for ellipses whose width is `narrow` times their height and whose
/// half height is within `radii`.
pub(super) fn centres(
    edges: &[Slope],
    [width, height]: [f64; 2],
    narrow: f64,
    radii: [f64; 2],
) -> Vec<Centre> {
    // Stretched horizontally, the ellipses become circles.
    let across = (width / narrow / CELL).ceil() as usize + 1;
    let down = (height / CELL).ceil() as usize + 1;
    let mut ballot = vec![0u16; across * down];
    let [least, most] = radii.map(|radius| radius / CELL);
    let steps = (most - least).max(0.0) as usize;
    for edge in edges {
        let (x, y) = (edge.x / narrow / CELL, edge.y / CELL);
        let (dx, dy) = (edge.dx * narrow, edge.dy);
        let length = libm::hypot(dx, dy);
        for way in [1.0, -1.0] {
            let (dx, dy) = (way * dx / length, way * dy / length);
            let (mut at_x, mut at_y) = (x + least * dx, y + least * dy);
            for _ in 0..steps {
                if at_x >= 0.0 && at_y >= 0.0 && at_x < across as f64 {
                    let cell = at_y as usize * across + at_x as usize;
                    if let Some(votes) = ballot.get_mut(cell) {
                        *votes = votes.saturating_add(1);
                    }
                }
                at_x += dx;
                at_y += dy;
            }
        }
    }
    let smooth = blurred(&ballot, across);
    let mut found: Vec<Centre> = peaks(&smooth, across)
        .map(|(column, row, votes)| Centre {
            x: (column as f64 + 0.5) * CELL * narrow,
            y: (row as f64 + 0.5) * CELL,
            votes,
        })
        .collect();
    found.sort_by(|a, b| b.votes.total_cmp(&a.votes));
    let [near, _] = radii.map(|radius| radius * APART);
    let mut kept: Vec<Centre> = Vec::new();
    for centre in found {
        if kept.len() == MOST {
            break;
        }
        if kept.iter().all(|other| libm::hypot(other.x - centre.x, other.y - centre.y) > near) {
            kept.push(centre);
        }
    }
    kept
}

/// Box filter of three by three cells, applied twice, minus the mean of the wider surroundings' rows, so that peaks
/// stand out.
fn blurred(ballot: &[u16], across: usize) -> Vec<f32> {
    let plain: Vec<f32> = ballot.iter().map(|votes| f32::from(*votes)).collect();
    let along = |cells: &[f32]| -> Vec<f32> {
        let mut out = Vec::with_capacity(cells.len());
        for row in cells.chunks(across) {
            let before = row.first().into_iter().chain(row);
            let after = row.iter().skip(1).chain(row.last());
            out.extend(before.zip(row).zip(after).map(|((a, b), c)| a + 2.0 * b + c));
        }
        out
    };
    let down = |cells: &[f32]| -> Vec<f32> {
        let first = cells.get(..across).unwrap_or_default();
        let last = cells.get(cells.len().saturating_sub(across)..).unwrap_or_default();
        let before = first.iter().chain(cells);
        let after = cells.iter().skip(across).chain(last);
        before.zip(cells).zip(after).map(|((a, b), c)| (a + 2.0 * b + c) / 16.0).collect()
    };
    let once = down(&along(&plain));
    down(&along(&once))
}

/// Local maxima.
fn peaks(cells: &[f32], across: usize) -> impl Iterator<Item = (usize, usize, f64)> + '_ {
    let at = move |place: usize| cells.get(place).copied().unwrap_or(0.0);
    cells.iter().enumerate().filter_map(move |(place, votes)| {
        let (column, row) = (place % across, place / across);
        if column == 0 || column + 1 == across || row == 0 || *votes <= 0.0 {
            return None;
        }
        let earlier = [place - across - 1, place - across, place - across + 1, place - 1];
        let later = [place + 1, place + across - 1, place + across, place + across + 1];
        let top =
            earlier.iter().all(|other| at(*other) <= *votes) && later.iter().all(|other| at(*other) < *votes);
        top.then_some((column, row, f64::from(*votes)))
    })
}
