//! The file of readings: an embedded SQLite database.
//!
//! A library of many megabytes for one table earns its place by what it knows and we would have to learn: two runs at once,
//! a power cut in the middle of a writing, damage that is noticed. Its journal is the rolled-back one and not the write-ahead
//! log, because a person may name a file on a network drive, where the latter does not work.

use super::ReadingsError;
use crate::crew::stamp::Outline;
use crate::crew::task::Stamp;
use rusqlite::{
    Connection, ErrorCode, OpenFlags, OptionalExtension, Row, TransactionBehavior, params,
};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Marks a database as ours: "HLrd".
const APPLICATION: i64 = 0x484c_7264;
/// The version of the tables below. A later one is left alone.
const VERSION: i64 = 1;
/// How long a run waits for another that writes.
const PATIENCE: Duration = Duration::from_secs(5);
/// Bytes of the seal of a reading.
const SEAL: usize = 16;
/// What stays, as a share of the limit, when room is made: so that room is not made at every run.
const LEFT_AFTER_ROOM: f64 = 0.8;

const TABLES: &str = "
    CREATE TABLE IF NOT EXISTS readings (
        content TEXT NOT NULL,   -- hash of the raw file
        program TEXT NOT NULL,   -- digest of the program that read it
        used INTEGER NOT NULL,   -- day of its last use since 1970
        seal BLOB NOT NULL,      -- hash of all the others
        body BLOB NOT NULL,      -- the reading
        UNIQUE (content, program)
    );
    CREATE TABLE IF NOT EXISTS places (
        path BLOB PRIMARY KEY,
        name BLOB NOT NULL,
        bytes INTEGER NOT NULL,
        modified INTEGER NOT NULL,
        head TEXT NOT NULL,
        content TEXT NOT NULL
    );
    CREATE INDEX IF NOT EXISTS places_by_name ON places (name, bytes, modified);
    CREATE INDEX IF NOT EXISTS places_by_head ON places (bytes, head);
    CREATE INDEX IF NOT EXISTS readings_by_use ON readings (used);
";

/// A reading that was found, and the file that it is of.
pub(super) struct Found {
    pub(super) content: String,
    pub(super) head: String,
    pub(super) used: i64,
    pub(super) body: Vec<u8>,
}

/// A file, and its reading where it is new.
#[derive(Debug)]
pub(super) struct Kept {
    path: PathBuf,
    bytes: i64,
    modified: i64,
    head: String,
    content: String,
    body: Option<Vec<u8>>,
}

impl Kept {
    /// A frame that was read.
    pub(super) fn read(path: &Path, input: &Stamp, body: Vec<u8>) -> Self {
        Self {
            path: path.to_path_buf(),
            bytes: input.bytes.cast_signed(),
            modified: input.modified,
            head: input.head.clone(),
            content: input.hash.clone(),
            body: Some(body),
        }
    }

    /// A known frame in another place.
    pub(super) fn moved(path: &Path, outline: Outline, found: &Found) -> Self {
        Self {
            path: path.to_path_buf(),
            bytes: outline.bytes.cast_signed(),
            modified: outline.modified,
            head: found.head.clone(),
            content: found.content.clone(),
            body: None,
        }
    }
}

/// The file of readings, open.
#[derive(Debug)]
pub(super) struct Database {
    connection: Connection,
    path: PathBuf,
    is_read_only: bool,
}

impl Database {
    /// Opens a file of readings, or begins one.
    pub(super) fn open(path: PathBuf) -> Result<Self, ReadingsError> {
        // Without URI names: a path is a path.
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(&path, flags);
        let connection = connection.map_err(|error| classed(&path, &error))?;
        let mut database = Self {
            is_read_only: false,
            connection,
            path,
        };
        match database.prepare() {
            Ok(Ok(())) => Ok(database),
            Ok(Err(refused)) => Err(refused),
            Err(error) => Err(classed(&database.path, &error)),
        }
    }

