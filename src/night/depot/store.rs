//! Object stores, through the one library that speaks their protocol.

use super::{Address, DepotError, Listed};
use crate::crew::stamp::{Outline, stamp_of};
use crate::crew::task::Stamp;
use futures_util::stream::FuturesUnordered;
use futures_util::{StreamExt, TryStreamExt};
use object_store::aws::{AmazonS3Builder, AmazonS3ConfigKey};
use object_store::path::Path as Key;
use object_store::{
    BackoffConfig, ClientConfigKey, MultipartUpload, ObjectMeta, ObjectStore, ObjectStoreExt,
    RetryConfig,
};
use std::collections::HashMap;
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use tokio::runtime::{Builder, Runtime};

/// Bytes of a piece that is sent. The protocol's smallest, but for the last piece of an object.
const PIECE: usize = 5 << 20;
/// Pieces on their way at a time.
const PIECES_ON_THEIR_WAY: usize = 2;

/// How often, and for how long, a request that went wrong is tried again before the store counts as away: whoever asked has
/// other shows to go on with meanwhile.
const TRIES: usize = 3;
const TRYING: Duration = Duration::from_secs(5);
/// How long a whole request may take, in the words of the library: a large picture on a slow line takes minutes.
const WHOLE_REQUEST: &str = "1 hour";
/// How long nothing may come before the line counts as dead, in the words of the library.
const SILENCE: &str = "20 seconds";

/// Object stores, connected when they are first asked.
pub struct Depot {
    runtime: Runtime,
    stores: HashMap<String, Arc<dyn ObjectStore>>,
}

impl std::fmt::Debug for Depot {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "Depot({:?})", self.stores.keys())
    }
}

impl Depot {
    /// A depot that has asked nobody yet.
    ///
    /// # Errors
    /// When the system gives nothing to wait for the network with.
    pub fn new() -> Result<Self, DepotError> {
        // Of its own, and with no thread of its own: whoever asks waits.
        let runtime = Builder::new_current_thread()
            .enable_all()
            .build()
            .map_err(DepotError::NotStarted)?;
        Ok(Self {
            runtime,
            stores: HashMap::new(),
        })
    }

    /// Has this bucket be in this store, whatever the environment says.
    pub fn put_store(&mut self, bucket: &str, store: Arc<dyn ObjectStore>) {
        self.stores.insert(bucket.to_owned(), store);
    }

    /// Size and time of an object.
    ///
    /// # Errors
    /// When it is not there, or the store does not answer.
    pub fn outline(&mut self, address: &Path) -> Result<Outline, DepotError> {
        let (store, key) = self.object_of(address)?;
        let head = self.runtime.block_on(store.head(&key));
        Ok(outline_of(&head.map_err(|error| classed(address, &error))?))
    }

    /// Every object below an address, in the order of their keys.
    ///
    /// # Errors
    /// When the store does not answer.
    pub fn list(&mut self, below: &Path) -> Result<Vec<Listed>, DepotError> {
        let (store, key) = self.store_of(below)?;
        let Address::Stored { bucket, .. } = Address::of(below)? else {
            return Ok(Vec::new());
        };
        let found = self
            .runtime
            .block_on(store.list(Some(&key)).try_collect::<Vec<ObjectMeta>>());
        let found = found.map_err(|error| classed(below, &error))?;
        let listed = found.iter().map(|object| Listed {
            address: PathBuf::from(format!("s3://{bucket}/{}", object.location)),
            outline: outline_of(object),
        });
        let mut listed: Vec<Listed> = listed.collect();
        listed.sort_by(|a, b| a.address.cmp(&b.address));
        Ok(listed)
    }

    /// Whether this machine may see what is below an address: the first entry is asked for, however many there are.
    ///
    /// # Errors
    /// When the store does not answer, or does not let this machine in.
    pub fn lets_in(&mut self, below: &Path) -> Result<(), DepotError> {
        let (store, key) = self.store_of(below)?;
        let mut entries = store.list(Some(&key));
        let first = self.runtime.block_on(entries.try_next());
        first.map_err(|error| classed(below, &error))?;
        Ok(())
    }

