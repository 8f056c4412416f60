//! Random bytes, hashes, and constant-time comparison.

use data_encoding::BASE64URL_NOPAD;
use sha2::{Digest, Sha256};
use subtle::ConstantTimeEq;

/// The operating system provides no random bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the operating system gives no random bytes")]
pub struct RandomnessError;

/// `N` bytes from the operating system's cryptographic random source.
///
/// # Errors
/// The source fails.
pub fn random_bytes<const N: usize>() -> Result<[u8; N], RandomnessError> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|_| RandomnessError)?;
    Ok(bytes)
}

/// A new random token: 256 bits as 43 characters of base64url (RFC 4648, 5). It is valid in a bearer token
/// (RFC 6750) and in a cookie (RFC 6265).
///
/// # Errors
/// There are no random bytes.
pub fn new_token() -> Result<String, RandomnessError> {
    Ok(BASE64URL_NOPAD.encode(&random_bytes::<32>()?))
}

/// SHA-256. Sufficient for tokens of 256 random bits; passwords need argon2id.
pub fn sha256(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// Whether two strings are equal; the time does not depend on where they differ.
pub fn constant_time_eq(one: &str, other: &str) -> bool {
    sha256(one.as_bytes()).ct_eq(&sha256(other.as_bytes())).into()
}
