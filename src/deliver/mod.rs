//! Pixels become files that others open: a baseline JPEG, or a TIFF of 16 bits, with profile, EXIF and an XMP packet.
//!
//! Nothing of the original file is copied as bytes: each fact is written anew, so that no preview, maker note or position goes out
//! by accident. EXIF stands first, then XMP, then the profile. Equal input gives equal bytes.

mod baseline;
mod error;
mod exif;
mod fraction;
pub mod jpeg;
pub mod marks;
pub mod picture;
mod segments;
mod tagged;
mod tiff;
mod wish;
mod words;
mod xmp;

pub use error::DeliverError;
pub use jpeg::bare as bare_jpeg;
pub use wish::{
    ChromaSampling, Converted, DEFAULT_PIXELS_PER_INCH, DEFAULT_QUALITY, FULL_CHROMA_FROM, Format,
    Provenance, Wish,
};
