//! The supervisor: as many posts as workers are wanted, each with a thread that waits for its worker.
//!
//! Tasks are handed out one at a time, the next before the last answer is looked at, so that a worker never waits for the
//! supervisor's own work and never more tasks than workers are under way. Failures go first, all that are known, each with its
//! time: whether workers died together is told by that, however long it takes to find the next task. Outcomes are taken in
//! the calling thread.

use super::limits::Limits;
use super::post::{Post, Start};
use super::task::{Answer, Task, TaskError};
use super::{Shift, Workforce};
use crate::base::progress::StopWish;
use std::collections::VecDeque;
use std::ffi::OsString;
use std::num::NonZeroUsize;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How long frames in hand may take after a wish to stop; with the killing of workers it stays under 5 s.
pub const GRACE: Duration = Duration::from_secs(4);

/// How often the supervisor looks whether it is to stop.
const LOOK_UP: Duration = Duration::from_millis(50);

/// How many workers, of which program, under which limits.
#[derive(Clone, Debug)]
pub struct CrewSettings {
    /// Number of worker processes.
    pub workers: NonZeroUsize,
    /// Limits of each.
    pub limits: Limits,
    /// The program to start: one whose `main` hands [`super::WORKER_ARGUMENT`] over to [`super::worker::run`].
    pub program: OsString,
    /// What the program is given before that argument; nothing for this very program.
    pub first_arguments: Vec<OsString>,
}

impl CrewSettings {
    /// One worker a core, default limits, this very program.
    ///
    /// # Errors
    /// When the system does not tell which program this is.
    pub fn of_this_program() -> std::io::Result<Self> {
        Ok(Self {
            workers: std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN),
            limits: Limits::default(),
            program: std::env::current_exe()?.into_os_string(),
            first_arguments: Vec::new(),
        })
    }
}

struct Outcome {
    post: usize,
    key: usize,
    result: Result<Answer, TaskError>,
    /// When the worker was done with it, or was found dead.
    at: Instant,
}

/// Worker processes at their posts. Dropping it ends them.
#[derive(Debug)]
pub struct Crew {
    posts: Vec<Sender<(usize, Task)>>,
    outcomes: Receiver<Outcome>,
    threads: Vec<JoinHandle<()>>,
    drop_all: Arc<AtomicBool>,
}

impl std::fmt::Debug for Outcome {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            formatter,
            "outcome of task {} at post {}",
            self.key, self.post
        )
    }
}

impl Crew {
    /// Starts the workers.
    ///
    /// # Errors
    /// When the first worker cannot be started; later ones that cannot are tried again when they have work.
    pub fn start(settings: &CrewSettings) -> std::io::Result<Self> {
        let start = Start {
            program: settings.program.clone(),
            first_arguments: settings.first_arguments.clone(),
            limits: settings.limits,
        };
        let (sender, outcomes) = channel();
        let drop_all = Arc::new(AtomicBool::new(false));
        let (ready_sender, ready) = channel();
        let mut posts = Vec::new();
        let mut threads = Vec::new();
        for index in 0..settings.workers.get() {
            let (task_sender, tasks) = channel::<(usize, Task)>();
            let (sender, ready_sender) = (sender.clone(), ready_sender.clone());
            let (drop_all, start) = (Arc::clone(&drop_all), start.clone());
            posts.push(task_sender);
            // The system ends a worker with the thread that started it: the post's thread does, and outlives it.
            threads.push(std::thread::spawn(move || {
                let mut post = Post::new(start);
                let _ = ready_sender.send(post.man().map(|_| ()));
                for (key, task) in tasks {
                    let result = post.ask(&task, &drop_all);
                    let outcome = Outcome {
                        post: index,
                        key,
                        result,
                        at: Instant::now(),
                    };
                    if sender.send(outcome).is_err() {
                        break;
                    }
                }
            }));
        }
        drop(ready_sender);
        let crew = Self {
            posts,
            outcomes,
            threads,
            drop_all,
        };
        match ready.recv() {
            Ok(Err(error)) => Err(error),
            _ => Ok(crew),
        }
    }
}

