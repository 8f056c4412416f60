//! Progress reports and cancellation of long work.

use super::BookError;
use super::error::Inner;

/// Receives the progress of long work and can cancel it.
pub trait Progress {
    /// Reports that `done` steps of `of` are done. False cancels the work, which then changes nothing.
    fn should_continue(&mut self, done: u64, of: u64) -> bool;
}

/// No progress reports; never cancels.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct NoProgress;

impl Progress for NoProgress {
    fn should_continue(&mut self, _done: u64, _of: u64) -> bool {
        true
    }
}

/// Reports a step; an error if the work is cancelled.
pub(super) fn step(progress: &mut dyn Progress, done: u64, of: u64) -> Result<(), Inner> {
    if progress.should_continue(done, of) { Ok(()) } else { Err(Inner::Caller(BookError::Cancelled)) }
}
