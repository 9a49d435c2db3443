//! Writes a simulated exposure as Digital Negative (DNG specification 1.6.0.0; tags of TIFF 6.0, TIFF/EP and EXIF 2.32).
//!
//! What varies among real files varies here by body and frame: byte order, strips of 16 bit or packed 10, 12 or 14 bit,
//! tiles of lossless JPEG, the mosaic in the first directory or behind a small preview, masked photosites around the
//! active area, black levels per photosite of the pattern, orientation.

use crate::body::Body;
use crate::calibration::ColourProfile;
use crate::colorimetry::Matrix;
use crate::hue_map::{HUES, SATURATIONS};
use crate::lossless_jpeg;
use crate::settings::{Exposure, Moment};
use crate::tiff::{ByteOrder, Directory, Value, Writer};

/// How the counts are stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Storage {
    /// One strip of 16-bit counts.
    Uncompressed,
    /// Strips of counts packed in as many bits as the sensor has, most significant bit first.
    Packed,
    /// Tiles of lossless JPEG.
    LosslessJpeg,
}

/// A finished exposure before it is written.
#[derive(Clone, Debug)]
pub struct Exposed {
    /// Counts of the whole sensor, masked border included, row by row as stored.
    pub counts: Vec<u16>,
    /// Photosites in a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Left, top, width and height of the active area.
    pub active: [usize; 4],
    /// Left, top (within the active area), width and height of the picture.
    pub crop: [usize; 4],
    /// EXIF orientation: 1, 3, 6 or 8.
    pub orientation: u16,
    /// When.
    pub moment: Moment,
    /// How.
    pub exposure: Exposure,
    /// Focal length in mm.
    pub focal_length: u32,
    /// What the body took for neutral: camera RGB of grey, green 1.
    pub as_shot_neutral: [f64; 3],
    /// A small RGB picture, 8 bit: width, height, samples. Written before the mosaic when present.
    pub preview: Option<(usize, usize, Vec<u8>)>,
}

/// Side of a lossless JPEG tile; a multiple of 16 (DNG specification, "TileWidth").
const TILE: usize = 256;
/// Rows of a packed strip.
const STRIP_ROWS: usize = 64;
/// Compression tag: none, and JPEG.
const NO_COMPRESSION: u16 = 1;
const JPEG_COMPRESSION: u16 = 7;
/// PhotometricInterpretation of a colour filter array (TIFF/EP).
const COLOUR_FILTER_ARRAY: u16 = 32803;
/// LightSource values of EXIF: standard light A, D65.
const LIGHT_A: u16 = 17;
const LIGHT_D65: u16 = 21;
/// LightSource value of EXIF: other. What it is stands in IlluminantData.
const LIGHT_OTHER: u16 = 255;

/// The file's bytes.
#[must_use]
pub fn write(exposed: &Exposed, body: &Body, storage: Storage, order: ByteOrder) -> Vec<u8> {
    let mut writer = Writer::new(order);
    let exif = writer.directory(exif_fields(exposed, body));
    let mut mosaic = mosaic_fields(exposed, body);
    mosaic.extend(stored_counts(
        &mut writer,
        exposed,
        body.bits,
        storage,
        order,
    ));
    let mut first = profile_fields(exposed, body, exif, order);
    match &exposed.preview {
        Some((width, height, samples)) => {
            let offset = writer.append(samples);
            first.extend(preview_fields(*width, *height, offset, samples.len()));
            let behind = writer.directory(mosaic);
            first.push((330, Value::Longs(vec![behind])));
        }
        None => first.extend(mosaic),
    }
    let first = writer.directory(first);
    writer.finish(first)
}

fn short(value: u16) -> Value {
    Value::Shorts(vec![value])
}

fn long(value: usize) -> Value {
    Value::Longs(vec![value as u32])
}

fn text(value: &str) -> Value {
    Value::Text(value.to_owned())
}

/// Matrix elements to 1/10000, as the specification advises.
fn matrix(values: &Matrix) -> Value {
    let element = |value: &f64| ((value * 10_000.0).round() as i32, 10_000);
    Value::SignedRationals(values.iter().flatten().map(element).collect())
}

fn preview_fields(width: usize, height: usize, offset: u32, length: usize) -> Directory {
    vec![
        (254, long(1)),
        (256, long(width)),
        (257, long(height)),
        (258, Value::Shorts(vec![8; 3])),
        (259, short(NO_COMPRESSION)),
        (262, short(2)),
        (273, Value::Longs(vec![offset])),
        (277, short(3)),
        (278, long(height)),
        (279, long(length)),
        (284, short(1)),
    ]
}

