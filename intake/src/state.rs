//! State shared by all request handlers.

use crate::catalogue::PublishedCatalogue;
use crate::database::Database;
use crate::erasure;
use crate::in_flight::InFlight;
use crate::metrics::Metrics;
use crate::page::ReportCache;
use crate::photos::PhotoStore;
use crate::proxies::TrustedProxies;
use crate::rate_limit::{RateLimit, RateLimiter};
use crate::senders::Sender;
use jiff::tz::TimeZone;
use std::collections::VecDeque;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use steerwright_metrology::timestamp::Timestamp;
use steerwright_protocol::wire::OrderRequest;
use tokio::sync::Semaphore;
use tokio_util::task::TaskTracker;

/// Age at which an object that no row names is removed: far longer than an upload takes to write its row, by any clock.
const UNNAMED_AGE: Duration = Duration::from_secs(86_400);
/// Time allowed for what was begun once no connection is left.
const FINISH_TIMEOUT: Duration = Duration::from_secs(10);
/// Wait before erased text is cleared from the files again, after a reader was in the way.
const PURGE_AGAIN: Duration = Duration::from_millis(500);

/// How long decided requests and their photos are kept after their last change; `None` for as long as nobody deletes them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Retention {
    /// Requests.
    pub requests: Option<Duration>,
    /// Photos.
    pub photos: Option<Duration>,
}

/// Whether no erased text is left in the database's files.
async fn cleared(database: &Database) -> bool {
    match database.purge_erased().await {
        Ok(clear) => clear,
        Err(error) => {
            tracing::error!(%error, "clearing what was erased");
            false
        }
    }
}

/// Logs how many were deleted, or why none were. Returns whether some were.
fn told<E: std::fmt::Display>(count: Result<u64, E>, what: &'static str) -> bool {
    match count {
        Ok(0) => false,
        Ok(count) => {
            tracing::info!(count, "{what}");
            true
        }
        Err(error) => {
            tracing::error!(%error, "not {what}");
            false
        }
    }
}

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
    /// Maximum total size of all bodies that are being received, bytes.
    pub bodies_bytes: usize,
    /// Maximum total size of one sender's bodies that are being received, bytes; at least one body of any kind.
    pub sender_bodies_bytes: usize,
    /// Rate limit for one sender.
    pub sender_rate: RateLimit,
    /// Rate limit for requests without a valid token, per client address.
    pub unauthenticated_rate: RateLimit,
    /// Rate limit for login attempts, per name and client address.
    pub login_rate: RateLimit,
    /// Rate limit for login attempts with any names, per client address: each takes a core for a moment.
    pub login_address_rate: RateLimit,
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
            bodies_bytes: 128 << 20,
            sender_bodies_bytes: 16 << 20,
            sender_rate: RateLimit { burst: 120, per_second: 4.0 },
            unauthenticated_rate: RateLimit { burst: 20, per_second: 0.2 },
            login_rate: RateLimit { burst: 5, per_second: 1.0 / 30.0 },
            login_address_rate: RateLimit { burst: 60, per_second: 0.5 },
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
    /// Proxies whose word about a client's address counts.
    pub proxies: TrustedProxies,
    /// The shop's time zone, for times on its page.
    pub time_zone: TimeZone,
    /// Metrics.
    pub metrics: Metrics,
    pub(crate) sender_limiter: RateLimiter<Sender>,
    pub(crate) unauthenticated_limiter: RateLimiter<IpAddr>,
    pub(crate) login_limiter: RateLimiter<(IpAddr, String)>,
    pub(crate) login_address_limiter: RateLimiter<IpAddr>,
    pub(crate) in_flight: Arc<InFlight>,
    pub(crate) picture_slots: Arc<Semaphore>,
    pub(crate) tasks: TaskTracker,
    pub(crate) password_slots: Semaphore,
    pub(crate) report_cache: ReportCache,
    failures: Mutex<VecDeque<Failure>>,
}

/// A call of the API that was refused or failed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// When.
    pub at: Timestamp,
    /// The method.
    pub method: &'static str,
    /// The route as declared.
    pub route: String,
    /// The response's status.
    pub status: u16,
    /// The sender, if it is one.
    pub sender: Option<Sender>,
}

