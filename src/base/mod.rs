//! The ground everyone stands on: planes of pixels, geometry, units, matrices, row bands, chance,
//! robust statistics, row kernels, logarithms, the writer of files, progress.
//!
//! Nothing here knows about cameras, colour or photographs, and nothing here imports another room. Threads are named in
//! one file only ([`bands`]), writing in one file only ([`files`]).

pub(crate) mod arithmetic;
pub mod bands;
pub mod chance;
pub mod files;
pub mod format;
pub mod geometry;
pub(crate) mod kernel;
pub(crate) mod logarithm;
pub mod matrix;
pub mod plane;
pub mod progress;
pub mod robust;
pub mod short;
pub mod units;
