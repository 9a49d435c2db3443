//! Readings that are kept: what metering found in a frame, by the content of its file, so that no frame is read twice.
//!
//! Every command that needs the light of a show asks here first, whatever look and whatever output folder it works for:
//! a reading depends on the raw and on the program, and on nothing else. A frame is found without reading its file, by
//! path, size and time; where a drive or a folder has moved, by name, size and time and the hash of the file's first bytes;
//! and where its time or its name is another (a plain copy, a touched file), by size and first bytes and then by the hash of
//! the whole file, which costs a reading of it and no metering.
//!
//! This is a cache and must never stop a show: whatever is wrong with it (no place for it, damaged, written by a later
//! program, locked, full) becomes a remark, and the frames are read again. A kept reading is the reading that a worker
//! gave, to the bit, so that pictures do not depend on it.

mod database;
mod encoding;
mod place;

pub use self::place::Place;

use self::database::{Database, Found, Kept};
use crate::crew::stamp::{Outline, head_of, stamp_of};
use crate::crew::task::{Metered, Stamp};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

/// Readings that are written together: each writing waits for the drive.
const WRITTEN_TOGETHER: usize = 32;
/// Longest that a reading waits for others, where any come: a run that is killed loses this much work.
const LONGEST_WAIT: Duration = Duration::from_millis(500);

/// Bytes that the file may have: about 40,000 readings, eight shows. Beyond, what was not used for longest goes.
const MOST_BYTES: u64 = 512 << 20;

/// Why readings are not kept, or no longer.
#[derive(Debug, thiserror::Error)]
pub enum ReadingsError {
    /// No place.
    #[error("there is no folder of this user for what programs keep; name a file with --readings")]
    NoPlace,
    /// The folder cannot be made.
    #[error("the folder {} cannot be made: {source}; name another file with --readings", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// The system's answer.
        source: std::io::Error,
    },
    /// It has the name of a raw.
    #[error("{} has a raw file's name; name another file with --readings", .0.display())]
    RawName(PathBuf),
    /// It is something else.
    #[error("{} is no file of readings; it is left as it is, name another with --readings", .0.display())]
    Foreign(PathBuf),
    /// Written by a later program.
    #[error("{} was written by a later version of this program; it is left as it is, name another file with --readings", .0.display())]
    LaterVersion(PathBuf),
    /// It is damaged.
    #[error("{} is damaged ({reason}); remove it, and a new one is begun", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What the engine says.
        reason: String,
    },
    /// It cannot be read or written.
    #[error("{} cannot be used ({reason}); check the place and its permissions, or name another file with --readings", path.display())]
    Unusable {
        /// The file.
        path: PathBuf,
        /// What the engine says.
        reason: String,
    },
}

/// Readings that are kept, open for this run.
#[derive(Debug)]
pub struct Readings {
    database: Option<Database>,
    /// A digest of the program: another program's readings are not taken for this one's.
    program: String,
    waiting: Vec<Kept>,
    /// When there was a writing last, or the place was opened.
    written: Instant,
    /// Contents whose readings were used, to be marked as such.
    used: Vec<String>,
    remarks: Vec<String>,
    today: i64,
}

impl Readings {
    /// Opens what is kept in a place for this program, or begins it. Trouble becomes a remark.
    #[must_use]
    pub fn open(place: &Place, program: &str) -> Self {
        let mut readings = Self {
            database: None,
            program: program.to_owned(),
            waiting: Vec::new(),
            written: Instant::now(),
            used: Vec::new(),
            remarks: Vec::new(),
            today: days_since_1970(),
        };
        match place
            .file()
            .and_then(|file| file.map(Database::open).transpose())
        {
            Ok(database) => readings.database = database,
            Err(error) => readings.give_up(&error),
        }
        readings
    }

