//! Paths as text without loss.
//!
//! A Unix file name is bytes, not text. A path that is UTF-8 is written as a string; any other as its bytes in
//! hexadecimal under the key `bytes`. A lossy conversion would open, or write, another file.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::borrow::Cow;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

#[derive(Serialize, Deserialize)]
#[serde(untagged)]
enum Written<'a> {
    Text(Cow<'a, str>),
    Bytes { bytes: String },
}

/// For `#[serde(with = "...")]` on a path.
///
/// # Errors
/// Those of the serializer, and a path that is not Unicode on a system whose paths are not bytes.
pub fn serialize<S: Serializer>(path: &Path, serializer: S) -> Result<S::Ok, S::Error> {
    match path.to_str() {
        Some(text) => Written::Text(Cow::Borrowed(text)),
        None => Written::Bytes {
            bytes: hexadecimal(path)
                .ok_or_else(|| serde::ser::Error::custom("the path is not Unicode"))?,
        },
    }
    .serialize(serializer)
}

/// For `#[serde(with = "...")]` on a path.
///
/// # Errors
/// Those of the deserializer, and bytes that are not pairs of hexadecimal digits.
pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<PathBuf, D::Error> {
    match Written::deserialize(deserializer)? {
        Written::Text(text) => Ok(PathBuf::from(text.into_owned())),
        Written::Bytes { bytes } => from_hexadecimal(&bytes)
            .map(PathBuf::from)
            .ok_or_else(|| serde::de::Error::custom("not the bytes of a path")),
    }
}

/// The same for a path that may be missing.
pub mod optional {
    use serde::{Deserialize, Deserializer, Serialize, Serializer};
    use std::path::PathBuf;

    #[derive(Serialize, Deserialize)]
    struct Path(#[serde(with = "super")] PathBuf);

    /// For `#[serde(with = "...")]` on an optional path.
    ///
    /// # Errors
    /// Those of [`super::serialize`].
    pub fn serialize<S: Serializer>(
        path: &Option<PathBuf>,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        path.clone().map(Path).serialize(serializer)
    }

    /// For `#[serde(with = "...")]` on an optional path.
    ///
    /// # Errors
    /// Those of [`super::deserialize`].
    pub fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Option<PathBuf>, D::Error> {
        Ok(Option::<Path>::deserialize(deserializer)?.map(|Path(path)| path))
    }
}

/// The bytes of a path as hexadecimal digits; `None` where paths are not bytes and this one is not Unicode.
#[must_use]
pub fn hexadecimal(path: &Path) -> Option<String> {
    #[cfg(unix)]
    let bytes = Some(std::os::unix::ffi::OsStrExt::as_bytes(path.as_os_str()));
    #[cfg(not(unix))]
    let bytes = path.to_str().map(str::as_bytes);
    bytes.map(|bytes| bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}

fn from_hexadecimal(digits: &str) -> Option<OsString> {
    let pairs = digits.as_bytes().chunks(2);
    let bytes: Option<Vec<u8>> = pairs
        .map(|pair| {
            (pair.len() == 2 && pair.iter().all(u8::is_ascii_hexdigit))
                .then(|| std::str::from_utf8(pair).ok())
                .flatten()
                .and_then(|text| u8::from_str_radix(text, 16).ok())
        })
        .collect();
    #[cfg(unix)]
    return bytes.map(std::os::unix::ffi::OsStringExt::from_vec);
    #[cfg(not(unix))]
    return bytes
        .and_then(|bytes| String::from_utf8(bytes).ok())
        .map(OsString::from);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    struct Holder(#[serde(with = "super")] PathBuf);

    fn round_trip(path: PathBuf) {
        let holder = Holder(path);
        let line = serde_json::to_string(&holder).expect("written");
        assert!(!line.contains('\n'), "one line");
        assert_eq!(serde_json::from_str::<Holder>(&line).expect("read"), holder);
    }

    #[test]
    fn text_with_quotes_spaces_and_line_ends_survives() {
        round_trip(PathBuf::from("a folder/it's \"one\"\nframe é.nef"));
    }

    #[cfg(unix)]
    #[test]
    fn every_byte_survives() {
        use std::os::unix::ffi::OsStringExt;
        round_trip(PathBuf::from(OsString::from_vec((1..=255).collect())));
    }

    #[test]
    fn damaged_bytes_are_refused() {
        for digits in ["0", "0g", "+1", "é"] {
            let line = format!("{{\"bytes\":\"{digits}\"}}");
            assert!(serde_json::from_str::<Holder>(&line).is_err(), "{digits}");
        }
    }
}
