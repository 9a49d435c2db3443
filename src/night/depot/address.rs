//! Where a frame or a picture is: on a drive, or in an object store.

use super::DepotError;
use std::path::{Path, PathBuf};

/// Where a file is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Address {
    /// On a drive of this machine.
    Local(PathBuf),
    /// In an object store that speaks Amazon's S3 protocol.
    Stored {
        /// The bucket.
        bucket: String,
        /// The object's key; empty for the bucket itself.
        key: String,
    },
}

/// How an address on a drive may begin (RFC 8089).
const FILE_SCHEME: &str = "file://";
/// How an address in an object store begins: the form that the protocol's own tools take.
const STORE_SCHEME: &str = "s3://";

/// Whether this is the address of an object, not a path on a drive.
#[must_use]
pub fn is_stored(path: &Path) -> bool {
    path.to_str()
        .is_some_and(|text| text.starts_with(STORE_SCHEME))
}

/// How an address must be written that somebody wrote a little wrong. A folder of such a name on a drive is named with `./`
/// before it.
#[must_use]
pub fn meant(path: &Path) -> Option<String> {
    let text = path.to_str().filter(|_| !is_stored(path))?;
    let scheme = STORE_SCHEME.trim_end_matches('/');
    let (begins, rest) = text.split_at_checked(scheme.len())?;
    (begins.eq_ignore_ascii_case(scheme) && rest.starts_with('/'))
        .then(|| format!("{STORE_SCHEME}{}", rest.trim_start_matches('/')))
}

/// An address as the queue keeps it: without slashes at its end. Paths on drives are as they were.
#[must_use]
pub fn settled(path: &Path) -> PathBuf {
    match path.to_str() {
        Some(text) if is_stored(path) => PathBuf::from(text.trim_end_matches('/')),
        _ => path.to_path_buf(),
    }
}

impl Address {
    /// What a person or the queue means by this path.
    ///
    /// # Errors
    /// When it begins like an address and is none.
    pub fn of(path: &Path) -> Result<Self, DepotError> {
        let Some(text) = path.to_str() else {
            return Ok(Self::Local(path.to_path_buf()));
        };
        let not_understood = |reason| DepotError::NotUnderstood {
            address: text.to_owned(),
            reason,
        };
        if let Some(rest) = text.strip_prefix(FILE_SCHEME) {
            // With or without the name of this machine.
            let rest = rest.strip_prefix("localhost").unwrap_or(rest);
            return if rest.starts_with('/') {
                Ok(Self::Local(PathBuf::from(rest)))
            } else {
                Err(not_understood(
                    "a file:// address has the path from the root after it",
                ))
            };
        }
        let Some(rest) = text.strip_prefix(STORE_SCHEME) else {
            return Ok(Self::Local(path.to_path_buf()));
        };
        let (bucket, key) = rest.split_once('/').unwrap_or((rest, ""));
        if bucket.is_empty() {
            return Err(not_understood("an s3:// address has a bucket"));
        }
        Ok(Self::Stored {
            bucket: bucket.to_owned(),
            key: key.trim_matches('/').to_owned(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_and_addresses_are_told_apart() {
        let of = |text: &str| Address::of(Path::new(text));
        let stored = |bucket: &str, key: &str| Address::Stored {
            bucket: bucket.to_owned(),
            key: key.to_owned(),
        };
        assert_eq!(
            of("s3://shows/one/1.nef").ok(),
            Some(stored("shows", "one/1.nef"))
        );
        for bucket in ["s3://shows", "s3://shows/"] {
            assert_eq!(of(bucket).ok(), Some(stored("shows", "")));
        }
        // A folder joined with a name stays an address.
        let joined = Path::new("s3://shows/out").join("a b.jpg");
        assert_eq!(
            Address::of(&joined).ok(),
            Some(stored("shows", "out/a b.jpg"))
        );
        for local in ["/in/1.nef", "file:///in/1.nef", "file://localhost/in/1.nef"] {
            assert_eq!(
                of(local).ok(),
                Some(Address::Local(PathBuf::from("/in/1.nef")))
            );
        }
        for (wrong, right) in [
            ("s3:/shows/out", "s3://shows/out"),
            ("S3://shows/out", "s3://shows/out"),
        ] {
            assert_eq!(meant(Path::new(wrong)).as_deref(), Some(right));
        }
        for right in [
            "s3://shows/out",
            "./s3:/shows",
            "s3:",
            "s3",
            "/s3:/x",
            "é3:/",
        ] {
            assert_eq!(meant(Path::new(right)), None, "{right}");
        }
        assert_eq!(of("s3").ok(), Some(Address::Local(PathBuf::from("s3"))));
        for wrong in ["s3://", "s3:///key", "file://in/1.nef"] {
            let error = of(wrong).expect_err(wrong);
            assert!(error.to_string().contains(wrong), "{error}");
        }
    }
}
