//! Which certificates a shop may show.

use std::path::Path;
use std::{fs, io};
use ureq::tls::{Certificate, PemItem, RootCerts, parse_pem};

/// More of a file of certificates than this is not read.
const MOST_BYTES: u64 = 1 << 20;

/// Whose certificates count.
#[derive(Debug, Clone, Default)]
pub enum Trust {
    /// Those that this machine trusts.
    #[default]
    Platform,
    /// Only these and what they signed.
    Only(Vec<Certificate<'static>>),
}

/// Why a file of certificates cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum TrustError {
    /// It cannot be read.
    #[error("{0}")]
    Read(#[from] io::Error),
    /// It is too large for what it should be.
    #[error("it is larger than {MOST_BYTES} bytes")]
    TooLarge,
    /// It holds no certificate.
    #[error("it holds no certificate; expected blocks that begin with -----BEGIN CERTIFICATE-----")]
    None,
    /// It holds something that begins as one and is none.
    #[error("it holds a block that is no certificate")]
    Block,
}

impl Trust {
    /// Reads a file of certificates (PEM, RFC 7468), which then count in place of the machine's own.
    ///
    /// # Errors
    /// Why it cannot be used.
    pub fn read(path: &Path) -> Result<Self, TrustError> {
        let mut pem = Vec::new();
        io::Read::read_to_end(&mut io::Read::take(fs::File::open(path)?, MOST_BYTES + 1), &mut pem)?;
        if pem.len() as u64 > MOST_BYTES {
            return Err(TrustError::TooLarge);
        }
        Self::pem(&pem)
    }

    /// Takes certificates as they stand in a file (PEM, RFC 7468).
    ///
    /// # Errors
    /// Why they cannot be used.
    pub fn pem(pem: &[u8]) -> Result<Self, TrustError> {
        let mut certificates = Vec::new();
        for item in parse_pem(pem) {
            // A key beside them is of no use here.
            if let PemItem::Certificate(certificate) = item.map_err(|_| TrustError::Block)? {
                // The client leaves out what it cannot read; a root that is none has to be told.
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
