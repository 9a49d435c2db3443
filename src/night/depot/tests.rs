#![allow(clippy::print_stderr, reason = "a test that is skipped should say so")]

use super::*;
use crate::night::depot::is_stored;
use object_store::memory::InMemory;
use object_store::{PutPayload, PutResult, UploadPart};
use std::fs;
use std::io;
use std::pin::Pin;

fn depot() -> Depot {
    let mut depot = Depot::new().expect("a depot");
    depot.put_store("shows", Arc::new(InMemory::new()));
    depot
}

/// Sizes around the pieces in which objects go, where an off-by-one would show.
const SIZES: [usize; 6] = [0, 1, PIECE - 1, PIECE, PIECE + 1, 2 * PIECE + 7];

fn goes_and_comes_back_whole(depot: &mut Depot, folder: &Path) {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let (file, back) = (scratch.path().join("file"), scratch.path().join("back"));
    for size in SIZES {
        let content: Vec<u8> = (0..size).map(|index| (index % 251) as u8).collect();
        fs::write(&file, &content).expect("written");
        let address = folder.join(format!("{size} bytes.jpg"));
        let stored = depot.store(&file, &address).expect("stored");
        assert_eq!(stored.hash, stamp_of(&file).expect("read").hash);
        let outline = depot.outline(&address).expect("there");
        assert!(outline.fits(&stored), "{size}: {outline:?}, {stored:?}");
        let fetched = depot.fetch(&address, &back).expect("fetched");
        assert_eq!(fetched, outline, "the store's time");
        assert_eq!(fs::read(&back).expect("read"), content);
        fs::remove_file(&back).expect("removed");
    }
    let listed = depot.list(folder).expect("listed");
    assert_eq!(listed.len(), SIZES.len());
    assert!(listed.iter().all(|object| is_stored(&object.address)));
    // What is not there is told as that, and leaves no half file behind.
    depot.lets_in(folder).expect("let in");
    let error = depot
        .fetch(&folder.join("absent"), &back)
        .expect_err("absent");
    assert!(matches!(error, DepotError::Absent { .. }), "{error}");
    assert_eq!(fs::read_dir(scratch.path()).expect("listed").count(), 1);
}

#[test]
fn what_is_stored_comes_back_whole() {
    goes_and_comes_back_whole(&mut depot(), Path::new("s3://shows/one"));
}

/// The same with a server that speaks the protocol, where the environment names one: HOUSELIGHTS_S3 gives a folder in a
/// bucket, and the variables of the protocol's own tools say where it is.
#[test]
fn what_is_stored_on_a_server_comes_back_whole() {
    let Some(folder) = std::env::var_os("HOUSELIGHTS_S3") else {
        eprintln!("SKIPPED: HOUSELIGHTS_S3 gives no folder in a bucket");
        return;
    };
    let mut depot = Depot::new().expect("a depot");
    goes_and_comes_back_whole(&mut depot, Path::new(&folder));
}

#[test]
fn paths_on_drives_and_wrong_keys_are_refused() {
    let mut depot = depot();
    for wrong in ["/in/1.nef", "s3://shows/a//b", "s3://shows/../b"] {
        let error = depot.outline(Path::new(wrong)).expect_err(wrong);
        assert!(matches!(error, DepotError::NotUnderstood { .. }), "{error}");
    }
}

#[test]
fn a_whole_bucket_is_listed_and_is_no_object() {
    let mut depot = depot();
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let file = scratch.path().join("file");
    fs::write(&file, b"x").expect("written");
    let addresses = ["s3://shows/1.nef", "s3://shows/one/2.nef"].map(PathBuf::from);
    for address in &addresses {
        depot.store(&file, address).expect("stored");
    }
    for bucket in ["s3://shows", "s3://shows/"].map(Path::new) {
        let listed = depot.list(bucket).expect("listed").into_iter();
        assert!(listed.map(|object| object.address).eq(addresses.clone()));
        let error = depot.outline(bucket).expect_err("no object");
        assert!(matches!(error, DepotError::NotUnderstood { .. }), "{error}");
        assert!(depot.store(&file, bucket).is_err());
    }
}

/// An upload that takes so many pieces and no more; and whether it was taken back.
#[derive(Debug, Default)]
struct Upload {
    takes: usize,
    is_taken_back: bool,
}

type Later<'a, T> = Pin<Box<dyn Future<Output = object_store::Result<T>> + Send + 'a>>;

