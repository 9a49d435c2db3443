//! Drives that are away: shows that cannot be worked on until a folder is back.

use super::folders::{FolderTrouble, Folders};
use super::scratch::Scratch;
use super::sources::are_there;
use super::space;
use crate::night::queue::ShowId;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// A show that is held again within this time after it was let go was let go too early. Longer than a frame takes, by which
/// it is found out.
const RELAPSE: Duration = Duration::from_secs(120);
/// How long it is not asked after the first time, before doubling; and doublings at most: some four minutes.
const FIRST_PATIENCE: Duration = Duration::from_secs(2);
const MOST_DOUBLINGS: u32 = 7;

/// Why a show is held.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Why {
    /// The folder of its frames is away, or another one stands there.
    Source {
        /// Some of the frames that are to be there.
        frames: Vec<PathBuf>,
    },
    /// An output folder is away, or cannot be worked into now.
    Output {
        /// Its mark.
        mark: String,
    },
    /// An object store is away, or does not let this machine in.
    Store {
        /// What was asked for.
        address: PathBuf,
    },
    /// The scratch folder cannot be worked in now.
    Scratch,
    /// The drive of an output folder is short of space.
    Space {
        /// Bytes that must be free before anything more is written.
        needed: u64,
    },
}

/// A show that is held.
#[derive(Clone, Debug)]
pub struct Hold {
    /// The folder that it waits for.
    pub folder: PathBuf,
    /// Why.
    pub why: Why,
    /// Since when.
    pub since: Instant,
    /// Since when this time, where it was let go in between.
    anew: Instant,
    /// How often it was held again as soon as it was let go: what is asked does not tell whether the work can go on.
    relapses: u32,
}

impl Hold {
    fn is_over(&self, scratch: &mut Scratch, now: Instant) -> bool {
        if now.saturating_duration_since(self.anew) < self.patience() {
            return false;
        }
        match &self.why {
            Why::Source { frames } => are_there(&self.folder, frames),
            // As the work would begin: with its lock, and a ledger that can be read.
            Why::Output { mark } => {
                Folders::default().hold(&self.folder, mark).is_ok() && can_be_written(&self.folder)
            }
            Why::Store { address } => scratch.answers(address),
            Why::Scratch => can_be_written(&self.folder),
            Why::Space { needed } => space::free(&self.folder).is_some_and(|free| free >= *needed),
        }
    }

    /// How long it is not asked again: twice as long after each relapse.
    fn patience(&self) -> Duration {
        match self.relapses {
            0 => Duration::ZERO,
            times => FIRST_PATIENCE * 2_u32.pow(times.min(MOST_DOUBLINGS)),
        }
    }
}

/// What came of a look at what is held.
#[derive(Debug, Default)]
pub(super) struct Looked {
    /// Folders whose shows go on.
    pub(super) released: Vec<PathBuf>,
    /// What is back, to be told.
    pub(super) back: Vec<(ShowId, Hold)>,
}

/// Shows that are held.
#[derive(Debug, Default)]
pub struct Holds {
    held: BTreeMap<ShowId, Hold>,
    /// Those that were let go, and when: it may have been too early.
    released: BTreeMap<ShowId, (Hold, Instant)>,
}

impl Holds {
    /// The shows.
    #[must_use]
    pub fn shows(&self) -> Vec<ShowId> {
        self.held.keys().copied().collect()
    }

    /// The folders that are waited for, each once.
    #[must_use]
    pub fn folders(&self) -> Vec<PathBuf> {
        let held = self.held.values();
        let mut folders: Vec<PathBuf> = held.map(|hold| hold.folder.clone()).collect();
        folders.sort();
        folders.dedup();
        folders
    }

    /// Holds a show; whether that is to be told: not where it was held before, or again and again.
    pub fn hold(&mut self, show: ShowId, folder: PathBuf, why: Why, now: Instant) -> bool {
        let before = self.held.remove(&show);
        let is_new = before.is_none();
        let relapsed = match self.released.remove(&show) {
            Some((hold, at)) if hold.folder == folder && now - at < RELAPSE => Some(Hold {
                relapses: hold.relapses + 1,
                ..hold
            }),
            _ => None,
        };
        let (since, relapses) = match before.or(relapsed) {
            Some(hold) => (hold.since, hold.relapses),
            None => (now, 0),
        };
        let hold = Hold {
            folder,
            why,
            since,
            anew: now,
            relapses,
        };
        self.held.insert(show, hold);
        is_new && relapses < 2
    }

