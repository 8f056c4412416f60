//! State shared by all request handlers.

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

/// A source of the current time.
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
    /// Maximum size of a request, bytes.
    pub request_bytes: usize,
    /// Maximum size of a photo, bytes.
    pub photo_bytes: u64,
    /// Maximum size of one part of a photo, bytes.
    pub part_bytes: usize,
    /// Maximum total size of a sender's photos that no request references yet, bytes.
    pub unreferenced_photo_bytes: u64,
    /// Age at which an unreferenced photo is deleted.
    pub unreferenced_photo_age: Duration,
    /// Maximum number of photo parts in memory at a time.
    pub concurrent_parts: usize,
    /// Rate limit for one sender.
    pub sender_rate: RateLimit,
    /// Rate limit for requests without a valid token, per client address.
    pub unauthenticated_rate: RateLimit,
    /// Rate limit for login attempts, per client address.
    pub login_rate: RateLimit,
    /// Timeout for receiving a body.
    pub body_timeout: Duration,
    /// Timeout for a whole request.
    pub request_timeout: Duration,
    /// Time after which the claim of an idempotency key expires.
    pub claim_timeout: Duration,
    /// Number of requests on one page of the list.
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
    /// The database of requests, senders and shopkeepers.
    pub database: Database,
    /// The object store for photos.
    pub photo_store: PhotoStore,
    /// The catalogue.
    pub published: PublishedCatalogue,
    /// The clock.
    pub clock: Clock,
    /// Limits.
    pub limits: Limits,
    /// Whether browsers reach the server only through HTTPS: enables `Secure` cookies and `Strict-Transport-Security`.
    pub https: bool,
    /// How a person reaches the shop, as its receipts tell the senders.
    pub contact: Option<String>,
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
    /// A state with full token buckets and an empty report cache.
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
            contact: None,
            metrics: Metrics::default(),
            sender_limiter: RateLimiter::new(limits.sender_rate),
            unauthenticated_limiter: RateLimiter::new(limits.unauthenticated_rate),
            login_limiter: RateLimiter::new(limits.login_rate),
            part_slots: Semaphore::new(limits.concurrent_parts),
            // Verifying a password takes 19 MiB and one core.
            password_slots: Semaphore::new(2),
            report_cache: ReportCache::default(),
        }
    }

    /// The same with a contact for its receipts.
    #[must_use]
    pub fn with_contact(self, contact: Option<String>) -> Self {
        Self { contact, ..self }
    }

    /// Deletes unreferenced photos once an hour, forever.
    pub async fn delete_unreferenced_photos_hourly(self: Arc<Self>) {
        let mut hours = tokio::time::interval(Duration::from_secs(3_600));
        loop {
            hours.tick().await;
            // A separate task, so that a panic ends only this pass.
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

    /// The current time.
    pub fn now(&self) -> Timestamp {
        (self.clock)()
    }
}
