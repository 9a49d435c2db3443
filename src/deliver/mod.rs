//! Pixels become files that others open: a baseline JPEG with the profile of its space, EXIF and an XMP packet.
//!
//! Nothing of the original file is copied as bytes: each fact is written anew, so that no preview, maker note or position goes out
//! by accident. EXIF stands first, then XMP, then the profile; what the encoder writes of its own before its tables is taken out.
//! Which encoder, and why, is said in `encoder.rs` with its figures. Equal input gives equal bytes.

mod encoder;
mod error;
mod exif;
mod fraction;
pub mod jpeg;
mod segments;
mod wish;
mod words;
mod xmp;

pub use error::DeliverError;
pub use wish::{ChromaSampling, DEFAULT_QUALITY, FULL_CHROMA_FROM, Provenance, Wish};
