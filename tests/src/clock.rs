//! A deterministic clock.

use steerwright_core::book::{Clock, Timestamp};

/// Starts at 2026-05-01T08:00:00Z, advances by a second at each call, and its random bytes count up.
#[derive(Debug, Clone)]
pub struct RepeatableClock {
    now: i64,
    count: u128,
}

impl RepeatableClock {
    /// The clock at its start; clocks of different `series` return different random bytes.
    pub fn new(series: u8) -> Self {
        Self { now: 1_777_622_400_000, count: u128::from(series) << 64 }
    }

    /// Advances it to this time, if that is later.
    pub fn skip_to(&mut self, time: Timestamp) {
        self.now = self.now.max(time.0);
    }
}

impl Default for RepeatableClock {
    fn default() -> Self {
        Self::new(0)
    }
}

impl Clock for RepeatableClock {
    fn now(&mut self) -> Timestamp {
        self.now += 1_000;
        Timestamp(self.now)
    }

    fn random(&mut self) -> [u8; 10] {
        self.count += 1;
        let [_, _, _, _, _, _, bytes @ ..] = self.count.to_be_bytes();
        bytes
    }
}
