//! What the workshop's programs share: the delivery of order requests over a real network.

pub mod delivery;
