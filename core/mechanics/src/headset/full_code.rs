//! Full codes: seat, fork side and stack height of both halves, such as `ZS44/28.6 | EC44/40/H12`.

use super::{End, SeatCode};
use std::fmt;
use std::str::FromStr;

/// A length in a code, in tenths of a millimetre, so that codes compare and print exactly. It is a name, not a
/// measurement: a crown race seat called 40 measures 39.8 mm (see [`super::fork_sizes`]).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tenths(pub u16);

impl Tenths {
    /// The named length, mm.
    pub fn mm(self) -> f64 {
        f64::from(self.0) / 10.0
    }

    /// Digits with at most one decimal, between `low` and `high` tenths of a millimetre.
    fn parse(text: &str, low: u16, high: u16) -> Option<Self> {
        let (whole, tenth) = text.split_once('.').unwrap_or((text, "0"));
        let digits = |part: &str, most: usize| {
            (1..=most).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit())
        };
        if !digits(whole, 2) || !digits(tenth, 1) {
            return None;
        }
        let tenths = whole.parse::<u16>().ok()? * 10 + tenth.parse::<u16>().ok()?;
        (low..=high).contains(&tenths).then_some(Self(tenths))
    }
}

impl fmt::Display for Tenths {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.0 / 10, self.0 % 10) {
            (whole, 0) => f.pad(&whole.to_string()),
            (whole, tenth) => f.pad(&format!("{whole}.{tenth}")),
        }
    }
}

/// One half of a headset: seat, then the steerer (upper) or crown race seat (lower) it fits, then the stack height if
/// stated, as in `EC34/28.6/H16`.
///
/// The letter H identifies the stack height, so its position is unambiguous: it is printed last and accepted in either
/// position, after a slash or a blank. Lower-case letters are accepted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct HalfCode {
    /// Style and name of the seat.
    pub seat: SeatCode,
    /// Steerer diameter (upper half) or crown race seat (lower half), 20 to 60 mm.
    pub fork: Tenths,
    /// Stack height outside the head tube, up to 60 mm.
    pub stack: Option<Tenths>,
}

/// Both halves: `IS42/28.6 | IS52/40`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct FullCode {
    /// The stem's end.
    pub upper: HalfCode,
    /// The fork crown's end.
    pub lower: HalfCode,
}

/// What is wrong with one half of a code.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum HalfProblem {
    /// The part before the slash.
    #[error("seat {0}")]
    Seat(#[from] super::NotASeatCode),
    /// Nothing follows the slash.
    #[error("the steerer or crown race seat is missing after the slash; expected such as /28.6 or /40")]
    NoFork,
    /// The part after the slash.
    #[error(
        "`{0}` is not a steerer or crown race seat; expected 20 to 60 mm, one decimal at most, such as 28.6"
    )]
    Fork(String),
    /// The part after `H`.
    #[error("`{0}` is not a stack height; expected H and up to 60 mm, one decimal at most, such as H16")]
    Stack(String),
    /// More parts than a half has, or the same part twice.
    #[error("`{0}` is one part too many; a half is seat, fork size and, at most once, a stack height")]
    Surplus(String),
}

/// A code of one half that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{text}`: {problem}")]
pub struct NotAHalfCode {
    /// The input text.
    pub text: String,
    /// What is wrong with it.
    pub problem: HalfProblem,
}

/// A full code that could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAFullCode {
    /// Not exactly two halves.
    #[error("`{0}` has not two halves parted by one bar; expected such as IS42/28.6 | IS52/40")]
    Halves(String),
    /// One half is wrong.
    #[error("{} half {error}", end.name())]
    Half {
        /// Which half.
        end: End,
        /// What is wrong with it.
        error: NotAHalfCode,
    },
}

impl FromStr for HalfCode {
    type Err = NotAHalfCode;

    fn from_str(text: &str) -> Result<Self, NotAHalfCode> {
        half(text).map_err(|problem| NotAHalfCode { text: text.to_owned(), problem })
    }
}

fn half(text: &str) -> Result<HalfCode, HalfProblem> {
    let capitals = text.to_ascii_uppercase();
    let mut parts = capitals
        .split(|c: char| c == '/' || c.is_whitespace())
        .map(str::trim)
        .filter(|part| !part.is_empty());
    let seat: SeatCode = parts.next().unwrap_or_default().parse()?;
    let (mut fork, mut stack) = (None, None);
    for part in parts {
        let place = if let Some(height) = part.strip_prefix('H') {
            let read = Tenths::parse(height, 0, 600).ok_or_else(|| HalfProblem::Stack(part.to_owned()))?;
            stack.replace(read)
        } else {
            let read = Tenths::parse(part, 200, 600).ok_or_else(|| HalfProblem::Fork(part.to_owned()))?;
            fork.replace(read)
        };
        if place.is_some() {
            return Err(HalfProblem::Surplus(part.to_owned()));
        }
    }
    Ok(HalfCode { seat, fork: fork.ok_or(HalfProblem::NoFork)?, stack })
}

impl fmt::Display for HalfCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut text = format!("{}/{}", self.seat, self.fork);
        if let Some(stack) = self.stack {
            text.push_str(&format!("/H{stack}"));
        }
        f.pad(&text)
    }
}

impl FromStr for FullCode {
    type Err = NotAFullCode;

    fn from_str(text: &str) -> Result<Self, NotAFullCode> {
        let read = |end, part: &str| part.trim().parse().map_err(|error| NotAFullCode::Half { end, error });
        match text.split_once('|') {
            Some((upper, lower)) if !lower.contains('|') => {
                Ok(Self { upper: read(End::Upper, upper)?, lower: read(End::Lower, lower)? })
            }
            _ => Err(NotAFullCode::Halves(text.to_owned())),
        }
    }
}

impl fmt::Display for FullCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} | {}", self.upper, self.lower))
    }
}