/// Who, when, and how the body sees colour: these stand in the first directory whatever else it holds.
fn profile_fields(exposed: &Exposed, body: &Body, exif: u32, order: ByteOrder) -> Directory {
    let ColourProfile {
        under_a,
        under_d65,
        under_led,
    } = &body.colour;
    let neutral = exposed
        .as_shot_neutral
        .map(|value| ((value * 1e6).round() as u32, 1_000_000));
    vec![
        (271, text(&body.make)),
        (272, text(&body.model)),
        (274, short(exposed.orientation)),
        (305, text("stage-simulator")),
        (306, text(&exposed.moment.exif())),
        (33432, text("CC0 1.0 Universal, an invented show")),
        (34665, Value::Longs(vec![exif])),
        (50706, Value::Bytes(vec![1, 6, 0, 0])),
        (50707, Value::Bytes(vec![1, 2, 0, 0])),
        (50708, text(&format!("{} {}", body.make, body.model))),
        (50721, matrix(&under_a.colour_matrix)),
        (50722, matrix(&under_d65.colour_matrix)),
        (50728, Value::Rationals(neutral.to_vec())),
        (50735, text(&body.serial)),
        (50778, short(LIGHT_A)),
        (50779, short(LIGHT_D65)),
        (
            50937,
            Value::Longs(vec![HUES as u32, SATURATIONS as u32, 1]),
        ),
        (50938, Value::Floats(under_a.hue_map.clone())),
        (50939, Value::Floats(under_d65.hue_map.clone())),
        (50964, matrix(&under_a.forward_matrix)),
        (50965, matrix(&under_d65.forward_matrix)),
        (52529, short(LIGHT_OTHER)),
        (52531, matrix(&under_led.colour_matrix)),
        (52532, matrix(&under_led.forward_matrix)),
        (52535, light_by_chromaticity(under_led.white_xy, order)),
        (52537, Value::Floats(under_led.hue_map.clone())),
    ]
}

/// IlluminantData: type 0, then x and y as rationals.
fn light_by_chromaticity(xy: [f64; 2], order: ByteOrder) -> Value {
    const UNIT: f64 = 1e6;
    let mut bytes = order.u16(0).to_vec();
    for value in xy {
        bytes.extend(order.u32((value * UNIT).round() as u32));
        bytes.extend(order.u32(UNIT as u32));
    }
    Value::Undefined(bytes)
}

fn mosaic_fields(exposed: &Exposed, body: &Body) -> Directory {
    let [left, top, width, height] = exposed.active.map(|value| value as u32);
    let (right, bottom) = (left + width, top + height);
    let [crop_left, crop_top, crop_width, crop_height] = exposed.crop.map(|value| value as u32);
    let pattern: Vec<u8> = body.pattern.iter().flatten().copied().collect();
    let mut fields = vec![
        (254, long(0)),
        (256, long(exposed.width)),
        (257, long(exposed.height)),
        (262, short(COLOUR_FILTER_ARRAY)),
        (277, short(1)),
        (284, short(1)),
        (33421, Value::Shorts(vec![2, 2])),
        (33422, Value::Bytes(pattern)),
        (50710, Value::Bytes(vec![0, 1, 2])),
        (50711, short(1)),
        (50713, Value::Shorts(vec![2, 2])),
        (
            50714,
            Value::Shorts(body.black.iter().flatten().copied().collect()),
        ),
        (50717, Value::Longs(vec![u32::from(body.white)])),
        (50719, Value::Longs(vec![crop_left, crop_top])),
        (50720, Value::Longs(vec![crop_width, crop_height])),
        (50829, Value::Longs(vec![top, left, bottom, right])),
    ];
    if left > 0 {
        fields.push((50830, Value::Longs(vec![top, 0, bottom, left])));
    }
    fields
}

