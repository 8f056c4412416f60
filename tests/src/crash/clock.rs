//! A clock that is deterministic per step, in any process.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use steerwright_core::book::{Clock, Timestamp};

/// Time and random bytes computed from a step's number and the number of calls within the step.
#[derive(Debug, Clone, Default)]
pub struct StepClock {
    step: Arc<AtomicU64>,
    asked: Arc<AtomicU64>,
}

impl StepClock {
    /// Starts a step, for the first time or again.
    pub fn begin(&self, step: u64) {
        self.step.store(step, Ordering::SeqCst);
        self.asked.store(0, Ordering::SeqCst);
    }
}

impl Clock for StepClock {
    fn now(&mut self) -> Timestamp {
        let (step, asked) = (self.step.load(Ordering::SeqCst), self.asked.fetch_add(1, Ordering::SeqCst));
        Timestamp(1_780_300_800_000 + (step * 10_000 + asked) as i64)
    }

    fn random(&mut self) -> [u8; 10] {
        let (step, asked) = (self.step.load(Ordering::SeqCst), self.asked.fetch_add(1, Ordering::SeqCst));
        let mut bytes = [0xC5; 10];
        bytes[2..6].copy_from_slice(&(step as u32).to_be_bytes());
        bytes[6..].copy_from_slice(&(asked as u32).to_be_bytes());
        bytes
    }
}
