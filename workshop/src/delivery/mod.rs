//! Carries order requests from a field book to the shop, and the shop's answers back.
//!
//! The core says what is due and what an answer means; here is only the network. [`OutboxWorker::send`] makes one call,
//! [`OutboxWorker::sync_once`] every call that is due, [`OutboxWorker::sync_until_idle`] all until nothing is due any more, and
//! [`OutboxWorker::sync_until_empty`] waits for what comes due later. Whenever it is stopped or killed, the book knows what was on
//! its way.
//!
//! It goes to the shop straight, over no proxy; it follows no redirect, so token and contact reach no other place; and
//! it tells nobody but the book what came of a call.

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