impl Workforce for Crew {
    fn work(&mut self, stop: &StopWish, shift: &mut dyn Shift) {
        let mut in_hand = 0usize;
        let mut idle: Vec<usize> = (0..self.posts.len()).rev().collect();
        // Outcomes that are not looked at yet.
        let mut answers: VecDeque<Outcome> = VecDeque::new();
        // There is no task until something has come of what is in hand.
        let mut is_dry = false;
        let mut dropped_at: Option<Instant> = None;
        let mut next_outcome: Option<Outcome> = None;
        loop {
            while let Some(outcome) = next_outcome
                .take()
                .or_else(|| self.outcomes.try_recv().ok())
            {
                in_hand -= 1;
                idle.push(outcome.post);
                is_dry = false;
                match outcome.result {
                    Ok(_) => answers.push_back(outcome),
                    Err(_) => shift.done(outcome.key, outcome.result, outcome.at),
                }
            }
            if !stop.is_raised()
                && !is_dry
                && let Some(post) = idle.pop()
            {
                match shift.next(post) {
                    Some((key, task)) => {
                        in_hand += 1;
                        // A post's thread lives as long as the crew.
                        let _ = self.posts[post].send((key, task));
                    }
                    None => {
                        idle.push(post);
                        is_dry = true;
                    }
                }
                continue;
            }
            if let Some(answer) = answers.pop_front() {
                shift.done(answer.key, answer.result, answer.at);
                is_dry = false;
                continue;
            }
            if in_hand == 0 {
                break;
            }
            match self.outcomes.recv_timeout(LOOK_UP) {
                Ok(outcome) => next_outcome = Some(outcome),
                Err(RecvTimeoutError::Timeout) => is_dry = false,
                Err(RecvTimeoutError::Disconnected) => break,
            }
            if stop.is_raised() {
                let since = dropped_at.get_or_insert_with(Instant::now);
                if since.elapsed() > GRACE {
                    self.drop_all.store(true, Ordering::SeqCst);
                }
            }
        }
        self.drop_all.store(false, Ordering::SeqCst);
    }
}

impl Drop for Crew {
    fn drop(&mut self) {
        self.posts.clear();
        for thread in self.threads.drain(..) {
            let _ = thread.join();
        }
    }
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use crate::crew::task::Cause;
    use std::collections::BTreeMap;
    use std::path::PathBuf;

    /// Frames of which each is a task, and what became of them.
    #[derive(Default)]
    struct Frames {
        names: Vec<&'static str>,
        handed_out: usize,
        outcomes: BTreeMap<usize, Result<Answer, TaskError>>,
        stop_after: Option<(usize, StopWish)>,
    }

    impl Shift for Frames {
        fn next(&mut self, _: usize) -> Option<(usize, Task)> {
            let frame = PathBuf::from(self.names.get(self.handed_out)?);
            self.handed_out += 1;
            Some((self.handed_out - 1, Task::Facts { frame }))
        }

        fn done(&mut self, key: usize, outcome: Result<Answer, TaskError>, _: Instant) {
            assert!(self.outcomes.insert(key, outcome).is_none(), "once each");
            if let Some((count, stop)) = &self.stop_after
                && self.outcomes.len() == *count
            {
                stop.raise();
            }
        }
    }