    fn prepare(&mut self) -> rusqlite::Result<Result<(), ReadingsError>> {
        self.connection.busy_timeout(PATIENCE)?;
        self.connection
            .pragma_update(None, "trusted_schema", false)?;
        let number = |connection: &Connection, name: &str| {
            connection.pragma_query_value(None, name, |row| row.get::<_, i64>(0))
        };
        let tables: i64 =
            self.connection
                .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        self.is_read_only = self.connection.is_readonly(rusqlite::MAIN_DB)?;
        if tables > 0 {
            if number(&self.connection, "application_id")? != APPLICATION {
                return Ok(Err(ReadingsError::Foreign(self.path.clone())));
            }
            if number(&self.connection, "user_version")? > VERSION {
                return Ok(Err(ReadingsError::LaterVersion(self.path.clone())));
            }
            if !self.is_read_only {
                // What a file of an earlier program has not.
                self.connection.execute_batch(TABLES)?;
            }
            return Ok(Ok(()));
        }
        // Another run may be beginning the same file.
        let beginning = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        beginning.pragma_update(None, "application_id", APPLICATION)?;
        beginning.pragma_update(None, "user_version", VERSION)?;
        beginning.execute_batch(TABLES)?;
        beginning.commit()?;
        Ok(Ok(()))
    }

    /// Whether nothing can be written into it.
    pub(super) fn is_read_only(&self) -> bool {
        self.is_read_only
    }

    /// The reading of the file at this path, if it looks as it did.
    pub(super) fn by_path(
        &self,
        path: &Path,
        outline: Outline,
        program: &str,
    ) -> Result<Option<Found>, ReadingsError> {
        const QUESTION: &str = "
            SELECT places.head, readings.content, readings.used, readings.seal, readings.body
            FROM places JOIN readings ON readings.content = places.content AND readings.program = ?1
            WHERE places.path = ?2 AND places.bytes = ?3 AND places.modified = ?4";
        let ask = || {
            let mut statement = self.connection.prepare_cached(QUESTION)?;
            let about = params![
                program,
                bytes_of(path),
                outline.bytes.cast_signed(),
                outline.modified
            ];
            statement
                .query_row(about, |row| found(row, program))
                .optional()
        };
        self.told(ask()).map(Option::flatten)
    }

    /// Readings of files of this name, size and time, wherever they were.
    pub(super) fn by_name(
        &self,
        path: &Path,
        outline: Outline,
        program: &str,
    ) -> Result<Vec<Found>, ReadingsError> {
        const QUESTION: &str = "
            SELECT places.head, readings.content, readings.used, readings.seal, readings.body
            FROM places JOIN readings ON readings.content = places.content AND readings.program = ?1
            WHERE places.name = ?2 AND places.bytes = ?3 AND places.modified = ?4
            ORDER BY places.path";
        let ask = || {
            let mut statement = self.connection.prepare_cached(QUESTION)?;
            let about = params![
                program,
                name_of(path),
                outline.bytes.cast_signed(),
                outline.modified
            ];
            let rows = statement.query_map(about, |row| found(row, program))?;
            rows.filter_map(Result::transpose).collect()
        };
        self.told(ask())
    }

    /// Whether a file of this size, and with these first bytes where they are given, was ever read.
    pub(super) fn knows(&self, bytes: u64, head: Option<&str>) -> Result<bool, ReadingsError> {
        const BY_SIZE: &str = "SELECT EXISTS (SELECT 1 FROM places WHERE bytes = ?1)";
        const BY_HEAD: &str = "SELECT EXISTS (SELECT 1 FROM places WHERE bytes = ?1 AND head = ?2)";
        let bytes = bytes.cast_signed();
        let ask = || match head {
            None => (self.connection.prepare_cached(BY_SIZE)?)
                .query_row(params![bytes], |row| row.get(0)),
            Some(head) => (self.connection.prepare_cached(BY_HEAD)?)
                .query_row(params![bytes, head], |row| row.get(0)),
        };
        self.told(ask())
    }

    /// The reading of a file with the content of this stamp, whatever it is called.
    pub(super) fn by_content(
        &self,
        stamp: &Stamp,
        program: &str,
    ) -> Result<Option<Found>, ReadingsError> {
        const QUESTION: &str = "
            SELECT ?3, content, used, seal, body FROM readings WHERE content = ?1 AND program = ?2";
        let ask = || {
            let mut statement = self.connection.prepare_cached(QUESTION)?;
            statement
                .query_row(params![stamp.hash, program, stamp.head], |row| {
                    found(row, program)
                })
                .optional()
        };
        self.told(ask()).map(Option::flatten)
    }

    /// Writes readings and places, and marks readings as used.
    pub(super) fn write(
        &mut self,
        kept: &[Kept],
        used: &[String],
        program: &str,
        today: i64,
    ) -> Result<(), ReadingsError> {
        if self.is_read_only {
            return Ok(());
        }
        let written = self.try_to_write(kept, used, program, today);
        match written {
            // Another run holds the file for long: what it costs is that these frames are read again.
            Err(error) if error.sqlite_error_code() == Some(ErrorCode::DatabaseBusy) => Ok(()),
            written => self.told(written),
        }
    }

