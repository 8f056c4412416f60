//! A program that writes the book is killed, or its disk fails: all work reported as done is present, nothing is
//! partial, and the book opens normally.
//!
//! `STEERWRIGHT_CRASH_ROUNDS` sets how often the writer is killed at random (default 40), `STEERWRIGHT_CRASH_SEED` the
//! random seed. A failure prints the seed that reproduces it directly.

// Other systems lack the kill signal and the preloading of a library.
#[cfg(target_os = "linux")]
mod faults;
#[cfg(target_os = "linux")]
mod killed;
#[cfg(target_os = "linux")]
mod life;

#[cfg(not(target_os = "linux"))]
#[test]
#[ignore = "not run: killing and failing disks are tried on Linux only"]
fn on_linux_only() {}
