//! Delivery of order requests to a shop: exactly once, whatever fails.

mod acts;
mod catalogue;
mod delivery;
mod erasure;
mod faults;
mod moves;
mod recovered;
mod shop;
mod strings;
mod told;

use steerwright_tests::fixture;