    /// What a worker of this test does with a task line: die, hang, babble, or answer that it cannot read the frame.
    const ODD_WORKER: &str = r#"
        while read -r line; do
            case "$line" in
                *hang*) exec sleep 600 ;;
                *segv*) kill -SEGV $$ ;;
                *greedy*) echo "memory allocation of 9999999999 bytes failed" >&2; kill -ABRT $$ ;;
                *leave*) exit 3 ;;
                *killed*) kill -KILL $$ ;;
                *babble*) echo "thread panicked at src"; continue ;;
                *refused*)
                    echo '{"Err":{"cause":"memory","reason":"plain","next_step":"none"}}'
                    read -r line && exit 4 ;;
            esac
            echo '{"Err":{"cause":"unreadable","reason":"plain","next_step":"none"}}'
        done
    "#;

    fn crew_of(workers: usize, task_time: Duration) -> (tempfile::TempDir, Crew) {
        let folder = tempfile::tempdir().expect("a scratch folder");
        let script = folder.path().join("worker");
        std::fs::write(&script, ODD_WORKER).expect("written");
        let settings = CrewSettings {
            workers: NonZeroUsize::new(workers).expect("not 0"),
            limits: Limits {
                task_time,
                ..Limits::default()
            },
            program: "sh".into(),
            first_arguments: vec![script.into_os_string()],
        };
        let crew = Crew::start(&settings).expect("sh starts");
        (folder, crew)
    }

    fn causes(frames: &Frames) -> Vec<Cause> {
        let errors = frames.outcomes.values().map(|outcome| match outcome {
            Ok(answer) => panic!("an answer: {answer:?}"),
            Err(error) => error.cause,
        });
        errors.collect()
    }

    #[test]
    fn a_lost_worker_costs_one_frame_and_is_replaced() {
        let names = vec![
            "a", "segv", "b", "greedy", "leave", "c", "hang", "babble", "killed", "d", "refused",
            "e", "f", "g",
        ];
        for workers in [1, 2, 3] {
            let mut frames = Frames {
                names: names.clone(),
                ..Frames::default()
            };
            let (_folder, mut crew) = crew_of(workers, Duration::from_secs(4));
            crew.work(&StopWish::default(), &mut frames);
            let expected = [
                Cause::Unreadable,
                Cause::WorkerLost,
                Cause::Unreadable,
                Cause::Memory,
                Cause::WorkerLost,
                Cause::Unreadable,
                Cause::Time,
                Cause::Defect,
                Cause::Killed,
                Cause::Unreadable,
                Cause::Memory,
                // By another: who was refused memory is asked for nothing more.
                Cause::Unreadable,
                Cause::Unreadable,
                Cause::Unreadable,
            ];
            assert_eq!(causes(&frames), expected, "{workers} workers");
            let text = |key: usize| match &frames.outcomes[&key] {
                Err(error) => error.reason.clone(),
                Ok(_) => String::new(),
            };
            assert_eq!(text(1), "segv: its worker stopped with signal 11");
            assert_eq!(text(3), "greedy: asked for more than 3 GiB of memory");
            assert_eq!(
                text(4),
                "leave: its worker ended by itself with exit code 3"
            );
            assert_eq!(text(6), "hang: took longer than 4 s");
            assert_eq!(text(10), "refused: asked for more than 3 GiB of memory");
        }
    }

    /// Two tasks that are found slowly and kill their workers.
    #[derive(Default)]
    struct Slow {
        handed_out: usize,
        second_found: Option<Instant>,
        deaths: Vec<Instant>,
    }

    impl Shift for Slow {
        fn next(&mut self, _: usize) -> Option<(usize, Task)> {
            if self.handed_out == 2 {
                assert!(
                    !self.deaths.is_empty(),
                    "known before a third is looked for"
                );
                return None;
            }
            if self.handed_out == 1 {
                // The worker that has the first is dead before this is over.
                std::thread::sleep(Duration::from_secs(2));
                self.second_found = Some(Instant::now());
            }
            self.handed_out += 1;
            let frame = PathBuf::from("killed");
            Some((self.handed_out, Task::Facts { frame }))
        }

        fn done(&mut self, _: usize, _: Result<Answer, TaskError>, at: Instant) {
            self.deaths.push(at);
        }
    }

    #[test]
    fn a_death_is_known_with_its_own_time_before_more_is_asked_for() {
        let mut slow = Slow::default();
        let (_folder, mut crew) = crew_of(2, Duration::from_secs(20));
        crew.work(&StopWish::default(), &mut slow);
        assert_eq!(slow.deaths.len(), 2);
        assert!(Some(slow.deaths[0]) < slow.second_found);
    }

    #[test]
    fn a_wish_to_stop_hands_out_nothing_more() {
        let stop = StopWish::default();
        let mut frames = Frames {
            names: vec!["frame"; 50],
            stop_after: Some((5, stop.clone())),
            ..Frames::default()
        };
        let (_folder, mut crew) = crew_of(2, Duration::from_secs(20));
        crew.work(&stop, &mut frames);
        // With two workers at most one task beside the fifth was in hand.
        assert!((5..=6).contains(&frames.outcomes.len()));
        assert_eq!(frames.outcomes.len(), frames.handed_out);
    }

    #[test]
    fn frames_in_hand_are_dropped_within_five_seconds() {
        let stop = StopWish::default();
        let mut frames = Frames {
            names: vec!["a", "hang", "b", "hang"],
            stop_after: Some((2, stop.clone())),
            ..Frames::default()
        };
        let (_folder, mut crew) = crew_of(2, Duration::from_secs(600));
        let begun = Instant::now();
        crew.work(&stop, &mut frames);
        drop(crew);
        assert!(begun.elapsed() < Duration::from_secs(6));
        assert!(causes(&frames).contains(&Cause::Interrupted));
    }

    #[test]
    fn a_program_that_does_not_exist_is_told_at_once() {
        let settings = CrewSettings {
            workers: NonZeroUsize::MIN,
            limits: Limits::default(),
            program: "/no/such/program".into(),
            first_arguments: Vec::new(),
        };
        assert!(Crew::start(&settings).is_err());
    }
}
