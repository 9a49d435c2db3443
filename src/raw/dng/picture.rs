//! The stored counts of a DNG's sensor picture, before any level or opcode.
//!
//! Uncompressed and lossless JPEG strips and tiles are decoded here; lossy JPEG through a JPEG library. JPEG XL, deflate and
//! floating point go to rawler, which gives only the counts: all else still comes from the tags.

use super::packed;
use super::segments::{Segment, Segments};
use super::tags;
use crate::raw::decoders;
use crate::raw::error::Fault;
use crate::raw::lossless_jpeg::{Known, LosslessJpeg, Steps, TOGETHER, Together};
use crate::raw::source::Source;
use crate::raw::tiff::{ByteOrder, Directory, Tiff};
use std::sync::Arc;

/// Stored counts.
#[derive(Debug)]
pub(super) struct Picture {
    /// Pixels in a row.
    pub(super) width: usize,
    /// Rows.
    pub(super) height: usize,
    /// Values of a pixel: 1 or 3.
    pub(super) channels: usize,
    /// Bits of a stored sample, 8 to 16: the default white level is the largest number they hold.
    pub(super) bits: u32,
    /// `width * height * channels` counts.
    pub(super) counts: Vec<u16>,
    /// What the file's levels are to be multiplied by: 65535 for floating-point samples, which became counts.
    pub(super) level_scale: f32,
    /// Whether the linearisation table has been applied by the decoder already.
    pub(super) is_linearised: bool,
}

/// How the samples of one strip or tile are stored.
#[derive(Clone, Copy, Debug)]
struct Storage {
    compression: u32,
    channels: usize,
    bits: u32,
    order: ByteOrder,
}

/// Decodes the picture of a directory into memory that may hold anything.
pub(super) fn read<S: Source + ?Sized>(
    bytes: &Arc<Vec<u8>>,
    tiff: &Tiff<'_, S>,
    directory: &Directory,
    memory: Vec<u16>,
) -> Result<Picture, Fault> {
    let number = |tag: u16, default: u32| tiff.integer_of(directory, tag).unwrap_or(default);
    let channels = number(tags::SAMPLES_PER_PIXEL, 1) as usize;
    if !matches!(channels, 1 | 3) {
        return Err(Fault::Pattern {
            what: format!("{channels} values a pixel"),
        });
    }
    let all_bits = tiff
        .numbers_of(directory, tags::BITS_PER_SAMPLE, 4)
        .ok_or_else(|| Fault::damaged("the bits of a sample are missing"))?;
    if all_bits.windows(2).any(|pair| pair[0] != pair[1]) {
        return Err(Fault::unsupported("channels of different depths"));
    }
    let bits = number(tags::BITS_PER_SAMPLE, 0);
    let compression = number(tags::COMPRESSION, tags::COMPRESSION_NONE);
    let is_integer = number(tags::SAMPLE_FORMAT, 1) == 1;
    let is_interleaved = number(tags::ROW_INTERLEAVE_FACTOR, 1) != 1
        || number(tags::COLUMN_INTERLEAVE_FACTOR, 1) != 1;
    if number(tags::PLANAR_CONFIGURATION, 1) != 1 && channels > 1 {
        return Err(Fault::unsupported("channels stored one after the other"));
    }
    let blocks = tiff.numbers_of(directory, tags::SUB_TILE_BLOCK_SIZE, 2);
    if blocks.is_some_and(|blocks| blocks.iter().any(|&side| side != 1.0)) {
        return Err(Fault::unsupported("tiles stored block by block"));
    }
    let factors =
        [tags::ROW_INTERLEAVE_FACTOR, tags::COLUMN_INTERLEAVE_FACTOR].map(|tag| number(tag, 1));
    if factors != [1, 1] && (factors != [2, 2] || !is_integer) {
        return Err(Fault::unsupported(format!(
            "rows and columns interleaved by {} and {}",
            factors[0], factors[1]
        )));
    }
    let segments = Segments::read(tiff, directory, bytes.len())?;
    let is_ours = matches!(
        compression,
        tags::COMPRESSION_NONE | tags::COMPRESSION_JPEG | tags::COMPRESSION_LOSSY_JPEG
    );
    if !is_integer || !is_ours || is_interleaved {
        let is_known = compression == tags::COMPRESSION_JPEG_XL
            || tags::COMPRESSION_DEFLATE.contains(&compression)
            || is_ours;
        if !is_known {
            return Err(Fault::unsupported(format!("DNG compression {compression}")));
        }
        drop(memory);
        return from_rawler(bytes, &segments, channels, bits);
    }
    if !(8..=16).contains(&bits) {
        return Err(Fault::unsupported(format!("samples of {bits} bits")));
    }
    let storage = Storage {
        compression,
        channels,
        bits,
        order: tiff.order,
    };
    check_room(&segments, storage)?;
    let mut counts = of_length(segments.width * segments.height * channels, memory);
    let mut decoding = Decoding::default();
    for group in segments.list.chunks(TOGETHER) {
        if compression == tags::COMPRESSION_JPEG
            && lossless_together(
                bytes,
                group,
                &segments,
                channels,
                &mut decoding,
                &mut counts,
            )
        {
            continue;
        }
        let Decoding { values, known, .. } = &mut decoding;
        for segment in group {
            decode(stored(bytes, segment), segment, storage, known, values)?;
            segments.paste(segment, channels, values, &mut counts);
        }
    }
    Ok(Picture {
        width: segments.width,
        height: segments.height,
        channels,
        bits,
        counts,
        level_scale: 1.0,
        is_linearised: false,
    })
}

