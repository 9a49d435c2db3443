//! What goes on beside the work: drives that are back, runs that died, a machine that slept, and what the run waits for.

use super::clock::{ClockEvent, ClockWatch, Clocks};
use super::drives::Hold;
use super::events::{Event, WaitingFor};
use super::shift::NightShift;
use crate::night::queue::{QueueError, Remark, ShowId, Watch};
use std::mem::discriminant;
use std::time::{Duration, Instant};

/// How often a run looks after what it waits for, and after other runs.
const LOOK_AFTER: Duration = Duration::from_secs(2);

/// What a run keeps in mind beside its work.
#[derive(Debug)]
pub(super) struct Aside {
    watch: Watch,
    clocks: ClockWatch,
    looked: Instant,
    /// For what it waits, and since when.
    waiting: Option<(WaitingFor, Instant)>,
}

impl Default for Aside {
    fn default() -> Self {
        Self {
            watch: Watch::default(),
            clocks: ClockWatch::from(Clocks::now()),
            looked: Instant::now(),
            waiting: None,
        }
    }
}

impl Aside {
    /// Since when the run waits for its queue; `None` when it does not.
    pub(super) fn waits_for_queue_since(&self) -> Option<Instant> {
        match &self.waiting {
            Some((WaitingFor::Queue(_), since)) => Some(*since),
            _ => None,
        }
    }
}

impl NightShift<'_> {
    /// Looks after all of it, now and then.
    pub(super) fn look_after(&mut self) -> Result<(), QueueError> {
        if self.aside.looked.elapsed() < LOOK_AFTER {
            return Ok(());
        }
        self.aside.looked = Instant::now();
        for event in self.aside.clocks.look(Clocks::now()) {
            let remark = match event {
                ClockEvent::Slept(seconds) => Remark::Slept { seconds },
                ClockEvent::Set(seconds) => Remark::ClockSet { seconds },
            };
            self.remark(None, remark)?;
        }
        let looked = self.holds.look(&mut self.scratch, Instant::now());
        for folder in looked.released {
            // Another folder may stand there now, with another ledger.
            self.folders.forget(&folder);
            self.idle = None;
        }
        self.tell_back(looked.back)?;
        self.return_stale()
    }

    /// Tells what is back.
    pub(super) fn tell_back(&mut self, back: Vec<(ShowId, Hold)>) -> Result<(), QueueError> {
        for (show, hold) in back {
            let remark = Remark::Back {
                folder: hold.folder,
                seconds: hold.since.elapsed().as_secs_f64(),
            };
            self.remark(Some(show), remark)?;
        }
        Ok(())
    }

    /// Gives back what runs that died had in hand.
    pub(super) fn return_stale(&mut self) -> Result<(), QueueError> {
        let now = Instant::now();
        for run in self
            .queue
            .return_stale(&mut self.aside.watch, Some(self.run), now)?
        {
            let remark = Remark::RunDied {
                host: run.host,
                process: run.process,
                jobs: run.jobs,
            };
            // The queue has kept it already.
            self.watcher.tell(&Event::Remark { show: None, remark });
            self.idle = None;
        }
        Ok(())
    }

    /// Tells what the run waits for, once.
    pub(super) fn wait(&mut self, what: WaitingFor) -> Result<(), QueueError> {
        let is_known = (self.aside.waiting.as_ref())
            .is_some_and(|(known, _)| discriminant(known) == discriminant(&what));
        if is_known {
            return Ok(());
        }
        self.watcher.tell(&Event::Waiting(what.clone()));
        match &what {
            WaitingFor::Person => self.remark(None, Remark::Paused)?,
            WaitingFor::Power(charge) => {
                self.remark(None, Remark::BatteryLow { charge: *charge })?
            }
            _ => {}
        }
        self.aside.waiting = Some((what, Instant::now()));
        Ok(())
    }

    /// There is something to do: the waiting is over.
    pub(super) fn go_on(&mut self) -> Result<(), QueueError> {
        let Some((what, since)) = self.aside.waiting.take() else {
            return Ok(());
        };
        self.watcher.tell(&Event::GoesOn);
        match what {
            WaitingFor::Person => self.remark(None, Remark::Resumed),
            WaitingFor::Power(_) => {
                let seconds = since.elapsed().as_secs_f64();
                self.remark(None, Remark::BatteryBack { seconds })
            }
            _ => Ok(()),
        }
    }
}
