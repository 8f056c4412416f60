//! Time and random numbers from outside.

use steerwright_metrology::timestamp::Timestamp;

/// Where the field book gets the time and its random numbers from.
///
/// The core has no clock of its own: a shell hands in the machine's, a test one that repeats.
pub trait Clock: Send {
    /// Now.
    fn now(&mut self) -> Timestamp;

    /// Ten unpredictable random bytes; ids are made of them.
    fn random(&mut self) -> [u8; 10];
}
