//! Long work that somebody looks on at and may end.

use super::BookError;
use super::error::Inner;

/// Is told how far long work has come, and may end it.
pub trait Watch {
    /// So many steps of so many are done; false ends the work, which then changes nothing.
    fn goes_on(&mut self, done: u64, of: u64) -> bool;
}

/// Nobody looks on.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Unwatched;

impl Watch for Unwatched {
    fn goes_on(&mut self, _done: u64, _of: u64) -> bool {
        true
    }
}

/// Tells a step; an error where the work is to end.
pub(super) fn step(watch: &mut dyn Watch, done: u64, of: u64) -> Result<(), Inner> {
    if watch.goes_on(done, of) { Ok(()) } else { Err(Inner::Told(BookError::Stopped)) }
}
