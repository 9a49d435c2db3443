//! The line to the stores: a thread that asks them, so that whoever waits for an answer still hears a wish to stop.

use crate::base::progress::StopWish;
use crate::night::depot::{Depot, DepotError};
use std::fmt;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

/// The steps in which an answer is waited for.
const STEP: Duration = Duration::from_millis(50);
/// How long, after a wish to stop, answers are still waited for, all together: the run ends within five seconds.
const AFTER_STOP: Duration = Duration::from_secs(2);

type Question = Box<dyn FnOnce(&mut Depot) + Send>;

/// The line.
pub(super) struct Line {
    stop: StopWish,
    stopped: Option<Instant>,
    questions: Option<Sender<Question>>,
}

impl fmt::Debug for Line {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "Line(open: {})", self.questions.is_some())
    }
}

impl Line {
    pub(super) fn new(stop: StopWish) -> Self {
        Self {
            stop,
            stopped: None,
            questions: None,
        }
    }

    /// Asks, and waits for the answer; `None` when the run is stopped before it comes.
    pub(super) fn ask<T: Send + 'static>(
        &mut self,
        question: impl FnOnce(&mut Depot) -> Result<T, DepotError> + Send + 'static,
    ) -> Option<Result<T, DepotError>> {
        let (sender, answer) = channel();
        let question: Question = Box::new(move |depot| {
            // Nobody waits for it any more when the run was stopped.
            let _ = sender.send(question(depot));
        });
        let questions = match &self.questions {
            Some(questions) => questions.clone(),
            None => match self.open() {
                Ok(questions) => questions,
                Err(error) => return Some(Err(error)),
            },
        };
        if questions.send(question).is_err() {
            self.questions = None;
            return None;
        }
        loop {
            match answer.recv_timeout(STEP) {
                Ok(answer) => return Some(answer),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => {
                    // The thread is gone; the next question opens another.
                    self.questions = None;
                    return None;
                }
            }
            if self.stop.is_raised() {
                let since = self.stopped.get_or_insert_with(Instant::now);
                if since.elapsed() >= AFTER_STOP {
                    return None;
                }
            }
        }
    }

    fn open(&mut self) -> Result<Sender<Question>, DepotError> {
        let mut depot = Depot::new()?;
        let (sender, questions) = channel::<Question>();
        // It ends with the line, or with the program where a store never answers.
        let started = std::thread::Builder::new().spawn(move || {
            for question in questions {
                question(&mut depot);
            }
        });
        started.map_err(DepotError::NotStarted)?;
        Ok(self.questions.insert(sender).clone())
    }
}
