//! Holding shows whose drives are away or full: their jobs go back, and the others go on.

use super::drives::Why;
use super::folders::FolderTrouble;
use super::scratch::NotHere;
use super::shift::NightShift;
use super::sources::{Sought, are_there, some_of, sought};
use super::space;
use crate::night::queue::{Claim, MakeClaim, QueueError, Remark, ShowId};
use std::path::{Path, PathBuf};
use std::time::Instant;

impl NightShift<'_> {
    /// Deals with a job whose frame is not to be had: `false` when a worker is to find out why. Where its drive or its store is
    /// away, the show is held and the job given back.
    pub(super) fn hold_if_away(&mut self, claim: &Claim, why: NotHere) -> Result<bool, QueueError> {
        match why {
            NotHere::OnDrive => {
                let Some((folder, why)) = self.away(claim.show, &claim.frame)? else {
                    return Ok(false);
                };
                self.queue.give_back(claim)?;
                self.hold(claim.show, folder, why)?;
            }
            NotHere::Never(error) => self.set_aside(claim, None, error)?,
            why => {
                self.queue.give_back(claim)?;
                self.hold_for(claim.show, why)?;
            }
        }
        Ok(true)
    }

    /// Whether a frame of a show cannot be read because its drive is away, or another card stands in its place, rather than
    /// because it was removed or is damaged. Returns the folder to wait for.
    pub(super) fn away(
        &mut self,
        show: ShowId,
        frame: &Path,
    ) -> Result<Option<(PathBuf, Why)>, QueueError> {
        let sought = sought(frame);
        let Some(folder) = frame.parent().filter(|_| sought != Sought::There) else {
            return Ok(None);
        };
        let frames = some_of(self.queue.frames_in(show, folder)?);
        if sought == Sought::Absent && are_there(folder, &frames) {
            return Ok(None);
        }
        Ok(Some((folder.to_path_buf(), Why::Source { frames })))
    }

    /// Holds a show for what may pass: a store that is away, scratch that is full.
    pub(super) fn hold_for(&mut self, show: ShowId, why: NotHere) -> Result<(), QueueError> {
        match why {
            NotHere::Scratch { folder, wanted } => {
                let free = space::free(&folder).unwrap_or(0);
                self.hold_for_space(show, folder, free, wanted)
            }
            NotHere::Store { address, reason } => {
                let folder = address.parent().unwrap_or(&address).to_path_buf();
                self.hold_with_reason(show, folder, Why::Store { address }, reason)
            }
            NotHere::NoScratch { folder, reason } => {
                self.hold_with_reason(show, folder, Why::Scratch, reason)
            }
            NotHere::OnDrive | NotHere::Busy | NotHere::Stopped | NotHere::Never(_) => Ok(()),
        }
    }

    fn hold_with_reason(
        &mut self,
        show: ShowId,
        folder: PathBuf,
        why: Why,
        reason: String,
    ) -> Result<(), QueueError> {
        if self.holds.hold(show, folder.clone(), why, Instant::now()) {
            self.tell_away(show, folder, false, Some(reason))?;
        }
        Ok(())
    }

    /// Tells that a folder is away, and why where that is known.
    fn tell_away(
        &mut self,
        show: ShowId,
        folder: PathBuf,
        is_source: bool,
        reason: Option<String>,
    ) -> Result<(), QueueError> {
        if let Some(text) = reason {
            self.remark(Some(show), Remark::Warning { text })?;
        }
        self.remark(Some(show), Remark::Away { folder, is_source })
    }

    /// Holds a show whose output drive has less free than is to stay free.
    pub(super) fn hold_if_short(&mut self, claim: &MakeClaim) -> Result<bool, QueueError> {
        for output in &claim.outputs {
            let folder = &output.of_wish.folder;
            let Some(free) = space::free(folder).filter(|free| *free < self.rules.leave_free)
            else {
                continue;
            };
            self.queue.give_back(&claim.claim)?;
            self.hold_for_space(claim.claim.show, folder.clone(), free, 0)?;
            return Ok(true);
        }
        Ok(false)
    }

    /// Holds a show until more than what is free now, and at least what is wanted, is free.
    pub(super) fn hold_for_space(
        &mut self,
        show: ShowId,
        folder: PathBuf,
        free: u64,
        wanted: u64,
    ) -> Result<(), QueueError> {
        /// More than was free must be free before it is tried again. Bytes.
        const MORE: u64 = 16 << 20;
        let more = free.saturating_add(MORE);
        let needed = self.rules.leave_free.max(more).max(wanted);
        let why = Why::Space { needed };
        if self.holds.hold(show, folder.clone(), why, Instant::now()) {
            let remark = Remark::ShortOfSpace {
                folder,
                free,
                wanted: needed,
            };
            self.remark(Some(show), remark)?;
        }
        Ok(())
    }

    pub(super) fn hold_for_folder(
        &mut self,
        show: ShowId,
        trouble: FolderTrouble,
        mark: &str,
    ) -> Result<(), QueueError> {
        self.folders.forget(&trouble.folder);
        let folder = trouble.folder.clone();
        if trouble.is_full {
            let free = space::free(&folder).unwrap_or(0);
            return self.hold_for_space(show, folder, free, 0);
        }
        let words = trouble.reason.clone();
        if self.holds.hold_for(show, trouble, mark, Instant::now()) {
            self.tell_away(show, folder, false, words)?;
        }
        Ok(())
    }

    pub(super) fn hold(
        &mut self,
        show: ShowId,
        folder: PathBuf,
        why: Why,
    ) -> Result<(), QueueError> {
        if self.holds.hold(show, folder.clone(), why, Instant::now()) {
            self.tell_away(show, folder, true, None)?;
        }
        Ok(())
    }
}
