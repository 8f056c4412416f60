//! The kernel over blocks of bicycles held in columns.
//!
//! A block's columns are local arrays, so the compiler knows that they do not overlap and turns the loop over
//! a block into vector instructions of the machine it finds itself on.

use super::change::Resolved;
use super::kernel::{self, Settled};
use super::{Bicycle, Figure, SideView};

/// Bicycles in a block.
pub(super) const LANES: usize = 64;
/// Numbers that go in: a bicycle's eleven in the order of its fields, then a change's eleven: upper and lower
/// plane, upper and lower offset, axle to crown, fork offset, front and rear radius, lower stack, front and
/// rear sag.
pub(super) const INPUTS: usize = 22;
/// Numbers that come out: ten figures before, ten after, tilt, pitch.
pub(super) const RESULTS: usize = 2 * Figure::COUNT + 2;

/// One number of every bicycle of a block.
pub(super) type Column = [f64; LANES];

#[inline(always)]
#[expect(clippy::indexing_slicing, reason = "a lane of fixed arrays")]
fn bicycle(x: &[Column; INPUTS], i: usize) -> Bicycle {
    Bicycle {
        wheelbase: x[0][i],
        head_angle: x[1][i],
        axle_to_crown: x[2][i],
        fork_offset: x[3][i],
        lower_stack: x[4][i],
        head_tube_length: x[5][i],
        front_radius: x[6][i],
        rear_radius: x[7][i],
        chainstay: x[8][i],
        bottom_bracket_height: x[9][i],
        seat_angle: x[10][i],
    }
}

/// Before and after of one block. The same bits as one bicycle at a time.
#[inline(always)]
#[expect(
    clippy::indexing_slicing,
    reason = "a lane of fixed arrays; iterators over 44 columns would hide the loop"
)]
pub(super) fn compare(x: &[Column; INPUTS], sagged: bool, out: &mut [Column; RESULTS]) {
    for i in 0..LANES {
        let b = bicycle(x, i);
        let change = Resolved {
            upper_plane: x[11][i],
            lower_plane: x[12][i],
            upper: x[13][i],
            lower: x[14][i],
            axle_to_crown: x[15][i] - x[20][i],
            fork_offset: x[16][i],
            front_radius: x[17][i],
            rear_radius: x[18][i],
            lower_stack: x[19][i],
            rear_sag: x[21][i],
        };
        let standing = kernel::stand(b);
        let Settled { view: after, tilt, pitch } = kernel::settle(b, &standing, change);
        let before = standing.figures();
        let after = after.figures();
        for k in 0..Figure::COUNT {
            out[k][i] = before[k];
            out[Figure::COUNT + k][i] = after[k];
        }
        out[2 * Figure::COUNT][i] = tilt;
        out[2 * Figure::COUNT + 1][i] = pitch;
    }
    if sagged {
        settle_before(x, out);
    }
}

/// By how much one bicycle's head angle turns with each of a block of kits: planes, offsets, lower stack.
#[inline(always)]
#[expect(clippy::indexing_slicing, reason = "as above")]
pub(super) fn head_angles_moved(b: &Bicycle, standing: &SideView, x: &[Column; 5], out: &mut Column) {
    for i in 0..LANES {
        let change = Resolved {
            upper_plane: x[0][i],
            lower_plane: x[1][i],
            upper: x[2][i],
            lower: x[3][i],
            axle_to_crown: b.axle_to_crown,
            fork_offset: b.fork_offset,
            front_radius: b.front_radius,
            rear_radius: b.rear_radius,
            lower_stack: x[4][i],
            rear_sag: 0.0,
        };
        out[i] = kernel::settle(*b, standing, change).view.head_angle - standing.head_angle;
    }
}

/// Puts the sagged stance in the place of the standing one, for the lanes that are sagged.
#[inline(always)]
#[expect(clippy::indexing_slicing, reason = "as above")]
fn settle_before(x: &[Column; INPUTS], out: &mut [Column; RESULTS]) {
    for i in 0..LANES {
        let b = bicycle(x, i);
        let sag = Resolved {
            upper_plane: 0.0,
            lower_plane: 0.0,
            upper: 0.0,
            lower: 0.0,
            axle_to_crown: b.axle_to_crown - x[20][i],
            fork_offset: b.fork_offset,
            front_radius: b.front_radius,
            rear_radius: b.rear_radius,
            lower_stack: b.lower_stack,
            rear_sag: x[21][i],
        };
        let is_sagged = (x[20][i] != 0.0) | (x[21][i] != 0.0);
        let standing = kernel::stand(b);
        let settled = kernel::settle(b, &standing, sag);
        let figures = settled.view.figures();
        for k in 0..Figure::COUNT {
            out[k][i] = if is_sagged { figures[k] } else { out[k][i] };
        }
        out[2 * Figure::COUNT + 1][i] -= if is_sagged { settled.pitch } else { 0.0 };
    }
}
