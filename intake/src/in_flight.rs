//! Memory for bodies that are being received, shared out so that one sender cannot take another's.

use crate::senders::Sender;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

/// What even a small body is counted as, bytes: its connection and its task take memory too.
const LEAST_BYTES: usize = 16 << 10;

/// Why a body is not received now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Full {
    /// The sender's own bodies take its share.
    Sender,
    /// All senders' bodies together take everything.
    All,
}

#[derive(Debug, Default)]
struct Counts {
    all: usize,
    by_sender: HashMap<Sender, usize>,
}

/// Bytes of bodies in memory.
#[derive(Debug)]
pub(crate) struct InFlight {
    most: usize,
    most_each: usize,
    counts: Mutex<Counts>,
}

/// Bytes held until this is dropped.
#[derive(Debug)]
pub(crate) struct Reservation {
    of: Arc<InFlight>,
    sender: Sender,
    bytes: usize,
}

impl InFlight {
    pub(crate) fn new(most: usize, most_each: usize) -> Arc<Self> {
        Arc::new(Self { most, most_each, counts: Mutex::default() })
    }

    /// Reserves bytes for a sender's body.
    pub(crate) fn reserve(self: &Arc<Self>, sender: Sender, bytes: usize) -> Result<Reservation, Full> {
        let bytes = bytes.max(LEAST_BYTES);
        let mut counts = self.counts.lock().unwrap_or_else(PoisonError::into_inner);
        let own = counts.by_sender.get(&sender).copied().unwrap_or_default();
        if own.saturating_add(bytes) > self.most_each {
            return Err(Full::Sender);
        }
        if counts.all.saturating_add(bytes) > self.most {
            return Err(Full::All);
        }
        counts.all += bytes;
        counts.by_sender.insert(sender, own + bytes);
        Ok(Reservation { of: Arc::clone(self), sender, bytes })
    }
}

impl Drop for Reservation {
    fn drop(&mut self) {
        let mut counts = self.of.counts.lock().unwrap_or_else(PoisonError::into_inner);
        counts.all -= self.bytes;
        if let Some(own) = counts.by_sender.get_mut(&self.sender) {
            *own -= self.bytes;
            if *own == 0 {
                counts.by_sender.remove(&self.sender);
            }
        }
    }
}
