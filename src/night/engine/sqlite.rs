//! The embedded engine: one SQLite file.
//!
//! Writers wait for each other at the beginning of a transaction (`BEGIN IMMEDIATE`), so that no transaction fails half-way
//! because another wrote first. The write-ahead log lets `status` read while a run writes, and a writing costs no sync:
//! after a power cut the last seconds may be missing, and what they recorded is found again by the ledger of the
//! output folder. The log needs memory that processes share, which network drives do not have: there, and wherever the
//! engine refuses it, the journal is the rolled-back one with full syncs.

use super::dialect::Dialect;
use super::home::is_on_a_network;
use super::versions::{self, Versioned};
use super::{Access, Engine, EngineError, Purpose, Row, Value};
use rusqlite::config::DbConfig;
use rusqlite::types::{ToSqlOutput, Value as Kept, ValueRef};
use rusqlite::{CachedStatement, Connection, ErrorCode, OpenFlags, ToSql};
use std::collections::HashMap;
use std::path::Path;
use std::time::{Duration, Instant};

/// Marks a database as a queue of ours: "HLnq".
const APPLICATION: i64 = 0x484c_6e71;

/// How long a statement waits for another process that writes. Our own transactions take milliseconds; a copy or a check
/// of the file by another program takes seconds.
const BUSY_PATIENCE: Duration = Duration::from_secs(10);

/// Pause between tries to change the journal.
const BETWEEN_TRIES: Duration = Duration::from_millis(20);

/// Statements that are kept prepared: more than the queue has.
const PREPARED: usize = 128;

const DIALECT: Dialect = Dialect {
    bytes: "BLOB",
    // Never a number twice: who still tells of a picture that was dropped must not be taken to speak of a later one.
    id: "INTEGER PRIMARY KEY AUTOINCREMENT",
    for_update: "",
    skip_locked: "",
};

/// A SQLite file, open.
#[derive(Debug)]
pub(in crate::night) struct Sqlite {
    connection: Connection,
    /// Statements as this engine reads them.
    spoken: HashMap<&'static str, String>,
}

impl Sqlite {
    /// Opens a file, or begins one with these tables. A file of an earlier version is brought up by `steps`: the first
    /// brings version 1 to version 2. The version is how many there are, and one.
    pub(in crate::night) fn open(
        path: &Path,
        access: Access,
        tables: &str,
        steps: &[&str],
    ) -> Result<Self, EngineError> {
        if access == Access::ReadAndWrite && path.exists() {
            // A connection that may write tidies up behind itself; what is refused shall stay as it is to the byte.
            let looked = Self::open(path, Access::ReadOnly, tables, steps);
            if let Err(error @ (EngineError::Foreign | EngineError::LaterVersion)) = looked {
                return Err(error);
            }
        }
        match Self::connected(path, access, tables, steps) {
            Err(EngineError::Full) if access == Access::ReadOnly => {
                Self::alone(path, tables, steps)
            }
            opened => opened,
        }
    }

    /// Opens a file to look at it where its drive has no room for what readers of its log share. Without that it must be had
    /// alone, which it can be when nobody works on it: whoever does has made room for that.
    fn alone(path: &Path, tables: &str, steps: &[&str]) -> Result<Self, EngineError> {
        // Only who may write can have it alone.
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let settled = Connection::open_with_flags(path, flags).and_then(|connection| {
            connection.pragma_update(None, "query_only", true)?;
            connection.pragma_update_and_check(None, "locking_mode", "exclusive", |_| Ok(()))?;
            // The log stays as it is, too.
            connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
            Ok(connection)
        });
        let mut engine = Self {
            connection: settled.map_err(|error| classed(&error))?,
            spoken: HashMap::new(),
        };
        engine.prepare(path, Access::ReadOnly, tables, steps)?;
        Ok(engine)
    }

