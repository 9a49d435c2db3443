//! What is typed wrongly is refused with what would be right.

use crate::dng::GREY;
use crate::scratch::{Ran, Scratch, program};
use std::process::Stdio;
use std::time::{Duration, Instant};

fn run(arguments: &[&str]) -> Ran {
    Ran::of(
        program()
            .args(arguments)
            .output()
            .expect("the program starts"),
    )
}

#[test]
fn help_teaches_and_hides_the_workers() {
    let help = run(&["--help"]).expect_code(0).stdout;
    for word in ["carry", "meter", "explain", "look", "completions", "130"] {
        assert!(help.contains(word), "{word} in:\n{help}");
    }
    let carry = run(&["carry", "--help"]).expect_code(0).stdout;
    for word in [
        "--neutral <X,Y[,R]|auto>",
        "--follow",
        "Examples:",
        "0.006",
        "already-made",
    ] {
        assert!(carry.contains(word), "{word} in:\n{carry}");
    }
    assert!(!help.contains("supervisor") && !carry.contains("supervisor"));
    run(&["--version"]).expect_code(0);
}

#[test]
fn values_out_of_range_are_refused_with_the_range() {
    let carry = ["carry", "x.nef", "--to", "out", "--reference", "x.nef"];
    for (option, value, words) in [
        ("--neutral", "1.2,0.5", "from 0 (left) to 1 (right)"),
        ("--neutral", "-0.1,0.5", "from 0 (left) to 1 (right)"),
        ("--neutral", "0.5,0.5,0.9", "at most 0.25"),
        ("--quality", "0", "1..=100"),
        ("--quality", "101", "1..=100"),
        ("--long", "3", "16..=65535"),
        ("--workers", "0", "from 1 to 256"),
        ("--workers", "100000", "from 1 to 256"),
        ("--worker-memory", "NaN", "from 0.125 to 1024 GiB"),
        ("--worker-seconds", "0", "1..=86400"),
        ("--follow", "crowd", "light"),
    ] {
        let arguments = [&carry[..], &[option, value]].concat();
        run(&arguments).expect_code(2).expect_words(words);
    }
}

#[test]
fn combinations_that_say_nothing_are_refused() {
    run(&[]).expect_code(2);
    run(&["carry", "x.nef"]).expect_code(2).expect_words("--to");
    run(&["carry", "--to", "out"])
        .expect_code(2)
        .expect_words("FRAMES");
    run(&["carry", "x.nef", "--to", "out", "--neutral", GREY])
        .expect_code(2)
        .expect_words("--reference");
    let scratch = Scratch::with_frames(1);
    scratch
        .run(&[
            "carry", "show", "--to", "out", "--look", "faithful", "--follow", "none",
        ])
        .expect_code(2)
        .expect_words("--reference");
    scratch
        .run(&["carry", "show", "--to", "out", "--look", "no-such-preset"])
        .expect_code(2)
        .expect_words("stage");
    scratch
        .carry(&["show"], &["--save-look", "show/000.dng"])
        .expect_code(2)
        .expect_words("raw file's name");
}

#[test]
fn a_look_is_told_in_words() {
    let told = run(&["look", "stage"]).expect_code(0);
    assert!(told.stdout.contains("stage"), "{}", told.stdout);
    run(&["look", "no-such-preset"]).expect_code(2);
    run(&["look", "no/such/file.toml"]).expect_code(3);
}

#[test]
fn completions_know_the_commands() {
    for shell in ["bash", "zsh", "fish"] {
        let script = run(&["completions", shell]).expect_code(0).stdout;
        assert!(
            script.contains("carry") && script.contains("neutral"),
            "{shell}"
        );
    }
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let scratch = Scratch::with_frames(3);
    for arguments in [
        vec!["meter", "show", "--json"],
        vec!["meter", "show"],
        vec!["completions", "bash"],
        Scratch::carry_arguments(&["show"], &[]),
    ] {
        let mut child = scratch
            .command(&arguments)
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program starts");
        drop(child.stdout.take());
        Ran::of(child.wait_with_output().expect("it ends")).expect_code(0);
    }
    assert_eq!(scratch.names("out").len(), 3, "the work goes on");
}

#[test]
fn help_comes_at_once() {
    // Any of many, since tests share the machine: starting a program is no reason to wait. Ten times what an idle machine
    // takes.
    let comes_at_once = (0..100).any(|_| {
        let begun = Instant::now();
        run(&["--help"]).expect_code(0);
        begun.elapsed() < Duration::from_millis(300)
    });
    assert!(comes_at_once);
}
