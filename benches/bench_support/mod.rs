//! What the benches share: a frame to measure on, also as a file, and the clock to measure with.

pub(crate) mod cpu_time;
pub(crate) mod file;
pub(crate) mod frame;
