//! Where readings are kept.

use super::ReadingsError;
use etcetera::base_strategy::{BaseStrategy, choose_native_strategy};
use std::path::PathBuf;

/// Where readings are kept.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Place {
    /// In the folder that the system gives to what programs can make again.
    #[default]
    OfTheUser,
    /// In this file.
    File(PathBuf),
    /// Nowhere.
    Nowhere,
}

/// Folder and file in the user's place.
const FOLDER: &str = "houselights";
const FILE: &str = "readings.sqlite";

impl Place {
    /// The file; `None` for nowhere.
    pub(super) fn file(&self) -> Result<Option<PathBuf>, ReadingsError> {
        match self {
            Self::Nowhere => Ok(None),
            Self::File(path) if crate::raw::is_raw_name(path) => {
                Err(ReadingsError::RawName(path.clone()))
            }
            Self::File(path) => Ok(Some(path.clone())),
            Self::OfTheUser => {
                let folder = choose_native_strategy()
                    .map_err(|_| ReadingsError::NoPlace)?
                    .cache_dir()
                    .join(FOLDER);
                std::fs::create_dir_all(&folder).map_err(|source| ReadingsError::Folder {
                    path: folder.clone(),
                    source,
                })?;
                Ok(Some(folder.join(FILE)))
            }
        }
    }
}
