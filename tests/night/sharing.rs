//! Runs that share a queue, and shows that are added while they work.

use crate::dng::Shot;
use crate::scratch::{Ran, Scratch, wait_until};
use crate::show::{
    QUEUE, add, end, expect_whole_database, jobs, pause, queue, resume, run, say, start,
};
use houselights::night::queue::JobState;
use std::io::{BufRead, BufReader, Read};

#[test]
fn two_runs_share_a_queue_and_no_frame_is_done_twice() {
    let scratch = Scratch::with_frames(30);
    scratch.carry(&["show"], &["--to", "whole"]).expect_code(0);
    add(&scratch, &["--to", "out"]);
    let runs = [start(&scratch), start(&scratch)];
    for run in runs {
        end(run).expect_code(0);
    }
    assert_eq!(scratch.hashes("out"), scratch.hashes("whole"));
    assert_eq!(jobs(&scratch, JobState::Made), 30);
    // Each picture was noted once as made: the ledger has a line for each.
    let ledger =
        std::fs::read_to_string(scratch.path("out/.houselights-ledger")).expect("a ledger");
    assert_eq!(
        ledger
            .lines()
            .filter(|line| line.starts_with("{\"made\""))
            .count(),
        30
    );
    assert_eq!(queue(&scratch).runs().expect("read").len(), 2);
    expect_whole_database(&scratch);
}

#[test]
fn a_show_is_added_while_a_run_works() {
    let scratch = Scratch::with_frames(60);
    for number in 0..5 {
        scratch.frame(format!("other/{number}.dng"), &Shot::number(100 + number));
    }
    add(&scratch, &["--to", "out"]);
    let mut working = start(&scratch);
    wait_until(|| scratch.path("out/003.jpg").exists());
    // The run must not be through before the other show is there.
    pause(&scratch);
    let other = [
        "night",
        "add",
        "other",
        "--to",
        "other-out",
        "--reference",
        "other/0.dng",
        "--priority",
        "0",
        "--queue",
        QUEUE,
    ];
    scratch.run(&other).expect_code(0);
    wait_until(|| scratch.names("other-out").len() == 5);
    assert!(scratch.names("out").len() < 60);
    assert_eq!(working.try_wait().expect("asked"), None);
    resume(&scratch);
    end(working).expect_code(0);
    assert_eq!(
        (scratch.names("out").len(), scratch.names("other-out").len()),
        (60, 5)
    );
}

#[test]
fn a_queue_that_another_program_holds_for_long_is_waited_for() {
    let scratch = Scratch::with_frames(60);
    add(&scratch, &["--to", "out"]);
    let mut working = start(&scratch);
    wait_until(|| scratch.path("out/003.jpg").exists());
    let holder = rusqlite::Connection::open(scratch.path(QUEUE)).expect("opened");
    wait_until(|| holder.execute_batch("BEGIN IMMEDIATE").is_ok());
    // Until the run says so, which is longer than the engine itself waits (10 seconds): what is in hand cannot be recorded, and
    // goes back.
    let mut errors = BufReader::new(working.stderr.take().expect("a pipe"));
    let mut told = String::new();
    while !told.contains("another program holds") {
        let read = errors.read_line(&mut told).expect("text");
        assert!(read > 0, "ended without a word of it:\n{told}");
    }
    holder.execute_batch("ROLLBACK").expect("let go");
    errors.read_to_string(&mut told).expect("text");
    let mut output = working.wait_with_output().expect("it ends");
    output.stderr = told.into_bytes();
    Ran::of(output).expect_code(0);
    assert_eq!(jobs(&scratch, JobState::Made), 60);
    expect_whole_database(&scratch);
}

#[test]
fn a_pause_is_heard_and_a_run_goes_on_after_it() {
    let scratch = Scratch::with_frames(60);
    add(&scratch, &["--to", "out"]);
    let working = start(&scratch);
    wait_until(|| scratch.path("out/003.jpg").exists());
    say(&scratch, &["pause", "show"]).expect_code(0);
    wait_until(|| jobs(&scratch, JobState::Making) == 0);
    let made = jobs(&scratch, JobState::Made);
    std::thread::sleep(std::time::Duration::from_millis(600));
    assert_eq!(jobs(&scratch, JobState::Made), made);
    assert!(made < 60);
    say(&scratch, &["resume", "show"]).expect_code(0);
    end(working)
        .expect_code(0)
        .expect_words("paused")
        .expect_words("going on");
    assert_eq!(scratch.names("out").len(), 60);
}

#[test]
fn carry_and_a_run_do_not_work_into_one_folder_at_once() {
    let scratch = Scratch::with_frames(60);
    add(&scratch, &["--to", "out"]);
    let working = start(&scratch);
    wait_until(|| scratch.path("out/002.jpg").exists());
    // A run that waits keeps its folders, and cannot be through before the other command looks at them.
    pause(&scratch);
    scratch
        .carry(&["show"], &[])
        .expect_code(3)
        .expect_words("another run");
    resume(&scratch);
    end(working).expect_code(0);
    run(&scratch, &[]).expect_code(0);
}