    /// What was found in a frame when it was last read, unless its file has changed since.
    pub fn find(&mut self, frame: &Path, outline: Outline) -> Option<Metered> {
        let database = self.database.as_ref()?;
        let found = database.by_path(frame, outline, &self.program);
        let found = match found {
            Ok(Some(found)) => Some(found),
            Ok(None) => match elsewhere(database, frame, outline, &self.program) {
                Ok(moved) => {
                    if let Some(found) = &moved {
                        self.waiting.push(Kept::moved(frame, outline, found));
                        self.write_when_due();
                    }
                    moved
                }
                Err(error) => return self.trouble(error),
            },
            Err(error) => return self.trouble(error),
        }?;
        let input = Stamp {
            bytes: outline.bytes,
            modified: outline.modified,
            head: found.head,
            hash: found.content,
        };
        if found.used < self.today {
            self.used.push(input.hash.clone());
        }
        encoding::decode(&found.body, input)
    }

    /// Keeps what was found in a frame. What cannot be kept is read again by the next run.
    pub fn keep(&mut self, frame: &Path, metered: &Metered) {
        if self.database.as_ref().is_none_or(Database::is_read_only) {
            return;
        }
        if let Some(body) = encoding::encode(metered) {
            let kept = Kept::read(frame, &metered.input, body);
            self.waiting.push(kept);
        }
        self.write_when_due();
    }

    /// What a person should know of the place, told once.
    pub fn take_remarks(&mut self) -> Vec<String> {
        std::mem::take(&mut self.remarks)
    }

    /// Writes what waits, and lets what was not used for longest go where there is too much. Ending without it keeps what
    /// waits too, and leaves the rest to the next run.
    pub fn finish(&mut self) {
        let had_new = !self.waiting.is_empty();
        self.write();
        if had_new
            && let Some(database) = &mut self.database
            && let Err(error) = database.make_room(MOST_BYTES)
        {
            self.give_up(&error);
        }
    }

    fn write_when_due(&mut self) {
        if self.waiting.len() >= WRITTEN_TOGETHER || self.written.elapsed() >= LONGEST_WAIT {
            self.write();
            // Not before the writing: a slow drive shall not be written to all the time.
            self.written = Instant::now();
        }
    }

    fn write(&mut self) {
        let (waiting, used) = (
            std::mem::take(&mut self.waiting),
            std::mem::take(&mut self.used),
        );
        if waiting.is_empty() && used.is_empty() {
            return;
        }
        if let Some(database) = &mut self.database
            && let Err(error) = database.write(&waiting, &used, &self.program, self.today)
        {
            self.give_up(&error);
        }
    }

    fn trouble(&mut self, error: ReadingsError) -> Option<Metered> {
        self.give_up(&error);
        None
    }

    fn give_up(&mut self, error: &ReadingsError) {
        self.database = None;
        self.remarks
            .push(format!("readings are not kept in this run: {error}"));
    }
}

impl Drop for Readings {
    fn drop(&mut self) {
        self.write();
    }
}

/// The reading of a file that is not known by path, size and time: see the top of this file.
fn elsewhere(
    database: &Database,
    frame: &Path,
    outline: Outline,
    program: &str,
) -> Result<Option<Found>, ReadingsError> {
    if !database.knows(outline.bytes, None)? {
        return Ok(None);
    }
    let Ok(head) = head_of(frame) else {
        return Ok(None);
    };
    let named = database.by_name(frame, outline, program)?;
    if let Some(found) = named.into_iter().find(|found| found.head == head) {
        return Ok(Some(found));
    }
    if !database.knows(outline.bytes, Some(&head))? {
        return Ok(None);
    }
    match stamp_of(frame) {
        Ok(stamp) if outline.fits(&stamp) => database.by_content(&stamp, program),
        // What changes or fails under our hands is the workers' to tell.
        _ => Ok(None),
    }
}

fn days_since_1970() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |since| (since.as_secs() / 86_400).cast_signed())
}

#[cfg(test)]
pub(crate) mod tests;
