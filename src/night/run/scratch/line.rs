//! The line to the stores: a thread that asks them, so that whoever waits for an answer still hears a wish to stop.

use crate::base::progress::StopWish;
use crate::night::depot::{Depot, DepotError};
use std::fmt;
use std::rc::Rc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

/// The steps in which an answer is waited for.
const STEP: Duration = Duration::from_millis(50);
/// How long, after a wish to stop, answers are still waited for, all together: the run ends within five seconds.
const AFTER_STOP: Duration = Duration::from_secs(2);

/// What opens a depot for a line.
pub(super) type Opens = Rc<dyn Fn() -> Result<Depot, DepotError>>;

/// Where an answer comes in.
pub(super) type Answer<T> = Receiver<Result<T, DepotError>>;

type Question = Box<dyn FnOnce(&mut Depot) + Send>;

/// The line.
pub(super) struct Line {
    stop: StopWish,
    opens: Opens,
    stopped: Option<Instant>,
    questions: Option<Sender<Question>>,
}

impl fmt::Debug for Line {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "Line(open: {})", self.questions.is_some())
    }
}

impl Line {
    pub(super) fn new(stop: StopWish, opens: Opens) -> Self {
        Self {
            stop,
            opens,
            stopped: None,
            questions: None,
        }
    }

    /// Asks, and waits for the answer; `None` when the run is stopped before it comes.
    pub(super) fn ask<T: Send + 'static>(
        &mut self,
        question: impl FnOnce(&mut Depot) -> Result<T, DepotError> + Send + 'static,
    ) -> Option<Result<T, DepotError>> {
        let answer = match self.send(question) {
            Ok(answer) => answer,
            Err(error) => return Some(Err(error)),
        };
        loop {
            match answer.recv_timeout(STEP) {
                Ok(answer) => return Some(answer),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return Some(Err(self.ended())),
            }
            if self.stop.is_raised() {
                let since = self.stopped.get_or_insert_with(Instant::now);
                if since.elapsed() >= AFTER_STOP {
                    return None;
                }
            }
        }
    }

    /// Asks, for an answer that may come while other things are done.
    pub(super) fn send<T: Send + 'static>(
        &mut self,
        question: impl FnOnce(&mut Depot) -> Result<T, DepotError> + Send + 'static,
    ) -> Result<Answer<T>, DepotError> {
        let (sender, answer) = channel();
        let question: Question = Box::new(move |depot| {
            // Nobody waits for it any more when the run was stopped.
            let _ = sender.send(question(depot));
        });
        let questions = match &self.questions {
            Some(questions) => questions.clone(),
            None => self.open()?,
        };
        match questions.send(question) {
            Ok(()) => Ok(answer),
            Err(_) => Err(self.ended()),
        }
    }

    /// The thread is gone; the next question opens another.
    pub(super) fn ended(&mut self) -> DepotError {
        self.questions = None;
        DepotError::AskerEnded
    }

    fn open(&mut self) -> Result<Sender<Question>, DepotError> {
        let mut depot = (self.opens)()?;
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    #[expect(clippy::panic, reason = "what it is about")]
    fn a_thread_that_ends_over_a_question_is_an_error_and_replaced() {
        let mut line = Line::new(StopWish::default(), Rc::new(Depot::new));
        let answer = line.ask(|_| -> Result<(), DepotError> { panic!("as the test wants it") });
        assert!(matches!(answer, Some(Err(DepotError::AskerEnded))));
        assert!(matches!(line.ask(|_| Ok(7)), Some(Ok(7))));
    }
}
