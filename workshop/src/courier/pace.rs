//! The time, waiting, and being told to stop.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, SystemTime, UNIX_EPOCH};
use steerwright_core::book::Moment;

/// Where a courier's time comes from.
pub trait Pace {
    /// Now.
    fn now(&mut self) -> Moment;
    /// Waits so long, or until told to stop.
    fn rest(&mut self, span: Duration);
    /// Whether to stop: the call on its way ends, and no other is begun.
    fn is_over(&self) -> bool;
}

/// The machine's clock, or the first moment there is where that is set before 1970.
pub fn machine_now() -> Moment {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    Moment(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
}

/// The machine's clock, with a flag that stops.
#[derive(Debug, Clone, Default)]
pub struct MachinePace {
    /// Set to stop.
    pub stop: Arc<AtomicBool>,
}

impl MachinePace {
    /// How long being told to stop may go unnoticed.
    const STEP: Duration = Duration::from_millis(100);
}

impl Pace for MachinePace {
    fn now(&mut self) -> Moment {
        machine_now()
    }

    fn rest(&mut self, span: Duration) {
        let mut left = span;
        while !left.is_zero() && !self.is_over() {
            let step = left.min(Self::STEP);
            thread::sleep(step);
            left -= step;
        }
    }

    fn is_over(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}
