//! The depot: frames and pictures in an object store, for machines that share no drive.
//!
//! Workers know only drives, so an object is fetched into a scratch folder before its frame is opened, and a picture is
//! made there and stored afterwards. A store takes an object whole or not at all, so there is nothing to rename; and what was
//! stored is read back and compared before it counts as made, as a synced file is on a drive. Objects pass through in
//! pieces, so that a picture of many megabytes costs no memory.
//!
//! The store is the one that the environment names, in the words of the protocol's own tools (`AWS_ACCESS_KEY_ID`,
//! `AWS_SECRET_ACCESS_KEY`, `AWS_REGION`, `AWS_ENDPOINT` for others than Amazon's). `file://` addresses are paths. A program
//! that is built without the feature `many-machines` knows addresses, to refuse them, and nothing behind them.

#[cfg(not(feature = "many-machines"))]
mod absent;
mod address;
mod error;
#[cfg(all(test, feature = "many-machines"))]
mod stand_in;
#[cfg(feature = "many-machines")]
mod store;

#[cfg(not(feature = "many-machines"))]
pub use self::absent::Depot;
pub use self::address::{Address, is_stored, meant, settled};
pub use self::error::DepotError;
#[cfg(all(test, feature = "many-machines"))]
pub(crate) use self::stand_in::StandIn;
#[cfg(feature = "many-machines")]
pub use self::store::Depot;

use crate::crew::stamp::Outline;
use std::path::PathBuf;

/// An object that is there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listed {
    /// Its address.
    pub address: PathBuf,
    /// Its size, and when it was stored.
    pub outline: Outline,
}
