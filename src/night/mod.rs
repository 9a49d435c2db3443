//! The night: shows wait in a queue, and runs of one or many machines work through it until morning.
//!
//! [`queue`] is what lasts: shows, frames, outputs, runs, kept by a database behind a small seam (`engine`), embedded by
//! default. Everything else may die at any moment and starts again from there. [`time_left`] says how long the rest takes;
//! [`report`] is what the morning is told, with [`exposure`] notes for the next night.

pub mod depot;
mod engine;
pub mod exposure;
pub mod outlook;
pub mod queue;
pub mod report;
pub mod run;
pub mod time_left;
