//! Runs that share a queue, and shows that are added while they work.

use crate::dng::Shot;
use crate::scratch::{Scratch, wait_until};
use crate::show::{QUEUE, add, end, expect_whole_database, jobs, queue, run, say, start};
use houselights::night::queue::JobState;

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
    let scratch = Scratch::with_frames(20);
    for number in 0..5 {
        scratch.frame(format!("other/{number}.dng"), &Shot::number(100 + number));
    }
    add(&scratch, &["--to", "out"]);
    let working = start(&scratch);
    wait_until(|| scratch.path("out/003.jpg").exists());
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
    end(working).expect_code(0);
    assert_eq!(
        (scratch.names("out").len(), scratch.names("other-out").len()),
        (20, 5)
    );
}

#[test]
fn a_queue_that_another_program_holds_for_long_is_waited_for() {
    let scratch = Scratch::with_frames(20);
    add(&scratch, &["--to", "out"]);
    let working = start(&scratch);
    wait_until(|| scratch.path("out/003.jpg").exists());
    let holder = rusqlite::Connection::open(scratch.path(QUEUE)).expect("opened");
    wait_until(|| holder.execute_batch("BEGIN IMMEDIATE").is_ok());
    // Longer than the engine itself waits (10 seconds): what is in hand cannot be recorded, and goes back.
    std::thread::sleep(std::time::Duration::from_secs(13));
    holder.execute_batch("ROLLBACK").expect("let go");
    end(working)
        .expect_code(0)
        .expect_words("another program holds");
    assert_eq!(jobs(&scratch, JobState::Made), 20);
    expect_whole_database(&scratch);
}

#[test]
fn a_pause_is_heard_and_a_run_goes_on_after_it() {
    let scratch = Scratch::with_frames(20);
    add(&scratch, &["--to", "out"]);
    let working = start(&scratch);
    wait_until(|| scratch.path("out/003.jpg").exists());
    say(&scratch, &["pause", "show"]).expect_code(0);
    wait_until(|| jobs(&scratch, JobState::Making) == 0);
    let made = jobs(&scratch, JobState::Made);
    std::thread::sleep(std::time::Duration::from_millis(600));
    assert_eq!(jobs(&scratch, JobState::Made), made);
    assert!(made < 20);
    say(&scratch, &["resume", "show"]).expect_code(0);
    end(working)
        .expect_code(0)
        .expect_words("paused")
        .expect_words("going on");
    assert_eq!(scratch.names("out").len(), 20);
}

#[test]
fn carry_and_a_run_do_not_work_into_one_folder_at_once() {
    let scratch = Scratch::with_frames(30);
    add(&scratch, &["--to", "out"]);
    let working = start(&scratch);
    wait_until(|| scratch.path("out/002.jpg").exists());
    scratch
        .carry(&["show"], &[])
        .expect_code(3)
        .expect_words("another run");
    end(working).expect_code(0);
    run(&scratch, &[]).expect_code(0);
}
