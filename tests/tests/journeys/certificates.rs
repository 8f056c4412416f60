//! Certificates that are valid for the duration of a test.

use rcgen::{BasicConstraints, CertificateParams, IsCa, Issuer, KeyPair, date_time_ymd};
use rustls::ServerConfig;
use rustls::pki_types::PrivateKeyDer;
use std::sync::Arc;

/// A certificate authority.
pub struct Authority {
    issuer: Issuer<'static, KeyPair>,
    pub pem: String,
}

impl Authority {
    pub fn new() -> Self {
        let key = KeyPair::generate().unwrap();
        let mut params = CertificateParams::new(Vec::new()).unwrap();
        params.is_ca = IsCa::Ca(BasicConstraints::Unconstrained);
        let pem = params.self_signed(&key).unwrap().pem();
        Self { issuer: Issuer::new(params, key), pem }
    }

    /// Configuration of a server with a certificate for a name, valid until the end of a year.
    pub fn server(&self, name: &str, last_year: i32) -> Arc<ServerConfig> {
        let key = KeyPair::generate().unwrap();
        let mut params = CertificateParams::new(vec![name.to_owned()]).unwrap();
        params.not_before = date_time_ymd(2020, 1, 1);
        params.not_after = date_time_ymd(last_year, 12, 31);
        let certificate = params.signed_by(&key, &self.issuer).unwrap();
        let key = PrivateKeyDer::try_from(key.serialize_der()).unwrap();
        let config = ServerConfig::builder().with_no_client_auth();
        Arc::new(config.with_single_cert(vec![certificate.der().clone()], key).unwrap())
    }
}