/// So many values, in this memory where it has room for them. Growing it would copy what means nothing, and ask for more than is
/// needed.
fn of_length(length: usize, mut memory: Vec<u16>) -> Vec<u16> {
    if memory.capacity() < length {
        drop(memory);
        return vec![0; length];
    }
    memory.resize(length, 0);
    memory
}

/// Refuses a picture or a strip or tile of more values than its bytes can hold, before memory is asked for.
fn check_room(segments: &Segments, storage: Storage) -> Result<(), Fault> {
    /// A lossless code takes at least one bit a value, an uncompressed value more. In lossy JPEG a block of 64 values can be
    /// empty but for two codes.
    const LOSSLESS_VALUES_A_BYTE: usize = 8;
    const LOSSY_VALUES_A_BYTE: usize = 256;
    let a_byte = if storage.compression == tags::COMPRESSION_LOSSY_JPEG {
        LOSSY_VALUES_A_BYTE
    } else {
        LOSSLESS_VALUES_A_BYTE
    };
    let mut stored = 0usize;
    for segment in &segments.list {
        stored += segment.length;
        if segment.width * segment.height * storage.channels > segment.length * a_byte {
            return Err(Fault::damaged(
                "a strip or tile states more values than its bytes can hold",
            ));
        }
    }
    if segments.width * segments.height * storage.channels > stored * a_byte {
        return Err(Fault::damaged(
            "it states more pixels than its bytes can hold",
        ));
    }
    Ok(())
}

/// What strips and tiles are decoded with, one group after the other.
#[derive(Default)]
struct Decoding {
    values: Vec<u16>,
    known: Known,
    /// Made when it is first asked for: not every picture is stored so.
    together: Option<Together>,
}

/// A strip's or tile's bytes.
fn stored<'a>(bytes: &'a [u8], segment: &Segment) -> &'a [u8] {
    &bytes[segment.offset..segment.offset + segment.length]
}

/// Decodes a whole group of lossless JPEG streams at once, where they allow it, into the picture. Where not, the plain way is to
/// decode them one by one, and finds what is wrong with them.
fn lossless_together(
    bytes: &[u8],
    group: &[Segment],
    segments: &Segments,
    channels: usize,
    decoding: &mut Decoding,
    picture: &mut [u16],
) -> bool {
    let Decoding {
        values,
        known,
        together,
    } = decoding;
    let Ok(group) = <&[Segment; TOGETHER]>::try_from(group) else {
        return false;
    };
    let streams = group
        .each_ref()
        .map(|segment| LosslessJpeg::new(stored(bytes, segment), known).ok());
    let [Some(first), Some(second), Some(third)] = &streams else {
        return false;
    };
    let [place, ..] = group;
    let values_of = |segment: &Segment| segment.width * segment.height * channels;
    let wanted = values_of(place);
    if !wanted.is_multiple_of(first.row_length())
        || group.iter().any(|segment| values_of(segment) != wanted)
    {
        return false;
    }
    let rows = wanted / first.row_length();
    let streams = [first, second, third];
    let together = together.get_or_insert_default();
    // A stream's rows may be shaped otherwise than the tile's, and tiles may stick out.
    let length = place.width * channels;
    if first.row_length() == length && segments.hold_beside_each_other(group) {
        let steps = Steps {
            stream: length,
            row: segments.width * channels,
        };
        let from = place.top * steps.row + place.left * channels;
        return together.decode(streams, rows, &mut picture[from..], steps);
    }
    values.resize(TOGETHER * wanted, 0);
    let steps = Steps {
        stream: wanted,
        row: first.row_length(),
    };
    let is_done = together.decode(streams, rows, values, steps);
    if is_done {
        for (segment, values) in group.iter().zip(values.chunks_exact(wanted)) {
            segments.paste(segment, channels, values, picture);
        }
    }
    is_done
}

