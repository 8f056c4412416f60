//! The command `steerwright-intake`.
fn main() {}
