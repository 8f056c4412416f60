//! The receiver as its senders and the shopkeeper meet it: a real server on the loopback and a real client.
//!
//! On SQLite, or on the PostgreSQL that `STEERWRIGHT_POSTGRES` names, where each check makes a database of its own.
#![allow(unreachable_pub, reason = "a file of this program alone")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "checks fail so"
)]

mod base;
mod deployment;
mod description;
mod hostile;
mod page;
mod photos;
mod process;
mod refusals;
mod requests;
mod support;
