//! Many files looked at, wherever they are: a store is asked for its listing of a folder, one question for a thousand files.

use super::{NotHere, Scratch};
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
pub(in crate::night::run) struct Sight {
    folders: HashMap<PathBuf, Listing>,
    /// Why a folder could not be looked into: the first.
    trouble: Option<String>,
}

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
        let listing = match self.folders.get(folder) {
            Some(listing) => listing,
            None => {
                let listing = self.listing(scratch, folder);
                self.folders.entry(folder.to_path_buf()).or_insert(listing)
            }
        };
        match listing {
            Listing::Objects(objects) => {
                (objects.get(path)).map_or(Seen::Absent, |outline| Seen::There(*outline))
            }
            Listing::Away => Seen::Away,
        }
    }
    fn listing(&mut self, scratch: &mut Scratch, folder: &Path) -> Listing {
        match scratch.list(folder) {
            Ok(listed) => Listing::Objects(
                (listed.into_iter())
                    .map(|object| (object.address, object.outline))
                    .collect(),
            ),
            Err(why) => {
                self.trouble = self.trouble.take().or_else(|| words(why));
                Listing::Away
            }
        }
    }

    /// Why something was not seen, to be told once.
    pub(in crate::night::run) fn take_trouble(&mut self) -> Option<String> {
        self.trouble.take()
    }
}

fn words(why: NotHere) -> Option<String> {
    match why {
        NotHere::Store { reason, .. } | NotHere::NoScratch { reason, .. } => Some(reason),
        NotHere::Never(error) => Some(error.to_string()),
        NotHere::OnDrive | NotHere::Scratch { .. } | NotHere::Busy | NotHere::Stopped => None,
    }
}