    fn try_to_write(
        &mut self,
        kept: &[Kept],
        used: &[String],
        program: &str,
        today: i64,
    ) -> rusqlite::Result<()> {
        let writing = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        {
            let mut place = writing.prepare_cached(
                "INSERT OR REPLACE INTO places (path, name, bytes, modified, head, content) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?;
            let mut reading = writing.prepare_cached(
                "INSERT OR REPLACE INTO readings (content, program, used, seal, body) VALUES (?1, ?2, ?3, ?4, ?5)",
            )?;
            let mut mark = writing.prepare_cached(
                "UPDATE readings SET used = ?1 WHERE content = ?2 AND program = ?3",
            )?;
            for one in kept {
                place.execute(params![
                    bytes_of(&one.path),
                    name_of(&one.path),
                    one.bytes,
                    one.modified,
                    one.head,
                    one.content
                ])?;
                if let Some(body) = &one.body {
                    let seal = seal(program, &one.content, body);
                    reading.execute(params![one.content, program, today, seal, body])?;
                }
            }
            for content in used {
                mark.execute(params![today, content, program])?;
            }
        }
        writing.commit()
    }

    /// Lets what was not used for longest go, where the file has more than `most` bytes in use.
    pub(super) fn make_room(&mut self, most: u64) -> Result<(), ReadingsError> {
        if self.is_read_only {
            return Ok(());
        }
        let made = self.try_to_make_room(most);
        self.told(made)
    }

    fn try_to_make_room(&mut self, most: u64) -> rusqlite::Result<()> {
        let number = |name: &str| {
            self.connection
                .pragma_query_value(None, name, |row| row.get::<_, i64>(0))
        };
        let pages = number("page_count")? - number("freelist_count")?;
        let in_use = pages * number("page_size")?;
        let most = most.cast_signed();
        if in_use <= most {
            return Ok(());
        }
        let clearing = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let readings: i64 =
            clearing.query_row("SELECT count(*) FROM readings", [], |row| row.get(0))?;
        let share = 1.0 - LEFT_AFTER_ROOM * most as f64 / in_use as f64;
        #[expect(clippy::cast_possible_truncation, reason = "a share of a count")]
        let going = (readings as f64 * share).ceil() as i64;
        clearing.execute(
            "DELETE FROM readings WHERE rowid IN (SELECT rowid FROM readings ORDER BY used, rowid LIMIT ?1)",
            [going],
        )?;
        clearing.execute(
            "DELETE FROM places WHERE content NOT IN (SELECT content FROM readings)",
            [],
        )?;
        clearing.commit()
    }

    fn told<T>(&self, result: rusqlite::Result<T>) -> Result<T, ReadingsError> {
        result.map_err(|error| classed(&self.path, &error))
    }
}

/// A row as a found reading; `None` where its seal is broken: the drive changed a bit that the engine does not look at.
fn found(row: &Row<'_>, program: &str) -> rusqlite::Result<Option<Found>> {
    let found = Found {
        head: row.get(0)?,
        content: row.get(1)?,
        used: row.get(2)?,
        body: row.get(4)?,
    };
    let is_whole = row.get::<_, Vec<u8>>(3)? == seal(program, &found.content, &found.body);
    Ok(is_whole.then_some(found))
}

fn seal(program: &str, content: &str, body: &[u8]) -> [u8; SEAL] {
    let mut hasher = blake3::Hasher::new();
    hasher.update(program.as_bytes());
    hasher.update(content.as_bytes());
    hasher.update(body);
    let mut seal = [0; SEAL];
    hasher.finalize_xof().fill(&mut seal);
    seal
}

fn bytes_of(path: &Path) -> &[u8] {
    path.as_os_str().as_encoded_bytes()
}

fn name_of(path: &Path) -> &[u8] {
    path.file_name().unwrap_or_default().as_encoded_bytes()
}

/// What the engine says, in our words.
fn classed(path: &Path, error: &rusqlite::Error) -> ReadingsError {
    let path = path.to_path_buf();
    match error.sqlite_error_code() {
        Some(ErrorCode::NotADatabase) => ReadingsError::Foreign(path),
        Some(ErrorCode::DatabaseCorrupt) => ReadingsError::Damaged {
            path,
            reason: error.to_string(),
        },
        _ => ReadingsError::Unusable {
            path,
            reason: error.to_string(),
        },
    }
}