    /// Fetches an object into a new file, whole or not at all; its size and time as the store says. Nothing is synced: what is
    /// fetched is fetched again after a power cut.
    ///
    /// # Errors
    /// When it is not there, the store does not answer or breaks off, or the file cannot be written.
    pub fn fetch(&mut self, address: &Path, to: &Path) -> Result<Outline, DepotError> {
        let (store, key) = self.object_of(address)?;
        let local = |act| {
            let path = to.to_path_buf();
            move |source| DepotError::Local { act, path, source }
        };
        let mut file = File::create_new(to).map_err(local("create"))?;
        let fetched: Result<Outline, DepotError> = self.runtime.block_on(async {
            let got = store.get(&key).await;
            let got = got.map_err(|error| classed(address, &error))?;
            let outline = outline_of(&got.meta);
            let mut pieces = got.into_stream();
            let mut bytes = 0;
            while let Some(piece) = pieces.next().await {
                let piece = piece.map_err(|error| classed(address, &error))?;
                file.write_all(&piece).map_err(local("write"))?;
                bytes += piece.len() as u64;
            }
            if bytes == outline.bytes {
                Ok(outline)
            } else {
                Err(DepotError::Away {
                    address: address.display().to_string(),
                    reason: format!("it broke off after {bytes} of {} bytes", outline.bytes),
                })
            }
        });
        if fetched.is_err() {
            // The error at hand is the one to report.
            let _ = std::fs::remove_file(to);
        }
        fetched
    }

    /// Stores a file at an address, reads it back and compares. The stamp has the content of the file, and the size and time
    /// that the store says.
    ///
    /// # Errors
    /// When the file cannot be read, the store does not take it, or holds something else afterwards.
    pub fn store(&mut self, file: &Path, address: &Path) -> Result<Stamp, DepotError> {
        let (store, key) = self.object_of(address)?;
        let local = |act| {
            let path = file.to_path_buf();
            move |source| DepotError::Local { act, path, source }
        };
        let stamp = stamp_of(file).map_err(local("read"))?;
        let mut source = File::open(file).map_err(local("open"))?;
        self.runtime.block_on(async {
            let upload = store.put_multipart(&key).await;
            let mut upload = upload.map_err(|error| of_a_put(address, &error))?;
            send(&mut *upload, &mut source, address, file).await
        })?;
        let not_what_was_stored = || DepotError::NotWhatWasStored {
            address: address.display().to_string(),
        };
        let (outline, hash) = match self.read_back(&*store, &key, address) {
            // Somebody has removed it already.
            Err(DepotError::Absent { .. }) => return Err(not_what_was_stored()),
            read => read?,
        };
        if outline.bytes != stamp.bytes || hash != stamp.hash {
            return Err(not_what_was_stored());
        }
        Ok(Stamp {
            modified: outline.modified,
            ..stamp
        })
    }

    /// The hash of an object as it stands in the store.
    fn read_back(
        &self,
        store: &dyn ObjectStore,
        key: &Key,
        address: &Path,
    ) -> Result<(Outline, String), DepotError> {
        self.runtime.block_on(async {
            let got = store.get(key).await;
            let got = got.map_err(|error| classed(address, &error))?;
            let outline = outline_of(&got.meta);
            let mut pieces = got.into_stream();
            let mut hasher = blake3::Hasher::new();
            while let Some(piece) = pieces.next().await {
                hasher.update(&piece.map_err(|error| classed(address, &error))?);
            }
            Ok((outline, hasher.finalize().to_hex().to_string()))
        })
    }

    /// The store and the key of an object: not of a whole bucket.
    fn object_of(&mut self, address: &Path) -> Result<(Arc<dyn ObjectStore>, Key), DepotError> {
        let (store, key) = self.store_of(address)?;
        if key.as_ref().is_empty() {
            return Err(DepotError::NotUnderstood {
                address: address.display().to_string(),
                reason: "an object has a key in its bucket",
            });
        }
        Ok((store, key))
    }

    fn store_of(&mut self, address: &Path) -> Result<(Arc<dyn ObjectStore>, Key), DepotError> {
        let text = || address.display().to_string();
        let not_understood = |reason| DepotError::NotUnderstood {
            address: text(),
            reason,
        };
        let Address::Stored { bucket, key } = Address::of(address)? else {
            return Err(not_understood("it is a path on a drive"));
        };
        let key =
            Key::parse(&key).map_err(|_| not_understood("its key has empty or relative parts"))?;
        if let Some(store) = self.stores.get(&bucket) {
            return Ok((Arc::clone(store), key));
        }
        let client = AmazonS3ConfigKey::Client;
        let builder = AmazonS3Builder::from_env();
        for key in [AmazonS3ConfigKey::Endpoint, AmazonS3ConfigKey::S3Endpoint] {
            // The library panics over some of them when it is first used.
            if let Some(endpoint) = builder.get_config_value(&key)
                && !is_server(&endpoint)
            {
                return Err(DepotError::NoServer { endpoint });
            }
        }
        let built = builder
            .with_bucket_name(&bucket)
            .with_retry(RetryConfig {
                backoff: BackoffConfig::default(),
                max_retries: TRIES,
                retry_timeout: TRYING,
            })
            .with_config(client(ClientConfigKey::Timeout), WHOLE_REQUEST)
            .with_config(client(ClientConfigKey::ReadTimeout), SILENCE)
            .build()
            .map_err(|error| classed(address, &error))?;
        let store: Arc<dyn ObjectStore> = Arc::new(built);
        self.stores.insert(bucket, Arc::clone(&store));
        Ok((store, key))
    }
}

