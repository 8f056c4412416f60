//! Shared library of the workshop's programs: delivery of order requests over the network.

pub mod delivery;
