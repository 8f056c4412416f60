//! Carries order requests from a field book to the shop, and the shop's answers back.
//!
//! The core says what is due and what an answer means; here is only the network. [`Courier::carry`] makes one call,
//! [`Courier::round`] every call that is due, [`Courier::serve`] all until nothing is due any more, and
//! [`Courier::until_empty`] waits for what comes due later. Whenever it is stopped or killed, the book knows what was on
//! its way.
//!
//! It goes to the shop straight, over no proxy; it follows no redirect, so token and contact reach no other place; and
//! it tells nobody but the book what came of a call.

mod client;
mod network;
mod pace;
mod rounds;
mod trust;
mod watch;

pub use client::{Courier, CourierError, Times};
pub use network::{Network, Routes};
pub use pace::{MachinePace, Pace, machine_now};
pub use rounds::Round;
pub use trust::{Trust, TrustError};
