//! Where the system has a user's programs keep what must last.

use etcetera::base_strategy::{BaseStrategy, choose_native_strategy};
use std::path::PathBuf;

/// The folder for what programs keep for this user (XDG base directories on Linux, the platform's own elsewhere).
pub(in crate::night) fn data_folder() -> Option<PathBuf> {
    choose_native_strategy()
        .ok()
        .map(|strategy| strategy.data_dir())
}

/// The name of this machine.
pub(in crate::night) fn this_host() -> String {
    rustix::system::uname()
        .nodename()
        .to_string_lossy()
        .into_owned()
}
