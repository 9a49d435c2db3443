//! The same with the program itself: two `night run` on one server, one killed with its workers, and the pictures are those
//! that `carry` makes of the same frames. Frames and pictures are on a drive, or in an object store.

use super::{
    Database, demo_frames, ends_well, made, pictures_in, signal, standing,
    stands_still_with_a_frame_in_hand, store_home,
};
use houselights::night::depot::{Depot, is_stored};
use houselights::night::queue::{HowEnded, Place, Queue, Remark};
use std::collections::BTreeMap;
use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// As for the other test; the program also meters, solves and reads the reference.
const NIGHT: Duration = Duration::from_secs(600);
const MADE_BEFORE: u64 = 3;
/// Frames that are put into the store: enough for a kill between the first and the last.
const IN_STORE: usize = 8;

pub(super) fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_houselights"));
    command.stdout(Stdio::null()).stderr(Stdio::null());
    command
}

/// A run and its workers, killed together when it is dropped: they are a group of processes.
pub(super) struct Run(pub(super) Child);

impl Run {
    fn started(address: &str) -> Self {
        Self::started_with(address, |command| {
            command.args(["--workers", "1"]);
        })
    }

    pub(super) fn started_with(address: &str, more: impl FnOnce(&mut Command)) -> Self {
        let mut command = program();
        command.args(["night", "run", "--queue", address, "--readings", "none"]);
        command.args(["--leave-free", "0", "--as-far-as-it-goes"]);
        more(&mut command);
        Self(command.process_group(0).spawn().expect("started"))
    }

    fn group(&self) -> String {
        format!("-{}", self.0.id())
    }

    fn kill(&mut self) {
        signal("-KILL", &self.group());
        self.0.wait().expect("gone");
    }
}

impl Drop for Run {
    fn drop(&mut self) {
        if self.0.try_wait().is_ok_and(|ended| ended.is_none()) {
            self.kill();
        }
    }
}

fn pictures(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).expect("listed");
    let pictures = entries.filter_map(|entry| {
        let path = entry.expect("an entry").path();
        let name = path.file_name()?.to_str()?.to_owned();
        (!name.starts_with('.')).then(|| (name, fs::read(&path).expect("read")))
    });
    pictures.collect()
}

#[test]
fn two_runs_of_the_program_of_which_one_is_killed_make_what_carry_makes() {
    let Some(database) = Database::new("program") else {
        eprintln!("SKIPPED: HOUSELIGHTS_POSTGRES does not give the address of a server");
        return;
    };
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let frames = demo_frames();
    two_runs(&database, &frames, &frames, &scratch.path().join("out"));
}

#[test]
fn the_same_program_with_frames_and_pictures_in_an_object_store() {
    let Some(home) = store_home("program") else {
        eprintln!("SKIPPED: HOUSELIGHTS_S3 gives no folder in a bucket");
        return;
    };
    let Some(database) = Database::new("program_of_store") else {
        eprintln!("SKIPPED: HOUSELIGHTS_POSTGRES does not give the address of a server");
        return;
    };
    let frames = &demo_frames()[..IN_STORE];
    put_into_store(frames, &home.join("frames"));
    let mut depot = Depot::new().expect("a depot");
    // What is no raw is passed over.
    let other = home.join("frames/notes.txt");
    depot.store(&frames[0], &other).expect("stored");
    let out = home.join("pictures");
    two_runs(&database, &[home.join("frames/")], frames, &out);
    one_is_made_again(&database, &out, frames.len());
    the_report_says_what_it_does_not_fetch(&database, frames.len());
    without_its_raw_none_is_made_again(&database, &home, &out);
}

fn report(database: &Database, more: &[&str]) -> String {
    let address = database.address();
    let mut command = program();
    command.args(["night", "report", "--queue", &address]);
    let output = command.args(more).stdout(Stdio::piped()).output();
    let output = output.expect("asked");
    assert!(output.status.success());
    String::from_utf8(output.stdout).expect("text")
}

fn the_report_says_what_it_does_not_fetch(database: &Database, count: usize) {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let page = scratch.path().join("page.html");
    assert!(report(database, &[]).contains("in an object store"));
    report(database, &["--page", page.to_str().expect("text")]);
    let page = fs::read_to_string(&page).expect("read");
    let words = format!("{count} of its {count} frames lie in an object store");
    assert!(page.contains(&words) && !page.contains("<figure>"));
}

/// A picture is gone, and its raw is too: that is told, and a night is not kept waiting for it.
fn without_its_raw_none_is_made_again(database: &Database, home: &Path, out: &Path) {
    let mut queue = Queue::open(&Place::Server(database.address())).expect("opened");
    let row = queue.made_outputs().expect("asked").remove(0);
    assert!(row.frame.starts_with(home));
    for gone in [&row.frame, &out.join(&row.picture)] {
        remove(gone);
    }
    let before = made(&mut queue);
    let mut run = Run::started(&database.address());
    assert!(run.0.wait().expect("ended").success());
    assert_eq!(made(&mut queue), before);
    let remarks = queue.remarks().expect("asked");
    let is_told = |remark: &Remark| *remark == Remark::RawsAway { pictures: 1 };
    assert!(
        remarks.iter().any(|dated| is_told(&dated.remark)),
        "{remarks:?}"
    );
}