    fn connected(
        path: &Path,
        access: Access,
        tables: &str,
        steps: &[&str],
    ) -> Result<Self, EngineError> {
        let flags = match access {
            Access::ReadAndWrite => {
                OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE
            }
            Access::ReadOnly => OpenFlags::SQLITE_OPEN_READ_ONLY,
        };
        // Without URI names: a path is a path.
        let connection = Connection::open_with_flags(path, flags | OpenFlags::SQLITE_OPEN_NO_MUTEX);
        let mut engine = Self {
            connection: connection.map_err(|error| classed(&error))?,
            spoken: HashMap::new(),
        };
        engine.prepare(path, access, tables, steps)?;
        Ok(engine)
    }

    fn prepare(
        &mut self,
        path: &Path,
        access: Access,
        tables: &str,
        steps: &[&str],
    ) -> Result<(), EngineError> {
        let settle = |connection: &Connection| {
            connection.busy_timeout(BUSY_PATIENCE)?;
            connection.set_prepared_statement_cache_capacity(PREPARED);
            connection.pragma_update(None, "trusted_schema", false)
        };
        settle(&self.connection).map_err(|error| classed(&error))?;
        let known = self.known_version(versions::latest(steps))?;
        if access == Access::ReadAndWrite {
            self.choose_journal(path)?;
        }
        versions::bring_up(self, known, access, tables, steps)
    }

    fn number(&self, name: &str) -> Result<i64, EngineError> {
        let asked = self
            .connection
            .pragma_query_value(None, name, |row| row.get(0));
        asked.map_err(|error| classed(&error))
    }

    /// Chooses the journal. Changing it needs the file alone for a moment, and the engine does not wait for that by itself.
    fn choose_journal(&self, path: &Path) -> Result<(), EngineError> {
        let wanted = if is_on_a_network(path) {
            "delete"
        } else {
            "wal"
        };
        let begun = Instant::now();
        let chosen = loop {
            let chosen: rusqlite::Result<String> =
                self.connection
                    .pragma_update_and_check(None, "journal_mode", wanted, |row| row.get(0));
            match chosen.map_err(|error| classed(&error)) {
                Err(EngineError::Held) if begun.elapsed() < BUSY_PATIENCE => {
                    std::thread::sleep(BETWEEN_TRIES);
                }
                chosen => break chosen?,
            }
        };
        let has_log = chosen.eq_ignore_ascii_case("wal");
        let synchronous = if has_log { "NORMAL" } else { "FULL" };
        self.connection
            .pragma_update(None, "synchronous", synchronous)
            .map_err(|error| classed(&error))
    }

    fn set_number(&self, name: &str, number: i64) -> Result<(), EngineError> {
        self.connection
            .pragma_update(None, name, number)
            .map_err(|error| classed(&error))
    }

    fn prepared(&mut self, statement: &'static str) -> rusqlite::Result<CachedStatement<'_>> {
        let spoken = self
            .spoken
            .entry(statement)
            .or_insert_with(|| DIALECT.spoken(statement));
        self.connection.prepare_cached(spoken)
    }
}

impl ToSql for Value {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(match self {
            Self::Null => ToSqlOutput::Owned(Kept::Null),
            Self::Whole(value) => ToSqlOutput::Owned(Kept::Integer(*value)),
            Self::Real(value) => ToSqlOutput::Owned(Kept::Real(*value)),
            Self::Text(value) => ToSqlOutput::Borrowed(ValueRef::Text(value.as_bytes())),
            Self::Bytes(value) => ToSqlOutput::Borrowed(ValueRef::Blob(value)),
        })
    }
}

/// Binds values by the names `$1`, `$2`, …: this engine counts names in the order in which it meets them.
fn bind(statement: &mut CachedStatement<'_>, values: &[Value]) -> rusqlite::Result<()> {
    for (at, value) in values.iter().enumerate() {
        if let Some(index) = statement.parameter_index(&format!("${}", at + 1))? {
            statement.raw_bind_parameter(index, value)?;
        }
    }
    Ok(())
}

