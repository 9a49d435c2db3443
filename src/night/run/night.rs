//! The course of a run: work, errands and waiting, in turn, until there is a reason to end.

use super::aside::Aside;
use super::beating::Beating;
use super::drives::Holds;
use super::events::{Event, WaitingFor, Watcher};
use super::folders::Folders;
use super::hand::Hands;
use super::killed::Killed;
use super::resting::Resting;
use super::scratch::{Scratch, Sight};
use super::shift::{Errand, Idle, NightShift, Rules};
use super::{Hire, NightJob, memory, verify};
use crate::base::progress::StopWish;
use crate::crew::limits::Limits;
use crate::crew::supervisor::CrewSettings;
use crate::crew::task::{Answer, Task, TaskError};
use crate::crew::{Shift, Workforce};
use crate::night::queue::{Claimed, HowEnded, Queue, QueueError, Remark, RunOf};
use crate::show::readings::Readings;
use std::collections::HashSet;
use std::num::NonZeroUsize;
use std::rc::Rc;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// The steps in which a run waits, so that a wish to stop is heard.
const STEP: Duration = Duration::from_millis(50);
/// How long a run waits between two looks at a queue that has nothing for it now.
const WAIT: Duration = Duration::from_millis(250);
/// How long until a queue that is held, full or away is tried again.
const TRY_QUEUE_AGAIN: Duration = Duration::from_secs(1);
/// How long a queue that is held, full or away is waited for.
const QUEUE_PATIENCE: Duration = Duration::from_secs(120);

/// What a run works with.
pub(super) struct Night<'a> {
    pub(super) job: &'a NightJob,
    hire: Hire<'a>,
    pub(super) stop: &'a StopWish,
    pub(super) workforce: Option<Box<dyn Workforce>>,
    /// What the workers that stand ready were told.
    ready: Option<(NonZeroUsize, u64)>,
}

impl<'a> Night<'a> {
    pub(super) fn of(job: &'a NightJob, hire: Hire<'a>, stop: &'a StopWish) -> Self {
        Self {
            job,
            hire,
            stop,
            workforce: None,
            ready: None,
        }
    }
}

