//! Long work that somebody looks on at and may end.

use super::BookError;
use super::error::Inner;

/// Is told how far long work has come, and may end it.
pub trait Progress {
    /// So many steps of so many are done; false ends the work, which then changes nothing.
    fn should_continue(&mut self, done: u64, of: u64) -> bool;
}

/// Nobody looks on.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct NoProgress;

impl Progress for NoProgress {
    fn should_continue(&mut self, _done: u64, _of: u64) -> bool {
        true
    }
}

/// Tells a step; an error where the work is to end.
pub(super) fn step(progress: &mut dyn Progress, done: u64, of: u64) -> Result<(), Inner> {
    if progress.should_continue(done, of) { Ok(()) } else { Err(Inner::Caller(BookError::Cancelled)) }
}
