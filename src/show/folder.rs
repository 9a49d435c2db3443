//! The output folder: made if need be, held by one run at a time or by several that share it, cleared of what dead runs left
//! unfinished.

use crate::base::files::UNFINISHED_ENDING;
use crate::crew::stamp::is_disk_full;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// The hidden file whose lock says that a run works into this folder. It holds nothing and stays.
const LOCK_NAME: &str = ".houselights-lock";

/// How long a run that begins may need to clear a folder.
const TIME_TO_CLEAR: Duration = Duration::from_secs(1);

/// An output folder held by this run, until it is dropped.
#[derive(Debug)]
pub struct OutputFolder {
    path: PathBuf,
    /// Keeps the lock.
    lock: File,
    /// Whether the drive knows no locks, so that a second run cannot be seen.
    pub without_lock: bool,
}

/// Why pictures cannot go into a folder.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// It cannot be made, or something else stands there.
    #[error("cannot make the folder {}: {source}; choose another with --to", path.display())]
    NotMade {
        /// The folder.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// Nothing can be written into it.
    #[error(
        "cannot write into {}: {source}; make it writable, or choose another folder with --to", path.display()
    )]
    NotWritable {
        /// The folder.
        path: PathBuf,
        /// The system's answer.
        source: io::Error,
    },
    /// Another run works into it.
    #[error(
        "another run is making pictures in {}; wait for it to end, or choose another folder with --to", path.display()
    )]
    InUse {
        /// The folder.
        path: PathBuf,
    },
}

impl FolderError {
    /// Whether there is no space left.
    #[must_use]
    pub fn is_disk_full(&self) -> bool {
        match self {
            Self::NotMade { source, .. } | Self::NotWritable { source, .. } => is_disk_full(source),
            Self::InUse { .. } => false,
        }
    }
}

impl OutputFolder {
    /// Makes the folder if it is not there, takes it for this run, and removes unfinished files of runs that are gone.
    ///
    /// # Errors
    /// When it cannot be made or written into, or when another run holds it.
    pub fn take(path: &Path) -> Result<Self, FolderError> {
        let not_made = |source| FolderError::NotMade {
            path: path.to_path_buf(),
            source,
        };
        fs::create_dir_all(path).map_err(not_made)?;
        let path = fs::canonicalize(path).map_err(not_made)?;
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(path.join(LOCK_NAME))
            .map_err(|source| FolderError::NotWritable {
                path: path.clone(),
                source,
            })?;
        let without_lock = match lock.try_lock() {
            Ok(()) => false,
            Err(TryLockError::WouldBlock) => return Err(FolderError::InUse { path }),
            Err(TryLockError::Error(_)) => true,
        };
        let folder = Self {
            path,
            lock,
            without_lock,
        };
        folder.sweep();
        Ok(folder)
    }

    /// Takes a folder that is there together with other runs that share it. What dead runs left unfinished is removed
    /// where nobody else is at work in it: a process of another machine may have the number of one that is dead here.
    ///
    /// # Errors
    /// When it cannot be written into, or when a run holds it alone.
    pub fn share(path: &Path) -> Result<Self, FolderError> {
        let not_writable = |source| FolderError::NotWritable {
            path: path.to_path_buf(),
            source,
        };
        let lock = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(path.join(LOCK_NAME))
            .map_err(not_writable)?;
        let is_alone = lock.try_lock().is_ok();
        let folder = Self {
            path: path.to_path_buf(),
            lock,
            without_lock: false,
        };
        if is_alone {
            folder.sweep();
            folder.lock.unlock().map_err(not_writable)?;
        }
        // Another run that begins may hold it alone for the moment that clearing it takes.
        let begun = Instant::now();
        loop {
            match folder.lock.try_lock_shared() {
                Ok(()) => return Ok(folder),
                Err(TryLockError::WouldBlock) if begun.elapsed() < TIME_TO_CLEAR => {
                    std::thread::sleep(TIME_TO_CLEAR / 20);
                }
                Err(TryLockError::WouldBlock) => {
                    return Err(FolderError::InUse {
                        path: path.to_path_buf(),
                    });
                }
                Err(TryLockError::Error(_)) => {
                    return Ok(Self {
                        without_lock: true,
                        ..folder
                    });
                }
            }
        }
    }

