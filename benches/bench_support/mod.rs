//! What the benches share: a frame to measure on, and the clock to measure with.

pub(crate) mod cpu_time;
pub(crate) mod frame;
