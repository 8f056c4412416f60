//! Everything that the addresses share.

use crate::bucket::{Buckets, Rate};
use crate::database::Database;
use crate::metrics::Metrics;
use crate::page::Pictures;
use crate::photos::Shelf;
use crate::senders::Sender;
use crate::shop::Shop;
use std::net::IpAddr;
use std::sync::Arc;
use std::time::Duration;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::OrderRequest;
use tokio::sync::Semaphore;

/// Where the time comes from.
pub type Clock = Arc<dyn Fn() -> Timestamp + Send + Sync>;

/// The machine's clock.
pub fn machine_clock() -> Clock {
    Arc::new(|| {
        let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
        Timestamp(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
    })
}

/// Limits of one process.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Bytes of a request.
    pub request_bytes: usize,
    /// Bytes of a whole photo.
    pub photo_bytes: u64,
    /// Bytes of one part of a photo.
    pub part_bytes: usize,
    /// Bytes of one sender's photos that no request names yet.
    pub loose_bytes: u64,
    /// How long a photo is kept that no request names.
    pub loose: Duration,
    /// Photo parts that are in memory at a time.
    pub parts_at_once: usize,
    /// Calls of one sender.
    pub sender: Rate,
    /// Calls with a token that is not known, from one address.
    pub stranger: Rate,
    /// Tries to log in, from one address.
    pub login: Rate,
    /// The longest a body may take to come in.
    pub body: Duration,
    /// The longest anything may take.
    pub whole: Duration,
    /// How long a key stays claimed by a process that says nothing more.
    pub claim: Duration,
    /// Requests on one page of the list.
    pub page_lines: u32,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            request_bytes: OrderRequest::MOST_BYTES,
            photo_bytes: OrderRequest::MOST_PHOTO_BYTES,
            part_bytes: OrderRequest::MOST_PART_BYTES as usize,
            loose_bytes: 256 << 20,
            loose: Duration::from_secs(30 * 86_400),
            parts_at_once: 16,
            sender: Rate { burst: 120, each_second: 4.0 },
            stranger: Rate { burst: 20, each_second: 0.2 },
            login: Rate { burst: 5, each_second: 1.0 / 30.0 },
            body: Duration::from_secs(60),
            whole: Duration::from_secs(90),
            claim: Duration::from_secs(180),
            page_lines: 30,
        }
    }
}

/// What one process of the receiver has.
pub struct Intake {
    /// Requests, senders, shopkeepers.
    pub database: Database,
    /// Bytes of photos.
    pub shelf: Shelf,
    /// What is sold.
    pub shop: Shop,
    /// The time.
    pub clock: Clock,
    /// Limits.
    pub limits: Limits,
    /// Whether browsers reach it by `https` only: cookies are marked so.
    pub https: bool,
    /// Counters.
    pub metrics: Metrics,
    pub(crate) by_sender: Buckets<Sender>,
    pub(crate) by_stranger: Buckets<IpAddr>,
    pub(crate) by_login: Buckets<IpAddr>,
    pub(crate) part_slots: Semaphore,
    pub(crate) password_slots: Semaphore,
    pub(crate) pictures: Pictures,
}

impl Intake {
    /// Puts the parts together.
    pub fn new(
        database: Database,
        shelf: Shelf,
        shop: Shop,
        clock: Clock,
        limits: Limits,
        https: bool,
    ) -> Self {
        Self {
            database,
            shelf,
            shop,
            clock,
            limits,
            https,
            metrics: Metrics::default(),
            by_sender: Buckets::new(limits.sender),
            by_stranger: Buckets::new(limits.stranger),
            by_login: Buckets::new(limits.login),
            part_slots: Semaphore::new(limits.parts_at_once),
            // Each takes 19 MiB and a core for a moment.
            password_slots: Semaphore::new(2),
            pictures: Pictures::default(),
        }
    }

    /// Tidies away photos that no request names, once an hour, for ever.
    pub async fn keep_tidy(self: Arc<Self>) {
        let mut hours = tokio::time::interval(Duration::from_secs(3_600));
        loop {
            hours.tick().await;
            let age = i64::try_from(self.limits.loose.as_millis()).unwrap_or(i64::MAX);
            let before = Timestamp(self.now().0.saturating_sub(age));
            match crate::photos::tidy(&self.database, &self.shelf, before).await {
                Ok(0) => {}
                Ok(photos) => tracing::info!(photos, "tidied away"),
                Err(error) => tracing::error!(%error, "not tidied"),
            }
        }
    }

    /// Now.
    pub fn now(&self) -> Timestamp {
        (self.clock)()
    }
}
