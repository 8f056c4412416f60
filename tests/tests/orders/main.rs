//! Order requests on their way to a shop: once and only once, whatever goes wrong.

mod acts;
mod catalogue;
mod delivery;
mod erasure;
mod faults;
mod moves;
mod recovered;
mod shop;
mod strings;

use steerwright_tests::fixture;
