//! What long work tells whoever watches it, and how it is told to stop.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A watcher of long work. All methods do nothing by default, so that a quiet watcher is `&()`.
pub trait Progress: Sync {
    /// A part of the work begins; `total` counts its frames.
    fn begin(&self, _part: &str, _total: usize) {}
    /// One more frame of the part is through, well or not.
    fn advance(&self) {}
    /// Something a person should read now, without waiting for the end.
    fn say(&self, _line: &str) {}
    /// The part is over.
    fn end(&self) {}
}

impl Progress for () {}

/// A wish to stop, shared between whoever receives it (a signal, a test) and the work that honours it between frames.
#[derive(Clone, Debug, Default)]
pub struct StopWish(Arc<AtomicBool>);

impl StopWish {
    /// The flag itself, for a signal handler to raise.
    #[must_use]
    pub fn flag(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.0)
    }

    /// Ask the work to stop after the frames in hand.
    pub fn raise(&self) {
        self.0.store(true, Ordering::SeqCst);
    }

    /// Whether the work should stop.
    #[must_use]
    pub fn is_raised(&self) -> bool {
        self.0.load(Ordering::SeqCst)
    }
}
