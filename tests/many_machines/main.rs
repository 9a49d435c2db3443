//! Two hosts work through one queue on a real PostgreSQL server, and one is killed in the middle of its work.
//!
//! A host is a process of its own that knows nothing of the other but what the queue tells it. `tests/postgres/run.sh`
//! starts the server and gives its address in HOUSELIGHTS_POSTGRES; without one the test says that it is skipped. Where
//! HOUSELIGHTS_S3 gives a folder in an object store (`tests/store/run.sh`), the same is done with frames and pictures there.

#![allow(
    clippy::expect_used,
    clippy::panic,
    clippy::print_stderr,
    reason = "a test that meets the unexpected should stop there, and one that is skipped should say so"
)]

#[cfg(unix)]
mod away;
#[cfg(unix)]
mod encryption;
mod host;
#[cfg(unix)]
mod program;

use houselights::colour::output_space::OutputSpace;
use houselights::crew::stamp::stamp_of;
use houselights::crew::task::{Delivery, Stamp};
use houselights::deliver::Wish;
use houselights::night::depot::{Depot, is_stored};
use houselights::night::queue::{
    HowEnded, JobState, MadeRow, NewFrame, NewShow, OutputWish, PATIENCE, Place, Queue, Remark,
};
use postgres::{Client, NoTls};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Pictures that are made before a host is killed: early enough that most of the work is left for the other.
const MADE_BEFORE: u64 = 4;
/// Longest that the whole night may take: the frames take seconds, and a dead host is noticed after [`PATIENCE`].
const NIGHT: Duration = Duration::from_secs(600);

/// A database of its own on the server, removed when it is dropped.
struct Database {
    server: String,
    name: String,
}

impl Database {
    fn new(test: &str) -> Option<Self> {
        let server = std::env::var("HOUSELIGHTS_POSTGRES").ok()?;
        let name = format!("houselights_{test}_{}", std::process::id());
        let mut client = Client::connect(&server, NoTls).expect("a server");
        client
            .batch_execute(&format!("CREATE DATABASE {name}"))
            .expect("made");
        Some(Self { server, name })
    }

    fn address(&self) -> String {
        let (before, _) = self.server.rsplit_once('/').expect("an address");
        format!("{before}/{}", self.name)
    }
}

impl Drop for Database {
    fn drop(&mut self) {
        if let Ok(mut client) = Client::connect(&self.server, NoTls) {
            let _ = client.batch_execute(&format!("DROP DATABASE {} WITH (FORCE)", self.name));
        }
    }
}

/// A host, killed when it is dropped.
struct Host(Child);

impl Host {
    fn started(name: &str, address: &str, journals: &Path) -> Self {
        let child = Command::new(std::env::current_exe().expect("this test"))
            .args(["--exact", "host::a_host", "--ignored", "--nocapture"])
            .env(host::QUEUE, address)
            .env(host::NAME, name)
            .env(host::JOURNAL, journals.join(name))
            .spawn();
        Self(child.expect("started"))
    }
}

impl Drop for Host {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A folder of a test's own in the store, where there is one.
fn store_home(test: &str) -> Option<PathBuf> {
    let home = std::env::var_os("HOUSELIGHTS_S3").map(PathBuf::from)?;
    Some(home.join(test))
}

fn demo_frames() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-frames");
    let entries = fs::read_dir(folder).expect("listed");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    let mut frames: Vec<PathBuf> = paths
        .filter(|path| path.extension().is_some_and(|ending| ending == "dng"))
        .collect();
    frames.sort();
    frames
}

fn show(frames: &[PathBuf], folder: &Path) -> NewShow {
    let frames = frames.iter().map(|frame| NewFrame {
        shown: frame.clone(),
        frame: frame.clone(),
        bytes: 0,
        is_first: false,
    });
    NewShow {
        name: "demo".to_owned(),
        asked: None,
        priority: None,
        frames: frames.collect(),
        wishes: vec![OutputWish {
            folder: folder.to_path_buf(),
            mark: "a mark".to_owned(),
            delivery: Delivery {
                long_edge: Some(512),
                space: OutputSpace::Srgb,
                wish: Wish::default(),
            },
            profile: None,
        }],
    }
}

