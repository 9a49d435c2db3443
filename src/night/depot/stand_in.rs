//! Stores for tests: one in memory, and one whose server takes every line and never says a word.

use super::{Depot, DepotError};
use object_store::ObjectStore;
use object_store::aws::AmazonS3Builder;
use object_store::memory::InMemory;
use std::net::TcpListener;
use std::sync::Arc;

/// The stores; a depot of them has the buckets `shows` and `silent`.
#[derive(Debug)]
pub(crate) struct StandIn {
    shows: Arc<InMemory>,
    silent: TcpListener,
}

impl StandIn {
    pub(crate) fn new() -> Self {
        Self {
            shows: Arc::default(),
            silent: TcpListener::bind("127.0.0.1:0").expect("a port"),
        }
    }

    /// A depot that reaches them.
    pub(crate) fn depot(&self) -> Result<Depot, DepotError> {
        let mut depot = Depot::new()?;
        depot.put_store("shows", Arc::clone(&self.shows) as Arc<dyn ObjectStore>);
        let server = self.silent.local_addr().expect("an address");
        let silent = AmazonS3Builder::new()
            .with_bucket_name("silent")
            .with_endpoint(format!("http://{server}"))
            .with_allow_http(true)
            .with_access_key_id("test")
            .with_secret_access_key("test")
            .build()
            .expect("a client");
        depot.put_store("silent", Arc::new(silent));
        Ok(depot)
    }
}
