//! Retry times: exponential back-off with jitter.

use crate::Timestamp;
use time::OffsetDateTime;

/// The first wait, ms.
const FIRST: i64 = 30_000;
/// The longest wait of our own, ms: six hours.
const LONGEST: i64 = 6 * 3_600_000;
/// The wait without a network, ms. A shell that detects a network need not wait.
const OFFLINE: i64 = 60_000;
/// The longest wait a shop can request, ms: a week. A wrong header must not block a request forever.
pub(super) const MOST: i64 = 7 * 24 * 3_600_000;

/// A number in [0, 1).
fn fraction(random: [u8; 10]) -> f64 {
    let [a, b, c, d, ..] = random;
    f64::from(u32::from_be_bytes([a, b, c, d])) / (f64::from(u32::MAX) + 1.0)
}

/// The time of the next try after `tries` failures (1 and up): the wait doubles each time from half a minute to six
/// hours, half of it random, so that the phones of a crew do not call all at once when the shop is back. Never earlier
/// than the shop requested.
pub(super) fn again(now: Timestamp, tries: u32, asked: Option<i64>, random: [u8; 10]) -> Timestamp {
    let doubled = FIRST.saturating_mul(1_i64.checked_shl(tries.saturating_sub(1).min(20)).unwrap_or(1));
    let whole = doubled.min(LONGEST);
    let own = whole / 2 + (whole as f64 / 2.0 * fraction(random)) as i64;
    Timestamp(now.0.saturating_add(own.max(asked.unwrap_or(0).clamp(0, MOST))))
}

/// The time of the next try without a network.
pub(super) fn offline(now: Timestamp) -> Timestamp {
    Timestamp(now.0.saturating_add(OFFLINE))
}

/// The time of the next query for the shop's decision: soon at first, then every six hours, for three months; `None`
/// after.
pub(super) fn ask(now: Timestamp, delivered: Timestamp) -> Option<Timestamp> {
    let age = now.0.saturating_sub(delivered.0);
    let wait = if age < 3_600_000 {
        15 * 60_000
    } else if age < 24 * 3_600_000 {
        3_600_000
    } else if age < 90 * 24 * 3_600_000 {
        LONGEST
    } else {
        return None;
    };
    Some(Timestamp(now.0.saturating_add(wait)))
}

/// The wait that a header `Retry-After` requests, ms: seconds or a date (RFC 9110, 10.2.3); `None` if it is invalid. A
/// date in the past requests no wait.
pub(super) fn retry_after(value: &str, now: Timestamp) -> Option<i64> {
    let value = value.trim();
    if !value.is_empty() && value.bytes().all(|byte| byte.is_ascii_digit()) {
        // Overflow: longer than the longest wait.
        return Some(value.parse::<i64>().map_or(MOST, |seconds| seconds.saturating_mul(1_000).min(MOST)));
    }
    let date = OffsetDateTime::from(httpdate::parse_http_date(value).ok()?);
    let at = i64::try_from(date.unix_timestamp_nanos() / 1_000_000).ok()?;
    Some(at.saturating_sub(now.0).clamp(0, MOST))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_double_and_half_of_them_is_chance() {
        let wait = |tries, random| again(Timestamp(0), tries, None, [random; 10]).0;
        assert_eq!([1, 2, 3, 4].map(|tries| wait(tries, 0)), [15_000, 30_000, 60_000, 120_000]);
        // 0xFF in every byte is the largest fraction, just below 1.
        assert_eq!([1, 2, 3, 4].map(|tries| wait(tries, 0xFF)), [29_999, 59_999, 119_999, 239_999]);
        // Half a minute doubled ten times is over six hours.
        assert_eq!([11, 60, u32::MAX].map(|tries| wait(tries, 0)), [LONGEST / 2; 3]);
        assert_eq!(again(Timestamp(5), 1, Some(90_000), [0; 10]), Timestamp(90_005));
        assert_eq!(again(Timestamp(5), 1, Some(1), [0; 10]), Timestamp(15_005));
        assert_eq!(again(Timestamp(i64::MAX), 1, None, [0; 10]), Timestamp(i64::MAX));
    }

    /// RFC 9110, 10.2.3: `Retry-After: Fri, 31 Dec 1999 23:59:59 GMT` and `Retry-After: 120`; 5.6.7 for the older
    /// forms of a date, which all say 1994-11-06T08:49:37Z, 784111777 s.
    #[test]
    fn the_standard_s_own_examples() {
        let turn = Timestamp(946_684_799_000 - 5_000);
        assert_eq!(retry_after("Fri, 31 Dec 1999 23:59:59 GMT", turn), Some(5_000));
        assert_eq!(retry_after("120", Timestamp(7)), Some(120_000));
        let then = Timestamp(784_111_777_000 - 60_000);
        for date in
            ["Sun, 06 Nov 1994 08:49:37 GMT", "Sunday, 06-Nov-94 08:49:37 GMT", "Sun Nov  6 08:49:37 1994"]
        {
            assert_eq!(retry_after(date, then), Some(60_000), "{date}");
            assert_eq!(retry_after(date, Timestamp(784_111_777_001)), Some(0), "{date}");
        }
        assert_eq!(retry_after("99999999999999999999999", then), Some(MOST));
        for nonsense in ["", "soon", "-5", "1.5", "Fri, 31 Dec 1999"] {
            assert_eq!(retry_after(nonsense, then), None, "{nonsense}");
        }
    }
}
