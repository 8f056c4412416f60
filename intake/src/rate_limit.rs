//! Rate limiting with one token bucket per key, in the memory of this process.
//!
//! Each process counts separately, so n processes together allow up to n times the limit.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Mutex, PoisonError};
use steerwright_metrology::timestamp::Timestamp;

/// Maximum number of buckets in memory. Beyond that the full ones are dropped, which has no effect on the
/// limits, and if necessary all.
const MAX_KEYS: usize = 10_000;

/// The capacity and refill rate of a token bucket.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateLimit {
    /// Capacity: number of calls in a row, at least 1.
    pub burst: u32,
    /// Refill rate: long-term calls per second, greater than 0.
    pub per_second: f64,
}

#[derive(Debug, Clone, Copy)]
struct Bucket {
    tokens: f64,
    updated_at: Timestamp,
}

/// Token buckets by key.
#[derive(Debug)]
pub struct RateLimiter<K> {
    limit: RateLimit,
    buckets: Mutex<HashMap<K, Bucket>>,
}

impl<K: Eq + Hash> RateLimiter<K> {
    /// A limiter whose buckets are all full.
    pub fn new(limit: RateLimit) -> Self {
        Self { limit, buckets: Mutex::new(HashMap::new()) }
    }

    /// Takes one token from the bucket of a key.
    ///
    /// # Errors
    /// The bucket is empty: the number of whole seconds until it has a token, at least 1.
    pub fn acquire(&self, key: K, now: Timestamp) -> Result<(), u64> {
        let mut buckets = self.buckets.lock().unwrap_or_else(PoisonError::into_inner);
        if buckets.len() >= MAX_KEYS && !buckets.contains_key(&key) {
            buckets.retain(|_, bucket| self.refilled(*bucket, now) < f64::from(self.limit.burst));
            if buckets.len() >= MAX_KEYS {
                buckets.clear();
            }
        }
        let full = Bucket { tokens: f64::from(self.limit.burst), updated_at: now };
        let bucket = buckets.entry(key).or_insert(full);
        let tokens = self.refilled(*bucket, now);
        let enough = tokens >= 1.0;
        *bucket = Bucket { tokens: if enough { tokens - 1.0 } else { tokens }, updated_at: now };
        if enough { Ok(()) } else { Err(((1.0 - tokens) / self.limit.per_second).ceil().max(1.0) as u64) }
    }

    /// The current number of tokens in a bucket. A clock that was set back adds none.
    fn refilled(&self, bucket: Bucket, now: Timestamp) -> f64 {
        let seconds = now.0.saturating_sub(bucket.updated_at.0).max(0) as f64 / 1000.0;
        (bucket.tokens + seconds * self.limit.per_second).min(f64::from(self.limit.burst))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_burst_then_the_rate() {
        let limiter = RateLimiter::new(RateLimit { burst: 3, per_second: 0.5 });
        let at = |ms: i64| Timestamp(1_000_000 + ms);
        for _ in 0..3 {
            assert_eq!(limiter.acquire("a", at(0)), Ok(()));
        }
        assert_eq!(limiter.acquire("a", at(0)), Err(2));
        assert_eq!(limiter.acquire("b", at(0)), Ok(()), "keys have buckets of their own");
        assert_eq!(limiter.acquire("a", at(1_000)), Err(1));
        assert_eq!(limiter.acquire("a", at(2_000)), Ok(()));
        assert_eq!(limiter.acquire("a", at(2_000)), Err(2));
        // A clock set back adds no tokens.
        assert_eq!(limiter.acquire("a", at(-9_000)), Err(2));
    }

    #[test]
    fn many_keys_do_not_fill_the_memory() {
        let limiter = RateLimiter::new(RateLimit { burst: 1, per_second: 0.001 });
        for key in 0..3 * MAX_KEYS {
            assert_eq!(limiter.acquire(key, Timestamp(0)), Ok(()));
        }
        assert!(limiter.buckets.lock().unwrap().len() <= MAX_KEYS);
    }
}
