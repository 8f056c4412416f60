//! Tests of the receiver over HTTP, with a real server on the loopback interface and a real client.
//!
//! They run on SQLite, or with `STEERWRIGHT_POSTGRES` on that PostgreSQL server, each test with its own database.
#![allow(unreachable_pub, reason = "a file of this program alone")]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "checks fail so"
)]

mod bucket;
mod counter;
mod database;
mod deployment;
mod description;
mod erasure;
mod hostile;
mod login;
mod page;
mod photos;
mod process;
mod refusals;
mod requests;
mod support;
mod told;
mod toppled;
mod uploads;
