//! Nights that are disturbed: by other runs, by persons, by a queue that another program holds.

#![allow(clippy::print_stderr, reason = "a test that is skipped should say so")]

use super::*;
use crate::night::queue::{OutputState, ShowId};

/// Stops a run when it has made a frame's pictures.
struct UntilMade(StopWish);

impl Watcher for UntilMade {
    fn tell(&mut self, event: &Event) {
        if matches!(event, Event::Made { .. }) {
            self.0.raise();
        }
    }
}

/// The show is asked for anew.
fn ask_for_another_look(show: &Show) {
    let mut look = presets::preset(presets::DEFAULT).expect("a preset");
    look.saturation *= 1.1;
    let asked = Snapshot::of(&asked(look), None).expect("kept");
    let job = AddJob {
        asked: Some(asked.clone()),
        ..show.addition(asked)
    };
    add(&show.place(), job).expect("added");
}

#[test]
fn a_picture_that_another_run_made_meanwhile_is_made_anew_when_the_show_is_solved_again() {
    let show = Rc::new(Show::new());
    let of_hook = Rc::clone(&show);
    let is_begun = Cell::new(false);
    let wanted = move |task: &Task, _: &CrewSettings| {
        if matches!(task, Task::Make(_)) && !is_begun.replace(true) {
            let stop = StopWish::default();
            let ended = run(
                &of_hook.job(),
                surroundings(Rc::new(|_, _| None), Vec::new()),
                &stop,
                &mut UntilMade(stop.clone()),
            );
            assert_eq!(ended.expect("a queue"), HowEnded::Stopped);
            assert_eq!(of_hook.made(), 1);
            ask_for_another_look(&of_hook);
        }
        None
    };
    assert_eq!(night(&show, &show.job(), Rc::new(wanted)), HowEnded::Done);
    let frames = show.queue().frames(ShowId(1)).expect("read");
    for frame in &frames {
        assert_eq!(frame.state, JobState::Made, "{:?}", frame.error);
        assert_eq!(frame.outputs[0].state, OutputState::Made);
    }
    assert_eq!(frames.len(), 2);
}

/// Turns a bit of a file's last byte; its size and time stay as they were.
fn replace_keeping_size_and_time(path: &Path) {
    let time = fs::metadata(path)
        .and_then(|about| about.modified())
        .expect("there");
    let mut bytes = fs::read(path).expect("read");
    *bytes.last_mut().expect("not empty") ^= 1;
    fs::write(path, bytes).expect("written");
    let file = fs::File::options().write(true).open(path);
    file.and_then(|file| file.set_modified(time)).expect("set");
}

#[test]
fn a_raw_that_was_replaced_by_one_of_the_same_size_and_time_is_metered_and_not_looked_up() {
    let show = Show::new();
    let job = NightJob {
        readings: readings::Place::File(show.path("readings.sqlite")),
        ..show.job()
    };
    let frame = show.path("show").join("one-0401.dng");
    let (metered, makings) = (Rc::new(Cell::new(0)), Cell::new(0));
    let count = Rc::clone(&metered);
    let wanted = move |task: &Task, _: &CrewSettings| {
        match task {
            Task::Meter { frame: of } if of.ends_with("one-0401.dng") => {
                count.set(count.get() + 1);
            }
            Task::Make(_) => {
                makings.set(makings.get() + 1);
                // More would be the circle of looking up what is known of the old raw, and finding another one.
                assert!(makings.get() < 10);
                if makings.get() == 1 {
                    replace_keeping_size_and_time(&frame);
                }
            }
            _ => {}
        }
        None
    };
    assert_eq!(night(&show, &job, Rc::new(wanted)), HowEnded::Done);
    assert_eq!((metered.get(), show.made()), (2, 2));
    assert!(
        show.remarks()
            .iter()
            .any(|remark| matches!(remark, Remark::Replaced { .. }))
    );
}

#[cfg(target_os = "linux")]
#[test]
fn a_picture_that_cannot_be_replaced_is_set_aside_and_the_others_are_made() {
    use std::process::Command;

    let show = Show::new();
    assert_eq!(
        night(&show, &show.job(), Rc::new(|_, _| None)),
        HowEnded::Done
    );
    let picture = show.path("out").join("one-0401.jpg");
    let change = |attribute: &str| {
        let changed = Command::new("chattr").arg(attribute).arg(&picture).output();
        changed.is_ok_and(|output| output.status.success())
    };
    if !change("+i") {
        eprintln!("SKIPPED: this user or this file system cannot lock a file");
        return;
    }
    ask_for_another_look(&show);
    let how = night(&show, &show.job(), Rc::new(|_, _| None));
    let is_unlocked = change("-i");
    assert_eq!((how, show.made()), (HowEnded::Done, 1));
    let error = show.queue().frames(ShowId(1)).expect("read")[0]
        .error
        .clone();
    let error = error.expect("set aside");
    assert_eq!(error.cause, Cause::FolderUnusable);
    for named in ["one-0401.dng", "one-0401.jpg", "locked"] {
        assert!(error.reason.contains(named), "{}", error.reason);
    }
    assert!(error.next_step.is_some_and(|step| step.contains("unlock")));
    assert!(is_unlocked);
}

#[test]
fn a_queue_whose_file_is_removed_stops_the_run() {
    let show = Rc::new(Show::new());
    let of_hook = Rc::clone(&show);
    let wanted = move |task: &Task, _: &CrewSettings| {
        if matches!(task, Task::Make(_)) && of_hook.path("queue.sqlite").exists() {
            fs::remove_file(of_hook.path("queue.sqlite")).expect("removed");
            // Until the run must have seen it.
            std::thread::sleep(crate::night::queue::BEAT * 2);
        }
        None
    };
    let ended = run(
        &show.job(),
        surroundings(Rc::new(wanted), Vec::new()),
        &StopWish::default(),
        &mut (),
    );
    assert!(matches!(ended, Err(QueueError::Gone(_))), "{ended:?}");
}
