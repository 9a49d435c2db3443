//! The two doors of the room.

use crate::base::geometry::Rect;
use crate::raw::clipping::settle_white;
use crate::raw::container::{Container, container};
use crate::raw::decoded::Decoded;
use crate::raw::decoders::{self, Kind};
use crate::raw::dng;
use crate::raw::error::{Fault, RawError};
use crate::raw::exif_facts::facts_of;
use crate::raw::facts::Facts;
use crate::raw::frame::{Frame, Mosaic};
use crate::raw::header::{self, Stated};
use crate::raw::library_fields::{JpegFields, NomFields};
use crate::raw::source::FileSource;
use crate::raw::tiff::Tiff;
use crate::raw::tiff_fields::TiffFields;
use std::fs::File;
use std::io::Read as _;
use std::path::Path;
use std::sync::Arc;

/// When and how a frame was taken, without decoding its pixels.
///
/// # Errors
/// When the file cannot be read or is no raw file. What a raw file does not state is left out of the facts, without an
/// error.
pub fn read_facts(path: &Path) -> Result<Facts, RawError> {
    facts(path).map_err(|fault| fault.at(path))
}

/// A whole frame. Meant for a worker process with limits: a damaged file can make a decoder hang or abort.
///
/// # Errors
/// When the file cannot be read, is no raw file, is damaged, or holds what cannot be decoded rightly here.
pub fn read_frame(path: &Path) -> Result<Frame, RawError> {
    Reader::default().read(path, |_| ())
}

/// Reads frames one after the other, each into the memory of one that is through.
#[derive(Debug, Default)]
pub struct Reader {
    /// Counts of a frame that was given back: of no meaning, but the system need not find and clear as much memory again.
    memory: Vec<u16>,
}

impl Reader {
    /// As [`read_frame`]. `also` is given the file's bytes, piece by piece, while a cache holds them: whoever wants to know
    /// something else of them need not read them again.
    ///
    /// # Errors
    /// As [`read_frame`].
    pub fn read(&mut self, path: &Path, also: impl FnMut(&[u8])) -> Result<Frame, RawError> {
        frame(path, also, std::mem::take(&mut self.memory)).map_err(|fault| fault.at(path))
    }

    /// Takes the memory of a frame that is through.
    pub fn take_back(&mut self, mosaic: Mosaic) {
        self.memory = mosaic.counts.into_values();
    }
}

/// What a container that is no raw is called in an error.
fn refuse_others(found: Container) -> Result<(), Fault> {
    let what = match found {
        Container::Jpeg => "a JPEG picture",
        Container::Other(what) => what,
        Container::BigTiff => "a BigTIFF file, which no body writes",
        Container::Unknown => "it begins like no raw format known here",
        _ => return Ok(()),
    };
    Err(Fault::NotRaw { what: what.into() })
}

fn facts(path: &Path) -> Result<Facts, Fault> {
    let source = FileSource::open(path)?;
    let found = container(source.head());
    refuse_others(found)?;
    let from_library = match found {
        Container::Tiff => {
            let tiff = Tiff::walk(&source)?;
            header::check(&tiff)?;
            return Ok(facts_of(&TiffFields(&tiff)));
        }
        Container::Raf => JpegFields::of_raf(&source)
            .map(|fields| facts_of(&fields))
            .or_else(|| NomFields::open(path).map(|fields| facts_of(&fields))),
        Container::Cr3 => NomFields::open(path).map(|fields| facts_of(&fields)),
        _ => None,
    };
    if let Some(facts) = from_library {
        return Ok(facts);
    }
    let bytes = std::fs::read(path).map_err(Fault::Unreadable)?;
    Ok(decoders::facts(&Arc::new(bytes)).unwrap_or_default())
}

/// Bytes of a file that are read at a time: a quarter of a usual second-level cache.
const PIECE: usize = 1 << 18;

/// Reads a whole file.
fn bytes_of(path: &Path, mut also: impl FnMut(&[u8])) -> std::io::Result<Vec<u8>> {
    let mut file = File::open(path)?;
    let length = file.metadata()?.len();
    let mut bytes = Vec::new();
    bytes.try_reserve_exact(usize::try_from(length).unwrap_or(usize::MAX))?;
    loop {
        let before = bytes.len();
        if (&mut file).take(PIECE as u64).read_to_end(&mut bytes)? == 0 {
            return Ok(bytes);
        }
        also(&bytes[before..]);
    }
}

fn frame(path: &Path, also: impl FnMut(&[u8]), memory: Vec<u16>) -> Result<Frame, Fault> {
    drop(FileSource::open(path)?);
    let bytes = bytes_of(path, also).map_err(Fault::Unreadable)?;
    if bytes.is_empty() {
        return Err(Fault::Empty);
    }
    let found = container(&bytes);
    refuse_others(found)?;
    let facts = facts(path)?;
    let bytes = Arc::new(bytes);
    let mut kind = Kind {
        container: found,
        make: &facts.body.make,
        model: &facts.body.model,
        is_compressed: true,
    };
    // Our own reader alone takes the memory; beside what other decoders ask for it would be too much.
    let decoded = if found == Container::Tiff {
        let tiff = Tiff::walk(bytes.as_slice())?;
        if dng::is_dng(&tiff) {
            dng::read(&bytes, &tiff, memory)?
        } else {
            drop(memory);
            kind.is_compressed = header::has_makers_compression(&tiff);
            let (decoded, other_white) = decoders::decode(&bytes, kind)?;
            settle(decoded, other_white, |decoded| {
                header::stated(&tiff, decoded.width, decoded.height)
            })
        }
    } else {
        drop(memory);
        let (decoded, other_white) = decoders::decode(&bytes, kind)?;
        settle(decoded, other_white, |_| Stated::default())
    };
    drop(bytes);
    let (mosaic, colour, notes) = decoded.into_mosaic()?;
    Ok(Frame {
        facts,
        mosaic,
        colour,
        notes,
    })
}

/// What the file states goes before the decoders' tables; then the pixels are asked about the white level.
fn settle(
    mut decoded: Decoded,
    mut other_white: Option<f32>,
    stated: impl Fn(&Decoded) -> Stated,
) -> Decoded {
    let stated = stated(&decoded);
    if let Some(crop) = stated.crop
        && let (Some(left), Some(top)) = (
            crop.left.checked_sub(decoded.active.left),
            crop.top.checked_sub(decoded.active.top),
        )
    {
        decoded.crop = Rect { left, top, ..crop };
    }
    if let Some(white) = stated.white {
        decoded.white = [white; 3];
        other_white = None;
    }
    settle_white(&mut decoded, other_white);
    decoded
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::plane::Plane;

    #[test]
    fn what_is_left_in_memory_does_not_show() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-frames");
        let mut reader = Reader::default();
        for name in ["one-0401.dng", "two-0702.dng"] {
            let path = folder.join(name);
            let fresh = read_frame(&path).expect("a frame");
            let (width, height) = (fresh.mosaic.counts.width(), fresh.mosaic.counts.height());
            // Of a smaller frame, one of the same size, and a larger one.
            for height in [1, height, height + 100] {
                let mut pieces = Vec::new();
                reader.take_back(Mosaic {
                    counts: Plane::filled(width, height, 12_345),
                    ..fresh.mosaic.clone()
                });
                let frame = reader.read(&path, |piece| pieces.extend_from_slice(piece));
                let frame = frame.expect("the same frame");
                assert_eq!(frame.mosaic.counts, fresh.mosaic.counts);
                assert_eq!(pieces, std::fs::read(&path).expect("the file"));
            }
        }
    }
}
