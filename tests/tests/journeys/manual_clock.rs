//! A clock that advances only by waiting.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, Ordering};
use std::time::Duration;
use steerwright_core::book::Timestamp;
use steerwright_intake::Clock;
use steerwright_tests::fixture::START;
use steerwright_workshop::delivery::{LoopControl, Network, OutboxWorker, Timeouts, Trust};

#[derive(Clone, Default)]
pub struct ManualClock(Arc<AtomicI64>);

impl ManualClock {
    pub fn forward(&self, ms: i64) {
        self.0.fetch_add(ms, Ordering::SeqCst);
    }

    pub fn at(&self) -> Timestamp {
        Timestamp(START.0 + self.0.load(Ordering::SeqCst))
    }

    /// The same clock for the shop.
    pub fn clock(&self) -> Clock {
        let clock = self.clone();
        Arc::new(move || clock.at())
    }
}

impl LoopControl for ManualClock {
    fn now(&mut self) -> Timestamp {
        self.at()
    }

    fn sleep(&mut self, span: Duration) {
        self.forward(span.as_millis() as i64);
    }

    fn is_cancelled(&self) -> bool {
        false
    }
}

/// A network that is available or not.
pub struct Always(pub bool);

impl Network for Always {
    fn is_reachable(&self, _: &str) -> bool {
        self.0
    }
}

/// A network that can be switched.
#[derive(Clone, Default)]
pub struct Switch(pub Arc<AtomicBool>);

impl Network for Switch {
    fn is_reachable(&self, _: &str) -> bool {
        self.0.load(Ordering::SeqCst)
    }
}

pub fn worker() -> OutboxWorker {
    worker_with(&Trust::Platform, Timeouts::default())
}

pub fn worker_with(trust: &Trust, times: Timeouts) -> OutboxWorker {
    OutboxWorker::new(trust, times, Box::new(Always(true))).unwrap()
}

/// For calls that have to time out: on a machine under load any other might, too.
pub fn hasty() -> OutboxWorker {
    let times = Timeouts {
        silence: Duration::from_millis(1_000),
        whole: Duration::from_millis(4_000),
        ..Timeouts::default()
    };
    worker_with(&Trust::Platform, times)
}
