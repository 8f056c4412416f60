//! The time, waiting, and being told to stop.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, SystemTime, UNIX_EPOCH};
use steerwright_core::book::Timestamp;

/// Where an outbox worker's time comes from.
pub trait LoopControl {
    /// Now.
    fn now(&mut self) -> Timestamp;
    /// Waits so long, or until told to stop.
    fn sleep(&mut self, span: Duration);
    /// Whether to stop: the call on its way ends, and no other is begun.
    fn is_cancelled(&self) -> bool;
}

/// The machine's clock, or the first moment there is where that is set before 1970.
pub fn system_now() -> Timestamp {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Timestamp(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}

/// The machine's clock, with a flag that stops.
#[derive(Debug, Clone, Default)]
pub struct SystemLoopControl {
    /// Set to stop.
    pub stop: Arc<AtomicBool>,
}

impl SystemLoopControl {
    /// How long being told to stop may go unnoticed.
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
