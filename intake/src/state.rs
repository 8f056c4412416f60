//! The state that all request handlers share.

use crate::catalogue::PublishedCatalogue;
use crate::database::Database;
use crate::metrics::Metrics;
use crate::page::ReportCache;
use crate::photos::PhotoStore;
use crate::rate_limit::{RateLimit, RateLimiter};
use crate::senders::Sender;
use std::net::IpAddr;
use std::sync::Arc;
use std::time::Duration;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::OrderRequest;
use tokio::sync::Semaphore;

/// A source of the present time.
pub type Clock = Arc<dyn Fn() -> Timestamp + Send + Sync>;

/// The operating system's clock.
pub fn system_clock() -> Clock {
    Arc::new(|| {
        let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap_or_default();
        Timestamp(i64::try_from(since.as_millis()).unwrap_or(i64::MAX))
    })
}

/// Limits of one process.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// The most bytes of a request.
    pub request_bytes: usize,
    /// The most bytes of a photo.
    pub photo_bytes: u64,
    /// The most bytes of one part of a photo.
    pub part_bytes: usize,
    /// The most bytes of a sender's photos that no request names yet.
    pub unreferenced_photo_bytes: u64,
    /// A photo that no request names is deleted after this time.
    pub unreferenced_photo_age: Duration,
    /// The most photo parts in memory at a time.
    pub concurrent_parts: usize,
    /// Requests of one sender.
    pub sender_rate: RateLimit,
    /// Requests without a valid token from one client address.
    pub unauthenticated_rate: RateLimit,
    /// Login attempts from one client address.
    pub login_rate: RateLimit,
    /// The most time for receiving a body.
    pub body_timeout: Duration,
    /// The most time for a whole request.
    pub request_timeout: Duration,
    /// The claim of an idempotency key expires after this time.
    pub claim_timeout: Duration,
    /// Requests on one page of the list.
    pub list_page_size: u32,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            request_bytes: OrderRequest::MOST_BYTES,
            photo_bytes: OrderRequest::MOST_PHOTO_BYTES,
            part_bytes: OrderRequest::MOST_PART_BYTES as usize,
            unreferenced_photo_bytes: 256 << 20,
            unreferenced_photo_age: Duration::from_secs(30 * 86_400),
            concurrent_parts: 16,
            sender_rate: RateLimit { burst: 120, per_second: 4.0 },
            unauthenticated_rate: RateLimit { burst: 20, per_second: 0.2 },
            login_rate: RateLimit { burst: 5, per_second: 1.0 / 30.0 },
            body_timeout: Duration::from_secs(60),
            request_timeout: Duration::from_secs(90),
            claim_timeout: Duration::from_secs(180),
            list_page_size: 30,
        }
    }
}

/// The state of one process of the receiver.
pub struct AppState {
    /// Requests, senders and shopkeepers.
    pub database: Database,
    /// The bytes of photos.
    pub photo_store: PhotoStore,
    /// The catalogue.
    pub published: PublishedCatalogue,
    /// The clock.
    pub clock: Clock,
    /// Limits.
    pub limits: Limits,
    /// Whether browsers reach it by HTTPS only: sets `Secure` cookies and `Strict-Transport-Security`.
    pub https: bool,
    /// Metrics.
    pub metrics: Metrics,
    pub(crate) sender_limiter: RateLimiter<Sender>,
    pub(crate) unauthenticated_limiter: RateLimiter<IpAddr>,
    pub(crate) login_limiter: RateLimiter<IpAddr>,
    pub(crate) part_slots: Semaphore,
    pub(crate) password_slots: Semaphore,
    pub(crate) report_cache: ReportCache,
}

impl AppState {
    /// A state with full rate limits and an empty report cache.
    pub fn new(
        database: Database,
        photo_store: PhotoStore,
        published: PublishedCatalogue,
        clock: Clock,
        limits: Limits,
        https: bool,
    ) -> Self {
        Self {
            database,
            photo_store,
            published,
            clock,
            limits,
            https,
            metrics: Metrics::default(),
            sender_limiter: RateLimiter::new(limits.sender_rate),
            unauthenticated_limiter: RateLimiter::new(limits.unauthenticated_rate),
            login_limiter: RateLimiter::new(limits.login_rate),
            part_slots: Semaphore::new(limits.concurrent_parts),
            // Verifying a password takes 19 MiB and a core.
            password_slots: Semaphore::new(2),
            report_cache: ReportCache::default(),
        }
    }

    /// Deletes photos that no request names, once an hour, without end.
    pub async fn delete_unreferenced_photos_hourly(self: Arc<Self>) {
        let mut hours = tokio::time::interval(Duration::from_secs(3_600));
        loop {
            hours.tick().await;
            // A task of its own, so that a panic ends this pass and not all later ones.
            if let Err(error) = tokio::spawn(Arc::clone(&self).delete_unreferenced_photos()).await {
                tracing::error!(%error, "deleting photos that no request names");
            }
        }
    }

    async fn delete_unreferenced_photos(self: Arc<Self>) {
        let age = i64::try_from(self.limits.unreferenced_photo_age.as_millis()).unwrap_or(i64::MAX);
        let before = Timestamp(self.now().0.saturating_sub(age));
        match crate::photos::delete_unreferenced(&self.database, &self.photo_store, before).await {
            Ok(0) => {}
            Ok(photos) => tracing::info!(photos, "deleted photos that no request names"),
            Err(error) => tracing::error!(%error, "deleting photos that no request names"),
        }
    }

    /// The present time.
    pub fn now(&self) -> Timestamp {
        (self.clock)()
    }
}
