//! What a person at a terminal is asked and shown. `script` (util-linux) brings the terminal; where it is not, that is said.

use crate::scratch::{Ran, Scratch};
use crate::show::{add, jobs, run_arguments};
use houselights::night::queue::JobState;
use std::io::Write;
use std::process::{Command, Stdio};

/// More than any drive has free, in GiB.
const MORE_THAN_THERE_IS: &str = "1000000";

/// Columns that do not hold the bar and its words in one line.
const NARROW: usize = 50;

/// A run at a terminal of so many columns, at which a person types this; `None` where there is no `script`.
fn run_at_terminal(scratch: &Scratch, columns: usize, more: &[&str], typed: &str) -> Option<Ran> {
    let run = scratch.command(&run_arguments(more));
    let quoted = |word: &std::ffi::OsStr| {
        let word = word.to_str().expect("text");
        assert!(!word.contains('\''), "{word}");
        format!("'{word}'")
    };
    let words: Vec<String> = std::iter::once(run.get_program())
        .chain(run.get_args())
        .map(quoted)
        .collect();
    let line = format!("stty rows 24 cols {columns} -echo; {}", words.join(" "));
    let mut script = Command::new("script");
    script
        .args(["--quiet", "--return", "--command", &line, "/dev/null"])
        .current_dir(run.get_current_dir().expect("a folder"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    for (name, value) in run.get_envs() {
        script.env(name, value.expect("a value"));
    }
    let Ok(mut child) = script.spawn() else {
        eprintln!("SKIPPED: there is no `script` that brings a terminal");
        return None;
    };
    let mut person = child.stdin.take().expect("a person");
    person.write_all(typed.as_bytes()).expect("typed");
    // Kept open: at a terminal nobody comes to an end of typing.
    let output = child.wait_with_output().expect("it ends");
    drop(person);
    Some(Ran::of(output))
}

#[test]
fn a_person_is_asked_before_a_night_for_which_there_is_no_room() {
    let scratch = Scratch::with_frames(3);
    add(&scratch, &["--to", "out"]);
    let short = ["--leave-free", MORE_THAN_THERE_IS];
    for (typed, code) in [("n\n", 3), ("\n", 3), ("y\n", 1)] {
        let Some(ran) = run_at_terminal(&scratch, 100, &short, typed) else {
            return;
        };
        assert_eq!(ran.code, code, "{typed:?}: {}", ran.stdout);
        assert!(ran.stdout.contains("will run short"), "{}", ran.stdout);
        assert!(ran.stdout.contains("[y/N]"), "{}", ran.stdout);
        // Begun, and stopped when nothing more had room.
        let has_begun = ran.stdout.contains("goes on where it stopped");
        assert_eq!(has_begun, typed == "y\n", "{}", ran.stdout);
        assert_eq!(jobs(&scratch, JobState::Made), 0);
    }
}

#[test]
fn a_narrow_terminal_has_the_bar_on_a_line_of_its_own() {
    let scratch = Scratch::with_frames(30);
    add(&scratch, &["--to", "out"]);
    let Some(ran) = run_at_terminal(&scratch, NARROW, &[], "") else {
        return;
    };
    assert_eq!(ran.code, 0, "{}", ran.stdout);
    // A bar from the first column to the last: `[`, what is done and what is not, `]`.
    let told: Vec<char> = without_orders(&ran.stdout).chars().collect();
    let is_bar = |part: &[char]| match part {
        ['[', within @ .., ']'] => within.iter().all(|part| "=> ".contains(*part)),
        _ => false,
    };
    assert!(told.windows(NARROW).any(is_bar), "{}", ran.stdout);
}

/// A text without the terminal's orders (ECMA-48, control sequences).
fn without_orders(told: &str) -> String {
    let mut text = String::new();
    let mut rest = told.chars();
    while let Some(letter) = rest.next() {
        if letter != '\u{1b}' {
            text.push(letter);
            continue;
        }
        // Up to the letter that ends it.
        let _ = rest.by_ref().skip(1).find(char::is_ascii_alphabetic);
    }
    text
}
