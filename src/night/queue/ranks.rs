//! In which order jobs are claimed: priority, then what comes first, then the order of shows, then that of frames.

use super::ids::ShowId;
use super::{QueueError, rows};
use crate::night::engine::{Engine, Value};

/// Bits of a rank below which a frame's position in its show stands: four thousand million frames.
const POSITION_BITS: u32 = 32;
/// Bits of a show's number in a rank.
const SHOW_BITS: u32 = 23;

/// The rank of the frame at position 0.
fn rank(priority: i64, is_first: bool, show: ShowId) -> i64 {
    let class = (priority << 1) | i64::from(!is_first);
    let show = show.0 & ((1 << SHOW_BITS) - 1);
    (class << (POSITION_BITS + SHOW_BITS)) | (show << POSITION_BITS)
}

/// Ranks the jobs of a show anew, by what the database knows of them. A show with frames that come first is metered
/// before others of its priority, since it must be metered whole before its first picture.
pub(super) fn rank_anew(engine: &mut dyn Engine, show: ShowId) -> Result<(), QueueError> {
    let found = engine.query(
        "SELECT priority, (SELECT max(is_first) FROM jobs WHERE show = shows.id) FROM shows WHERE id = $1",
        &[show.into()],
    )?;
    let Some(row) = found.first() else {
        return Ok(());
    };
    let priority = row.whole(0)?;
    let has_first = row.maybe_whole(1)?.unwrap_or(0) != 0;
    let values: [Value; 4] = [
        show.into(),
        rank(priority, true, show).into(),
        rank(priority, false, show).into(),
        rank(priority, has_first, show).into(),
    ];
    engine.execute(
        "UPDATE jobs SET rank = position + CASE
             WHEN state IN ('to-meter', 'metering') THEN CAST($4 AS BIGINT)
             WHEN is_first = 1 THEN CAST($2 AS BIGINT)
             ELSE CAST($3 AS BIGINT) END
         WHERE show = $1",
        &values,
    )?;
    Ok(())
}

/// A position as a value.
pub(super) fn position(at: usize) -> Value {
    rows::size(at as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranks_go_by_priority_then_first_then_show() {
        let ranks = [
            rank(0, true, ShowId(7)),
            rank(0, false, ShowId(1)),
            rank(5, true, ShowId(1)),
            rank(5, true, ShowId(2)),
            rank(5, false, ShowId(1)),
            rank(5, false, ShowId(2)),
            rank(9, true, ShowId(1)),
        ];
        assert!(ranks.is_sorted(), "{ranks:?}");
        // A position never reaches the next show.
        assert!(ranks[2] + i64::from(u32::MAX) < ranks[3]);
        assert!(ranks.iter().all(|rank| *rank >= 0));
    }
}
