//! What is asked of workers, and what is told of each frame.

use super::*;
use crate::base::progress::Progress;
use crate::base::units::Chromaticity;
use crate::deliver::Wish;
use crate::show::outcome::Tally;
use std::fs;
use std::time::Instant;

/// A stand-in for workers: makes every picture at once, except those that fail.
#[derive(Default)]
struct StandIn {
    /// Fails at this task, counted from 0, with this cause.
    fails: Option<(usize, Cause)>,
    /// Raises the wish to stop after this task.
    stops_after: Option<usize>,
    asked: Vec<Order>,
}

impl Workforce for StandIn {
    fn work(&mut self, stop: &StopWish, shift: &mut dyn Shift) {
        while !stop.is_raised()
            && let Some((key, task)) = shift.next(0)
        {
            let Task::Make(order) = task else {
                panic!("not a picture: {task:?}")
            };
            let count = self.asked.len();
            let outcome = match self.fails {
                Some((at, cause)) if at == count => Err(TaskError {
                    cause,
                    reason: "as the test wants it".to_owned(),
                    next_step: None,
                }),
                _ => {
                    let output = &order.pictures[0].output;
                    fs::write(output, b"picture").expect("written");
                    Ok(Answer::Made {
                        input: stamp_of(&order.frame).expect("read"),
                        seconds: 0.0,
                        pictures: vec![Ok(Made::InPlace {
                            output: stamp_of(output).expect("read"),
                            outside: 0.25,
                            seconds: 0.0,
                        })],
                    })
                }
            };
            self.asked.push(*order);
            shift.done(key, outcome, Instant::now());
            if self.stops_after == Some(count) {
                stop.raise();
            }
        }
    }
}

#[derive(Default)]
struct Listener {
    tally: Tally,
    errors: Vec<TaskError>,
}

impl Progress for Listener {}

impl Watcher for Listener {
    fn frame(&mut self, outcome: &FrameOutcome) {
        self.tally.count(&outcome.fate);
        if let Fate::Failed(error) | Fate::NotReached(error) = &outcome.fate {
            self.errors.push(error.clone());
        }
    }
}

fn show_of(frames: usize) -> tempfile::TempDir {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    for frame in 0..frames {
        fs::write(scratch.path().join(format!("{frame}.nef")), [frame as u8]).expect("written");
    }
    scratch
}

fn correction(gain: f64) -> Correction {
    Correction {
        gain,
        ..Correction::neutral(Chromaticity::D65)
    }
}

fn run(scratch: &tempfile::TempDir, gain: f64, stand_in: &mut StandIn) -> Listener {
    let named = [scratch.path().to_path_buf()];
    let mut batch = Batch::prepare(&named, &scratch.path().join("out"), "jpg").expect("a batch");
    let wanted = (0..batch.frames.len()).map(|frame| Wanted {
        frame,
        correction: correction(gain),
        delivery: Delivery {
            long_edge: None,
            space: Default::default(),
            wish: Wish::default(),
        },
        profile: None,
        notes: Vec::new(),
    });
    let mut listener = Listener::default();
    make(
        &mut batch,
        wanted.collect(),
        "this program",
        stand_in,
        &StopWish::default(),
        &mut listener,
    );
    listener
}

#[test]
fn what_stands_is_not_asked_for_again() {
    let scratch = show_of(4);
    assert_eq!(run(&scratch, 1.0, &mut StandIn::default()).tally.made, 4);
    let mut second = StandIn::default();
    assert_eq!(run(&scratch, 1.0, &mut second).tally.already_made, 4);
    assert!(second.asked.is_empty());
    // Another correction: all again, into places that are known as ours.
    let mut third = StandIn::default();
    assert_eq!(run(&scratch, 2.0, &mut third).tally.made, 4);
    assert!(third.asked.iter().all(
        |order| order.pictures[0].place == Place::Free && order.pictures[0].made_from.is_none()
    ));
}

#[test]
fn a_raw_that_only_looks_changed_is_asked_about_by_its_hash() {
    let scratch = show_of(1);
    run(&scratch, 1.0, &mut StandIn::default());
    let raw = fs::File::options()
        .write(true)
        .open(scratch.path().join("0.nef"));
    raw.expect("there")
        .set_modified(std::time::UNIX_EPOCH)
        .expect("set");
    let mut second = StandIn::default();
    run(&scratch, 1.0, &mut second);
    assert_eq!(
        second.asked[0].pictures[0].made_from,
        Some(blake3::hash(&[0]).to_hex().to_string())
    );
}

#[test]
fn no_space_gives_the_rest_up_and_a_bad_frame_does_not() {
    for (cause, not_reached) in [
        (Cause::DiskFull, 7),
        (Cause::FolderUnusable, 7),
        (Cause::Unreadable, 0),
        (Cause::Time, 0),
    ] {
        let scratch = show_of(10);
        let mut stand_in = StandIn {
            fails: Some((2, cause)),
            ..StandIn::default()
        };
        let heard = run(&scratch, 1.0, &mut stand_in);
        assert_eq!(
            (heard.tally.failed, heard.tally.not_reached),
            (1, not_reached),
            "{cause:?}"
        );
        assert_eq!(heard.tally.frames(), 10);
        assert!(heard.errors.iter().all(|error| error.cause == cause));
    }
}

#[test]
fn a_stopped_run_tells_every_frame_and_the_next_goes_on() {
    let scratch = show_of(10);
    let mut first = StandIn {
        stops_after: Some(3),
        ..StandIn::default()
    };
    let heard = run(&scratch, 1.0, &mut first);
    assert_eq!((heard.tally.made, heard.tally.not_reached), (4, 6));
    assert!(
        heard
            .errors
            .iter()
            .all(|error| error.cause == Cause::Interrupted)
    );
    let heard = run(&scratch, 1.0, &mut StandIn::default());
    assert_eq!((heard.tally.made, heard.tally.already_made), (6, 4));
}

#[test]
fn a_picture_that_was_promised_only_is_ours() {
    let scratch = show_of(1);
    let named = [scratch.path().to_path_buf()];
    let out = scratch.path().join("out");
    {
        // A run that died after the picture was in its place and before that was noted.
        let mut batch = Batch::prepare(&named, &out, "jpg").expect("a batch");
        let frame = batch.frames[0].clone();
        batch
            .ledger
            .note_promised(&frame.picture, &frame.real)
            .expect("noted");
        fs::write(batch.picture_path(&frame), b"picture").expect("written");
    }
    let mut second = StandIn::default();
    assert_eq!(run(&scratch, 1.0, &mut second).tally.made, 1);
    assert_eq!(second.asked[0].pictures[0].place, Place::Free);
}

#[test]
fn a_file_that_nobody_promised_is_a_strangers() {
    let scratch = show_of(1);
    fs::create_dir(scratch.path().join("out")).expect("made");
    fs::write(scratch.path().join("out/0.jpg"), b"a stranger's").expect("written");
    let mut stand_in = StandIn::default();
    run(&scratch, 1.0, &mut stand_in);
    assert_eq!(stand_in.asked[0].pictures[0].place, Place::Taken);
}