    /// Holds a show for an output folder.
    pub fn hold_for(
        &mut self,
        show: ShowId,
        trouble: FolderTrouble,
        mark: &str,
        now: Instant,
    ) -> bool {
        let why = Why::Output {
            mark: mark.to_owned(),
        };
        self.hold(show, trouble.folder, why, now)
    }

    /// Lets go the shows whose folders are back. One that was let go too early before is told when it has stayed so.
    pub(super) fn look(&mut self, scratch: &mut Scratch, now: Instant) -> Looked {
        let mut looked = Looked::default();
        let stayed = self
            .released
            .extract_if(.., |_, (_, at)| now - *at >= RELAPSE);
        for (show, (hold, _)) in stayed {
            if hold.relapses > 0 {
                looked.back.push((show, hold));
            }
        }
        scratch.begin_look();
        let over = self
            .held
            .extract_if(.., |_, hold| hold.is_over(scratch, now));
        for (show, hold) in over {
            looked.released.push(hold.folder.clone());
            if hold.relapses == 0 {
                looked.back.push((show, hold.clone()));
            }
            self.released.insert(show, (hold, now));
        }
        looked
    }

    /// What was let go, and was not told to be back yet: it has stayed so to the end.
    pub(super) fn stayed(&mut self) -> Vec<(ShowId, Hold)> {
        let released = std::mem::take(&mut self.released).into_iter();
        let stayed = released.map(|(show, (hold, _))| (show, hold));
        stayed.filter(|(_, hold)| hold.relapses > 0).collect()
    }

    /// Whether any is held, and all for want of space.
    #[must_use]
    pub fn are_all_for_space(&self) -> bool {
        !self.held.is_empty()
            && self
                .held
                .values()
                .all(|hold| matches!(hold.why, Why::Space { .. }))
    }
}

/// Whether anything can be written into a folder: tried, because permissions do not tell of a drive that is read-only.
pub(super) fn can_be_written(folder: &Path) -> bool {
    let probe = folder.join(format!(".houselights-probe-{}", std::process::id()));
    let written = fs::write(&probe, b"");
    // A full drive takes an empty file, as a rule; what it does not take is told as what it is when a picture is written.
    let _ = fs::remove_file(&probe);
    written.is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::progress::StopWish;

    #[test]
    fn what_is_let_go_too_early_again_and_again_is_asked_ever_less_often_and_told_once() {
        let card = tempfile::tempdir().expect("a card");
        fs::write(card.path().join("1.nef"), b"x").expect("written");
        let scratch = &mut Scratch::new(0, StopWish::default());
        let mut holds = Holds::default();
        let mut now = Instant::now();
        // It looks as if it were there, and cannot be worked on.
        let (mut told, mut back, mut asked) = (0, 0, 0);
        for _ in 0..1000 {
            if holds.shows().is_empty() {
                asked += 1;
                let (folder, frames) = (card.path().to_path_buf(), Vec::new());
                told += u32::from(holds.hold(ShowId(1), folder, Why::Source { frames }, now));
            }
            now += FIRST_PATIENCE;
            back += holds.look(scratch, now).back.len();
        }
        // Once when nothing was known of it, and once when it was found not to be back.
        assert_eq!((told, back), (2, 1));
        assert!((8..=20).contains(&asked), "{asked}");
        // And then it can.
        now += FIRST_PATIENCE * 2_u32.pow(MOST_DOUBLINGS);
        let _ = holds.look(scratch, now);
        assert!(holds.shows().is_empty());
        let after = holds.look(scratch, now + RELAPSE).back;
        assert_eq!(after.len(), 1);
        assert!(now - after[0].1.since > RELAPSE);
        assert!(holds.stayed().is_empty(), "told once");
        // Where the night ends before it has stayed so for long, it is told at the end.
        let mut hold = |now| {
            let (folder, frames) = (card.path().to_path_buf(), Vec::new());
            holds.hold(ShowId(1), folder, Why::Source { frames }, now);
            let _ = holds.look(scratch, now + FIRST_PATIENCE * 2);
        };
        hold(now);
        hold(now + FIRST_PATIENCE * 2);
        assert!(holds.shows().is_empty());
        assert_eq!(holds.stayed().len(), 1);
    }
}