impl MultipartUpload for Upload {
    fn put_part(&mut self, _: PutPayload) -> UploadPart {
        let is_taken = self.takes > 0;
        self.takes = self.takes.saturating_sub(1);
        Box::pin(async move {
            match is_taken {
                true => Ok(()),
                false => Err(object_store::Error::NotImplemented {
                    operation: "more".to_owned(),
                    implementer: "a test".to_owned(),
                }),
            }
        })
    }

    fn complete<'a, 'b>(&'a mut self) -> Later<'b, PutResult>
    where
        'a: 'b,
    {
        Box::pin(async {
            Ok(PutResult {
                e_tag: None,
                version: None,
                extensions: Default::default(),
            })
        })
    }

    fn abort<'a, 'b>(&'a mut self) -> Later<'b, ()>
    where
        'a: 'b,
    {
        self.is_taken_back = true;
        Box::pin(async { Ok(()) })
    }
}

/// A file that cannot be read to its end.
struct Torn(usize);

impl Read for Torn {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        if self.0 == 0 {
            return Err(io::Error::other("torn"));
        }
        let read = into.len().min(self.0);
        self.0 -= read;
        Ok(read)
    }
}

#[test]
fn what_cannot_be_sent_whole_is_taken_back() {
    let depot = depot();
    let sent = |takes, source: &mut dyn Read| {
        let mut upload = Upload {
            takes,
            ..Upload::default()
        };
        let (address, file) = (Path::new("s3://shows/one"), Path::new("one"));
        let mut source = source;
        let sent = send(&mut upload, &mut source, address, file);
        (depot.runtime.block_on(sent), upload.is_taken_back)
    };
    let whole = vec![7; 3 * PIECE];
    assert!(matches!(sent(3, &mut &whole[..]), (Ok(()), false)));
    let (refused, is_taken_back) = sent(2, &mut &whole[..]);
    assert!(matches!(refused, Err(DepotError::Away { .. })) && is_taken_back);
    let (torn, is_taken_back) = sent(3, &mut Torn(2 * PIECE));
    assert!(matches!(torn, Err(DepotError::Local { act: "read", .. })) && is_taken_back);
}

/// What the library says when a listing has a key that addresses have not.
#[test]
fn a_key_that_no_address_has_is_told_as_that_and_named() {
    let source = Key::parse("one//2.nef").expect_err("two slashes side by side");
    let error = classed(
        Path::new("s3://shows/one"),
        &object_store::Error::InvalidPath { source },
    );
    assert!(matches!(error, DepotError::NotNamed { .. }));
    assert!(error.to_string().contains("one//2.nef"), "{error}");
}

#[test]
fn what_is_no_server_is_told_before_the_library_sees_it() {
    for server in [
        "https://store",
        "http://127.0.0.1:9000",
        "http://[::1]:9000/",
        "https://[::1]",
    ] {
        assert!(is_server(server), "{server}");
    }
    for none in [
        "",
        "store",
        "http://",
        "http://:9000",
        "https:///a",
        "http://a b",
        "http://a:b",
        "ftp://a",
    ] {
        assert!(!is_server(none), "{none}");
    }
}

/// Listings are not classed by the library. The words are those that it has for the answer of a server.
#[test]
fn a_listing_that_is_refused_is_told_from_a_store_that_is_away() {
    let said = |status: &str| {
        let words = format!(
            "Error performing GET http://store/ in 2ms - Server returned non-2xx status code: {status}: <?xml?>\n<Error>"
        );
        let error = object_store::Error::Generic {
            store: "S3",
            source: words.into(),
        };
        classed(Path::new("s3://shows/one"), &error)
    };
    assert!(matches!(said("403 Forbidden"), DepotError::Refused { .. }));
    assert!(matches!(said("404 Not Found"), DepotError::NoBucket { .. }));
    let away = said("503 Service Unavailable");
    assert!(matches!(away, DepotError::Away { .. }));
    assert!(!away.to_string().contains(['<', '\n']), "{away}");
}

/// The same with a server: a bucket that nobody made.
#[test]
fn a_missing_bucket_is_told_as_that_by_a_server() {
    if std::env::var_os("HOUSELIGHTS_S3").is_none() {
        eprintln!("SKIPPED: HOUSELIGHTS_S3 gives no folder in a bucket");
        return;
    }
    let mut depot = Depot::new().expect("a depot");
    let below = Path::new("s3://nobody-made-this/one");
    let listed = depot.list(below).expect_err("no bucket");
    assert!(matches!(listed, DepotError::NoBucket { .. }), "{listed}");
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let file = scratch.path().join("file");
    fs::write(&file, b"x").expect("written");
    let stored = depot
        .store(&file, &below.join("a.jpg"))
        .expect_err("no bucket");
    assert!(matches!(stored, DepotError::NoBucket { .. }), "{stored}");
}
