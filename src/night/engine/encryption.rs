//! An encrypted connection to a server, with a server that is who it says: its certificate must lead to one that this machine
//! trusts (`SSL_CERT_FILE` names others than the system's).

use super::EngineError;
use rustls::crypto::aws_lc_rs;
use rustls::{ClientConfig, RootCertStore};
use std::sync::Arc;
use tokio_postgres_rustls::MakeRustlsConnect;

/// What connects with encryption.
pub(super) fn encryption() -> Result<MakeRustlsConnect, EngineError> {
    let mut roots = RootCertStore::empty();
    let loaded = rustls_native_certs::load_native_certs();
    let _ = roots.add_parsable_certificates(loaded.certs);
    if roots.is_empty() {
        // Such as a file that SSL_CERT_FILE names and that is not there.
        let why = match loaded.errors.first() {
            Some(error) => format!(" ({error})"),
            None => String::new(),
        };
        return Err(EngineError::Other(format!(
            "this machine trusts no certificates{why}: name a file of them in SSL_CERT_FILE"
        )));
    }
    // Named, because a program in which several are built has no default.
    let provider = Arc::new(aws_lc_rs::default_provider());
    let config = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .map_err(|error| EngineError::Other(error.to_string()))?
        .with_root_certificates(roots)
        .with_no_client_auth();
    Ok(MakeRustlsConnect::new(config))
}
