//! Injected sources of time and random numbers.

use steerwright_metrology::timestamp::Timestamp;

/// Source of time and random numbers for the field book.
///
/// The core has no clock of its own: a shell supplies the system's, a test a deterministic one.
pub trait Clock: Send {
    /// The current time.
    fn now(&mut self) -> Timestamp;

    /// Ten unpredictable random bytes, from which ids are made.
    fn random(&mut self) -> [u8; 10];
}
