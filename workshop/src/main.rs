//! The `steerwright` command.
#![forbid(unsafe_code)]

fn main() {}
