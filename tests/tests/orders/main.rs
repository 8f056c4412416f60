//! Order requests on their way to a shop: once and only once, whatever goes wrong.

mod acts;
mod bench;
mod catalogue;
mod courier;
mod erasure;
mod faults;
mod shop;
