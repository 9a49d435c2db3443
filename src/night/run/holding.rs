//! Holding shows whose drives are away or full: their jobs go back, and the others go on.

use super::drives::{Why, away};
use super::folders::FolderTrouble;
use super::shift::NightShift;
use super::space;
use crate::night::queue::{Claim, MakeClaim, QueueError, Remark, ShowId};
use std::path::PathBuf;

impl NightShift<'_> {
    /// Holds a show whose frame's drive is away, and gives the job back.
    pub(super) fn hold_if_away(&mut self, claim: &Claim) -> Result<bool, QueueError> {
        let Some(folder) = away(&claim.frame) else {
            return Ok(false);
        };
        self.queue.give_back(claim)?;
        self.hold(claim.show, folder, Why::Source)?;
        Ok(true)
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
            self.hold_for_space(claim.claim.show, folder.clone(), free)?;
            return Ok(true);
        }
        Ok(false)
    }

    pub(super) fn hold_for_space(
        &mut self,
        show: ShowId,
        folder: PathBuf,
        free: u64,
    ) -> Result<(), QueueError> {
        /// More than was free must be free before it is tried again. Bytes.
        const MORE: u64 = 16 << 20;
        let needed = self.rules.leave_free.max(free.saturating_add(MORE));
        let why = Why::Space { needed };
        if self.holds.hold(show, folder.clone(), why) {
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
            return self.hold_for_space(show, folder, free);
        }
        let words = trouble.reason.clone();
        if self.holds.hold_for(show, trouble, mark) {
            if let Some(text) = words {
                self.remark(Some(show), Remark::Warning { text })?;
            }
            self.remark(
                Some(show),
                Remark::Away {
                    folder,
                    is_source: false,
                },
            )?;
        }
        Ok(())
    }

    fn hold(&mut self, show: ShowId, folder: PathBuf, why: Why) -> Result<(), QueueError> {
        if self.holds.hold(show, folder.clone(), why) {
            self.remark(
                Some(show),
                Remark::Away {
                    folder,
                    is_source: true,
                },
            )?;
        }
        Ok(())
    }
}