/// Sends what a file holds; where that fails, what was sent is taken back: the store would keep it, and nobody would see it.
async fn send(
    upload: &mut dyn MultipartUpload,
    source: &mut impl Read,
    address: &Path,
    file: &Path,
) -> Result<(), DepotError> {
    let sent = send_pieces(upload, source, address, file).await;
    if sent.is_err() {
        // The error at hand is the one to report.
        let _ = upload.abort().await;
    }
    sent
}

async fn send_pieces(
    upload: &mut dyn MultipartUpload,
    source: &mut impl Read,
    address: &Path,
    file: &Path,
) -> Result<(), DepotError> {
    let failed = |error: object_store::Error| of_a_put(address, &error);
    let mut on_their_way = FuturesUnordered::new();
    loop {
        let mut piece = Vec::with_capacity(PIECE);
        let read = source.by_ref().take(PIECE as u64).read_to_end(&mut piece);
        read.map_err(|source| DepotError::Local {
            act: "read",
            path: file.to_path_buf(),
            source,
        })?;
        if piece.is_empty() {
            break;
        }
        on_their_way.push(upload.put_part(piece.into()));
        if on_their_way.len() == PIECES_ON_THEIR_WAY {
            on_their_way.try_next().await.map_err(failed)?;
        }
    }
    while on_their_way.try_next().await.map_err(failed)?.is_some() {}
    upload.complete().await.map_err(failed)?;
    Ok(())
}

/// What the store says of something that it is to take: there is no object that could be missing.
fn of_a_put(address: &Path, error: &object_store::Error) -> DepotError {
    match classed(address, error) {
        DepotError::Absent { address } => DepotError::NoBucket { address },
        other => other,
    }
}

/// The time in whole seconds: a listing may have fractions that an object's own header has not.
fn outline_of(object: &ObjectMeta) -> Outline {
    /// Nanoseconds of a second.
    const SECOND: i64 = 1_000_000_000;
    Outline {
        bytes: object.size,
        modified: object.last_modified.timestamp().saturating_mul(SECOND),
    }
}

/// Whether this is a scheme and a server, perhaps with a port (RFC 3986, 3.2).
fn is_server(endpoint: &str) -> bool {
    let Some(rest) = ["https://", "http://"]
        .iter()
        .find_map(|scheme| endpoint.strip_prefix(scheme))
    else {
        return false;
    };
    let server = rest.split('/').next().unwrap_or_default();
    let (host, port) = match server.rsplit_once(':') {
        // Not the colons of an address in brackets.
        Some((host, port)) if !port.ends_with(']') => (host, Some(port)),
        _ => (server, None),
    };
    !host.is_empty()
        && !host.contains(|character: char| character.is_whitespace() || "?#@".contains(character))
        && port.is_none_or(|port| port.parse::<u16>().is_ok())
}

/// How the library tells the status of an answer to a question for a listing, which it does not class.
const STATUS: &str = "status code: ";

/// What the store says, in our words.
fn classed(address: &Path, error: &object_store::Error) -> DepotError {
    use object_store::Error;
    let address = address.display().to_string();
    let words = error.to_string();
    let status = words.split_once(STATUS).and_then(|(_, rest)| rest.get(..3));
    let reason = one_line(&words);
    match error {
        Error::NotFound { .. } => DepotError::Absent { address },
        Error::PermissionDenied { .. } | Error::Unauthenticated { .. } => {
            DepotError::Refused { address, reason }
        }
        // A listing has keys that addresses have not, such as one with two slashes side by side.
        Error::InvalidPath { source } => DepotError::NotNamed {
            address,
            reason: source.to_string(),
        },
        Error::Generic { .. } if matches!(status, Some("401" | "403")) => {
            DepotError::Refused { address, reason }
        }
        Error::Generic { .. } if status == Some("404") => DepotError::NoBucket { address },
        _ => DepotError::Away { address, reason },
    }
}

/// Without the document that a store sends with an error.
fn one_line(words: &str) -> String {
    let end = words.find(['<', '\n']).unwrap_or(words.len());
    words[..end].trim_end_matches([' ', ':']).to_owned()
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
