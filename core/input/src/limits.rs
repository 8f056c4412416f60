//! Size-limited reading.

use std::io::{self, Read};

/// Why nothing was read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// The source returned an error.
    #[error(transparent)]
    Io(#[from] io::Error),
    /// The source exceeds the limit; reading stopped there.
    #[error("larger than {limit} bytes, the most that is read")]
    TooLarge {
        /// The limit in bytes.
        limit: usize,
    },
}

/// All bytes of `reader`, or an error as soon as there are more than `limit`; at most `limit + 1` bytes are taken
/// from the reader.
pub fn read_limited(reader: impl Read, limit: usize) -> Result<Vec<u8>, ReadError> {
    let mut bytes = Vec::new();
    reader.take((limit as u64).saturating_add(1)).read_to_end(&mut bytes)?;
    if bytes.len() > limit { Err(ReadError::TooLarge { limit }) } else { Ok(bytes) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stops_at_the_limit() {
        assert_eq!(read_limited(&b"four"[..], 4).unwrap(), b"four");
        assert!(matches!(read_limited(&b"fives"[..], 4), Err(ReadError::TooLarge { limit: 4 })));
        // An endless source is refused in bounded time and memory.
        assert!(matches!(read_limited(io::repeat(b' '), 1000), Err(ReadError::TooLarge { limit: 1000 })));
    }
}
