//! The receiver: a shop's server for order requests, and the page on which its shopkeepers answer them.
//!
//! Processing of a request: [`router`] dispatches it, `api` authenticates the sender and claims the
//! idempotency key, `steerwright_protocol` parses and validates the body, and [`orders`] stores it with its
//! response in one transaction of [`database`]. Its photos are uploaded before it, in parts, through
//! [`photos`]. The `page` shows it to the shopkeeper with a separately computed report, and takes the answer.
//! The sender receives the answer with its next query.
//!
//! Any number of processes may share one PostgreSQL database and one bucket; only rate limits and cached
//! reports are in memory.

mod api;
pub mod args;
pub mod audit;
pub mod backup;
pub mod catalogue;
mod commands;
pub mod crypto;
pub mod database;
pub mod demo;
pub mod desk;
pub mod erasure;
mod in_flight;
pub mod listing;
pub mod messages;
mod metrics;
pub mod orders;
mod page;
pub mod photos;
mod proxies;
mod rate_limit;
mod router;
pub mod senders;
mod server;
pub mod shopkeepers;
mod state;

pub use api::openapi;
pub use commands::{CommandError, run};
pub use metrics::{Metrics, ResponseLabels};
pub use proxies::{ForwardedHeader, PeerAddress, TrustedProxies};
pub use rate_limit::{RateLimit, RateLimiter};
pub use router::{metrics_router, router};
pub use server::{Connections, serve, shutdown_signal};
pub use shopkeepers::add as add_shopkeeper;
pub use state::{AppState, Clock, Limits, Retention, system_clock};
