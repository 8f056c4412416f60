//! Delivery of order requests from a field book to the shop, and of the shop's answers back.
//!
//! The core decides what is due and what an answer means; this module only does the networking.
//! [`OutboxWorker::send`] makes one call. [`OutboxWorker::sync_once`] makes every call that is due.
//! [`OutboxWorker::sync_until_idle`] repeats that until nothing is due. [`OutboxWorker::sync_until_empty`]
//! also waits for calls that become due later. If the process is stopped or killed, the book has a record of
//! the call in progress.
//!
//! Connections are direct, without a proxy. Redirects are not followed, so that token and contact reach no
//! other host. Outcomes are reported to the book only.

mod client;
mod loop_control;
mod network;
mod sync_loop;
mod transport;
mod trust;

pub use client::{OutboxWorker, OutboxWorkerError, Timeouts};
pub use loop_control::{LoopControl, SystemLoopControl, system_now};
pub use network::{Network, RoutingTable};
pub use sync_loop::SyncReport;
pub use trust::{Trust, TrustError};
