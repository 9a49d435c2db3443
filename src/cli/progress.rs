//! Frames done, rate and time left, drawn on standard error where that is a terminal. Piped, nothing is drawn.

use super::output::say;
use crate::base::progress::Progress;
use indicatif::{ProgressBar, ProgressStyle};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

/// Without colours, so that `NO_COLOR` needs no answer.
const TEMPLATE: &str = "{msg} {pos} of {len} frames [{wide_bar}] {per_sec}, {eta} left";

/// How often the time left is drawn anew while a frame is under way.
const REDRAW: Duration = Duration::from_millis(500);

/// A bar for the part of the work that is under way.
#[derive(Debug, Default)]
pub(super) struct Bar(Mutex<Option<ProgressBar>>);

impl Bar {
    fn with(&self, act: impl FnOnce(&ProgressBar)) {
        if let Some(bar) = &*self.0.lock().unwrap_or_else(PoisonError::into_inner) {
            act(bar);
        }
    }
}

impl Progress for Bar {
    fn begin(&self, part: &str, total: usize) {
        let bar = ProgressBar::new(total as u64).with_message(part.to_owned());
        if let Ok(style) = ProgressStyle::with_template(TEMPLATE) {
            bar.set_style(style.progress_chars("=> "));
        }
        if !bar.is_hidden() {
            bar.enable_steady_tick(REDRAW);
        }
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Some(bar);
    }

    fn advance(&self) {
        self.with(|bar| bar.inc(1));
    }

    fn say(&self, line: &str) {
        let bar = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        match &*bar {
            Some(bar) => bar.suspend(|| say(line)),
            None => say(line),
        }
    }

    fn end(&self) {
        let bar = self.0.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some(bar) = bar {
            bar.finish_and_clear();
        }
    }
}
