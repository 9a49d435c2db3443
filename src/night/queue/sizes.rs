//! How large what waits is.

use super::{Queue, QueueError};

impl Queue {
    /// Bytes of the largest frame that waits or is in hand, 0 when there is none.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn largest_waiting(&mut self) -> Result<u64, QueueError> {
        self.reading(|engine| {
            let found = engine.query(
                "SELECT COALESCE(max(jobs.bytes), 0) FROM jobs JOIN shows ON shows.id = jobs.show
                 WHERE shows.state <> 'dropped' AND jobs.state IN ('to-meter', 'metering', 'metered', 'to-make', 'making')",
                &[],
            )?;
            found.first().map_or(Ok(0), |row| Ok(row.count(0)?))
        })
    }
}
