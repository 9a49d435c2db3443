#![allow(clippy::print_stderr, reason = "a test that is skipped should say so")]

use super::*;
use crate::night::depot::is_stored;
use object_store::memory::InMemory;
use std::fs;

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
        assert_eq!(fetched, stored, "its content, and the store's time");
        assert_eq!(fs::read(&back).expect("read"), content);
    }
    let listed = depot.list(folder).expect("listed");
    assert_eq!(listed.len(), SIZES.len());
    assert!(listed.iter().all(|object| is_stored(&object.address)));
    // What is not there is told as that, and leaves no half file behind.
    fs::remove_file(&back).expect("removed");
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
