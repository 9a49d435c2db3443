//! The version of a queue's tables, and bringing them up to the latest: the same for every engine.

use super::{Access, Engine, EngineError, Purpose, in_transaction};

/// An engine whose tables have a version.
pub(super) trait Versioned: Engine {
    /// The version of what is there; `None` where nothing is yet. Nothing is written. What is not ours, or later than the latest,
    /// is refused.
    fn known_version(&mut self, latest: i64) -> Result<Option<i64>, EngineError>;
    /// Keeps whoever else may begin the tables at this moment out of the transaction's way.
    fn claim_tables(&mut self) -> Result<(), EngineError> {
        Ok(())
    }
    /// Makes the tables.
    fn make_tables(&mut self, tables: &str) -> Result<(), EngineError>;
    /// Notes their version.
    fn note_version(&mut self, version: i64) -> Result<(), EngineError>;
}

/// The version of tables that so many steps have brought up.
pub(super) fn latest(steps: &[&str]) -> i64 {
    1 + i64::try_from(steps.len()).unwrap_or(i64::MAX - 1)
}

/// Sees to it that the tables are there in the latest version, as far as may be written.
pub(super) fn bring_up(
    engine: &mut impl Versioned,
    known: Option<i64>,
    access: Access,
    tables: &str,
    steps: &[&str],
) -> Result<(), EngineError> {
    let version = latest(steps);
    match (known, access) {
        (Some(known), _) if known == version => return Ok(()),
        (Some(_), Access::ReadOnly) => {
            return Err(EngineError::Other(
                "an earlier version of this program wrote it, and only one that may write brings it up".to_owned(),
            ));
        }
        (None, Access::ReadOnly) => {
            return Err(EngineError::Other(
                "nothing was ever written into it".to_owned(),
            ));
        }
        (_, Access::ReadAndWrite) => {}
    }
    in_transaction(engine, Purpose::Writing, |engine| {
        engine.claim_tables()?;
        // Another run may have begun them or brought them up in the meantime.
        match engine.known_version(version)? {
            None => engine.make_tables(tables)?,
            Some(known) => {
                let done = usize::try_from(known - 1).unwrap_or(0);
                for step in &steps[done.min(steps.len())..] {
                    engine.execute_all(step)?;
                }
            }
        }
        engine.note_version(version)
    })
}
