//! What a shop runs to receive order requests, and the page on which it answers them.
//!
//! The way of a request: [`router`] takes the call, `api` knows the sender and claims the request's key, the core reads
//! and checks the body, and [`orders`] stores it with its answer in one transaction of [`database`]. Photos came before,
//! part by part, onto the shelf of [`photos`]. The shopkeeper sees it on the `page`, judged anew by the same core, and
//! answers; the sender hears of that when it asks next.
//!
//! Any number of processes may share one PostgreSQL and one bucket: nothing but rates and pictures lies in memory.

mod api;
pub mod args;
mod bucket;
pub mod database;
pub mod demo;
mod listen;
mod metrics;
pub mod orders;
mod page;
pub mod photos;
mod router;
mod run;
pub mod secret;
pub mod senders;
pub mod shop;
mod shopkeepers;
mod state;

pub use api::{Peer, openapi};
pub use bucket::{Buckets, Rate};
pub use listen::{listen, told_to_stop};
pub use metrics::{Answered, Metrics};
pub use router::{metrics_router, router};
pub use run::{RunError, run};
pub use shopkeepers::add as add_shopkeeper;
pub use state::{Clock, Intake, Limits, machine_clock};
