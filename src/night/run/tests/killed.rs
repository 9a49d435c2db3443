//! Workers that are killed: together, which is nobody's frame, and alone.

use super::*;
use crate::show::solving::{NamedFrame, Neutral};

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

/// What becomes of a show whose reference kills its worker so often.
fn with_killing_reference(times: usize) -> (Show, usize) {
    let show = Show::new();
    let reference = NamedFrame {
        frame: show.path("show").join("one-0401.dng"),
        name: None,
        neutral: Neutral::Patches(Vec::new()),
    };
    let look = presets::preset(presets::DEFAULT).expect("a preset");
    let asked = Asked {
        reference: Some(reference),
        ..asked(look)
    };
    let asked = Snapshot::of(&asked, None).expect("kept");
    let job = AddJob {
        asked: Some(asked.clone()),
        ..show.addition(asked)
    };
    add(&show.place(), job).expect("added");
    let asked_for = Rc::new(Cell::new(0));
    let count = Rc::clone(&asked_for);
    let wanted = move |task: &Task, _: &CrewSettings| {
        if !matches!(task, Task::Reference { .. }) {
            return None;
        }
        count.set(count.get() + 1);
        (count.get() <= times).then_some(Cause::Killed)
    };
    assert_eq!(night(&show, &show.job(), Rc::new(wanted)), HowEnded::Done);
    let times = asked_for.get();
    (show, times)
}

#[test]
fn a_show_is_solved_once_more_when_a_worker_is_killed_over_its_reference() {
    let (show, asked_for) = with_killing_reference(1);
    assert_eq!((asked_for, show.made()), (2, 2));
    let remarks = show.remarks();
    let is_told = |remark: &Remark| matches!(remark, Remark::Warning { text } if text.contains("solved once more"));
    assert!(remarks.iter().any(is_told), "{remarks:?}");
}

#[test]
fn a_reference_that_kills_its_worker_twice_is_told_and_the_night_ends() {
    let (show, asked_for) = with_killing_reference(2);
    assert_eq!((asked_for, show.made()), (2, 0));
    let trouble = show.queue().status().expect("read").shows[0]
        .trouble
        .clone();
    let words = trouble.expect("not solved").reason;
    assert!(words.contains("as the test wants it"), "{words}");
}
