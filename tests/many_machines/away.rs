//! A store that goes away in the middle of a night: the run waits, and goes on when the store answers again.
//!
//! What stands between the run and the store is a door of the test's own: shut, it refuses and cuts every line, as a network
//! does that is gone.

use super::program::{Run, program, put_into_store};
use super::{Database, demo_frames, made, pictures_in};
use houselights::night::queue::{HowEnded, JobState, Place, Queue, Remark};
use std::io::copy;
use std::net::{Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::thread::{sleep, spawn};
use std::time::{Duration, Instant};

/// Pictures that are made before the store goes away.
const MADE_BEFORE: u64 = 2;
/// Longest that each part of the night may take.
const PART: Duration = Duration::from_secs(300);
/// Longer than a run tries by itself before a store counts as away (some seconds), and than one look after it.
const AWAY: Duration = Duration::from_secs(20);

/// A way to a server, that can be shut.
struct Door {
    address: SocketAddr,
    lines: Arc<Mutex<Lines>>,
}

/// Together behind one lock, so that no line is laid while the others are cut.
#[derive(Default)]
struct Lines {
    is_shut: bool,
    laid: Vec<TcpStream>,
}

impl Door {
    fn to(server: SocketAddr) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let door = Self {
            address: listener.local_addr().expect("an address"),
            lines: Arc::default(),
        };
        let lines = Arc::clone(&door.lines);
        // Ends with the test.
        spawn(move || {
            for coming in listener.incoming() {
                let coming = coming.expect("a line");
                let mut lines = lines.lock().expect("alone");
                if lines.is_shut {
                    continue;
                }
                let going = TcpStream::connect(server).expect("the store");
                let (from, to) = (coming.try_clone(), going.try_clone());
                let (from, to) = (from.expect("a line"), to.expect("a line"));
                lines.laid.extend([coming, going]);
                drop(lines);
                let (back_from, back_to) = (to.try_clone(), from.try_clone());
                let (back_from, back_to) = (back_from.expect("a line"), back_to.expect("a line"));
                spawn(move || pass(from, to));
                spawn(move || pass(back_from, back_to));
            }
        });
        door
    }

    fn set_shut(&self, is_shut: bool) {
        let mut lines = self.lines.lock().expect("alone");
        lines.is_shut = is_shut;
        if is_shut {
            for line in lines.laid.drain(..) {
                let _ = line.shutdown(Shutdown::Both);
            }
        }
    }
}

fn pass(mut from: TcpStream, mut to: TcpStream) {
    // A line that was cut is what this test is about.
    let _ = copy(&mut from, &mut to);
    let _ = to.shutdown(Shutdown::Write);
}

fn wait_until(what: &str, mut is_so: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !is_so() {
        assert!(begun.elapsed() < PART, "it takes too long until {what}");
        sleep(Duration::from_millis(20));
    }
}

#[test]
fn a_store_that_goes_away_is_waited_for() {
    let (Some(home), Ok(endpoint)) = (super::store_home("away"), std::env::var("AWS_ENDPOINT"))
    else {
        eprintln!("SKIPPED: HOUSELIGHTS_S3 gives no folder in a bucket");
        return;
    };
    let Some(database) = Database::new("away") else {
        eprintln!("SKIPPED: HOUSELIGHTS_POSTGRES does not give the address of a server");
        return;
    };
    let frames = &demo_frames()[..6];
    put_into_store(frames, &home.join("frames"));
    let server = endpoint.trim_start_matches("http://");
    let door = Door::to(server.parse().expect("a server's address"));
    let address = database.address();
    let out = home.join("pictures");
    let added = program()
        .args(["night", "add", "--show", "demo", "--queue", &address])
        .arg("--to")
        .arg(format!("{},long=512", out.display()))
        .arg(home.join("frames"))
        .status();
    assert!(added.expect("asked").success());
    let mut run = Run::started_with(&address, |command| {
        // No more room than for a frame at a time, whatever there are of workers.
        command.args(["--workers", "2", "--scratch", "0.001"]);
        command.env("AWS_ENDPOINT", format!("http://{}", door.address));
    });
    let mut queue = Queue::open(&Place::Server(address)).expect("opened");
    wait_until("pictures are made", || made(&mut queue) >= MADE_BEFORE);
    door.set_shut(true);
    wait_until("the run waits for the store", || {
        let runs = queue.status().expect("asked").runs;
        let is_of_the_store = |wait: &Remark| matches!(wait, Remark::Away { folder, .. } if folder.starts_with(&home));
        runs.iter()
            .any(|run| run.in_hand == 0 && run.waits.iter().any(is_of_the_store))
    });
    let before = made(&mut queue);
    assert!(before < frames.len() as u64, "shut too late: {before}");
    sleep(AWAY);
    assert_eq!(run.0.try_wait().expect("asked"), None, "it waits");
    assert_eq!(made(&mut queue), before);
    door.set_shut(false);
    wait_until("the run is through", || {
        run.0.try_wait().expect("asked").is_some()
    });
    assert!(run.0.wait().expect("ended").success());
    let status = queue.status().expect("asked");
    assert_eq!(
        status.shows[0].jobs_in(&[JobState::Made]),
        frames.len() as u64
    );
    assert_eq!(pictures_in(&out), frames.len(), "each once in its place");
    assert_eq!(queue.runs().expect("asked")[0].how, Some(HowEnded::Done));
    let told: Vec<Remark> = (queue.remarks().expect("asked").into_iter())
        .map(|dated| dated.remark)
        .collect();
    let away = (told.iter()).filter(|remark| matches!(remark, Remark::Away { .. }));
    assert!((1..=2).contains(&away.count()), "told once: {told:?}");
    assert!(
        told.iter()
            .any(|remark| matches!(remark, Remark::Back { .. })),
        "{told:?}"
    );
}
