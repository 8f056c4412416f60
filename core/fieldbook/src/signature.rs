//! A maker's signature over a catalogue.

use super::error::Inner;
use data_encoding::{BASE64, BASE64_NOPAD, BASE64URL, BASE64URL_NOPAD, HEXLOWER, HEXLOWER_PERMISSIVE};
use ed25519_dalek::{Signature, VerifyingKey};
use rusqlite::types::{FromSql, FromSqlError, FromSqlResult, ToSql, ToSqlOutput, ValueRef};
use serde::{Deserialize, Serialize, Serializer};
use std::fmt;
use steerwright_metrology::voice::Voice;

/// The status of a catalogue's signature.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SignatureStatus {
    /// Signed with the key that is pinned for the maker.
    Verified,
    /// Not signed, and no key is pinned for the maker.
    Unsigned,
    /// Not signed, although a key is pinned for the maker.
    UnsignedThoughPinned,
    /// Signed, but no key is pinned to check the signature with.
    Unchecked,
    /// Signed with a key other than the pinned one.
    OtherKey,
}

impl SignatureStatus {
    /// The name in the database and in JSON.
    pub fn name(self) -> &'static str {
        match self {
            Self::Verified => "verified",
            Self::Unsigned => "unsigned",
            Self::UnsignedThoughPinned => "unsigned_though_pinned",
            Self::Unchecked => "unchecked",
            Self::OtherKey => "other_key",
        }
    }

    /// In a sentence, for the user.
    pub fn description(self) -> String {
        self.in_words(Voice::english())
    }

    /// The same in another language.
    pub fn in_words(self, voice: Voice<'_>) -> String {
        voice.named("signature", self.name())
    }
}

/// An Ed25519 public key (RFC 8032).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PublicKey(VerifyingKey);

impl PublicKey {
    /// Reads a key of 32 bytes as 64 hexadecimal digits or as base64 (RFC 4648, either alphabet, padded or not).
    ///
    /// # Errors
    /// A reason in words: another length, or bytes that are not a point of the curve or one of its weak ones.
    pub fn read(text: &str) -> Result<Self, super::BookError> {
        Ok(Self::parse(text)?)
    }

    pub(super) fn parse(text: &str) -> Result<Self, Inner> {
        let bytes = decoded::<32>(text, "key.not_hex_or_base64", "a public key")?;
        Self::from_bytes(bytes)
            .ok_or_else(|| Inner::rule("key.not_ed25519", "these 32 bytes are no Ed25519 public key"))
    }

    fn from_bytes(bytes: [u8; 32]) -> Option<Self> {
        let key = VerifyingKey::from_bytes(&bytes).ok()?;
        (!key.is_weak()).then_some(Self(key))
    }

    /// Whether `signature` is this key's over `message`, by the strict rules: no point of small order, no signature
    /// with a second form.
    pub fn signed(&self, message: &[u8], signature: &[u8; 64]) -> bool {
        self.0.verify_strict(message, &Signature::from_bytes(signature)).is_ok()
    }
}

impl fmt::Display for PublicKey {
    /// 64 hexadecimal digits.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&HEXLOWER.encode(self.0.as_bytes()))
    }
}

impl Serialize for PublicKey {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl ToSql for PublicKey {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(self.0.as_bytes().as_slice().into())
    }
}

impl FromSql for PublicKey {
    fn column_result(value: ValueRef<'_>) -> FromSqlResult<Self> {
        <[u8; 32]>::column_result(value)
            .and_then(|bytes| Self::from_bytes(bytes).ok_or(FromSqlError::InvalidType))
    }
}

/// Reads a detached signature of 64 bytes as 128 hexadecimal digits or as base64.
pub(super) fn signature(text: &str) -> Result<[u8; 64], Inner> {
    decoded::<64>(text, "signature.not_hex_or_base64", "a signature")
}

/// `N` bytes from hexadecimal digits or base64, with white space anywhere.
fn decoded<const N: usize>(text: &str, rule: &'static str, what: &str) -> Result<[u8; N], Inner> {
    let plain: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let codes = [HEXLOWER_PERMISSIVE, BASE64, BASE64_NOPAD, BASE64URL, BASE64URL_NOPAD];
    let found = codes.iter().filter_map(|code| code.decode(plain.as_bytes()).ok());
    let mut sized = found.filter_map(|bytes| <[u8; N]>::try_from(bytes).ok());
    sized.next().ok_or_else(|| {
        let reason = format!("expected {what} of {N} bytes, as {} hexadecimal digits or base64", 2 * N);
        Inner::rule(rule, reason).with("bytes", N)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 8032, 7.1, tests 1 and 2 (references V).
    const VECTORS: [(&str, &[u8], &str); 2] = [
        (
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            b"",
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f05\
             95bbe24655141438e7a100b",
        ),
        (
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            b"\x72",
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4\
             302aeeb00d291612bb0c00",
        ),
    ];

    #[test]
    fn the_standard_s_own_signatures() {
        for (key, message, signed) in VECTORS {
            let key = PublicKey::parse(key).unwrap();
            let bytes = signature(signed).unwrap();
            assert!(key.signed(message, &bytes));
            assert!(!key.signed(b"another", &bytes));
            for bit in 0..512 {
                let mut other = bytes;
                other[bit / 8] ^= 1 << (bit % 8);
                assert!(!key.signed(message, &other), "bit {bit}");
            }
        }
    }

    #[test]
    fn hex_and_base64_say_the_same() {
        let (key, _, signed) = VECTORS[0];
        let bytes = signature(signed).unwrap();
        for code in [BASE64, BASE64_NOPAD, BASE64URL, BASE64URL_NOPAD] {
            assert_eq!(signature(&code.encode(&bytes)).unwrap(), bytes);
        }
        assert_eq!(signature(&format!(" {}\n", signed.to_uppercase())).unwrap(), bytes);
        assert_eq!(PublicKey::parse(key).unwrap().to_string(), key);
        for bad in ["", "zz", &key[2..], &format!("{key}00"), "é"] {
            assert!(PublicKey::parse(bad).is_err(), "{bad}");
        }
        // The neutral element of the curve "signs" any message.
        assert!(PublicKey::parse(&format!("01{}", "00".repeat(31))).is_err());
    }
}
