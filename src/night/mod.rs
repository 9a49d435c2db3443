//! The night: shows wait in a queue, and runs of one or many machines work through it until morning.
//!
//! [`queue`] is what lasts: shows, frames, outputs, runs, kept by a database behind a small seam (`engine`), embedded by
//! default. Everything else may die at any moment and starts again from there.

mod engine;
pub mod queue;
