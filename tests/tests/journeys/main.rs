//! Whole journeys: a field book, the outbox worker, real sockets, and the shop's own receiver.
//!
//! The receiver runs on SQLite, or on the PostgreSQL server named by `STEERWRIGHT_POSTGRES`, where each test creates
//! its own database. `STEERWRIGHT_JOURNEY_ROUNDS` sets how often a phone or a shop is killed (default 12),
//! `STEERWRIGHT_JOURNEY_SEED` the random seed.

mod certificates;
mod day;
mod erasing;
mod fetching;
mod files;
mod hostile;
mod killed;
mod manual_clock;
mod offline;
mod photos;
mod place;
mod process;
mod relay;
mod tls;
mod told;
mod twins;