/// Decodes one strip or tile into `memory`.
fn decode(
    stored: &[u8],
    segment: &Segment,
    storage: Storage,
    known: &mut Known,
    memory: &mut Vec<u16>,
) -> Result<(), Fault> {
    let values = segment.width * storage.channels;
    match storage.compression {
        tags::COMPRESSION_NONE => {
            memory.resize(values * segment.height, 0);
            packed::unpack(stored, values, storage.bits, storage.order, memory)
        }
        tags::COMPRESSION_JPEG => lossless(stored, values * segment.height, known, memory),
        _ => lossy(stored, segment, storage.channels, memory),
    }
}

/// A lossless JPEG stream may shape its rows otherwise than the tile does (two components for two columns, two rows in
/// one): only the order of the values counts.
fn lossless(
    stored: &[u8],
    wanted: usize,
    known: &mut Known,
    memory: &mut Vec<u16>,
) -> Result<(), Fault> {
    let stream = LosslessJpeg::new(stored, known)?;
    let rows = wanted.div_ceil(stream.row_length());
    if rows > stream.height {
        return Err(Fault::damaged(
            "a lossless JPEG stream is smaller than its strip or tile",
        ));
    }
    memory.resize(rows * stream.row_length(), 0);
    stream.decode(memory)?;
    memory.truncate(wanted);
    Ok(())
}

/// Baseline JPEG of 8 bits: one component for a mosaic, three for linear RGB (stored as luma and chroma, which the JPEG
/// library turns back into RGB, as the specification has it).
fn lossy(
    stored: &[u8],
    segment: &Segment,
    channels: usize,
    memory: &mut Vec<u16>,
) -> Result<(), Fault> {
    let reader =
        image::ImageReader::with_format(std::io::Cursor::new(stored), image::ImageFormat::Jpeg);
    let picture = reader
        .decode()
        .map_err(|error| Fault::damaged(format!("lossy JPEG: {error}")))?;
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let values = match (channels, picture) {
        (1, image::DynamicImage::ImageLuma8(grey)) => grey.into_raw(),
        (3, image::DynamicImage::ImageRgb8(colour)) => colour.into_raw(),
        _ => {
            return Err(Fault::damaged(
                "lossy JPEG: another number of channels than the picture",
            ));
        }
    };
    if width < segment.width || height < segment.height {
        return Err(Fault::damaged("lossy JPEG: smaller than its strip or tile"));
    }
    memory.clear();
    for row in values.chunks_exact(width * channels).take(segment.height) {
        memory.extend(
            row[..segment.width * channels]
                .iter()
                .map(|value| u16::from(*value)),
        );
    }
    Ok(())
}

fn from_rawler(
    bytes: &Arc<Vec<u8>>,
    segments: &Segments,
    channels: usize,
    bits: u32,
) -> Result<Picture, Fault> {
    let counts = decoders::dng_counts(bytes)?;
    if (counts.width, counts.height, counts.channels) != (segments.width, segments.height, channels)
    {
        return Err(Fault::damaged(
            "its picture decodes to another size than it states",
        ));
    }
    Ok(Picture {
        width: counts.width,
        height: counts.height,
        channels,
        bits: if counts.was_float {
            16
        } else {
            bits.clamp(8, 16)
        },
        counts: counts.values,
        level_scale: if counts.was_float { 65_535.0 } else { 1.0 },
        is_linearised: true,
    })
}
