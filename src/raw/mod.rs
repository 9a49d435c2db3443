//! From a raw file to a [`Frame`]: mosaic, sensor levels, colour filter layout, camera colour, and when and how it was
//! taken. The only room that names the raw decoders.
//!
//! Decoders abort, hang and ask for huge memory on damaged files; this room therefore runs inside a worker process with
//! limits (`crate::crew`), and only there.

pub mod facts;
pub mod frame;
