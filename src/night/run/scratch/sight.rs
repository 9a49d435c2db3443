//! Many files looked at, wherever they are: a store is asked for its listing of a folder, one question for a thousand files.

use super::Scratch;
use crate::crew::stamp::Outline;
use crate::night::depot::is_stored;
use std::collections::HashMap;
use std::path::{Path, PathBuf};

/// What is seen of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::night::run) enum Seen {
    /// It is there.
    There(Outline),
    /// It is not there; on a drive, or its drive is not.
    Absent,
    /// Its store does not answer.
    Away,
}

impl Seen {
    /// Size and time of what is there.
    pub(in crate::night::run) fn outline(self) -> Option<Outline> {
        match self {
            Self::There(outline) => Some(outline),
            Self::Absent | Self::Away => None,
        }
    }
}

/// What the stores say of their folders, each asked once.
#[derive(Debug, Default)]
pub(in crate::night::run) struct Sight(HashMap<PathBuf, Listing>);

#[derive(Debug)]
enum Listing {
    Objects(HashMap<PathBuf, Outline>),
    Away,
}

impl Sight {
    /// What is seen of a file.
    pub(in crate::night::run) fn of(&mut self, scratch: &mut Scratch, path: &Path) -> Seen {
        if !is_stored(path) {
            return Outline::of(path).map_or(Seen::Absent, Seen::There);
        }
        let folder = path.parent().unwrap_or(path);
        let listing = match self.0.get(folder) {
            Some(listing) => listing,
            None => {
                let listing = listing(scratch, folder);
                self.0.entry(folder.to_path_buf()).or_insert(listing)
            }
        };
        match listing {
            Listing::Objects(objects) => {
                (objects.get(path)).map_or(Seen::Absent, |outline| Seen::There(*outline))
            }
            Listing::Away => Seen::Away,
        }
    }
}

fn listing(scratch: &mut Scratch, folder: &Path) -> Listing {
    match scratch.list(folder) {
        Ok(listed) => Listing::Objects(
            (listed.into_iter())
                .map(|object| (object.address, object.outline))
                .collect(),
        ),
        Err(_) => Listing::Away,
    }
}