fn made(queue: &mut Queue) -> u64 {
    let status = queue.status().expect("asked");
    status
        .shows
        .iter()
        .map(|show| show.jobs_in(&[JobState::Made]))
        .sum()
}

/// What a host wrote down of what the queue took from it.
fn journal(path: &Path) -> Vec<String> {
    let text = fs::read_to_string(path).unwrap_or_default();
    text.lines().map(ToOwned::to_owned).collect()
}

#[test]
fn of_two_hosts_one_is_killed_and_nothing_is_lost_and_nothing_done_twice() {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    two_hosts("hosts", &demo_frames(), scratch.path());
}

#[test]
fn the_same_with_frames_and_pictures_in_an_object_store() {
    let Some(folder) = store_home("hosts") else {
        eprintln!("SKIPPED: HOUSELIGHTS_S3 gives no folder in a bucket");
        return;
    };
    let mut depot = Depot::new().expect("a depot");
    for frame in demo_frames() {
        let name = frame.file_name().expect("a name");
        let address = folder.join("frames").join(name);
        depot.store(&frame, &address).expect("stored");
    }
    let listed = depot.list(&folder.join("frames")).expect("listed");
    let frames: Vec<PathBuf> = listed.into_iter().map(|object| object.address).collect();
    assert_eq!(frames.len(), demo_frames().len());
    two_hosts("hosts_of_store", &frames, &folder);
}

/// The picture as it stands in its place: its stamp, and its bytes.
fn standing(place: &Path) -> (Stamp, Vec<u8>) {
    if !is_stored(place) {
        let stamp = stamp_of(place).expect("in its place");
        return (stamp, fs::read(place).expect("read"));
    }
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let local = scratch.path().join("picture");
    let mut depot = Depot::new().expect("a depot");
    depot.fetch(place, &local).expect("in its place");
    let stamp = Stamp {
        modified: depot.outline(place).expect("in its place").modified,
        ..stamp_of(&local).expect("fetched")
    };
    (stamp, fs::read(local).expect("read"))
}

/// How many pictures are in a folder.
fn pictures_in(folder: &Path) -> usize {
    if is_stored(folder) {
        let mut depot = Depot::new().expect("a depot");
        return depot.list(folder).expect("listed").len();
    }
    let files = fs::read_dir(folder).expect("listed");
    let names = files.map(|entry| entry.expect("an entry").file_name());
    names
        .filter(|name| !name.as_encoded_bytes().starts_with(b"."))
        .count()
}

/// Waits for a process that must end well.
fn ends_well(process: &mut Child, in_time: impl Fn()) {
    let ended = loop {
        if let Some(ended) = process.try_wait().expect("asked") {
            break ended;
        }
        in_time();
        sleep(Duration::from_millis(50));
    };
    assert!(ended.success(), "{ended}");
}

/// How long what a process has sent may still be on its way to the server and through it.
const ON_ITS_WAY: Duration = Duration::from_millis(200);

/// Sends a signal to a process, or, with a minus before it, to a group of them.
fn signal(name: &str, whom: &str) {
    let sent = Command::new("kill").args([name, "--", whom]).status();
    assert!(sent.expect("asked").success(), "{name} to {whom}");
}

/// Stops a run's process (`whom`: it, or its group) where it has a frame in hand, and lets it go on where it has none. Only of
/// one that stands still can it be said: between a look and a signal, another would put its frame down.
fn stands_still_with_a_frame_in_hand(queue: &mut Queue, process: u32, whom: &str) -> bool {
    let mut has_in_hand = || {
        let status = queue.status().expect("asked");
        (status.runs.iter()).any(|run| run.process == process && run.in_hand > 0)
    };
    if !has_in_hand() {
        return false;
    }
    signal("-STOP", whom);
    sleep(ON_ITS_WAY);
    let stands = has_in_hand();
    if !stands {
        signal("-CONT", whom);
    }
    stands
}

