//! Whether pictures that were made still stand: looked at when a run begins.

use super::marks::has_mark;
use crate::base::progress::StopWish;
use crate::crew::stamp::{Outline, stamp_of};
use crate::night::queue::{JobId, MadeRow, Queue, QueueError, ShowId};
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::path::{Path, PathBuf};

/// What came of the look, in pictures that were removed or changed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Verified {
    /// Made again.
    pub remade: u64,
    /// Left as they are, because their raws are away: a night is not kept waiting for those.
    pub raws_away: u64,
}

/// Has pictures that were removed or changed made again. A folder that is away is left for later: whether its pictures stand
/// is not known; and what was not come to when the run is stopped.
///
/// # Errors
/// When the queue cannot be read or written.
pub fn verify(queue: &mut Queue, stop: &StopWish) -> Result<Verified, QueueError> {
    let rows = queue.made_outputs()?;
    let mut marks: HashMap<ShowId, HashMap<PathBuf, String>> = HashMap::new();
    let mut missing = Vec::new();
    let mut raws_away = 0;
    for row in rows {
        if stop.is_raised() {
            break;
        }
        if let Entry::Vacant(unknown) = marks.entry(row.show) {
            let wishes = queue.wishes(row.show)?.into_iter();
            let folders = wishes.map(|(_, wish)| (wish.folder, wish.mark));
            unknown.insert(folders.collect());
        }
        let mark = marks
            .get(&row.show)
            .and_then(|folders| folders.get(&row.folder));
        if !mark.is_some_and(|mark| has_mark(&row.folder, mark)) {
            continue;
        }
        match look(&row, &row.folder.join(&row.picture)) {
            Look::Stands => {}
            Look::Touched(stamp) => queue.restamp(&row, &stamp)?,
            Look::Gone if Outline::of(&row.frame).is_err() => raws_away += 1,
            Look::Gone => missing.push(row),
        }
    }
    let remade = queue.remake(&missing)?;
    Ok(Verified { remade, raws_away })
}

/// Has frames read again that could not be read and whose files have changed since.
///
/// # Errors
/// When the queue cannot be read or written.
pub fn read_again(queue: &mut Queue) -> Result<(), QueueError> {
    let mut changed: HashMap<ShowId, Vec<JobId>> = HashMap::new();
    for (show, known) in queue.unreadable_frames()? {
        let outline = Outline::of(&known.frame);
        if outline.is_ok_and(|outline| !outline.fits(&known.input)) {
            changed.entry(show).or_default().push(known.job);
        }
    }
    for (show, jobs) in changed {
        queue.read_again(show, &jobs)?;
    }
    Ok(())
}

enum Look {
    Stands,
    Touched(crate::crew::task::Stamp),
    Gone,
}

fn look(row: &MadeRow, place: &Path) -> Look {
    match Outline::of(place) {
        Ok(outline) if outline.fits(&row.stamp) => Look::Stands,
        Ok(outline) if outline.bytes == row.stamp.bytes => match stamp_of(place) {
            Ok(stamp) if stamp.hash == row.stamp.hash => Look::Touched(stamp),
            _ => Look::Gone,
        },
        _ => Look::Gone,
    }
}
