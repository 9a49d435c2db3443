//! A scratch show: a folder with frames, a folder for pictures, and the program run on them.

use crate::dng::{GREY, Shot};
use serde_json::Value;
use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

/// A scratch show, gone when dropped.
pub(crate) struct Scratch {
    folder: tempfile::TempDir,
}

/// What came of a run.
pub(crate) struct Ran {
    pub(crate) code: i32,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
}

pub(crate) fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_houselights"))
}

impl Scratch {
    /// `count` frames `show/000.dng` and so on.
    pub(crate) fn with_frames(count: u32) -> Self {
        let scratch = Self {
            folder: tempfile::tempdir().expect("a scratch folder"),
        };
        fs::create_dir(scratch.path("show")).expect("made");
        for number in 0..count {
            scratch.frame(format!("show/{number:03}.dng"), &Shot::number(number));
        }
        scratch
    }

    pub(crate) fn path(&self, name: impl AsRef<Path>) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn frame(&self, name: impl AsRef<Path>, shot: &Shot) {
        self.write(name, &shot.dng());
    }

    pub(crate) fn write(&self, name: impl AsRef<Path>, bytes: &[u8]) {
        let path = self.path(name);
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        fs::write(path, bytes).expect("written");
    }

    /// Runs the program in the scratch folder.
    pub(crate) fn run<S: AsRef<OsStr>>(&self, arguments: &[S]) -> Ran {
        let output = self
            .command(arguments)
            .output()
            .expect("the program starts");
        Ran::of(output)
    }

    pub(crate) fn command<S: AsRef<OsStr>>(&self, arguments: &[S]) -> Command {
        let mut command = program();
        command
            .args(arguments)
            .current_dir(self.folder.path())
            // What this user keeps is none of the tests' business, on any system.
            .env("XDG_CACHE_HOME", self.path("cache"))
            .env("HOME", self.path("home"))
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
    }

    /// `carry FRAMES --to out --reference show/000.dng --neutral GREY --json` and `more`, with two workers.
    pub(crate) fn carry(&self, frames: &[&str], more: &[&str]) -> Ran {
        self.run(&Self::carry_arguments(frames, more))
    }

    pub(crate) fn carry_arguments<'a>(frames: &[&'a str], more: &[&'a str]) -> Vec<&'a str> {
        let mut arguments = vec!["carry"];
        arguments.extend(frames);
        arguments.extend(["--reference", "show/000.dng", "--neutral", GREY, "--json"]);
        if !more.contains(&"--to") {
            arguments.extend(["--to", "out"]);
        }
        if !more.contains(&"--workers") {
            arguments.extend(["--workers", "2"]);
        }
        arguments.extend(more);
        arguments
    }

    /// Names and bytes of everything in a folder that is not hidden.
    pub(crate) fn pictures(&self, folder: &str) -> BTreeMap<PathBuf, Vec<u8>> {
        let entries = fs::read_dir(self.path(folder)).expect("a folder");
        let pictures = entries.map(|entry| entry.expect("an entry").path());
        let seen = pictures.filter(|path| {
            let name = path.file_name().expect("a name");
            !name.as_encoded_bytes().starts_with(b".")
        });
        seen.map(|path| {
            let name = PathBuf::from(path.file_name().expect("a name"));
            (name, fs::read(path).expect("readable"))
        })
        .collect()
    }

    /// Names and hashes of everything in a folder that is not hidden: to be compared, and printed when they differ.
    pub(crate) fn hashes(&self, folder: &str) -> BTreeMap<PathBuf, String> {
        let pictures = self.pictures(folder).into_iter();
        pictures
            .map(|(name, bytes)| (name, blake3::hash(&bytes).to_hex()[..16].to_owned()))
            .collect()
    }

    /// Names of everything in a folder that is not hidden.
    pub(crate) fn names(&self, folder: &str) -> Vec<String> {
        let names = self.pictures(folder).into_keys();
        names
            .map(|name| name.to_string_lossy().into_owned())
            .collect()
    }
}

impl Ran {
    pub(crate) fn of(output: Output) -> Self {
        let ran = Self {
            code: output.status.code().unwrap_or(-1),
            stdout: String::from_utf8_lossy(&output.stdout).into_owned(),
            stderr: String::from_utf8_lossy(&output.stderr).into_owned(),
        };
        for stream in [&ran.stdout, &ran.stderr] {
            assert!(
                !stream.contains("panicked at"),
                "a panic reached the person:\n{stream}"
            );
        }
        ran
    }

    /// Stops the test unless the exit code is this.
    #[track_caller]
    pub(crate) fn expect_code(self, code: i32) -> Self {
        assert_eq!(
            self.code, code,
            "exit code; standard output:\n{}\nstandard error:\n{}",
            self.stdout, self.stderr
        );
        self
    }

    /// Stops the test unless standard error holds this.
    #[track_caller]
    pub(crate) fn expect_words(self, words: &str) -> Self {
        assert!(
            self.stderr.contains(words),
            "no \"{words}\" in:\n{}",
            self.stderr
        );
        self
    }

    pub(crate) fn lines(&self) -> Vec<Value> {
        let lines = self.stdout.lines();
        lines
            .map(|line| serde_json::from_str(line).expect("a line of JSON"))
            .collect()
    }

    /// The outcome of each frame by its file name.
    pub(crate) fn outcomes(&self) -> BTreeMap<String, String> {
        let lines = self.lines();
        let frames = lines.iter().filter(|line| line.get("frame").is_some());
        frames
            .map(|line| {
                let frame = Path::new(line["frame"].as_str().expect("text"));
                let name = frame.file_name().expect("a name").to_string_lossy();
                (
                    name.into_owned(),
                    line["outcome"].as_str().expect("text").to_owned(),
                )
            })
            .collect()
    }

    /// The cause of a frame's failure.
    pub(crate) fn cause(&self, frame: &str) -> String {
        let lines = self.lines();
        let line = lines.iter().find(|line| {
            line["frame"]
                .as_str()
                .is_some_and(|name| name.ends_with(frame))
        });
        line.and_then(|line| line["error"]["cause"].as_str())
            .unwrap_or("none")
            .to_owned()
    }

    pub(crate) fn summary(&self, field: &str) -> u64 {
        let lines = self.lines();
        let summary = &lines.last().expect("a last line")["summary"];
        summary[field]
            .as_u64()
            .unwrap_or_else(|| panic!("no {field} in {summary}"))
    }
}

/// Longer than anything takes, even in a run of the lowest class on a machine that has much else to do.
const LONGEST_WAIT: Duration = Duration::from_secs(600);

/// Waits for something that must come about; how long it took is no part of the test.
#[track_caller]
pub(crate) fn wait_until(mut true_now: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !true_now() {
        assert!(
            begun.elapsed() < LONGEST_WAIT,
            "waited for {LONGEST_WAIT:?}"
        );
        std::thread::sleep(Duration::from_millis(2));
    }
}
