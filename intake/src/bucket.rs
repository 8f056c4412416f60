//! Rate limits: a bucket of tokens for each key, in this process's memory. Several processes each count for themselves,
//! so a limit holds to within their number.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Mutex, PoisonError};
use steerwright_metrology::timestamp::Timestamp;

/// How many keys are remembered; beyond that the full ones, which say nothing, are forgotten, then all.
const MOST_KEYS: usize = 10_000;

/// How much is allowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    /// Calls in a row, at least 1.
    pub burst: u32,
    /// Calls each second in the long run, more than 0.
    pub each_second: f64,
}

#[derive(Debug, Clone, Copy)]
struct Level {
    tokens: f64,
    at: Timestamp,
}

/// Buckets for keys.
#[derive(Debug)]
pub struct Buckets<K> {
    rate: Rate,
    levels: Mutex<HashMap<K, Level>>,
}

impl<K: Eq + Hash> Buckets<K> {
    /// Full buckets for everybody.
    pub fn new(rate: Rate) -> Self {
        Self { rate, levels: Mutex::new(HashMap::new()) }
    }

    /// Takes one token.
    ///
    /// # Errors
    /// If there is none: whole seconds until there is, at least 1.
    pub fn take(&self, key: K, now: Timestamp) -> Result<(), u64> {
        let mut levels = self.levels.lock().unwrap_or_else(PoisonError::into_inner);
        if levels.len() >= MOST_KEYS && !levels.contains_key(&key) {
            levels.retain(|_, level| self.filled(*level, now) < f64::from(self.rate.burst));
            if levels.len() >= MOST_KEYS {
                levels.clear();
            }
        }
        let full = Level { tokens: f64::from(self.rate.burst), at: now };
        let level = levels.entry(key).or_insert(full);
        let tokens = self.filled(*level, now);
        let enough = tokens >= 1.0;
        *level = Level { tokens: if enough { tokens - 1.0 } else { tokens }, at: now };
        if enough { Ok(()) } else { Err(((1.0 - tokens) / self.rate.each_second).ceil().max(1.0) as u64) }
    }

    /// A clock that is set back fills nothing.
    fn filled(&self, level: Level, now: Timestamp) -> f64 {
        let seconds = now.0.saturating_sub(level.at.0).max(0) as f64 / 1000.0;
        (level.tokens + seconds * self.rate.each_second).min(f64::from(self.rate.burst))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_burst_then_the_rate() {
        let buckets = Buckets::new(Rate { burst: 3, each_second: 0.5 });
        let at = |ms: i64| Timestamp(1_000_000 + ms);
        for _ in 0..3 {
            assert_eq!(buckets.take("a", at(0)), Ok(()));
        }
        assert_eq!(buckets.take("a", at(0)), Err(2));
        assert_eq!(buckets.take("b", at(0)), Ok(()), "another's bucket is another");
        assert_eq!(buckets.take("a", at(1_000)), Err(1));
        assert_eq!(buckets.take("a", at(2_000)), Ok(()));
        assert_eq!(buckets.take("a", at(2_000)), Err(2));
        // A clock that goes back neither fills nor fails.
        assert_eq!(buckets.take("a", at(-9_000)), Err(2));
    }

    #[test]
    fn many_keys_do_not_fill_the_memory() {
        let buckets = Buckets::new(Rate { burst: 1, each_second: 0.001 });
        for key in 0..3 * MOST_KEYS {
            assert_eq!(buckets.take(key, Timestamp(0)), Ok(()));
        }
        assert!(buckets.levels.lock().unwrap().len() <= MOST_KEYS);
    }
}
