//! Random bytes, hashes, and comparison in constant time.

use data_encoding::BASE64URL_NOPAD;
use sha2::{Digest, Sha256};
use subtle::ConstantTimeEq;

/// The operating system gives no random bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the operating system gives no random bytes")]
pub struct RandomnessError;

/// `N` bytes of the operating system's cryptographic random source.
///
/// # Errors
/// If it gives none.
pub fn random_bytes<const N: usize>() -> Result<[u8; N], RandomnessError> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|_| RandomnessError)?;
    Ok(bytes)
}

/// A new random token: 256 bits as 43 characters of base64url (RFC 4648, 5), which a bearer token (RFC 6750) and a cookie
/// (RFC 6265) can hold.
///
/// # Errors
/// If there are no random bytes.
pub fn new_token() -> Result<String, RandomnessError> {
    Ok(BASE64URL_NOPAD.encode(&random_bytes::<32>()?))
}

/// SHA-256. It is enough for tokens of 256 random bits; passwords need argon2id.
pub fn sha256(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// Whether two strings are equal, in a time that does not depend on where they differ.
pub fn constant_time_eq(one: &str, other: &str) -> bool {
    sha256(one.as_bytes()).ct_eq(&sha256(other.as_bytes())).into()
}