fn two_hosts(test: &str, frames: &[PathBuf], home: &Path) {
    let Some(database) = Database::new(test) else {
        eprintln!("SKIPPED: HOUSELIGHTS_POSTGRES does not give the address of a server");
        return;
    };
    let scratch = tempfile::tempdir().expect("a scratch folder");
    let (out, journals) = (home.join("out"), scratch.path().join("journals"));
    fs::create_dir(&journals).expect("made");
    if !is_stored(&out) {
        fs::create_dir(&out).expect("made");
    }
    let mut queue = Queue::open(&Place::Server(database.address())).expect("opened");
    let wanted = show(frames, &out);
    let added = queue.add(&wanted).expect("added");
    let frames = added.frames as u64;
    let begun = Instant::now();
    let in_time = || assert!(begun.elapsed() < NIGHT, "the night takes too long");
    let mut first = Host::started("first", &database.address(), &journals);
    let mut second = Host::started("second", &database.address(), &journals);
    // The first is killed while it has a frame in hand and others are waiting.
    let process = first.0.id();
    loop {
        let has_made = !journal(&journals.join("first")).is_empty();
        if has_made
            && made(&mut queue) >= MADE_BEFORE
            && stands_still_with_a_frame_in_hand(&mut queue, process, &process.to_string())
        {
            break;
        }
        assert_eq!(first.0.try_wait().expect("asked"), None, "it ended early");
        in_time();
        sleep(Duration::from_millis(2));
    }
    let made_before = made(&mut queue);
    assert!(
        made_before < frames / 2,
        "killed too late to tell anything: {made_before}"
    );
    first.0.kill().expect("killed");
    first.0.wait().expect("gone");
    let killed = Instant::now();
    ends_well(&mut second.0, in_time);
    // Nothing lost.
    assert_eq!(made(&mut queue), frames);
    let reports = queue.frames(added.show).expect("asked");
    assert!(reports.iter().all(|frame| frame.losses == 0));
    let rows = queue.made_outputs().expect("asked");
    assert_eq!(rows.len() as u64, frames);
    for row in &rows {
        let path = row.folder.join(&row.picture);
        assert_eq!(standing(&path).0, row.stamp, "{}", path.display());
    }
    assert_eq!(pictures_in(&out) as u64, frames);
    // Nothing twice: the queue took each frame's pictures from one host, once.
    let (of_first, of_second) = (
        journal(&journals.join("first")),
        journal(&journals.join("second")),
    );
    let all: Vec<&String> = of_first.iter().chain(&of_second).collect();
    let once: BTreeSet<&String> = all.iter().copied().collect();
    assert_eq!(all.len(), once.len());
    // The killed one may have died between being taken at its word and writing that down.
    assert!(all.len() as u64 >= frames - 1, "{} of {frames}", all.len());
    assert!(!of_first.is_empty() && !of_second.is_empty());
    let runs = queue.runs().expect("asked");
    let how = |host: &str| {
        runs.iter()
            .find(|run| run.host == host)
            .and_then(|run| run.how)
    };
    assert_eq!(how("first"), Some(HowEnded::Died));
    assert_eq!(how("second"), Some(HowEnded::Done));
    let remarks = queue.remarks().expect("asked");
    assert!(
        remarks.iter().any(|dated| matches!(&dated.remark, Remark::RunDied { host, jobs: 1, .. } if host == "first")),
        "{remarks:?}"
    );
    eprintln!(
        "{frames} frames, {} by the killed host, {} by the other; through {:.1} s after the kill, of which {} s were patience",
        of_first.len(),
        of_second.len(),
        killed.elapsed().as_secs_f64(),
        PATIENCE.as_secs()
    );
    same_bytes_as_without_a_queue(&rows, &wanted.wishes[0].delivery);
}

/// What one process makes of the same frames with the same numbers.
fn same_bytes_as_without_a_queue(rows: &[MadeRow], delivery: &Delivery) {
    let scratch = tempfile::tempdir().expect("a scratch folder");
    for frame in demo_frames().iter().take(3) {
        let name = Path::new(frame.file_name().expect("a name")).with_extension("jpg");
        let row = rows
            .iter()
            .find(|row| Path::new(&row.picture) == name)
            .expect("its row");
        let output = scratch.path().join(&name);
        let correction = host::correction_of(&host::metered(frame));
        host::make(frame, &correction, delivery, &output);
        assert_eq!(
            fs::read(&output).expect("made"),
            standing(&row.folder.join(&row.picture)).1,
            "{}",
            name.display()
        );
    }
}
