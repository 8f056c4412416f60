//! The shop's catalogue as served, with its entity tag and signature.

use crate::crypto::sha256;
use bytes::Bytes;
use data_encoding::{BASE64, HEXLOWER};
use ed25519_dalek::{Signer, SigningKey};
use steerwright_fit::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_input::FileErrors;

/// A catalogue with all data of its HTTP response.
#[derive(Debug, Clone)]
pub struct PublishedCatalogue {
    /// The parsed catalogue.
    pub catalogue: Catalogue,
    /// The file's bytes, served unchanged.
    pub bytes: Bytes,
    /// The strong entity tag including quotes: the first half of the bytes' SHA-256.
    pub etag: String,
    /// The maker's Ed25519 signature over the bytes, in base64.
    pub signature: Option<String>,
}

/// Why a signature or key cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KeyError {
    /// Not 32 bytes in base64.
    #[error("the key's file has to hold 32 bytes in base64, as `key new` writes them")]
    Key,
    /// Not 64 bytes in base64.
    #[error("the signature's file has to hold 64 bytes in base64")]
    Signature,
}

impl PublishedCatalogue {
    /// Parses a catalogue (`steerwright.catalogue/1`); error messages call it `name`.
    ///
    /// # Errors
    /// Every problem of the file.
    pub fn read(bytes: Vec<u8>, name: &str) -> Result<Self, FileErrors> {
        let catalogue = Catalogue::from_json(&bytes, name)?;
        let hash = HEXLOWER.encode(&sha256(&bytes));
        let etag = format!("\"{}\"", hash.get(..32).unwrap_or(&hash));
        Ok(Self { catalogue, bytes: bytes.into(), etag, signature: None })
    }

    /// The fictional demo catalogue.
    ///
    /// # Errors
    /// None in practice, because the file is compiled in.
    pub fn demo() -> Result<Self, FileErrors> {
        Self::read(demo_catalogue_json().as_bytes().to_vec(), "the demo catalogue")
    }

    /// Adds an external signature in base64. It is not verified here; the readers of the catalogue verify it.
    ///
    /// # Errors
    /// [`KeyError::Signature`].
    pub fn with_signature(mut self, signature: &str) -> Result<Self, KeyError> {
        let bytes = BASE64.decode(signature.trim().as_bytes()).map_err(|_| KeyError::Signature)?;
        if bytes.len() != 64 {
            return Err(KeyError::Signature);
        }
        self.signature = Some(BASE64.encode(&bytes));
        Ok(self)
    }

    /// Signs the catalogue (Ed25519, RFC 8032), for a shop that is the maker.
    #[must_use]
    pub fn signed_with(mut self, key: &SigningKey) -> Self {
        self.signature = Some(BASE64.encode(&key.sign(&self.bytes).to_bytes()));
        self
    }
}

/// Reads a private key written by [`encode_key`].
///
/// # Errors
/// [`KeyError::Key`].
pub fn decode_key(text: &str) -> Result<SigningKey, KeyError> {
    let bytes = BASE64.decode(text.trim().as_bytes()).map_err(|_| KeyError::Key)?;
    Ok(SigningKey::from_bytes(&bytes.try_into().map_err(|_| KeyError::Key)?))
}

/// Derives the private key and its public key from a seed, both in base64.
pub fn encode_key(seed: [u8; 32]) -> (String, String) {
    let key = SigningKey::from_bytes(&seed);
    (BASE64.encode(&seed), BASE64.encode(key.verifying_key().as_bytes()))
}
