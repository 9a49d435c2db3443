//! What becomes of a show that is solved, or cannot be now, or not before a person has done something.

use super::drives::Why;
use super::events::Event;
use super::night::Night;
use super::shift::NightShift;
use super::solving::{Solution, Unsolved, solved};
use crate::crew::task::Cause;
use crate::night::queue::{Noted, QueueError, Remark, SolveClaim, Trouble};
use std::path::PathBuf;

impl Night<'_> {
    /// Solves a show, and records what came of that.
    pub(super) fn solve(
        &mut self,
        shift: &mut NightShift<'_>,
        claim: &SolveClaim,
    ) -> Result<(), QueueError> {
        let (show, name) = (claim.show, claim.name.clone());
        shift.watcher.tell(&Event::Solving {
            show,
            name: name.clone(),
        });
        let mut solution = self.solution(shift, claim);
        if let Err(Unsolved::Frame(error, frames)) = &solution
            && matches!(
                error.cause,
                Cause::Memory | Cause::Time | Cause::WorkerLost | Cause::Killed
            )
            && first_away(shift, claim, frames)?.is_none()
        {
            // As a frame over which a worker died is tried again: by a fresh worker. And a worker that was killed while it had
            // nothing to do is missed only when it is asked for something: that is nobody's frame.
            let text = format!("show {name} is solved once more: {}", error.reason);
            shift.remark(Some(show), Remark::Warning { text })?;
            solution = self.solution(shift, claim);
        }
        match solution {
            Ok(Solution { jobs, warnings }) => {
                let frames = jobs.jobs.len();
                if shift.queue.note_solved(claim, &jobs)? == Noted::Taken {
                    shift.watcher.tell(&Event::Solved {
                        show,
                        name,
                        frames,
                        warnings,
                    });
                }
                Ok(())
            }
            Err(Unsolved::Stopped | Unsolved::Later) => shift.queue.give_back_show(claim),
            Err(Unsolved::Queue(error)) => Err(error),
            Err(Unsolved::NotHere(why)) => {
                shift.queue.give_back_show(claim)?;
                shift.hold_for(show, why)
            }
            Err(Unsolved::Frame(error, frames)) => {
                if let Some((folder, why)) = first_away(shift, claim, &frames)? {
                    shift.queue.give_back_show(claim)?;
                    return shift.hold(show, folder, why);
                }
                let trouble = Trouble {
                    reason: format!("a frame that was named cannot be used: {}", error.reason),
                    next_step: error.next_step,
                };
                not_solved(shift, claim, trouble)
            }
            Err(Unsolved::Folder(trouble, mark)) => {
                shift.queue.give_back_show(claim)?;
                shift.hold_for_folder(show, trouble, &mark)
            }
            Err(Unsolved::Refused(trouble)) => not_solved(shift, claim, trouble),
        }
    }

    fn solution(
        &mut self,
        shift: &mut NightShift<'_>,
        claim: &SolveClaim,
    ) -> Result<Solution, Unsolved> {
        let workforce = self.workforce.as_mut().ok_or(Unsolved::Later)?;
        solved(
            &mut shift.queue,
            &mut shift.scratch,
            claim,
            &self.job.program,
            &mut **workforce,
            self.stop,
        )
    }
}

/// The folder to wait for, where a drive with one of these frames is away.
fn first_away(
    shift: &mut NightShift<'_>,
    claim: &SolveClaim,
    frames: &[PathBuf],
) -> Result<Option<(PathBuf, Why)>, QueueError> {
    for frame in frames {
        if let Some(found) = shift.away(claim.show, frame)? {
            return Ok(Some(found));
        }
    }
    Ok(None)
}

fn not_solved(
    shift: &mut NightShift<'_>,
    claim: &SolveClaim,
    trouble: Trouble,
) -> Result<(), QueueError> {
    shift.queue.note_not_solved(claim, &trouble)?;
    shift.watcher.tell(&Event::NotSolved {
        show: claim.show,
        name: claim.name.clone(),
        trouble,
    });
    Ok(())
}