/// The most failures that are remembered.
const MOST_FAILURES: usize = 50;

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
        let body = limits.part_bytes.max(limits.request_bytes);
        Self {
            database,
            photo_store,
            published,
            clock,
            limits,
            https,
            contact: None,
            proxies: TrustedProxies::default(),
            time_zone: TimeZone::UTC,
            metrics: Metrics::default(),
            sender_limiter: RateLimiter::new(limits.sender_rate),
            unauthenticated_limiter: RateLimiter::new(limits.unauthenticated_rate),
            login_limiter: RateLimiter::new(limits.login_rate),
            login_address_limiter: RateLimiter::new(limits.login_address_rate),
            in_flight: InFlight::new(limits.bodies_bytes.max(body), limits.sender_bodies_bytes.max(body)),
            // A photo as it is decoded takes up to 200 MiB and one core.
            picture_slots: Arc::new(Semaphore::new(2)),
            tasks: TaskTracker::new(),
            // Verifying a password takes 19 MiB and one core.
            password_slots: Semaphore::new(2),
            report_cache: ReportCache::default(),
            failures: Mutex::default(),
        }
    }

    /// The same with a contact for its receipts.
    #[must_use]
    pub fn with_contact(self, contact: Option<String>) -> Self {
        Self { contact, ..self }
    }

    /// The same in a time zone.
    #[must_use]
    pub fn with_time_zone(self, time_zone: TimeZone) -> Self {
        Self { time_zone, ..self }
    }

    /// The same behind proxies.
    #[must_use]
    pub fn with_proxies(self, proxies: TrustedProxies) -> Self {
        Self { proxies, ..self }
    }

    /// Deletes once an hour what is no longer to be kept, forever.
    pub async fn tidy_hourly(self: Arc<Self>, keep: Retention) {
        let mut hours = tokio::time::interval(Duration::from_secs(3_600));
        loop {
            hours.tick().await;
            // A separate task, so that a panic ends only this pass.
            let app = Arc::clone(&self);
            if let Err(error) = tokio::spawn(async move { app.tidy(keep).await }).await {
                tracing::error!(%error, "tidying");
            }
        }
    }

    /// Deletes requests and photos that expired, photos that no request names, and objects that no row names.
    pub async fn tidy(&self, keep: Retention) {
        let ago = |age: Duration| {
            Timestamp(self.now().0.saturating_sub(i64::try_from(age.as_millis()).unwrap_or(i64::MAX)))
        };
        let mut deleted = false;
        if let Some(age) = keep.requests {
            let requests = erasure::expire_requests(&self.database, ago(age), self.now()).await;
            deleted |= told(requests, "deleted requests that expired");
        }
        if let Some(age) = keep.photos {
            let requests = erasure::expire_photos(&self.database, ago(age), self.now()).await;
            deleted |= told(requests, "deleted the photos of requests that expired");
        }
        if deleted {
            self.purge_erased().await;
        }
        // Those that were taken away are older than any.
        let photos = crate::photos::delete_unreferenced(
            &self.database,
            &self.photo_store,
            ago(self.limits.unreferenced_photo_age),
        );
        told(photos.await, "deleted photos that no request names");
        let objects = crate::photos::sweep(&self.database, &self.photo_store, ago(UNNAMED_AGE)).await;
        told(objects.map(|keys| keys.len() as u64), "removed objects that no row names");
    }

    /// Clears erased text from the database's files. If a reader is in the way, a task tries again until it is gone.
    pub async fn purge_erased(&self) {
        if cleared(&self.database).await {
            return;
        }
        let database = self.database.clone();
        self.tasks.spawn(async move {
            while !cleared(&database).await {
                tokio::time::sleep(PURGE_AGAIN).await;
            }
        });
    }

    /// The last failed calls of senders, oldest first.
    pub fn failures(&self) -> Vec<Failure> {
        self.failures.lock().unwrap_or_else(PoisonError::into_inner).iter().cloned().collect()
    }

    pub(crate) fn note_failure(&self, failure: Failure) {
        let mut failures = self.failures.lock().unwrap_or_else(PoisonError::into_inner);
        while failures.len() >= MOST_FAILURES {
            failures.pop_front();
        }
        failures.push_back(failure);
    }

    /// Waits for what was begun for senders that have gone, once no connection is left.
    pub async fn finish(&self) {
        self.tasks.close();
        if tokio::time::timeout(FINISH_TIMEOUT, self.tasks.wait()).await.is_err() {
            tracing::warn!("what was begun did not end in time");
        }
    }

    /// The current time.
    pub fn now(&self) -> Timestamp {
        (self.clock)()
    }
}
