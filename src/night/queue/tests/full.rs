//! A full drive at each kind of writing: nothing half done, and everything goes on when there is space again.

use super::super::*;
use super::arena::*;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Size of the drive: the queue of this test and its log, which grows to 1,000 pages of 4 KiB before it begins anew, take half.
const DRIVE: usize = 16 << 20;

/// A small drive of memory, unmounted when it is dropped.
struct Drive(tempfile::TempDir);

impl Drive {
    /// `None` where this user may not mount.
    fn mounted() -> Option<Self> {
        let scratch = tempfile::tempdir().expect("a scratch folder");
        let mounted = Command::new("mount")
            .args(["-t", "tmpfs", "-o"])
            .arg(format!("size={DRIVE}"))
            .arg("none")
            .arg(scratch.path())
            .output();
        match mounted {
            Ok(output) if output.status.success() => Some(Self(scratch)),
            _ => None,
        }
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    /// Takes all the space that is left.
    fn fill(&self) {
        let ballast = vec![0; DRIVE];
        // The system writes what it can and refuses the rest.
        let _ = fs::write(self.path().join("ballast"), ballast);
    }

    fn clear(&self) {
        let _ = fs::remove_file(self.path().join("ballast"));
    }
}

impl Drop for Drive {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.path()).output();
    }
}

/// Does something on a full drive, and again with space if that was refused. Refused means refused whole.
fn tried_full<T>(
    drive: &Drive,
    refused: &mut BTreeSet<&'static str>,
    queue: &mut Queue,
    what: &'static str,
    mut act: impl FnMut(&mut Queue) -> Result<T, QueueError>,
) -> T {
    let before = queue.status().expect("looked");
    drive.fill();
    let done = act(queue);
    let done = match done {
        Ok(done) => done,
        Err(error) => {
            assert!(matches!(error, QueueError::Full(_)), "{what}: {error}");
            assert_eq!(queue.status().expect("looked"), before, "{what}");
            refused.insert(what);
            drive.clear();
            act(queue).expect(what)
        }
    };
    drive.clear();
    done
}

#[test]
fn each_kind_of_writing_is_refused_whole_and_goes_through_later() {
    let Some(drive) = Drive::mounted() else {
        eprintln!("SKIPPED: this user may not mount a small drive");
        return;
    };
    let place = Place::File(drive.path().join("queue.sqlite"));
    drive.fill();
    let error = Queue::open(&place).expect_err("no space to begin");
    assert!(matches!(error, QueueError::Full(_)), "{error}");
    drive.clear();
    let mut queue = Queue::open(&place).expect("opened");
    let mut refused = BTreeSet::new();
    // Several rounds: the log is written from its beginning again and again, and is refused only where it grows.
    for round in 0..6 {
        let name = format!("show {round}");
        let frames: Vec<String> = (0..6).map(|at| format!("/in/{round}-{at}.dng")).collect();
        let frames: Vec<&str> = frames.iter().map(String::as_str).collect();
        let mut full =
            |queue: &mut Queue,
             what,
             act: &mut dyn FnMut(&mut Queue) -> Result<Claimed, QueueError>| {
                tried_full(&drive, &mut refused, queue, what, act)
            };
        full(&mut queue, "add", &mut |queue| {
            queue.add(&show(&name, &frames))?;
            Ok(Claimed::Nothing)
        });
        let mut run = None;
        full(&mut queue, "begin a run", &mut |queue| {
            run = Some(queue.begin_run(&run_of("host"))?);
            Ok(Claimed::Nothing)
        });
        let run = run.expect("begun");
        loop {
            let claimed = full(&mut queue, "claim", &mut |queue| queue.claim(run.id(), &[]));
            let noted = |noted: Result<Noted, QueueError>| {
                assert_eq!(noted?, Noted::Taken);
                Ok(Claimed::Nothing)
            };
            match claimed {
                Claimed::Meter(claim) => {
                    let metered = metered(stamp(&claim.frame.to_string_lossy()));
                    full(&mut queue, "note a metered frame", &mut |queue| {
                        noted(queue.note_metered(&claim, &metered, Some(1.0)))
                    });
                }
                Claimed::Solve(claim) => {
                    let solved = plan(&mut queue, claim.show, 1.0);
                    full(&mut queue, "note a solved show", &mut |queue| {
                        noted(queue.note_solved(&claim, &solved))
                    });
                }
                Claimed::Make(claim) => {
                    full(&mut queue, "note a made frame", &mut |queue| {
                        noted(queue.note_made(&claim, &made(&claim), Some(1.0)))
                    });
                }
                Claimed::Nothing => break,
                other => panic!("{other:?}"),
            }
            full(&mut queue, "beat", &mut |queue| {
                assert_eq!(queue.beat(run.id())?, Beat::Alive);
                Ok(Claimed::Nothing)
            });
        }
        full(&mut queue, "remark", &mut |queue| {
            queue.remark(Some(run.id()), None, &Remark::Paused)?;
            Ok(Claimed::Nothing)
        });
        full(&mut queue, "end a run", &mut |queue| {
            queue.end_run(run.id(), HowEnded::Done)?;
            Ok(Claimed::Nothing)
        });
    }
    assert_eq!(count(&mut queue, JobState::Made), 36);
    assert_eq!(queue.made_outputs().expect("asked").len(), 36);
    assert_eq!(queue.remarks().expect("asked").len(), 6);
    let check = queue
        .engine
        .query("PRAGMA integrity_check", &[])
        .expect("checked");
    assert_eq!(check[0].text(0), Ok("ok"));
    let kinds = [
        "add",
        "beat",
        "begin a run",
        "claim",
        "end a run",
        "note a made frame",
        "note a metered frame",
        "note a solved show",
        "remark",
    ];
    assert_eq!(refused, BTreeSet::from(kinds));
    let frames: Vec<PathBuf> = (queue.frames(ShowId(1)).expect("asked").into_iter())
        .map(|frame| frame.frame)
        .collect();
    assert_eq!(frames.len(), 6);
}
