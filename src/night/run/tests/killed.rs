//! Workers that are killed: together, which is nobody's frame, and alone.

use super::*;

/// A night in which workers are killed over frames; how often each was, and the night's remarks of it.
fn killed(show: &Show, is_killed: impl Fn(usize, &Path, &CrewSettings) -> bool + 'static) -> usize {
    let kills = Rc::new(Cell::new(0));
    let count = Rc::clone(&kills);
    let wanted = move |task: &Task, settings: &CrewSettings| {
        let dies =
            matches!(task, Task::Meter { .. }) && is_killed(count.get(), task.frame(), settings);
        dies.then(|| {
            count.set(count.get() + 1);
            Cause::Killed
        })
    };
    assert_eq!(night(show, &show.job(), Rc::new(wanted)), HowEnded::Done);
    let remarks = show.remarks().into_iter();
    let told = remarks.filter(|remark| matches!(remark, Remark::WorkerLost { .. }));
    assert_eq!(told.count(), kills.get());
    kills.get()
}

#[test]
fn workers_that_are_killed_together_cost_no_frame() {
    let show = Show::new();
    // Both frames of the show, twice.
    assert_eq!(killed(&show, |before, _, _| before < 4), 4);
    assert_eq!(show.made(), 2);
}

#[test]
fn a_frame_whose_worker_is_killed_alone_twice_is_set_aside() {
    let show = Show::new();
    let is_killed = |_, frame: &Path, _: &CrewSettings| frame.ends_with("one-0401.dng");
    assert_eq!(killed(&show, is_killed), 2);
    assert_eq!(show.made(), 1);
}

#[test]
fn where_two_workers_are_always_killed_each_frame_is_done_alone() {
    let show = Show::new();
    let is_killed = |_, _: &Path, settings: &CrewSettings| settings.workers.get() > 1;
    // Both frames of the show, three times; and then one by one.
    assert_eq!(killed(&show, is_killed), 6);
    assert_eq!(show.made(), 2);
}
