//! Parsing of `Content-Range` (RFC 9110, 14.4 and 14.5).

use std::str::FromStr;

/// `bytes first-last/total`: bytes `first` to `last`, both inclusive, of `total`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ContentRange {
    /// Position of the first byte, from 0.
    pub first: u64,
    /// Position of the last byte, `last >= first`.
    pub last: u64,
    /// Total length, `total > last`.
    pub total: u64,
}

/// A value that is not a range of bytes with a known total.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("expected bytes FIRST-LAST/TOTAL")]
pub struct ContentRangeError;

impl ContentRange {
    /// The number of bytes in the range.
    pub fn length(self) -> u64 {
        self.last - self.first + 1
    }
}

impl FromStr for ContentRange {
    type Err = ContentRangeError;

    fn from_str(text: &str) -> Result<Self, ContentRangeError> {
        let (unit, rest) = text.split_once(' ').ok_or(ContentRangeError)?;
        let (range, total) = rest.split_once('/').ok_or(ContentRangeError)?;
        let (first, last) = range.split_once('-').ok_or(ContentRangeError)?;
        if !unit.eq_ignore_ascii_case("bytes") {
            return Err(ContentRangeError);
        }
        // `parse` alone would accept a plus sign.
        let number = |text: &str| {
            let digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
            digits.then(|| text.parse::<u64>().ok()).flatten().ok_or(ContentRangeError)
        };
        let range = Self { first: number(first)?, last: number(last)?, total: number(total)? };
        (range.first <= range.last && range.last < range.total).then_some(range).ok_or(ContentRangeError)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_whole_ranges() {
        // First example of RFC 9110, 14.4.
        let first = ContentRange { first: 42, last: 1233, total: 1234 };
        assert_eq!("bytes 42-1233/1234".parse(), Ok(first));
        assert_eq!(first.length(), 1192);
        for wrong in [
            "bytes 42-1233/*",
            "bytes */1234",
            "bytes 5-4/10",
            "bytes 0-10/10",
            "bytes +1-2/3",
            "bytes  1-2/3",
            "lines 0-1/2",
            "bytes 0-1",
            "bytes -1/2",
            "bytes 0-99999999999999999999/1",
            "",
        ] {
            assert_eq!(wrong.parse::<ContentRange>(), Err(ContentRangeError), "{wrong}");
        }
    }
}
