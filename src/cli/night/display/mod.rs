//! The night while it is worked through: one bar for all of it, a line for each worker, and lines that stay for what a person
//! should know. Piped, it is plain lines at an even pace.
//!
//! Redrawn twice a second and otherwise still: nothing on it blinks or spins.

mod board;
mod layout;

use self::board::Board;
use self::layout::{Layout, columns, cut};
use super::events;
use super::messages;
use crate::cli::output::{Results, printable, say};
use crate::night::queue::{Place, Queue};
use crate::night::run::{Event, Watcher};
use indicatif::{MultiProgress, ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// Redrawings a second.
const REDRAW_HZ: u8 = 2;
/// How often the queue is counted anew: others add to it and work on it too.
const COUNT_ANEW: Duration = Duration::from_secs(2);
/// How often a plain line tells how far the night is.
const PLAIN_LINE: Duration = Duration::from_secs(60);
/// How often a line of JSON does.
const JSON_LINE: Duration = Duration::from_secs(10);
/// The bar's parts: enough that each frame of a large show moves it.
const PARTS: u64 = 100_000;

const WORKER: &str = "{wide_msg}";

/// The display. Told by the run's thread, drawn by its own.
pub(super) struct Display {
    shared: Arc<Shared>,
    drawing: Option<JoinHandle<()>>,
    begun: Instant,
}

struct Shared {
    state: Mutex<State>,
    is_over: AtomicBool,
}

struct State {
    board: Board,
    how: How,
}

/// How it is told.
enum How {
    /// On a terminal.
    Drawn(Drawing),
    /// Lines on standard error.
    Plain { last: Instant },
    /// Lines of JSON on standard output.
    Json { results: Results, last: Instant },
}

struct Drawing {
    bars: MultiProgress,
    night: ProgressBar,
    layout: Option<Layout>,
    workers: Vec<ProgressBar>,
}

impl Drawing {
    fn new() -> Self {
        let bars = MultiProgress::with_draw_target(ProgressDrawTarget::stderr_with_hz(REDRAW_HZ));
        let night = bars.add(ProgressBar::new(PARTS));
        Self {
            bars,
            night,
            layout: None,
            workers: Vec::new(),
        }
    }

    fn draw(&mut self, board: &Board, now: Instant) {
        let (before, after) = board.night(now);
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a share of the parts"
        )]
        let position = (board.counts().share_done() * PARTS as f64) as u64;
        let columns = columns();
        let layout = Layout::of(columns, &before, &after);
        if self.layout != Some(layout)
            && let Ok(style) = ProgressStyle::with_template(layout.template())
        {
            self.night.set_style(style.progress_chars("=> "));
            self.layout = Some(layout);
        }
        self.night.set_prefix(cut(&before, columns));
        self.night.set_message(after);
        self.night.set_position(position);
        let lines = board.workers(now);
        while self.workers.len() < lines.len() {
            let line = self.bars.add(ProgressBar::new(0));
            if let Ok(style) = ProgressStyle::with_template(WORKER) {
                line.set_style(style);
            }
            self.workers.push(line);
        }
        for line in self.workers.drain(lines.len()..) {
            self.bars.remove(&line);
        }
        for (line, words) in self.workers.iter().zip(lines) {
            line.set_message(printable(&words).replace('\n', " "));
        }
    }

    fn clear(&mut self) {
        for line in self.workers.drain(..) {
            line.finish_and_clear();
        }
        self.night.finish_and_clear();
    }
}

impl State {
    /// A line that stays.
    fn say(&mut self, line: &str) {
        match &mut self.how {
            How::Drawn(drawing) => drawing.bars.suspend(|| say(line)),
            How::Plain { .. } => say(line),
            How::Json { .. } => {}
        }
    }

    /// Draws what changes by itself.
    fn refresh(&mut self, now: Instant) {
        match &mut self.how {
            How::Drawn(drawing) => drawing.draw(&self.board, now),
            How::Plain { last } => {
                if now.duration_since(*last) >= PLAIN_LINE {
                    *last = now;
                    let (before, after) = self.board.night(now);
                    say(&format!("{before}; {after}"));
                }
            }
            How::Json { results, last } => {
                if now.duration_since(*last) >= JSON_LINE {
                    *last = now;
                    results.json(&events::progress_line(
                        &self.board.counts(),
                        self.board.rate(now),
                        self.board.seconds_left(now),
                    ));
                }
            }
        }
    }
}

impl Display {
    /// A display of a run on a queue; `json`: lines of JSON on standard output instead.
    pub(super) fn new(queue: &Place, json: bool) -> Self {
        let begun = Instant::now();
        let how = if json {
            How::Json {
                results: Results::default(),
                last: begun,
            }
        } else if std::io::stderr().is_terminal() {
            How::Drawn(Drawing::new())
        } else {
            How::Plain { last: begun }
        };
        let shared = Arc::new(Shared {
            state: Mutex::new(State {
                board: Board::new(begun),
                how,
            }),
            is_over: AtomicBool::new(false),
        });
        let drawing = {
            let (shared, queue) = (Arc::clone(&shared), queue.clone());
            std::thread::Builder::new()
                .name("display".to_owned())
                .spawn(move || keep_drawing(&shared, &queue))
                .ok()
        };
        Self {
            shared,
            drawing,
            begun,
        }
    }

    /// Ends the display: the summary in words, and whether something is missing: results that somebody wanted were lost, or
    /// pictures could not be looked at.
    pub(super) fn end(mut self) -> (String, bool) {
        self.stop();
        let state = self.shared.state.lock();
        let state = state.unwrap_or_else(PoisonError::into_inner);
        let lost = matches!(&state.how, How::Json { results, .. } if results.is_lost());
        let is_missing = lost || state.board.has_unseen;
        (state.board.summary(self.begun.elapsed()), is_missing)
    }

    fn stop(&mut self) {
        self.shared.is_over.store(true, Ordering::SeqCst);
        if let Some(drawing) = self.drawing.take() {
            drawing.thread().unpark();
            let _ = drawing.join();
        }
        let state = self.shared.state.lock();
        if let How::Drawn(drawing) = &mut state.unwrap_or_else(PoisonError::into_inner).how {
            drawing.clear();
        }
    }
}

impl Drop for Display {
    fn drop(&mut self) {
        self.stop();
    }
}

/// Counts the queue and redraws until the run is over.
fn keep_drawing(shared: &Shared, place: &Place) {
    // A queue that cannot be counted now costs the counts and nothing else.
    let mut queue: Option<Queue> = None;
    let mut counted: Option<Instant> = None;
    loop {
        let is_over = shared.is_over.load(Ordering::SeqCst);
        let mut status = None;
        if is_over || counted.is_none_or(|counted| counted.elapsed() >= COUNT_ANEW) {
            counted = Some(Instant::now());
            queue = queue.or_else(|| Queue::look_into(place).ok());
            status = queue.as_mut().and_then(|queue| queue.status().ok());
        }
        let mut state = shared.state.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(status) = status {
            state.board.look(status);
        }
        if is_over {
            return;
        }
        state.refresh(Instant::now());
        drop(state);
        std::thread::park_timeout(Duration::from_secs(1) / u32::from(REDRAW_HZ));
    }
}

impl Watcher for Display {
    fn tell(&mut self, event: &Event) {
        let state = self.shared.state.lock();
        let mut state = state.unwrap_or_else(PoisonError::into_inner);
        state.board.take(event, Instant::now());
        if let How::Json { results, .. } = &mut state.how {
            results.json(&events::line(event));
        } else if let Some(words) = messages::line(event) {
            state.say(&words);
        }
    }
}
