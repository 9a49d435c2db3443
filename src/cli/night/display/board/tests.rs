//! What the display says of a night that is told to it.

use super::*;
use crate::night::queue::{JobCount, JobState, RunId, ShowState, ShowStatus, Timed};

const BYTES: u64 = 30_000_000;

fn status(to_make: u64, made: u64) -> Status {
    let count = |state, jobs| JobCount {
        state,
        jobs,
        bytes: jobs * BYTES,
        metered: Timed::default(),
        made: Timed::default(),
    };
    Status {
        is_paused: false,
        shows: vec![ShowStatus {
            show: ShowId(1),
            name: "hall".to_owned(),
            priority: 5,
            state: ShowState::Solved,
            is_paused: false,
            trouble: None,
            jobs: vec![
                count(JobState::ToMake, to_make),
                count(JobState::Made, made),
                count(JobState::SetAside, 2),
            ],
            outputs: Vec::new(),
            added: 0,
        }],
        runs: Vec::new(),
    }
}

fn frame(name: &str, worker: usize) -> OfFrame {
    OfFrame {
        show: ShowId(1),
        frame: name.into(),
        bytes: BYTES,
        worker: Some(worker),
    }
}

/// A board on which two workers make 40 frames of 4 s each, and the time when they have.
fn after_forty() -> (Board, Instant) {
    let begun = Instant::now();
    let mut now = begun;
    let mut board = Board::new(begun);
    board.take(
        &Event::Ready {
            run: RunId(1),
            workers: 2,
            worker_memory: 1 << 30,
        },
        begun,
    );
    board.look(status(160, 0));
    for _ in 0..20 {
        for worker in 0..2 {
            let of = frame("a.nef", worker);
            board.take(
                &Event::Took {
                    of,
                    work: Work::Making,
                },
                now,
            );
        }
        now += Duration::from_secs(4);
        for worker in 0..2 {
            board.take(
                &Event::Made {
                    of: frame("a.nef", worker),
                    pictures: 1,
                    picture_bytes: 5_000_000,
                    seconds: Some(4.0),
                },
                now,
            );
        }
    }
    board.look(status(120, 40));
    (board, now)
}

#[test]
fn rate_and_time_left_are_those_of_the_frames_that_are_through() {
    let (board, now) = after_forty();
    let rate = board.rate(now).map(|(rate, _)| rate);
    assert!(
        rate.is_some_and(|rate| (rate - 0.5).abs() < 0.01),
        "{rate:?}"
    );
    let left = board.seconds_left(now);
    assert!(
        left.is_some_and(|left| (left - 240.0).abs() < 3.0),
        "{left:?}"
    );
    let (before, after) = board.night(now);
    assert_eq!(before, "40 of 162 frames made, 2 set aside");
    assert!(
        after.starts_with("0.50 frames/s, 4 min left, until "),
        "{after}"
    );
}

#[test]
fn each_worker_has_its_line() {
    let (mut board, now) = after_forty();
    assert_eq!(board.workers(now), ["  1  -", "  2  -"]);
    let of = frame("card/DSC_0815.NEF", 1);
    board.take(
        &Event::Took {
            of: of.clone(),
            work: Work::Making,
        },
        now,
    );
    let later = now + Duration::from_secs(3);
    assert_eq!(
        board.workers(later),
        ["  1  -", "  2  making       3 s  DSC_0815.NEF  of hall"]
    );
    board.take(&Event::GivenBack { of }, later);
    assert_eq!(board.workers(later), ["  1  -", "  2  -"]);
}

#[test]
fn a_run_that_waits_says_for_what() {
    let (mut board, now) = after_forty();
    board.take(
        &Event::Waiting(WaitingFor::Drives(vec!["/media/card".into()])),
        now,
    );
    assert!(board.night(now).1.contains("/media/card"));
    board.take(&Event::GoesOn, now);
    assert!(board.night(now).1.contains("left"));
}

#[test]
fn a_frame_stays_on_the_line_of_its_worker() {
    let (mut board, now) = after_forty();
    let take = |board: &mut Board, name: &str, worker| {
        let of = frame(name, worker);
        let work = Work::Making;
        board.take(&Event::Took { of, work }, now);
    };
    take(&mut board, "a", 0);
    take(&mut board, "b", 1);
    // The next is told before the last is through.
    take(&mut board, "c", 1);
    board.take(&Event::GivenBack { of: frame("b", 1) }, now);
    let lines = board.workers(now);
    assert_eq!(lines.len(), 2);
    assert!(
        lines[0].contains("  a  of") && lines[1].contains("  c  of"),
        "{lines:?}"
    );
}
