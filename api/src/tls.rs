//! Encrypted connections, by a certificate and a key in PEM files.

use std::path::Path;
use std::sync::Arc;

use rustls::client::danger::{HandshakeSignatureValid, ServerCertVerified, ServerCertVerifier};
use rustls::crypto::{self, CryptoProvider, WebPkiSupportedAlgorithms};
use rustls::pki_types::pem::PemObject;
use rustls::pki_types::{CertificateDer, PrivateKeyDer, ServerName, UnixTime};
use rustls::{
    CertificateError, ClientConfig, DigitallySignedStruct, Error, ServerConfig, SignatureScheme,
};

fn provider() -> Arc<CryptoProvider> {
    Arc::new(crypto::ring::default_provider())
}

fn certificates(file: &Path) -> Result<Vec<CertificateDer<'static>>, String> {
    let told = |why: &dyn std::fmt::Display| format!("{}: {why}", file.display());
    let read = CertificateDer::pem_file_iter(file).map_err(|error| told(&error))?;
    let chain: Vec<_> = read.collect::<Result<_, _>>().map_err(|error| told(&error))?;
    if chain.is_empty() { Err(told(&"there is no certificate in it")) } else { Ok(chain) }
}

/// What the server speaks TLS 1.2 and 1.3 with.
///
/// # Errors
/// A file that cannot be used, or a key that does not fit the certificate.
pub fn server(certificate: &Path, key: &Path) -> Result<ServerConfig, String> {
    let chain = certificates(certificate)?;
    let secret =
        PrivateKeyDer::from_pem_file(key).map_err(|error| format!("{}: {error}", key.display()))?;
    ServerConfig::builder_with_provider(provider())
        .with_safe_default_protocol_versions()
        .and_then(|config| config.with_no_client_auth().with_single_cert(chain, secret))
        .map_err(|error| format!("{} and {}: {error}", certificate.display(), key.display()))
}

/// What asks a server that must have this very certificate: it is asked by its
/// address, and the certificate is of its name.
///
/// # Errors
/// A file that cannot be used.
pub fn asking(certificate: &Path) -> Result<ClientConfig, String> {
    let own = certificates(certificate)?.into_iter().next();
    let own = own.ok_or_else(|| format!("{}: no certificate", certificate.display()))?;
    let provider = provider();
    let algorithms = provider.signature_verification_algorithms;
    let config = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map_err(|error| error.to_string())?;
    let verifier = Arc::new(ThisOne { own, algorithms });
    Ok(config.dangerous().with_custom_certificate_verifier(verifier).with_no_client_auth())
}

/// Takes one certificate and no other.
#[derive(Debug)]
struct ThisOne {
    own: CertificateDer<'static>,
    algorithms: WebPkiSupportedAlgorithms,
}

impl ServerCertVerifier for ThisOne {
    fn verify_server_cert(
        &self,
        shown: &CertificateDer<'_>,
        _: &[CertificateDer<'_>],
        _: &ServerName<'_>,
        _: &[u8],
        _: UnixTime,
    ) -> Result<ServerCertVerified, Error> {
        if shown.as_ref() == self.own.as_ref() {
            return Ok(ServerCertVerified::assertion());
        }
        Err(CertificateError::ApplicationVerificationFailure.into())
    }

    fn verify_tls12_signature(
        &self,
        message: &[u8],
        shown: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        crypto::verify_tls12_signature(message, shown, signed, &self.algorithms)
    }

    fn verify_tls13_signature(
        &self,
        message: &[u8],
        shown: &CertificateDer<'_>,
        signed: &DigitallySignedStruct,
    ) -> Result<HandshakeSignatureValid, Error> {
        crypto::verify_tls13_signature(message, shown, signed, &self.algorithms)
    }

    fn supported_verify_schemes(&self) -> Vec<SignatureScheme> {
        self.algorithms.supported_schemes()
    }
}
