//! From a raw file to a [`Frame`]: mosaic, sensor levels, colour filter layout, camera colour, and when and how it was
//! taken. The only room that names the raw decoders.
//!
//! Decoders abort, hang and ask for huge memory on damaged files; this room therefore runs inside a worker process with
//! limits (`crate::crew`), and only there.

#![allow(
    clippy::manual_clamp,
    reason = "max().min() makes the lower bound of NaN, clamp() keeps it"
)]

mod clipping;
mod container;
mod decoded;
mod decoders;
mod dng;
pub mod error;
mod exif_facts;
pub mod facts;
pub mod frame;
mod header;
mod library_fields;
mod lossless_jpeg;
mod names;
pub mod noise;
pub(crate) mod photosites;
mod read;
mod source;
mod tiff;
mod tiff_fields;

pub use error::{Fault, RawError};
pub use facts::Facts;
pub use frame::Frame;
pub use names::is_raw_name;
pub use read::{Reader, read_facts, read_frame};
