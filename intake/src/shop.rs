//! What the shop sells: its catalogue as a file, judged by and handed out.

use crate::secret::sha256;
use bytes::Bytes;
use data_encoding::{BASE64, HEXLOWER};
use ed25519_dalek::{Signer, SigningKey};
use steerwright_fit::catalogue::{Catalogue, demo_catalogue_json};
use steerwright_input::FileErrors;

/// A catalogue with everything its address answers.
#[derive(Debug, Clone)]
pub struct Shop {
    /// As it is judged by.
    pub catalogue: Catalogue,
    /// As it is handed out.
    pub bytes: Bytes,
    /// Its entity tag with the quotes: a strong one, half the SHA-256 of the bytes.
    pub etag: String,
    /// The maker's signature over the bytes, in base64.
    pub signature: Option<String>,
}

/// Why a signature or key was not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KeyError {
    /// Not 32 bytes in base64.
    #[error("the key's file has to hold 32 bytes in base64, as `key new` writes them")]
    Key,
    /// Not 64 bytes in base64.
    #[error("the signature's file has to hold 64 bytes in base64")]
    Signature,
}

impl Shop {
    /// Reads a catalogue (`steerwright.catalogue/1`); `called` is what the messages call it.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn read(bytes: Vec<u8>, called: &str) -> Result<Self, FileErrors> {
        let catalogue = Catalogue::from_json(&bytes, called)?;
        let hash = HEXLOWER.encode(&sha256(&bytes));
        let etag = format!("\"{}\"", hash.get(..32).unwrap_or(&hash));
        Ok(Self { catalogue, bytes: bytes.into(), etag, signature: None })
    }

    /// The invented demo catalogue.
    ///
    /// # Errors
    /// None that a released program has.
    pub fn demo() -> Result<Self, FileErrors> {
        Self::read(demo_catalogue_json().as_bytes().to_vec(), "the demo catalogue")
    }

    /// With a signature that the maker made elsewhere.
    ///
    /// # Errors
    /// A text that is no signature. Whether it is the maker's is for whoever reads the catalogue to check.
    pub fn signed_with(mut self, signature: &str) -> Result<Self, KeyError> {
        let bytes = BASE64.decode(signature.trim().as_bytes()).map_err(|_| KeyError::Signature)?;
        if bytes.len() != 64 {
            return Err(KeyError::Signature);
        }
        self.signature = Some(BASE64.encode(&bytes));
        Ok(self)
    }

    /// Signed here (Ed25519, RFC 8032), for a shop that is the maker.
    #[must_use]
    pub fn signed_by(mut self, key: &SigningKey) -> Self {
        self.signature = Some(BASE64.encode(&key.sign(&self.bytes).to_bytes()));
        self
    }
}

/// Reads a private key as [`key_text`] writes it.
///
/// # Errors
/// [`KeyError::Key`].
pub fn read_key(text: &str) -> Result<SigningKey, KeyError> {
    let bytes = BASE64.decode(text.trim().as_bytes()).map_err(|_| KeyError::Key)?;
    Ok(SigningKey::from_bytes(&bytes.try_into().map_err(|_| KeyError::Key)?))
}

/// A private key as text, and its public half in base64.
pub fn key_text(seed: [u8; 32]) -> (String, String) {
    let key = SigningKey::from_bytes(&seed);
    (BASE64.encode(&seed), BASE64.encode(key.verifying_key().as_bytes()))
}