impl Night<'_> {
    /// The night: as many runs as it takes, since one that slept long may have been declared dead.
    pub(super) fn whole(
        &mut self,
        resting: &Rc<Resting<'_>>,
        watcher: &mut dyn Watcher,
    ) -> Result<HowEnded, QueueError> {
        let job = self.job;
        let begin = || {
            let mut queue = Queue::open_existing(&job.queue)?;
            let run = queue.begin_run(&RunOf::this_process(&job.program))?;
            Ok((queue, run))
        };
        // A person who starts a run hears at once that its queue cannot be used; later nobody is there to hear it.
        let mut begun = begin()?;
        loop {
            let (queue, run) = begun;
            let declared_dead = Arc::new(AtomicBool::new(false));
            let is_gone = Arc::new(AtomicBool::new(false));
            let _beating = Beating::of(
                job.queue.clone(),
                run.id(),
                Arc::clone(&declared_dead),
                Arc::clone(&is_gone),
            );
            let is_resting = Rc::clone(resting);
            let mut shift = NightShift {
                queue,
                run: run.id(),
                folders: Folders::default(),
                readings: Readings::open(&job.readings, &job.program),
                scratch: Scratch::new(job.scratch, self.stop.clone()),
                holds: Holds::default(),
                rules: Rules {
                    leave_free: job.leave_free,
                    worker_memory: 0,
                    whole_memory: memory::whole(job.memory),
                },
                hands: Hands::default(),
                watcher,
                declared_dead,
                is_gone,
                is_resting: Box::new(move || is_resting.is_resting()),
                errand: None,
                postponed: None,
                idle: None,
                rests_until: None,
                trouble: None,
                aside: Aside::default(),
                killed: Killed::default(),
                replaced: HashSet::new(),
            };
            let ended = self.one(&mut shift, resting);
            shift.readings.finish();
            // A worker cannot remove what it was writing when its folder went away. That is swept as the folder is left, if
            // the worker is gone by then.
            self.workforce = None;
            self.ready = None;
            shift.folders.leave();
            match ended {
                Ok(Some(how)) => {
                    patiently(self.stop, || shift.queue.end_run(run.id(), how))?;
                    return Ok(how);
                }
                // Declared dead while it slept: what it had is others' by now.
                Ok(None) => {
                    patiently(self.stop, || shift.queue.end_run(run.id(), HowEnded::Died))?;
                    begun = patiently(self.stop, begin)?;
                }
                Err(error) => {
                    // A queue that cannot be written now sees that this run is gone.
                    let _ = shift.queue.end_run(run.id(), HowEnded::Failed);
                    return Err(error);
                }
            }
        }
    }

    /// One run; `None` when it was declared dead.
    fn one(
        &mut self,
        shift: &mut NightShift<'_>,
        resting: &Resting<'_>,
    ) -> Result<Option<HowEnded>, QueueError> {
        let mut is_looked_through = false;
        loop {
            if shift.is_gone.load(Ordering::SeqCst) {
                return Err(QueueError::Gone(self.job.queue.clone()));
            }
            if shift.declared_dead.load(Ordering::SeqCst) {
                return Ok(None);
            }
            let ended = if is_looked_through {
                self.turn(shift, resting)
            } else {
                self.look_through(shift).map(|()| None)
            };
            match ended {
                Ok(None) => is_looked_through = true,
                Ok(Some(how)) => return Ok(Some(how)),
                Err(error) => self.wait_for_queue(shift, error)?,
            }
        }
    }

    /// What is done before anything is begun: what dead runs had goes back, and pictures that are gone are made again.
    fn look_through(&mut self, shift: &mut NightShift<'_>) -> Result<(), QueueError> {
        shift.return_stale()?;
        let mut sight = Sight::default();
        verify::read_again(&mut shift.queue, &mut shift.scratch, &mut sight)?;
        let verified = verify::verify(&mut shift.queue, &mut shift.scratch, &mut sight, self.stop)?;
        if let Some(reason) = sight.take_trouble() {
            shift.remark(None, Remark::NotSeen { reason })?;
        }
        if verified.remade > 0 {
            let remark = Remark::Remade {
                pictures: verified.remade,
                named: verified.named,
            };
            shift.remark(None, remark)?;
        }
        if verified.raws_away > 0 {
            let pictures = verified.raws_away;
            shift.remark(None, Remark::RawsAway { pictures })?;
        }
        for text in shift.readings.take_remarks() {
            shift.remark(None, Remark::Warning { text })?;
        }
        Ok(())
    }

    /// Works until there is nothing for the workers now, and then does what there is beside them; how the run ends, where
    /// it does.
    fn turn(
        &mut self,
        shift: &mut NightShift<'_>,
        resting: &Resting<'_>,
    ) -> Result<Option<HowEnded>, QueueError> {
        shift.look_after()?;
        shift.judge_killed()?;
        if self.stop.is_raised() {
            return Ok(Some(HowEnded::Stopped));
        }
        if resting.is_late() {
            return Ok(Some(HowEnded::Hour));
        }
        if resting.is_low() {
            let charge = resting.charge.get();
            shift.wait(WaitingFor::Power(charge))?;
            pause_for(self.stop, WAIT);
            return Ok(None);
        }
        if let Err(reason) = self.hire(shift)? {
            shift.wait(WaitingFor::Workers(reason))?;
            pause_for(self.stop, WAIT);
            return Ok(None);
        }
        if let Some(workforce) = &mut self.workforce {
            workforce.work(self.stop, shift);
        }
        if let Some(error) = shift.trouble.take() {
            return Err(error);
        }
        match shift.errand.take() {
            Some(Errand::Solve(claim)) => return self.solve(shift, &claim).map(|()| None),
            Some(Errand::Alone(claimed)) => return self.alone(shift, claimed).map(|()| None),
            None => {}
        }
        if shift.killed.is_waiting() {
            // What is in hand is this run's own.
            pause_for(self.stop, WAIT);
            shift.idle = None;
            return Ok(None);
        }
        match shift.idle.as_ref().map(|(idle, _)| idle.clone()) {
            Some(Idle::Nothing) => {
                let back = shift.holds.stayed();
                shift.tell_back(back)?;
                return Ok(Some(HowEnded::Done));
            }
            Some(Idle::Held) if shift.holds.are_all_for_space() => {
                return Ok(Some(HowEnded::Space));
            }
            Some(Idle::Held) => {
                let folders = shift.holds.folders();
                shift.wait(WaitingFor::Drives(folders))?;
            }
            Some(Idle::Paused) => shift.wait(WaitingFor::Person)?,
            Some(Idle::InHand) => shift.wait(WaitingFor::OtherRuns)?,
            None => {}
        }
        pause_for(self.stop, WAIT);
        shift.idle = None;
        Ok(None)
    }

    /// Waits for a queue that may come back.
    fn wait_for_queue(
        &mut self,
        shift: &mut NightShift<'_>,
        mut error: QueueError,
    ) -> Result<(), QueueError> {
        // No worker has anything in hand now. What the queue still believes to be in this run's is a claim whose answer was
        // lost, or a job whose outcome was: its pictures are known again by the ledgers of their folders. Until it is back
        // nobody else gets it, so nothing is begun before.
        shift.errand = None;
        shift.postponed = None;
        shift.killed.forget_waiting();
        loop {
            let since = shift.aside.waits_for_queue_since();
            let is_over = since.is_some_and(|since| since.elapsed() >= QUEUE_PATIENCE);
            if !error.may_pass() || is_over || self.stop.is_raised() {
                return Err(error);
            }
            if since.is_none() {
                shift.wait(WaitingFor::Queue(error.to_string()))?;
            }
            pause_for(self.stop, TRY_QUEUE_AGAIN);
            match shift.queue.give_back_all(shift.run) {
                Ok(_) => return Ok(()),
                Err(again) => error = again,
            }
        }
    }

    /// Sees to it that as many workers stand ready as the memory allows for the largest frame that waits; or why none can
    /// be started.
    fn hire(&mut self, shift: &mut NightShift<'_>) -> Result<Result<(), String>, QueueError> {
        let largest = shift.queue.largest_waiting()?;
        let share = memory::share(self.job.memory, self.job.crew.workers, largest);
        if self.workforce.is_some() && self.ready == Some((share.workers, share.each)) {
            return Ok(Ok(()));
        }
        // The old ones go first: together they would take more than there is.
        self.workforce = None;
        self.ready = None;
        let crew = self.crew(share.workers, share.each);
        match (self.hire)(&crew) {
            Ok(workforce) => self.workforce = Some(workforce),
            Err(error) => return Ok(Err(error.to_string())),
        }
        self.ready = Some((share.workers, share.each));
        shift.rules.worker_memory = share.each;
        shift.watcher.tell(&Event::Ready {
            run: shift.run,
            workers: share.workers.get(),
            worker_memory: share.each,
        });
        Ok(Ok(()))
    }

    fn crew(&self, workers: NonZeroUsize, memory_bytes: u64) -> CrewSettings {
        CrewSettings {
            workers,
            limits: Limits {
                memory_bytes,
                ..self.job.crew.limits
            },
            ..self.job.crew.clone()
        }
    }

    /// Does one job with one worker that may take all the memory.
    fn alone(&mut self, shift: &mut NightShift<'_>, claimed: Claimed) -> Result<(), QueueError> {
        self.workforce = None;
        self.ready = None;
        let ready = match claimed {
            Claimed::Meter(claim) => shift.metering_task(claim)?,
            Claimed::Make(claim) => shift.making_task(claim)?,
            _ => None,
        };
        let Some(ready) = ready else {
            return Ok(());
        };
        let (key, task) = shift.take(ready, 0);
        let mut single = Single {
            task: Some((key, task)),
            shift,
        };
        let crew = self.crew(NonZeroUsize::MIN, memory::whole(self.job.memory));
        match (self.hire)(&crew) {
            Ok(mut workforce) => workforce.work(self.stop, &mut single),
            Err(_) => shift.rest(),
        }
        // What was not reached, because the run was stopped or no worker could be started, goes back.
        if let Some(hand) = shift.hands.end(key) {
            shift.queue.give_back(hand.job.claim())?;
        }
        Ok(())
    }
}

/// One task, and what came of it.
struct Single<'a, 'b> {
    task: Option<(usize, Task)>,
    shift: &'a mut NightShift<'b>,
}

impl Shift for Single<'_, '_> {
    fn next(&mut self, _: usize) -> Option<(usize, Task)> {
        self.task.take()
    }

    fn done(&mut self, key: usize, outcome: Result<Answer, TaskError>, at: Instant) {
        self.shift.done(key, outcome, at);
    }
}

/// Does something with the queue, again where that may help.
fn patiently<T>(
    stop: &StopWish,
    mut act: impl FnMut() -> Result<T, QueueError>,
) -> Result<T, QueueError> {
    let since = Instant::now();
    loop {
        match act() {
            Err(error)
                if error.may_pass() && !stop.is_raised() && since.elapsed() < QUEUE_PATIENCE =>
            {
                pause_for(stop, TRY_QUEUE_AGAIN);
            }
            done => return done,
        }
    }
}

/// Waits, unless the run is to stop.
fn pause_for(stop: &StopWish, time: Duration) {
    let begun = Instant::now();
    while !stop.is_raised() && begun.elapsed() < time {
        std::thread::sleep(STEP.min(time));
    }
}
