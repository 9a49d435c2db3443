//! Whether pictures that were made still stand: looked at when a run begins.

use super::marks::has_mark;
use super::scratch::{Scratch, Seen, Sight};
use crate::base::progress::StopWish;
use crate::crew::stamp::stamp_of;
use crate::crew::task::Stamp;
use crate::night::depot::is_stored;
use crate::night::queue::{JobId, LostPicture, MadeRow, Queue, QueueError, ShowId};
use std::collections::HashMap;
use std::collections::hash_map::Entry;
use std::path::{Path, PathBuf};

/// Pictures that are named, of those that are made again: a folder that was removed is not told picture by picture.
const MOST_NAMED: usize = 20;

/// What came of the look, in pictures that were removed or changed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Verified {
    /// Made again.
    pub remade: u64,
    /// Some of those.
    pub named: Vec<LostPicture>,
    /// Left as they are, because their raws are away: a night is not kept waiting for those.
    pub raws_away: u64,
}

/// Has pictures that were removed or changed made again. A folder that is away is left for later: whether its pictures stand
/// is not known; and what was not come to when the run is stopped.
///
/// # Errors
/// When the queue cannot be read or written.
pub(super) fn verify(
    queue: &mut Queue,
    scratch: &mut Scratch,
    sight: &mut Sight,
    stop: &StopWish,
) -> Result<Verified, QueueError> {
    let rows = queue.made_outputs()?;
    let mut marks: HashMap<ShowId, HashMap<PathBuf, String>> = HashMap::new();
    let mut missing = Vec::new();
    let mut named = Vec::new();
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
        // A folder in a store has no mark.
        let is_there = |mark: &String| is_stored(&row.folder) || has_mark(&row.folder, mark);
        if !mark.is_some_and(is_there) {
            continue;
        }
        let place = row.folder.join(&row.picture);
        match look(&row, &place, sight.of(scratch, &place)) {
            Look::Stands | Look::NotKnown => {}
            Look::Touched(stamp) => queue.restamp(&row, &stamp)?,
            Look::Removed | Look::Changed if sight.of(scratch, &row.frame).outline().is_none() => {
                raws_away += 1;
            }
            lost @ (Look::Removed | Look::Changed) => {
                named.push(LostPicture {
                    place,
                    is_changed: matches!(lost, Look::Changed),
                });
                missing.push(row);
            }
        }
    }
    // What somebody worked on is replaced: that is told before what is only missing.
    named.sort_by_key(|lost| !lost.is_changed);
    named.truncate(MOST_NAMED);
    Ok(Verified {
        remade: queue.remake(&missing)?,
        named,
        raws_away,
    })
}

/// Has frames read again that could not be read, and whose files have changed since or were not there.
///
/// # Errors
/// When the queue cannot be read or written.
pub(super) fn read_again(
    queue: &mut Queue,
    scratch: &mut Scratch,
    sight: &mut Sight,
) -> Result<(), QueueError> {
    let mut changed: HashMap<ShowId, Vec<JobId>> = HashMap::new();
    for unreadable in queue.unreadable_frames()? {
        let outline = sight.of(scratch, &unreadable.frame).outline();
        if outline.is_some_and(|outline| unreadable.may_be_read(outline)) {
            let of_show = changed.entry(unreadable.show).or_default();
            of_show.push(unreadable.job);
        }
    }
    for (show, jobs) in changed {
        queue.read_again(show, &jobs)?;
    }
    Ok(())
}

enum Look {
    Stands,
    Touched(Stamp),
    Removed,
    /// Something else is in its place.
    Changed,
    /// Its store is away.
    NotKnown,
}

fn look(row: &MadeRow, place: &Path, seen: Seen) -> Look {
    match seen {
        Seen::There(outline) if outline.fits(&row.stamp) => Look::Stands,
        // What a store holds has the time at which it was stored: another time is another picture.
        Seen::There(outline) if outline.bytes == row.stamp.bytes && !is_stored(place) => {
            match stamp_of(place) {
                Ok(stamp) if stamp.hash == row.stamp.hash => Look::Touched(stamp),
                _ => Look::Changed,
            }
        }
        Seen::There(_) => Look::Changed,
        Seen::Absent => Look::Removed,
        Seen::Away => Look::NotKnown,
    }
}
