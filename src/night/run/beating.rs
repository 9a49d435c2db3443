//! The beat of a run: raised by a thread of its own, so that work of whatever length does not make it look dead.

use super::queue_file::QueueFile;
use crate::night::queue::{BEAT, Beat, Place, Queue, RunId};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;

/// Raises the beat of a run until it is dropped.
#[derive(Debug)]
pub(super) struct Beating {
    end: Option<Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Beating {
    /// Begins; `declared_dead` is raised when the run was ended by others, `is_gone` when the queue's file was removed.
    pub(super) fn of(
        place: Place,
        run: RunId,
        declared_dead: Arc<AtomicBool>,
        is_gone: Arc<AtomicBool>,
    ) -> Self {
        let (end, ended) = channel();
        let file = QueueFile::of(&place);
        let thread = std::thread::spawn(move || {
            let mut queue = None;
            while ended.recv_timeout(BEAT) == Err(RecvTimeoutError::Timeout) {
                if file.as_ref().is_some_and(QueueFile::is_gone) {
                    is_gone.store(true, Ordering::SeqCst);
                    return;
                }
                if queue.is_none() {
                    queue = Queue::open_existing(&place).ok();
                }
                match queue.as_mut().map(|queue: &mut Queue| queue.beat(run)) {
                    Some(Ok(Beat::DeclaredDead)) => {
                        declared_dead.store(true, Ordering::SeqCst);
                        return;
                    }
                    Some(Ok(Beat::Alive)) => {}
                    // Beats that are missed are made up for; the run itself finds out what is the matter.
                    Some(Err(_)) | None => queue = None,
                }
            }
        });
        Self {
            end: Some(end),
            thread: Some(thread),
        }
    }
}

impl Drop for Beating {
    fn drop(&mut self) {
        drop(self.end.take());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}
