//! What the workshop's programs share: the courier that carries order requests over a real network.
#![forbid(unsafe_code)]

pub mod courier;
