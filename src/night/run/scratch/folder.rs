//! The scratch folder of a run, in the system's folder for such things (`TMPDIR` says where). Its lock tells whether the run
//! lives: whoever makes one removes those of runs that were killed.

use std::fs::{self, DirBuilder, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// How the folders' names begin.
const NAME: &str = "houselights-scratch-";
/// The file in it whose lock the run holds.
const LOCK: &str = "lock";
/// A folder without that file is older than this only when its run is gone: between the two lies a moment.
const NO_LOCK_YET: Duration = Duration::from_secs(60 * 60);
/// Names that are tried.
const NAMES: u32 = 1000;

/// The folder, removed when it is dropped.
#[derive(Debug)]
pub(super) struct RunFolder {
    path: PathBuf,
    rooms: u64,
    _lock: File,
}

/// A folder in it for what belongs to one frame, removed when it is dropped.
#[derive(Debug)]
pub(super) struct Room(PathBuf);

impl RunFolder {
    /// The folder above those of runs.
    pub(super) fn above() -> PathBuf {
        let above = std::env::temp_dir();
        fs::canonicalize(&above).unwrap_or(above)
    }

    /// A new one.
    pub(super) fn made() -> io::Result<Self> {
        Self::made_in(&Self::above())
    }

    fn made_in(above: &Path) -> io::Result<Self> {
        sweep(above);
        for nth in 0..NAMES {
            let path = above.join(format!("{NAME}{}-{nth}", std::process::id()));
            match private().create(&path) {
                Ok(()) => {}
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => continue,
                Err(error) => return Err(error),
            }
            match locked(&path) {
                Ok(Some(lock)) => {
                    return Ok(Self {
                        path,
                        rooms: 0,
                        _lock: lock,
                    });
                }
                Ok(None) => {}
                Err(error) => {
                    let _ = fs::remove_dir_all(&path);
                    return Err(error);
                }
            }
        }
        Err(io::ErrorKind::AlreadyExists.into())
    }

    /// A new room.
    pub(super) fn room(&mut self) -> io::Result<Room> {
        self.rooms += 1;
        let path = self.path.join(self.rooms.to_string());
        DirBuilder::new().recursive(true).create(&path)?;
        Ok(Room(path))
    }
}

impl Drop for RunFolder {
    fn drop(&mut self) {
        // What cannot be removed the next run removes.
        let _ = fs::remove_dir_all(&self.path);
    }
}

impl Room {
    /// Where a frame goes: under its own name, by which a key may be called.
    pub(super) fn frame(&self, frame: &Path) -> PathBuf {
        self.0.join(frame.file_name().unwrap_or_default())
    }

    /// Where a picture is made; no raw is called like that.
    pub(super) fn picture(&self, at: usize) -> PathBuf {
        self.0.join(format!("picture {at}"))
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Makes folders that only this user sees.
fn private() -> DirBuilder {
    #[allow(unused_mut, reason = "only some systems have modes")]
    let mut builder = DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
    builder
}

/// The lock of a new folder; `None` when another run that sweeps has come between making and locking: then it removes the
/// folder.
fn locked(path: &Path) -> io::Result<Option<File>> {
    let lock = File::create_new(path.join(LOCK))?;
    match lock.try_lock() {
        Ok(()) => Ok(path.join(LOCK).exists().then_some(lock)),
        Err(TryLockError::WouldBlock) => Ok(None),
        // Such as a file system that has no locks.
        Err(TryLockError::Error(error)) => Err(error),
    }
}

/// Removes the folders of runs that are gone.
fn sweep(above: &Path) {
    for entry in fs::read_dir(above).into_iter().flatten().flatten() {
        if !entry
            .file_name()
            .as_encoded_bytes()
            .starts_with(NAME.as_bytes())
        {
            continue;
        }
        let is_left = match File::open(entry.path().join(LOCK)) {
            Ok(lock) => lock.try_lock().is_ok(),
            // Its run died before it had a lock, or is about to have one.
            Err(error) => {
                error.kind() == io::ErrorKind::NotFound && is_old(&entry, SystemTime::now())
            }
        };
        if is_left {
            let _ = fs::remove_dir_all(entry.path());
        }
    }
}

/// Whether nothing was made in a folder for long.
fn is_old(entry: &fs::DirEntry, now: SystemTime) -> bool {
    let modified = entry.metadata().and_then(|of| of.modified());
    modified.is_ok_and(|modified| {
        now.duration_since(modified)
            .is_ok_and(|age| age > NO_LOCK_YET)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn scratch_goes_with_its_run_and_that_of_a_dead_run_with_the_next() {
        let above = tempfile::tempdir().expect("a folder");
        let count = || fs::read_dir(above.path()).expect("listed").count();
        let mut first = RunFolder::made_in(above.path()).expect("made");
        let room = first.room().expect("made");
        let frame = room.frame(Path::new("s3://shows/one/a.nef"));
        fs::write(&frame, b"x").expect("written");
        assert!(frame.ends_with("a.nef"));
        let second = RunFolder::made_in(above.path()).expect("made");
        assert!(frame.exists() && count() == 2, "the first is alive");
        drop(room);
        assert!(!frame.exists());
        // A run that is killed lets go of its lock and removes nothing.
        let dead = above.path().join(format!("{NAME}dead"));
        fs::create_dir(&dead).expect("made");
        fs::write(dead.join(LOCK), b"").expect("written");
        // One that is killed before it has a lock leaves less; a run that is just beginning has no more.
        let [old, new] = ["old", "new"].map(|name| above.path().join(format!("{NAME}{name}")));
        for folder in [&old, &new] {
            fs::create_dir(folder).expect("made");
        }
        let long_ago = SystemTime::now() - 2 * NO_LOCK_YET;
        let folder = File::open(&old).expect("a folder");
        folder.set_modified(long_ago).expect("set");
        let third = RunFolder::made_in(above.path()).expect("made");
        assert!(!dead.exists() && !old.exists() && new.exists() && count() == 4);
        fs::remove_dir(&new).expect("removed");
        drop((first, second, third));
        assert_eq!(count(), 0);
    }
}
