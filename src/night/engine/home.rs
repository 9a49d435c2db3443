//! Where the system has a user's programs keep what must last.

use etcetera::base_strategy::{BaseStrategy, choose_native_strategy};
use std::path::{Path, PathBuf};

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

/// Kinds of drives whose files other machines may change: their numbers in the Linux kernel (`linux/magic.h`). Drives that
/// a program serves (FUSE) are among them, since that program may be a network's.
#[cfg(target_os = "linux")]
const OF_A_NETWORK: [i64; 8] = [
    0x6969,      // NFS
    0x517b,      // SMB
    0xff53_4d42, // CIFS
    0xfe53_4d42, // SMB2
    0x0102_1997, // 9P
    0x6573_5546, // FUSE
    0x5346_414f, // AFS
    0x00c3_6400, // Ceph
];

/// Whether a file is, or would be, on a drive of another machine.
#[cfg(target_os = "linux")]
pub(super) fn is_on_a_network(file: &Path) -> bool {
    let folder = file.parent().filter(|folder| *folder != Path::new(""));
    let about = rustix::fs::statfs(folder.unwrap_or(Path::new(".")));
    about.is_ok_and(|about| {
        // Narrow machines give the number with its sign, in fewer bits.
        #[allow(clippy::unnecessary_cast, reason = "the type differs between machines")]
        let kind = about.f_type as i64;
        OF_A_NETWORK.contains(&(kind & 0xffff_ffff))
    })
}

/// Whether a file is on a drive of another machine: not asked on this system, where the engine has to notice by itself.
#[cfg(not(target_os = "linux"))]
pub(super) fn is_on_a_network(_file: &Path) -> bool {
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scratch_folder_is_on_this_machine() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        assert!(!is_on_a_network(&scratch.path().join("queue.sqlite")));
        assert!(!this_host().is_empty());
    }
}
