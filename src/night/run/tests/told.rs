//! What a night tells of what is in its way: once, with what to do, and without costing more than it must.

use super::*;
use crate::night::queue::Trouble;
use crate::show::ledger::LEDGER_NAME;
use crate::show::solving::ClockWish;
use std::time::Duration;

/// The show is asked for with these clocks.
fn ask_with_clocks(show: &Show, bodies: &[&str]) {
    let clocks = bodies.iter().map(|body| ClockWish {
        body: (*body).to_owned(),
        ahead_seconds: 12.0,
    });
    let wish = Asked {
        clocks: clocks.collect(),
        ..asked(presets::preset(presets::DEFAULT).expect("a preset"))
    };
    let snapshot = Snapshot::of(&wish, None).expect("kept");
    let job = AddJob {
        asked: Some(snapshot.clone()),
        ..show.addition(snapshot)
    };
    add(&show.place(), job).expect("added");
}

/// Keeps the events.
#[derive(Default)]
struct Kept(Vec<Event>);

impl Watcher for Kept {
    fn tell(&mut self, event: &Event) {
        self.0.push(event.clone());
    }
}

/// A night with a watcher.
fn watched(show: &Show, watcher: &mut dyn Watcher) -> HowEnded {
    let surroundings = surroundings(Rc::new(|_, _| None), Vec::new());
    run(&show.job(), surroundings, &StopWish::default(), watcher).expect("a queue")
}

#[test]
fn a_clock_of_a_body_that_no_frame_has_is_told_with_the_bodies_there_are_and_costs_nothing() {
    let show = Show::new();
    ask_with_clocks(&show, &["Nobody"]);
    let mut kept = Kept::default();
    assert_eq!(watched(&show, &mut kept), HowEnded::Done);
    assert_eq!(show.made(), 2);
    let warnings: Vec<&String> = (kept.0.iter())
        .filter_map(|event| match event {
            Event::Solved { warnings, .. } => Some(warnings),
            _ => None,
        })
        .flatten()
        .collect();
    let told = warnings.iter().find(|words| words.contains("Nobody"));
    let told = told.expect("a warning");
    // The body of the demo frames.
    assert!(told.contains("there is Halm Prompt One"), "{told}");
}

#[test]
fn a_show_that_cannot_be_solved_keeps_the_whole_reason() {
    let show = Show::new();
    ask_with_clocks(&show, &["Halm Prompt One", "10004417"]);
    let mut kept = Kept::default();
    assert_eq!(watched(&show, &mut kept), HowEnded::Done);
    let trouble = show.queue().status().expect("read").shows.remove(0).trouble;
    let trouble = trouble.expect("not solved");
    assert!(
        trouble.reason.ends_with("is set twice; keep one"),
        "{trouble:?}"
    );
    assert_eq!(trouble.next_step, None);
    assert!(
        kept.0.iter().any(
            |event| matches!(event, Event::NotSolved { trouble: told, .. } if *told == trouble)
        )
    );
}

#[test]
fn the_next_step_of_a_frame_is_that_of_the_show_it_was_named_for() {
    let error = TaskError {
        cause: Cause::Unreadable,
        reason: "one.nef: the end is missing; so is the middle".to_owned(),
        next_step: Some("copy it from the card again".to_owned()),
    };
    let trouble = Trouble::from(error.clone());
    assert_eq!(
        (trouble.reason, trouble.next_step),
        (error.reason, error.next_step)
    );
}

/// Mends the ledger some time after it was told that its folder is away, and keeps the remarks.
struct Mends {
    ledger: PathBuf,
    remarks: Vec<Remark>,
}

impl Watcher for Mends {
    fn tell(&mut self, event: &Event) {
        let Event::Remark { remark, .. } = event else {
            return;
        };
        if matches!(remark, Remark::Away { .. }) && self.remarks.is_empty() {
            let ledger = self.ledger.clone();
            std::thread::spawn(move || {
                // Several looks at what is held.
                std::thread::sleep(Duration::from_secs(7));
                fs::remove_dir(ledger).expect("mended");
            });
        }
        if !matches!(remark, Remark::Warning { .. }) {
            self.remarks.push(remark.clone());
        }
    }
}

#[test]
fn a_ledger_that_cannot_be_read_holds_its_show_once() {
    let show = Show::new();
    let ledger = show.path("out").join(LEDGER_NAME);
    fs::create_dir(&ledger).expect("in the way");
    let mut mends = Mends {
        ledger,
        remarks: Vec::new(),
    };
    assert_eq!(watched(&show, &mut mends), HowEnded::Done);
    assert_eq!(show.made(), 2);
    assert!(
        matches!(
            mends.remarks[..],
            [Remark::Away { .. }, Remark::Back { .. }]
        ),
        "{:?}",
        mends.remarks
    );
}
