//! Clock and random numbers.

use crate::ShellError;
use std::hash::{BuildHasher, RandomState};
use std::sync::Arc;
use std::time::{SystemTime, UNIX_EPOCH};
use steerwright_core::book::{Clock, Timestamp};

/// A clock, for host apps with a better one than the system's and for tests.
#[uniffi::export(foreign)]
pub trait TimeSource: Send + Sync {
    /// Milliseconds since 1970-01-01T00:00:00Z. On an error the system clock is used, because a reading has
    /// to be recorded in any case.
    fn now_ms(&self) -> Result<i64, ShellError>;
}

/// The book's clock (the host app's or the system's) and the system's source of random numbers.
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
            // The source worked when the book was opened. If it fails later, the hasher keys of the process
            // are used: they were drawn from the same source at process start, so the ids are still unique.
            let drawn = [RandomState::new().hash_one(0), RandomState::new().hash_one(1)];
            let drawn = drawn.iter().flat_map(|word| word.to_le_bytes());
            bytes.iter_mut().zip(drawn).for_each(|(byte, fresh)| *byte = fresh);
        }
        bytes
    }
}

/// Checks that the system provides random numbers.
pub(crate) fn chance() -> Result<(), crate::SteerwrightError> {
    getrandom::fill(&mut [0; 1]).map_err(|error| crate::SteerwrightError::Device {
        reason: format!("the system gives no random numbers: {error}"),
    })
}
