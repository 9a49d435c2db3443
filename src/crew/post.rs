//! One worker process as its supervisor sees it: ask, wait within the time limit, replace.

use super::WORKER_ARGUMENT;
use super::end::End;
use super::limits::Limits;
use super::tail::Tail;
use super::task::{Answer, Cause, Task, TaskError};
use std::ffi::OsString;
use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Longest answer taken, in bytes. A frame's reading is some kilobytes; a worker that goes mad must not fill the
/// supervisor's memory.
const LONGEST_ANSWER: u64 = 16 << 20;

/// How often a waiting supervisor looks whether the run is to be dropped.
const LOOK_UP: Duration = Duration::from_millis(50);

/// How long a worker whose answers have ended gets to end by itself before it is killed, so that its own exit status is
/// seen.
const TIME_TO_END: Duration = Duration::from_secs(2);

/// What a worker process is started as.
#[derive(Clone, Debug)]
pub(super) struct Start {
    pub(super) program: OsString,
    pub(super) first_arguments: Vec<OsString>,
    pub(super) limits: Limits,
}

/// A place that always has a worker, or gets one.
#[derive(Debug)]
pub(super) struct Post {
    start: Start,
    worker: Option<Worker>,
}

impl Post {
    pub(super) fn new(start: Start) -> Self {
        Self {
            start,
            worker: None,
        }
    }

    /// Makes sure that a worker is there.
    pub(super) fn man(&mut self) -> std::io::Result<&mut Worker> {
        let worker = match self.worker.take() {
            Some(worker) => worker,
            None => Worker::start(&self.start)?,
        };
        Ok(self.worker.insert(worker))
    }

    /// Has the task done. A worker that is lost over it is not kept; the next task gets a new one.
    pub(super) fn ask(&mut self, task: &Task, drop_all: &AtomicBool) -> Result<Answer, TaskError> {
        let limits = self.start.limits;
        let answer = match self.man() {
            Err(error) => Err(End::NotStarted(error)),
            Ok(worker) => worker.ask(task, limits.task_time, drop_all),
        };
        let end = match answer {
            Ok(line) => match serde_json::from_slice::<Result<Answer, TaskError>>(&line) {
                // One that lived to tell goes too: what it keeps of other frames may be what was missing.
                Ok(Err(error)) if error.cause == Cause::Memory => End::OutOfMemory,
                Ok(outcome) => return outcome,
                Err(_) => End::Gibberish,
            },
            Err(end) => end,
        };
        let end = match (end, self.worker.take()) {
            (End::Ended(..), Some(worker)) => {
                let (status, words) = worker.bury();
                End::Ended(status, words)
            }
            (end, Some(worker)) => {
                worker.kill();
                end
            }
            (end, None) => end,
        };
        Err(end.into_error(task.frame(), &limits))
    }
}

/// What GNU's C library reads when a process starts; others pass over it.
const ALLOCATOR: &str = "GLIBC_TUNABLES";
/// Memory that a frame gave back is kept for the next one, up to 1 GiB. Otherwise large pieces go back to the system each time, and
/// come again page by page, each page cleared: measured, a fifth of the time that decoding takes. What is kept counts in the
/// worker's address space, which is what its limit holds: where a small frame's pieces leave no room for a large one's, that worker
/// stops, and the frame is given to a new one.
const KEPT: &str = "glibc.malloc.mmap_threshold=1073741824:glibc.malloc.trim_threshold=1073741824";

/// A running worker process.
#[derive(Debug)]
pub(super) struct Worker {
    child: Child,
    tasks: ChildStdin,
    answers: Receiver<Vec<u8>>,
    tail: Tail,
}

impl Worker {
    fn start(start: &Start) -> std::io::Result<Self> {
        let mut command = Command::new(&start.program);
        command
            .args(&start.first_arguments)
            .arg(WORKER_ARGUMENT)
            .arg(start.limits.memory_bytes.to_string())
            // Decoders bring a thread pool of their own; a worker works in one thread.
            .env("RAYON_NUM_THREADS", "1")
            .env(
                ALLOCATOR,
                std::env::var(ALLOCATOR).unwrap_or_else(|_| KEPT.to_owned()),
            )
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        // A group of its own: Ctrl-C on the terminal goes to the supervisor alone, which lets the frames in hand finish.
        #[cfg(unix)]
        std::os::unix::process::CommandExt::process_group(&mut command, 0);
        let mut child = command.spawn()?;
        let (Some(tasks), Some(output), Some(errors)) =
            (child.stdin.take(), child.stdout.take(), child.stderr.take())
        else {
            return Err(std::io::Error::other("no pipes to the worker"));
        };
        let (sender, answers) = channel();
        std::thread::spawn(move || {
            let mut output = BufReader::new(output);
            loop {
                let mut line = Vec::new();
                let read = output
                    .by_ref()
                    .take(LONGEST_ANSWER)
                    .read_until(b'\n', &mut line);
                if !matches!(read, Ok(1..)) || line.last() != Some(&b'\n') {
                    break;
                }
                if sender.send(line).is_err() {
                    break;
                }
            }
        });
        Ok(Self {
            child,
            tasks,
            answers,
            tail: Tail::of(errors),
        })
    }

    fn ask(&mut self, task: &Task, time: Duration, drop_all: &AtomicBool) -> Result<Vec<u8>, End> {
        let ended = || End::Ended(None, String::new());
        let mut line = serde_json::to_vec(task).map_err(|_| End::Gibberish)?;
        line.push(b'\n');
        self.tasks.write_all(&line).map_err(|_| ended())?;
        self.tasks.flush().map_err(|_| ended())?;
        let begun = Instant::now();
        loop {
            let Some(left) = time.checked_sub(begun.elapsed()) else {
                return Err(End::TooLong);
            };
            if drop_all.load(Ordering::SeqCst) {
                return Err(End::Dropped);
            }
            match self.answers.recv_timeout(left.min(LOOK_UP)) {
                Ok(line) => return Ok(line),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return Err(ended()),
            }
        }
    }

    /// Ends a worker that has stopped answering, and gives its exit status and last words.
    fn bury(mut self) -> (Option<ExitStatus>, String) {
        drop(self.tasks);
        let begun = Instant::now();
        let status = loop {
            match self.child.try_wait() {
                Ok(Some(status)) => break Some(status),
                Ok(None) if begun.elapsed() < TIME_TO_END => {
                    std::thread::sleep(Duration::from_millis(2));
                }
                _ => {
                    // Killed by us: its status tells nothing of why it stopped answering.
                    let _ = self.child.kill();
                    let _ = self.child.wait();
                    break None;
                }
            }
        };
        (status, self.tail.text())
    }

    fn kill(mut self) {
        // It may have ended by itself meanwhile; either way it is waited for, so that no dead process stays.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Drop for Post {
    fn drop(&mut self) {
        // Closing its tasks ends a worker; it has nothing in hand now.
        if let Some(worker) = self.worker.take() {
            let _ = worker.bury();
        }
    }
}