/// Writes the counts; the fields that say where and how.
fn stored_counts(
    writer: &mut Writer,
    exposed: &Exposed,
    bits: u8,
    storage: Storage,
    order: ByteOrder,
) -> Directory {
    let (width, height) = (exposed.width, exposed.height);
    let (compression, stored_bits) = match storage {
        Storage::Uncompressed => (NO_COMPRESSION, 16),
        Storage::Packed => (NO_COMPRESSION, bits),
        Storage::LosslessJpeg => (JPEG_COMPRESSION, 16),
    };
    let pieces: Vec<Vec<u8>> = match storage {
        Storage::Uncompressed => vec![
            exposed
                .counts
                .iter()
                .flat_map(|&count| order.u16(count))
                .collect(),
        ],
        Storage::Packed => exposed
            .counts
            .chunks(width * STRIP_ROWS)
            .map(|strip| {
                strip
                    .chunks(width)
                    .flat_map(|row| packed(row, bits))
                    .collect()
            })
            .collect(),
        Storage::LosslessJpeg => tiles(exposed, bits),
    };
    let lengths = Value::Longs(pieces.iter().map(|piece| piece.len() as u32).collect());
    let offsets = Value::Longs(pieces.iter().map(|piece| writer.append(piece)).collect());
    let mut fields = vec![
        (258, short(u16::from(stored_bits))),
        (259, short(compression)),
    ];
    match storage {
        Storage::LosslessJpeg => fields.extend([
            (322, long(TILE)),
            (323, long(TILE)),
            (324, offsets),
            (325, lengths),
        ]),
        Storage::Packed => fields.extend([(273, offsets), (278, long(STRIP_ROWS)), (279, lengths)]),
        Storage::Uncompressed => {
            fields.extend([(273, offsets), (278, long(height)), (279, lengths)])
        }
    }
    fields
}

/// Tiles row by row; beyond the edge the last two columns and rows go on, which keeps colours in phase and costs
/// almost nothing.
fn tiles(exposed: &Exposed, bits: u8) -> Vec<Vec<u8>> {
    let inside = |at: usize, size: usize| if at < size { at } else { size - 2 + at % 2 };
    let mut tiles = Vec::new();
    for top in (0..exposed.height).step_by(TILE) {
        for left in (0..exposed.width).step_by(TILE) {
            let mut tile = Vec::with_capacity(TILE * TILE);
            for y in top..top + TILE {
                let row = inside(y, exposed.height) * exposed.width;
                tile.extend(
                    (left..left + TILE).map(|x| exposed.counts[row + inside(x, exposed.width)]),
                );
            }
            tiles.push(lossless_jpeg::encode(&tile, TILE, TILE, bits));
        }
    }
    tiles
}

/// One row in `bits` bits a count, most significant first, the row ending on a whole byte (TIFF 6.0, FillOrder 1).
fn packed(row: &[u16], bits: u8) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(row.len() * usize::from(bits) / 8 + 1);
    let (mut pending, mut count) = (0u32, 0u32);
    for &value in row {
        pending = (pending << bits) | u32::from(value);
        count += u32::from(bits);
        while count >= 8 {
            count -= 8;
            bytes.push((pending >> count) as u8);
        }
    }
    if count > 0 {
        bytes.push((pending << (8 - count)) as u8);
    }
    bytes
}

fn exif_fields(exposed: &Exposed, body: &Body) -> Directory {
    let (moment, exposure) = (&exposed.moment, &exposed.exposure);
    let lens = &body.lens;
    let zone = text(&moment.zone());
    let millimetres = |value: u32| (value, 1);
    vec![
        (33434, Value::Rationals(vec![exposure.time])),
        (
            33437,
            Value::Rationals(vec![(exposure.f_number_tenths, 10)]),
        ),
        (34850, short(1)),
        (34855, short(exposure.iso.min(65_535) as u16)),
        (34864, short(2)),
        (34866, Value::Longs(vec![exposure.iso])),
        (36864, Value::Undefined(b"0232".to_vec())),
        (36867, text(&moment.exif())),
        (36868, text(&moment.exif())),
        (36880, zone.clone()),
        (36881, zone.clone()),
        (36882, zone),
        (37383, short(1)),
        (37385, short(0)),
        (37386, Value::Rationals(vec![(exposed.focal_length, 1)])),
        (37520, text(&moment.sub_seconds())),
        (37521, text(&moment.sub_seconds())),
        (37522, text(&moment.sub_seconds())),
        (41986, short(1)),
        (41987, short(0)),
        (42033, text(&body.serial)),
        (
            42034,
            Value::Rationals(vec![
                millimetres(lens.shortest),
                millimetres(lens.longest),
                (lens.widest_tenths, 10),
                (lens.widest_tenths, 10),
            ]),
        ),
        (42035, text(&lens.make)),
        (42036, text(&lens.model)),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packing_is_most_significant_bit_first() {
        assert_eq!(packed(&[0xABC, 0xDEF], 12), [0xAB, 0xCD, 0xEF]);
        assert_eq!(packed(&[0x3FF, 0], 10), [0xFF, 0xC0, 0x00]);
        assert_eq!(packed(&[0x2000], 14), [0x80, 0x00]);
    }
}
