//! Raws that were replaced: metered again all at once, or set aside where pictures were made of what lay there before.

use super::events::{Event, OfFrame};
use super::scratch::Sight;
use super::shift::NightShift;
use crate::crew::task::Metered;
use crate::night::queue::replaced::another_raw;
use crate::night::queue::{Claim, JobId, Noted, QueueError, Remark};

impl NightShift<'_> {
    /// Records what metering found.
    pub(super) fn note_metered(
        &mut self,
        claim: &Claim,
        metered: &Metered,
        of: OfFrame,
        seconds: Option<f64>,
    ) -> Result<(), QueueError> {
        let event = match self.queue.note_metered(claim, metered, seconds)? {
            Noted::NotOurs => Event::GivenBack { of },
            Noted::Taken | Noted::Outdated => Event::Metered { of, seconds },
            Noted::AnotherRaw => set_aside(claim, of),
        };
        self.watcher.tell(&event);
        Ok(())
    }

    /// A raw is another one than was metered.
    pub(super) fn take_another_raw(
        &mut self,
        claim: &Claim,
        of: OfFrame,
    ) -> Result<(), QueueError> {
        // Rarely one alone: each that were found at its making would have the show solved once more.
        let mut sight = Sight::default();
        let others: Vec<JobId> = (self.queue.frames_without_pictures(claim.show)?.iter())
            .filter(|known| {
                let outline = sight.of(&mut self.scratch, &known.frame).outline();
                outline.is_some_and(|outline| !outline.fits(&known.input))
            })
            .map(|known| known.job)
            .collect();
        let noted = self.queue.meter_again(claim, &others)?;
        self.watcher.tell(&match noted {
            Noted::AnotherRaw => set_aside(claim, of),
            Noted::NotOurs | Noted::Taken | Noted::Outdated => Event::GivenBack { of },
        });
        if noted != Noted::Taken {
            return Ok(());
        }
        self.replaced.insert(claim.job);
        let remark = Remark::Replaced {
            frame: claim.shown.clone(),
            others: others.len() as u64,
        };
        self.remark(Some(claim.show), remark)
    }
}

fn set_aside(claim: &Claim, of: OfFrame) -> Event {
    Event::SetAside {
        of,
        error: another_raw(&claim.shown),
    }
}