/// Removes an object, as somebody with another program does. The server of the tests asks for no signature.
fn remove(address: &Path) {
    let endpoint = std::env::var("AWS_ENDPOINT").expect("a server");
    let server = endpoint.trim_start_matches("http://");
    let key = address.to_str().expect("text").trim_start_matches("s3:/");
    let mut line = TcpStream::connect(server).expect("the store");
    let request = format!("DELETE {key} HTTP/1.1\r\nHost: {server}\r\nConnection: close\r\n\r\n");
    line.write_all(request.as_bytes()).expect("asked");
    let mut answer = String::new();
    line.read_to_string(&mut answer).expect("an answer");
    assert!(answer.starts_with("HTTP/1.1 204"), "{answer}");
}

/// Frames go into a folder of the store.
pub(super) fn put_into_store(frames: &[PathBuf], folder: &Path) {
    let mut depot = Depot::new().expect("a depot");
    for frame in frames {
        let address = folder.join(frame.file_name().expect("a name"));
        depot.store(frame, &address).expect("stored");
    }
}

/// A picture that holds something else than was made is made again by the next run, and the others are left alone.
fn one_is_made_again(database: &Database, out: &Path, count: usize) {
    let mut depot = Depot::new().expect("a depot");
    let before = depot.list(out).expect("listed");
    let (picture, bytes) = (&before[1].address, standing(&before[1].address).1);
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let wrong = scratch.path().join("wrong");
    fs::write(&wrong, b"no picture").expect("written");
    depot.store(&wrong, picture).expect("stored");
    let mut run = Run::started(&database.address());
    assert!(run.0.wait().expect("ended").success());
    assert!(standing(picture).1 == bytes);
    let after = depot.list(out).expect("listed");
    assert_eq!(after.len(), count);
    for (was, is) in before.iter().zip(&after) {
        assert!(was == is || was.address == *picture, "{was:?}, {is:?}");
    }
}

/// Two runs of which one is killed, with frames as they are named; and `carry` with the same frames on a drive.
fn two_runs(database: &Database, named: &[PathBuf], frames: &[PathBuf], out: &Path) {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let plain = scratch.path().join("plain");
    let address = database.address();
    // The reference is one of them, where they are.
    let reference = match named {
        [folder] => folder.join(frames[1].file_name().expect("a name")),
        _ => frames[1].clone(),
    };
    let added = program()
        .args([
            "night", "add", "--queue", &address, "--show", "demo", "--to",
        ])
        .arg(format!("{},long=512", out.display()))
        .arg("--reference")
        .arg(&reference)
        .args(named)
        .status();
    assert!(added.expect("asked").success());
    let begun = Instant::now();
    let in_time = || assert!(begun.elapsed() < NIGHT, "the night takes too long");
    let mut queue = Queue::open(&Place::Server(address.clone())).expect("opened");
    let mut first = Run::started(&address);
    let mut second = Run::started(&address);
    loop {
        if made(&mut queue) >= MADE_BEFORE
            && stands_still_with_a_frame_in_hand(&mut queue, first.0.id(), &first.group())
        {
            break;
        }
        assert_eq!(first.0.try_wait().expect("asked"), None, "it ended early");
        in_time();
        sleep(Duration::from_millis(2));
    }
    let before = made(&mut queue);
    assert!(before < frames.len() as u64, "killed too late: {before}");
    first.kill();
    let killed = Instant::now();
    ends_well(&mut second.0, in_time);
    assert_eq!(made(&mut queue), frames.len() as u64);
    let runs = queue.runs().expect("asked");
    let how = |process: u32| {
        let run = runs.iter().find(|run| run.process == process);
        run.and_then(|run| run.how)
    };
    assert_eq!(how(first.0.id()), Some(HowEnded::Died));
    assert_eq!(how(second.0.id()), Some(HowEnded::Done));
    eprintln!(
        "{} frames, {before} made when one run was killed; through {:.1} s later",
        frames.len(),
        killed.elapsed().as_secs_f64()
    );
    let rows = queue.made_outputs().expect("asked");
    assert_eq!(rows.len(), frames.len(), "each once in the queue");
    assert_eq!(pictures_in(out), frames.len(), "each once in its place");
    let carried = program()
        .arg("carry")
        .arg("--reference")
        .arg(&frames[1])
        .args(frames)
        .args(["--long", "512", "--readings", "none", "--to"])
        .arg(&plain)
        .status();
    assert!(carried.expect("asked").success());
    let plain = pictures(&plain);
    assert_eq!(plain.len(), rows.len());
    for row in &rows {
        let name = row.picture.to_str().expect("a name");
        let (stamp, bytes) = standing(&row.folder.join(name));
        assert_eq!(stamp, row.stamp, "{name}");
        assert_eq!(is_stored(&row.folder), is_stored(out));
        assert!(Some(&bytes) == plain.get(name), "{name} differs");
    }
}
