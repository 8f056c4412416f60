//! The time, and chance.

use crate::ShellError;
use std::hash::{BuildHasher, RandomState};
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};
use steerwright_core::book::{Clock, Timestamp};

/// Tells the time; for a shell that has a better clock than the system's, and for tests.
#[uniffi::export(foreign)]
pub trait TimeSource: Send + Sync {
    /// Milliseconds since 1970-01-01T00:00:00Z. If it throws, the system's own clock is asked: a reading has to be
    /// written down in any case.
    fn now_ms(&self) -> Result<i64, ShellError>;
}

/// The book's clock: the shell's or the system's, and the system's source of random numbers.
#[derive(Clone)]
pub(crate) struct OwnClock(pub(crate) Option<Arc<dyn TimeSource>>);

impl OwnClock {
    pub(crate) fn time(&self) -> Timestamp {
        let told = self.0.as_ref().and_then(|source| source.now_ms().ok());
        Timestamp(told.unwrap_or_else(|| {
            let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
            i64::try_from(since.as_millis()).unwrap_or(i64::MAX)
        }))
    }
}

impl Clock for OwnClock {
    fn now(&mut self) -> Timestamp {
        self.time()
    }

    fn random(&mut self) -> [u8; 10] {
        let mut bytes = [0; 10];
        if getrandom::fill(&mut bytes).is_err() {
            // It answered when the book was opened; should it have stopped since, the process's own keys, drawn from
            // the same source at its start, still give names that nobody else has.
            let drawn = [RandomState::new().hash_one(0), RandomState::new().hash_one(1)];
            let drawn = drawn.iter().flat_map(|word| word.to_le_bytes());
            bytes.iter_mut().zip(drawn).for_each(|(byte, fresh)| *byte = fresh);
        }
        bytes
    }
}

/// Whether there are random numbers.
pub(crate) fn chance() -> Result<(), crate::SteerwrightError> {
    getrandom::fill(&mut [0; 1]).map_err(|error| crate::SteerwrightError::Device {
        reason: format!("the system gives no random numbers: {error}"),
    })
}
