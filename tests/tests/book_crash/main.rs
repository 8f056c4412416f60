//! A program that writes the book is killed, or its disk fails: all it has said is done is there, nothing is there by
//! half, and the book opens as if nothing had happened.
//!
//! `STEERWRIGHT_CRASH_ROUNDS` sets how often the writer is killed at random (default 40), `STEERWRIGHT_CRASH_SEED` by
//! which row of chances. A failure prints the seed that leads to it at once.

// Elsewhere there is no signal that kills and no library to load before the system's own.
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
