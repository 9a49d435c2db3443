//! A scratch show in a queue.

use crate::dng::GREY;
use crate::scratch::{Ran, Scratch};
use houselights::night::queue::{JobState, Place, Queue, ShowStatus};
use std::path::PathBuf;
use std::process::Child;

/// The queue's file in a scratch folder.
pub(crate) const QUEUE: &str = "queue.sqlite";

/// `night add` of the show's frames, solved from the first.
pub(crate) fn add_arguments<'a>(frames: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
    let mut arguments = vec!["night", "add", "--queue", QUEUE];
    arguments.extend(frames);
    arguments.extend(["--reference", "show/000.dng", "--neutral", GREY]);
    arguments.extend(more);
    arguments
}

/// `night run` with two workers.
pub(crate) fn run_arguments<'a>(more: &[&'a str]) -> Vec<&'a str> {
    let mut arguments = vec!["night", "run", "--queue", QUEUE];
    if !more.contains(&"--leave-free") {
        arguments.extend(["--leave-free", "0"]);
    }
    if !more.contains(&"--workers") {
        arguments.extend(["--workers", "2"]);
    }
    arguments.extend(more);
    arguments
}

pub(crate) fn add(scratch: &Scratch, more: &[&str]) -> Ran {
    scratch.run(&add_arguments(&["show"], more)).expect_code(0)
}

pub(crate) fn run(scratch: &Scratch, more: &[&str]) -> Ran {
    scratch.run(&run_arguments(more))
}

/// `night WORD` and what belongs to it.
pub(crate) fn say(scratch: &Scratch, words: &[&str]) -> Ran {
    let mut arguments = vec!["night"];
    arguments.extend(words);
    arguments.extend(["--queue", QUEUE]);
    scratch.run(&arguments)
}

pub(crate) fn queue(scratch: &Scratch) -> Queue {
    Queue::look_into(&Place::File(scratch.path(QUEUE))).expect("a queue")
}

/// The queue, to be changed from within the test: at once, where a program of its own would take longer to start than a quick
/// machine takes for the whole show.
pub(crate) fn queue_to_change(scratch: &Scratch) -> Queue {
    Queue::open_existing(&Place::File(scratch.path(QUEUE))).expect("a queue")
}

/// Nothing more of the show is begun until it is resumed.
pub(crate) fn pause(scratch: &Scratch) {
    queue_to_change(scratch)
        .pause(Some("show"))
        .expect("paused");
}

pub(crate) fn resume(scratch: &Scratch) {
    queue_to_change(scratch)
        .resume(Some("show"))
        .expect("resumed");
}

/// The first show as it stands.
pub(crate) fn status(scratch: &Scratch) -> ShowStatus {
    let mut shows = queue(scratch).status().expect("readable").shows;
    shows.remove(0)
}

pub(crate) fn jobs(scratch: &Scratch, state: JobState) -> u64 {
    status(scratch).jobs_in(&[state])
}

/// Stops the test unless the database is whole (SQLite, PRAGMA integrity_check).
#[track_caller]
pub(crate) fn expect_whole_database(scratch: &Scratch) {
    let connection = rusqlite::Connection::open(scratch.path(QUEUE)).expect("opened");
    let answer: String = connection
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .expect("an answer");
    assert_eq!(answer, "ok");
}

/// Hidden files of pictures that were never finished.
pub(crate) fn unfinished(scratch: &Scratch, folder: &str) -> Vec<PathBuf> {
    let entries = std::fs::read_dir(scratch.path(folder)).expect("a folder");
    entries
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.to_string_lossy().ends_with("unfinished"))
        .collect()
}

/// A run with one worker, begun.
pub(crate) fn start(scratch: &Scratch) -> Child {
    scratch
        .command(&run_arguments(&["--workers", "1"]))
        .spawn()
        .expect("the program starts")
}

/// What came of it.
pub(crate) fn end(child: Child) -> Ran {
    Ran::of(child.wait_with_output().expect("it ends"))
}
