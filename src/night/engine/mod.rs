//! The seam between the queue and the database that keeps it: values, rows, transactions, and one set of statements.
//!
//! Statements are written once, with `$1` for values, in the SQL that the engines share; where they differ a statement
//! holds a word in braces that each engine replaces ([`dialect`]). A query builder or an object mapper would know more
//! engines and would hide the two things that matter here: which index a claim walks along, and what it locks.

mod dialect;
#[cfg(feature = "many-machines")]
mod encryption;
mod home;
#[cfg(feature = "many-machines")]
mod postgres;
mod sqlite;
mod versions;

pub(super) use self::home::{data_folder, this_host};
#[cfg(feature = "many-machines")]
pub(super) use self::postgres::Server;
#[cfg(all(test, feature = "many-machines"))]
pub(super) use self::postgres::testing::OwnDatabase;
pub(super) use self::sqlite::Sqlite;

/// What may be done to a queue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Access {
    /// It is begun where it is not there.
    ReadAndWrite,
    /// It must be there, and nothing is written.
    ReadOnly,
}

/// Whether a transaction may write.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Purpose {
    /// It reads one state of things.
    Reading,
    /// It writes; with the embedded engine it is alone from its beginning.
    Writing,
}

/// A value that goes into a statement or comes out of it.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Value {
    Null,
    Whole(i64),
    Real(f64),
    Text(String),
    Bytes(Vec<u8>),
}

impl From<i64> for Value {
    fn from(value: i64) -> Self {
        Self::Whole(value)
    }
}

impl From<bool> for Value {
    fn from(value: bool) -> Self {
        Self::Whole(i64::from(value))
    }
}

impl From<f64> for Value {
    fn from(value: f64) -> Self {
        Self::Real(value)
    }
}

impl From<&str> for Value {
    fn from(value: &str) -> Self {
        Self::Text(value.to_owned())
    }
}

impl From<String> for Value {
    fn from(value: String) -> Self {
        Self::Text(value)
    }
}

impl From<Vec<u8>> for Value {
    fn from(value: Vec<u8>) -> Self {
        Self::Bytes(value)
    }
}

impl<T: Into<Value>> From<Option<T>> for Value {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Null, T::into)
    }
}

/// A row of an answer.
#[derive(Clone, Debug)]
pub(super) struct Row(pub(super) Vec<Value>);

impl Row {
    fn unexpected(&self, column: usize) -> EngineError {
        EngineError::Unexpected(format!(
            "column {column} of an answer holds {:?}",
            self.0.get(column)
        ))
    }

    /// A whole number.
    pub(super) fn whole(&self, column: usize) -> Result<i64, EngineError> {
        match self.0.get(column) {
            Some(Value::Whole(value)) => Ok(*value),
            _ => Err(self.unexpected(column)),
        }
    }

    /// A whole number, or nothing.
    pub(super) fn maybe_whole(&self, column: usize) -> Result<Option<i64>, EngineError> {
        match self.0.get(column) {
            Some(Value::Null) => Ok(None),
            _ => self.whole(column).map(Some),
        }
    }

    /// A count.
    pub(super) fn count(&self, column: usize) -> Result<u64, EngineError> {
        u64::try_from(self.whole(column)?).map_err(|_| self.unexpected(column))
    }

    /// A truth.
    pub(super) fn is(&self, column: usize) -> Result<bool, EngineError> {
        Ok(self.whole(column)? != 0)
    }

    /// A number, or nothing.
    pub(super) fn maybe_real(&self, column: usize) -> Result<Option<f64>, EngineError> {
        match self.0.get(column) {
            Some(Value::Null) => Ok(None),
            Some(Value::Real(value)) => Ok(Some(*value)),
            _ => Err(self.unexpected(column)),
        }
    }

    /// Text.
    pub(super) fn text(&self, column: usize) -> Result<&str, EngineError> {
        match self.0.get(column) {
            Some(Value::Text(value)) => Ok(value),
            _ => Err(self.unexpected(column)),
        }
    }

