//! The machined seat of a frame, independent of the cup or bearing installed in it.

use super::{SeatCode, Style};
use std::fmt;

/// The machined seat of a frame.
///
/// A plain bore takes a zero-stack or an external cup alike: ZS44 and EC44 share the bore 43.90-43.95 mm, so the bore
/// belongs to the frame and the style only to the cup. The 49 and 56 mm bores are shared in the same manner (the
/// printed limits of ZS49 and EC49 differ by 0.02-0.05 mm, less than the ovality of bores).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FrameSeat {
    /// The bearing's outer race sits directly in the frame; the whole-millimetre name of the IS size.
    DropIn(u16),
    /// A cup is pressed in a plain bore; the whole-millimetre name shared by ZS and EC.
    Pressed(u16),
}

impl fmt::Display for FrameSeat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::DropIn(name) => f.pad(&format!("drop-in {name}")),
            Self::Pressed(name) => f.pad(&format!("pressed {name}")),
        }
    }
}

/// The frame seat that a code needs.
pub fn frame_seat(code: SeatCode) -> FrameSeat {
    match code.style {
        Style::Is => FrameSeat::DropIn(code.name_mm),
        Style::Zs | Style::Ec => FrameSeat::Pressed(code.name_mm),
    }
}

/// Whether two codes fit the same frame seat.
pub fn same_frame_seat(a: SeatCode, b: SeatCode) -> bool {
    frame_seat(a) == frame_seat(b)
}
