//! Chance, hashes and comparisons that tell nothing by the time they take.

use data_encoding::BASE64URL_NOPAD;
use sha2::{Digest, Sha256};
use subtle::ConstantTimeEq;

/// The machine gives no random bytes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the machine gives no random bytes")]
pub struct NoChance;

/// Random bytes that nobody can foresee.
///
/// # Errors
/// If the machine gives none.
pub fn random<const N: usize>() -> Result<[u8; N], NoChance> {
    let mut bytes = [0; N];
    getrandom::fill(&mut bytes).map_err(|_| NoChance)?;
    Ok(bytes)
}

/// A new secret: 256 bits in 43 letters, digits, `-` and `_` (RFC 4648, 5), which fits RFC 6750 and RFC 6265.
///
/// # Errors
/// If the machine gives no random bytes.
pub fn secret() -> Result<String, NoChance> {
    Ok(BASE64URL_NOPAD.encode(&random::<32>()?))
}

/// SHA-256. Enough for secrets of 256 bits; passwords get argon2id.
pub fn sha256(bytes: &[u8]) -> [u8; 32] {
    Sha256::digest(bytes).into()
}

/// Whether two texts are the same, in a time that does not depend on where they differ.
pub fn same(one: &str, other: &str) -> bool {
    sha256(one.as_bytes()).ct_eq(&sha256(other.as_bytes())).into()
}