impl Versioned for Sqlite {
    fn known_version(&mut self, latest: i64) -> Result<Option<i64>, EngineError> {
        let tables: i64 = self
            .connection
            .query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
            .map_err(|error| classed(&error))?;
        if tables == 0 {
            return Ok(None);
        }
        if self.number("application_id")? != APPLICATION {
            return Err(EngineError::Foreign);
        }
        match self.number("user_version")? {
            later if later > latest => Err(EngineError::LaterVersion),
            known => Ok(Some(known)),
        }
    }

    fn make_tables(&mut self, tables: &str) -> Result<(), EngineError> {
        self.execute_all(tables)?;
        self.set_number("application_id", APPLICATION)
    }

    fn note_version(&mut self, version: i64) -> Result<(), EngineError> {
        self.set_number("user_version", version)
    }
}

impl Engine for Sqlite {
    fn begin(&mut self, purpose: Purpose) -> Result<(), EngineError> {
        self.execute_all(match purpose {
            Purpose::Reading => "BEGIN DEFERRED",
            Purpose::Writing => "BEGIN IMMEDIATE",
        })
    }

    fn commit(&mut self) -> Result<(), EngineError> {
        self.execute_all("COMMIT")
    }

    fn roll_back(&mut self) {
        // Where the engine has rolled back by itself, as it does on a full drive, there is none to end.
        if !self.connection.is_autocommit() {
            let _ = self.connection.execute_batch("ROLLBACK");
        }
    }

    fn execute(&mut self, statement: &'static str, values: &[Value]) -> Result<u64, EngineError> {
        let mut prepared = self.prepared(statement).map_err(|error| classed(&error))?;
        let touched = bind(&mut prepared, values).and_then(|()| prepared.raw_execute());
        touched
            .map(|rows| rows as u64)
            .map_err(|error| classed(&error))
    }

    fn query(
        &mut self,
        statement: &'static str,
        values: &[Value],
    ) -> Result<Vec<Row>, EngineError> {
        let mut ask = || {
            let mut prepared = self.prepared(statement)?;
            bind(&mut prepared, values)?;
            let columns = prepared.column_count();
            let mut rows = prepared.raw_query();
            let mut found = Vec::new();
            while let Some(row) = rows.next()? {
                let values = (0..columns).map(|column| {
                    Ok(match row.get::<_, Kept>(column)? {
                        Kept::Null => Value::Null,
                        Kept::Integer(value) => Value::Whole(value),
                        Kept::Real(value) => Value::Real(value),
                        Kept::Text(value) => Value::Text(value),
                        Kept::Blob(value) => Value::Bytes(value),
                    })
                });
                found.push(Row(values.collect::<rusqlite::Result<_>>()?));
            }
            Ok(found)
        };
        ask().map_err(|error: rusqlite::Error| classed(&error))
    }

    fn execute_all(&mut self, statements: &str) -> Result<(), EngineError> {
        self.connection
            .execute_batch(&DIALECT.spoken(statements))
            .map_err(|error| classed(&error))
    }
}

/// What the engine says, in our words.
fn classed(error: &rusqlite::Error) -> EngineError {
    let extended = error.sqlite_error().map(|error| error.extended_code);
    match error.sqlite_error_code() {
        // No room for the index of the log (SQLite documentation, result codes: SQLITE_IOERR_SHMSIZE).
        _ if extended == Some(rusqlite::ffi::SQLITE_IOERR_SHMSIZE) => EngineError::Full,
        Some(ErrorCode::NotADatabase) => EngineError::Foreign,
        Some(ErrorCode::DatabaseCorrupt) => EngineError::Damaged(error.to_string()),
        Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => EngineError::Held,
        Some(ErrorCode::DiskFull) => EngineError::Full,
        _ => EngineError::Other(error.to_string()),
    }
}
