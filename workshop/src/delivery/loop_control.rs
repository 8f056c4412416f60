//! Time, waiting and cancellation.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, SystemTime, UNIX_EPOCH};
use steerwright_core::book::Timestamp;

/// The clock and the cancellation of an outbox worker.
pub trait LoopControl {
    /// The current time.
    fn now(&mut self) -> Timestamp;
    /// Sleeps for `span`, or until cancelled.
    fn sleep(&mut self, span: Duration);
    /// Whether to stop: the current call is completed and no further call is begun.
    fn is_cancelled(&self) -> bool;
}

/// The system time; the Unix epoch if the clock is set before 1970.
pub fn system_now() -> Timestamp {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Timestamp(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}

/// The system clock with a cancellation flag.
#[derive(Debug, Clone, Default)]
pub struct SystemLoopControl {
    /// Set to cancel.
    pub stop: Arc<AtomicBool>,
}

impl SystemLoopControl {
    /// Interval at which a sleep checks for cancellation.
    const STEP: Duration = Duration::from_millis(100);
}

impl LoopControl for SystemLoopControl {
    fn now(&mut self) -> Timestamp {
        system_now()
    }

    fn sleep(&mut self, span: Duration) {
        let mut left = span;
        while !left.is_zero() && !self.is_cancelled() {
            let step = left.min(Self::STEP);
            thread::sleep(step);
            left -= step;
        }
    }

    fn is_cancelled(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}