    /// Text, or nothing.
    pub(super) fn maybe_text(&self, column: usize) -> Result<Option<&str>, EngineError> {
        match self.0.get(column) {
            Some(Value::Null) => Ok(None),
            _ => self.text(column).map(Some),
        }
    }

    /// Bytes.
    pub(super) fn bytes(&self, column: usize) -> Result<&[u8], EngineError> {
        match self.0.get(column) {
            Some(Value::Bytes(value)) => Ok(value),
            _ => Err(self.unexpected(column)),
        }
    }
}

/// What an engine says when it does not do what it is asked. Without the place: the queue knows that.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub(super) enum EngineError {
    /// Not a database, or not of the queue.
    #[error("it is another kind of file")]
    Foreign,
    /// Written by a later program.
    #[error("it has a later version")]
    LaterVersion,
    /// It is damaged.
    #[error("it is damaged: {0}")]
    Damaged(String),
    /// Another program holds it for longer than we wait.
    #[error("another program holds it")]
    Held,
    /// No space left.
    #[error("no space is left")]
    Full,
    /// The server is not there, or no longer.
    #[error("the connection is lost: {0}")]
    #[cfg_attr(
        not(feature = "many-machines"),
        expect(dead_code, reason = "only a server can be away")
    )]
    Lost(String),
    /// Two transactions stood in each other's way; the same may go through the next time.
    #[error("two transactions stood in each other's way: {0}")]
    #[cfg_attr(
        not(feature = "many-machines"),
        expect(dead_code, reason = "the embedded engine has one writer at a time")
    )]
    Crossed(String),
    /// Anything else.
    #[error("{0}")]
    Other(String),
    /// An answer of another shape than the statement has.
    #[error("{0}")]
    Unexpected(String),
}

/// A database, connected.
pub(super) trait Engine: Send {
    /// Begins a transaction.
    fn begin(&mut self, purpose: Purpose) -> Result<(), EngineError>;
    /// Ends it and keeps what it did.
    fn commit(&mut self) -> Result<(), EngineError>;
    /// Ends it as if it had not been.
    fn roll_back(&mut self);
    /// Does a statement; how many rows it touched.
    fn execute(&mut self, statement: &'static str, values: &[Value]) -> Result<u64, EngineError>;
    /// Asks.
    fn query(&mut self, statement: &'static str, values: &[Value])
    -> Result<Vec<Row>, EngineError>;
    /// Several statements without values, parted by semicolons.
    fn execute_all(&mut self, statements: &str) -> Result<(), EngineError>;
}

/// How often a transaction that stood in another's way is tried again. Each time it may meet another one: as many as
/// hosts could come by at once in practice, and few enough to end in seconds.
const TRIES: usize = 20;

/// Does something in one transaction.
pub(super) fn in_transaction<T, E: From<EngineError> + AsEngineError, X: Engine + ?Sized>(
    engine: &mut X,
    purpose: Purpose,
    mut act: impl FnMut(&mut X) -> Result<T, E>,
) -> Result<T, E> {
    let mut tries = 0;
    loop {
        tries += 1;
        let begun = engine.begin(purpose).map_err(E::from);
        let done = begun.and_then(|()| act(engine));
        let ended = done.and_then(|value| {
            engine.commit().map_err(E::from)?;
            Ok(value)
        });
        match ended {
            Ok(value) => return Ok(value),
            Err(error) => {
                engine.roll_back();
                let again = matches!(error.as_engine_error(), Some(EngineError::Crossed(_)));
                if !again || tries == TRIES {
                    return Err(error);
                }
            }
        }
    }
}

/// An error that may be an engine's.
pub(super) trait AsEngineError {
    /// The engine's, if it is one.
    fn as_engine_error(&self) -> Option<&EngineError>;
}

impl AsEngineError for EngineError {
    fn as_engine_error(&self) -> Option<&EngineError> {
        Some(self)
    }
}