    /// The folder's real path.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Removes unfinished files whose process is gone. What cannot be removed stays for the next run.
    pub fn sweep(&self) {
        for entry in fs::read_dir(&self.path).into_iter().flatten().flatten() {
            let process = unfinished_by(entry.file_name().as_encoded_bytes());
            if process.is_some_and(|process| !is_running(process)) {
                let _ = fs::remove_file(entry.path());
            }
        }
    }
}

/// The process that was writing a file of this name; `None` when it is not an unfinished file.
fn unfinished_by(name: &[u8]) -> Option<i32> {
    // `.PROCESS-COUNT` and the ending, as the writer of files names them; earlier versions put the file's name before it.
    let name = name.strip_suffix(UNFINISHED_ENDING.as_bytes())?;
    let dot = name.iter().rposition(|&byte| byte == b'.')?;
    let (process, count) = std::str::from_utf8(&name[dot + 1..])
        .ok()?
        .split_once('-')?;
    count.parse::<u64>().ok()?;
    process.parse().ok()
}

/// On Linux a process that is dead but not yet waited for still has its number: its state says so (proc(5), `stat`).
#[cfg(target_os = "linux")]
fn is_running(process: i32) -> bool {
    let stat = fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
    let state = stat
        .rsplit(')')
        .next()
        .and_then(|fields| fields.trim_start().chars().next());
    state.is_some_and(|state| !matches!(state, 'Z' | 'X'))
}

#[cfg(all(unix, not(target_os = "linux")))]
fn is_running(process: i32) -> bool {
    use rustix::io::Errno;
    use rustix::process::{Pid, test_kill_process};
    Pid::from_raw(process).is_some_and(|pid| test_kill_process(pid) != Err(Errno::SRCH))
}

#[cfg(not(unix))]
fn is_running(process: i32) -> bool {
    // The lock is held, so no other run of ours is alive here.
    process == i32::try_from(std::process::id()).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_held_by_one_run_at_a_time() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let path = scratch.path().join("made/on the way");
        let first = OutputFolder::take(&path).expect("taken");
        let second = OutputFolder::take(&path).expect_err("held");
        assert!(matches!(second, FolderError::InUse { .. }), "{second}");
        drop(first);
        OutputFolder::take(&path).expect("free again");
    }

    #[test]
    fn runs_that_share_a_folder_keep_others_out() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let path = scratch.path();
        let first = OutputFolder::share(path).expect("shared");
        let second = OutputFolder::share(path).expect("shared with the first");
        assert!(matches!(
            OutputFolder::take(path),
            Err(FolderError::InUse { .. })
        ));
        drop((first, second));
        let alone = OutputFolder::take(path).expect("free again");
        assert!(matches!(
            OutputFolder::share(path),
            Err(FolderError::InUse { .. })
        ));
        drop(alone);
        // It is there, or it is not: sharing makes none.
        assert!(OutputFolder::share(&path.join("absent")).is_err());
    }

    #[test]
    fn leftovers_of_dead_runs_go_and_everything_else_stays() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        // Processes have positive numbers below 2^22 on Linux (proc(5), pid_max); this one is gone for sure.
        let dead = format!("a.jpg.{}-0{UNFINISHED_ENDING}", i32::MAX);
        let alive = format!("b.jpg.{}-7{UNFINISHED_ENDING}", std::process::id());
        let stranger = format!("c.jpg{UNFINISHED_ENDING}");
        for name in [&dead, &alive, &stranger, "d.jpg"] {
            fs::write(scratch.path().join(name), b"x").expect("written");
        }
        OutputFolder::take(scratch.path()).expect("taken");
        let there = |name: &str| scratch.path().join(name).exists();
        assert!(!there(&dead));
        assert!(there(&alive) && there(&stranger) && there("d.jpg"));
    }

    #[test]
    fn a_file_in_the_folders_place_is_told() {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let path = scratch.path().join("file");
        fs::write(&path, b"x").expect("written");
        let error = OutputFolder::take(&path).expect_err("a file");
        assert!(matches!(error, FolderError::NotMade { .. }), "{error}");
        assert!(error.to_string().contains("--to"));
    }
}
