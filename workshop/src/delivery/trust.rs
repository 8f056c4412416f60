//! The certificates that are trusted.

use std::path::Path;
use std::{fs, io};
use ureq::tls::{Certificate, PemItem, RootCerts, parse_pem};

/// Size limit for a certificate file, bytes.
const MOST_BYTES: u64 = 1 << 20;

/// The trusted root certificates.
#[derive(Debug, Clone, Default)]
pub enum Trust {
    /// The platform's root certificates.
    #[default]
    Platform,
    /// Only these certificates.
    Only(Vec<Certificate<'static>>),
}

/// Why a certificate file cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum TrustError {
    /// The file cannot be read.
    #[error("{0}")]
    Read(#[from] io::Error),
    /// The file exceeds the size limit.
    #[error("it is larger than {MOST_BYTES} bytes")]
    TooLarge,
    /// The file contains no certificate.
    #[error("it holds no certificate; expected blocks that begin with -----BEGIN CERTIFICATE-----")]
    None,
    /// The file contains an invalid certificate block.
    #[error("it holds a block that is no certificate")]
    Block,
}

impl Trust {
    /// Reads a certificate file (PEM, RFC 7468). The certificates replace the platform's.
    ///
    /// # Errors
    /// The file cannot be read, is too large, or [`Self::pem`] fails.
    pub fn read(path: &Path) -> Result<Self, TrustError> {
        let mut pem = Vec::new();
        io::Read::read_to_end(&mut io::Read::take(fs::File::open(path)?, MOST_BYTES + 1), &mut pem)?;
        if pem.len() as u64 > MOST_BYTES {
            return Err(TrustError::TooLarge);
        }
        Self::pem(&pem)
    }

    /// Parses certificates (PEM, RFC 7468).
    ///
    /// # Errors
    /// There is no certificate, or a block is invalid.
    pub fn pem(pem: &[u8]) -> Result<Self, TrustError> {
        let mut certificates = Vec::new();
        for item in parse_pem(pem) {
            // Private keys in the file are ignored.
            if let PemItem::Certificate(certificate) = item.map_err(|_| TrustError::Block)? {
                // The HTTP client silently ignores invalid roots, so they are reported here.
                let der = rustls::pki_types::CertificateDer::from(certificate.der());
                rustls::RootCertStore::empty().add(der).map_err(|_| TrustError::Block)?;
                certificates.push(certificate);
            }
        }
        if certificates.is_empty() { Err(TrustError::None) } else { Ok(Self::Only(certificates)) }
    }

    pub(super) fn roots(&self) -> RootCerts {
        match self {
            Self::Platform => RootCerts::PlatformVerifier,
            Self::Only(certificates) => RootCerts::new_with_certs(certificates),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_certificate_is_told() {
        let refused = |text: &str| Trust::pem(text.as_bytes()).map(drop).unwrap_err().to_string();
        assert!(refused("").contains("no certificate"));
        assert!(refused("-----BEGIN NOTHING-----\nAAAA\n-----END NOTHING-----\n").contains("no certificate"));
        let block = "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n";
        assert!(refused(block).contains("a block that is no certificate"));
        assert!(refused("-----BEGIN CERTIFICATE-----\n!!!").contains("certificate"));
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("roots.pem");
        assert!(matches!(Trust::read(&file), Err(TrustError::Read(_))));
        fs::write(&file, vec![b'\n'; MOST_BYTES as usize + 1]).unwrap();
        assert!(matches!(Trust::read(&file), Err(TrustError::TooLarge)));
    }
}
