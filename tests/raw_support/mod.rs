//! Hand-made DNG files: a small TIFF writer and a lossless JPEG encoder, written from the standards and apart from the
//! reader under test.

#![allow(
    dead_code,
    unreachable_pub,
    reason = "each test file uses its own part of the support"
)]

pub mod lossless;
pub mod opcode;
pub mod twice;

/// The order of bytes in numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// `II`.
    Little,
    /// `MM`.
    Big,
}

impl Order {
    pub fn u16(self, value: u16) -> [u8; 2] {
        match self {
            Self::Little => value.to_le_bytes(),
            Self::Big => value.to_be_bytes(),
        }
    }

    pub fn u32(self, value: u32) -> [u8; 4] {
        match self {
            Self::Little => value.to_le_bytes(),
            Self::Big => value.to_be_bytes(),
        }
    }
}

/// Values of a tag, by their TIFF 6.0 type.
#[derive(Clone, Debug)]
pub enum Value {
    Byte(Vec<u8>),
    Ascii(&'static str),
    Short(Vec<u16>),
    Long(Vec<u32>),
    Rational(Vec<(u32, u32)>),
    SRational(Vec<(i32, i32)>),
    Undefined(Vec<u8>),
}

impl Value {
    fn encoded(&self, order: Order) -> (u16, u32, Vec<u8>) {
        let count = |length: usize| u32::try_from(length).expect("few values");
        match self {
            Self::Byte(values) => (1, count(values.len()), values.clone()),
            Self::Ascii(text) => {
                let mut bytes = text.as_bytes().to_vec();
                bytes.push(0);
                (2, count(bytes.len()), bytes)
            }
            Self::Short(values) => (
                3,
                count(values.len()),
                values.iter().flat_map(|value| order.u16(*value)).collect(),
            ),
            Self::Long(values) => (
                4,
                count(values.len()),
                values.iter().flat_map(|value| order.u32(*value)).collect(),
            ),
            Self::Rational(values) => (
                5,
                count(values.len()),
                values
                    .iter()
                    .flat_map(|(n, d)| [order.u32(*n), order.u32(*d)].concat())
                    .collect(),
            ),
            Self::SRational(values) => (
                10,
                count(values.len()),
                values
                    .iter()
                    .flat_map(|(n, d)| {
                        [order.u32(n.cast_unsigned()), order.u32(d.cast_unsigned())].concat()
                    })
                    .collect(),
            ),
            Self::Undefined(bytes) => (7, count(bytes.len()), bytes.clone()),
        }
    }
}

/// Tags of a directory.
pub type Fields = Vec<(u16, Value)>;

/// A TIFF file in the making: data and directories one after the other, the first directory last.
pub struct Writer {
    pub order: Order,
    pub bytes: Vec<u8>,
}

impl Writer {
    pub fn new(order: Order) -> Self {
        let mut bytes = match order {
            Order::Little => b"II".to_vec(),
            Order::Big => b"MM".to_vec(),
        };
        bytes.extend(order.u16(42));
        bytes.extend(order.u32(0));
        Self { order, bytes }
    }

    /// Appends data; its offset.
    pub fn data(&mut self, data: &[u8]) -> u32 {
        if !self.bytes.len().is_multiple_of(2) {
            self.bytes.push(0);
        }
        let offset = u32::try_from(self.bytes.len()).expect("a small file");
        self.bytes.extend_from_slice(data);
        offset
    }

    /// Appends a directory; its offset.
    pub fn directory(&mut self, mut fields: Fields) -> u32 {
        fields.sort_by_key(|(tag, _)| *tag);
        let order = self.order;
        let mut entries = Vec::new();
        for (tag, value) in &fields {
            let (kind, count, data) = value.encoded(order);
            entries.extend(order.u16(*tag));
            entries.extend(order.u16(kind));
            entries.extend(order.u32(count));
            if data.len() <= 4 {
                let mut inline = data.clone();
                inline.resize(4, 0);
                entries.extend(inline);
            } else {
                let offset = self.data(&data);
                entries.extend(order.u32(offset));
            }
        }
        let mut directory = order
            .u16(u16::try_from(fields.len()).expect("few fields"))
            .to_vec();
        directory.extend(entries);
        directory.extend(order.u32(0));
        self.data(&directory)
    }

    /// The file, with this directory as its first.
    pub fn finish(mut self, fields: Fields) -> Vec<u8> {
        let first = self.directory(fields);
        self.bytes[4..8].copy_from_slice(&self.order.u32(first));
        self.bytes
    }
}

/// How the counts are stored.
#[derive(Clone, Copy, Debug)]
pub enum Storage {
    /// Uncompressed, in this many bits.
    Plain,
    /// Lossless JPEG.
    Lossless(lossless::Options),
    /// Lossy JPEG of 8 bits, at the best quality.
    Lossy,
    /// Floating point of 32 bits: counts divided by 65535.
    Float,
}

/// How the picture is cut.
#[derive(Clone, Copy, Debug)]
pub enum Cut {
    /// Strips of so many rows.
    Strips(usize),
    /// Tiles of this width and height.
    Tiles(usize, usize),
}

/// A picture to be written as DNG.
#[derive(Clone, Debug)]
pub struct Dng {
    pub order: Order,
    pub width: usize,
    pub height: usize,
    pub channels: usize,
    pub bits: u32,
    pub counts: Vec<u16>,
    pub storage: Storage,
    pub cut: Cut,
    /// Further tags of the first directory, overriding the usual ones.
    pub first: Fields,
    /// Further tags of the sensor picture's directory, overriding the usual ones.
    pub sensor: Fields,
    /// EXIF tags.
    pub exif: Fields,
    /// GPS tags.
    pub gps: Fields,
    /// Whether the sensor picture has a directory of its own below the first.
    pub in_sub_directory: bool,
}

impl Dng {
    /// A mosaic (RGGB) of counts that a prime period keeps from repeating with rows or tiles.
    pub fn mosaic(width: usize, height: usize, bits: u32) -> Self {
        let mask = (1u32 << bits) - 1;
        Self {
            order: Order::Little,
            width,
            height,
            channels: 1,
            bits,
            counts: (0..width * height)
                .map(|index| {
                    (((index as u32)
                        .wrapping_mul(251)
                        .wrapping_add(index as u32 / 7 * 13))
                        & mask) as u16
                })
                .collect(),
            storage: Storage::Plain,
            cut: Cut::Strips(height),
            first: Vec::new(),
            sensor: Vec::new(),
            exif: Vec::new(),
            gps: Vec::new(),
            in_sub_directory: true,
        }
    }

    /// Linear RGB.
    pub fn linear(width: usize, height: usize, bits: u32) -> Self {
        let mask = (1u32 << bits) - 1;
        Self {
            channels: 3,
            counts: (0..width * height * 3)
                .map(|index| {
                    (((index as u32)
                        .wrapping_mul(251)
                        .wrapping_add(index as u32 / 5 * 17))
                        & mask) as u16
                })
                .collect(),
            ..Self::mosaic(width, height, bits)
        }
    }

    /// The file's bytes.
    pub fn bytes(&self) -> Vec<u8> {
        let mut writer = Writer::new(self.order);
        let (segment_width, segment_height) = match self.cut {
            Cut::Strips(rows) => (self.width, rows),
            Cut::Tiles(width, height) => (width, height),
        };
        let (mut offsets, mut lengths) = (Vec::new(), Vec::new());
        for top in (0..self.height).step_by(segment_height) {
            for left in (0..self.width).step_by(segment_width) {
                let rows = match self.cut {
                    Cut::Strips(_) => segment_height.min(self.height - top),
                    Cut::Tiles(..) => segment_height,
                };
                let stored = self.stored(left, top, segment_width, rows);
                offsets.push(writer.data(&stored));
                lengths.push(u32::try_from(stored.len()).expect("small"));
            }
        }
        let long = |value: usize| Value::Long(vec![u32::try_from(value).expect("small")]);
        let mut sensor: Fields = vec![
            (254, Value::Long(vec![0])),
            (256, long(self.width)),
            (257, long(self.height)),
            (258, Value::Short(vec![self.bits as u16; self.channels])),
            (
                259,
                Value::Short(vec![match self.storage {
                    Storage::Plain | Storage::Float => 1,
                    Storage::Lossless(_) => 7,
                    Storage::Lossy => 34_892,
                }]),
            ),
            (
                262,
                Value::Short(vec![if self.channels == 3 { 34_892 } else { 32_803 }]),
            ),
            (277, Value::Short(vec![self.channels as u16])),
            (284, Value::Short(vec![1])),
        ];
        match self.cut {
            Cut::Strips(rows) => sensor.extend([
                (273, Value::Long(offsets)),
                (278, long(rows)),
                (279, Value::Long(lengths)),
            ]),
            Cut::Tiles(width, height) => sensor.extend([
                (322, long(width)),
                (323, long(height)),
                (324, Value::Long(offsets)),
                (325, Value::Long(lengths)),
            ]),
        }
        if self.channels == 1 {
            sensor.extend([
                (33_421, Value::Short(vec![2, 2])),
                (33_422, Value::Byte(vec![0, 1, 1, 2])),
                (50_710, Value::Byte(vec![0, 1, 2])),
                (50_711, Value::Short(vec![1])),
            ]);
        }
        override_with(&mut sensor, &self.sensor);
        let mut first: Fields = vec![
            (271, Value::Ascii("Handmade")),
            (272, Value::Ascii("Test Body 1")),
            (274, Value::Short(vec![1])),
            (50_706, Value::Byte(vec![1, 4, 0, 0])),
            (50_708, Value::Ascii("Handmade Test Body 1")),
            (
                50_721,
                matrix([0.9, -0.3, -0.1, -0.5, 1.3, 0.2, -0.1, 0.2, 0.6]),
            ),
            (50_728, Value::Rational(vec![(5, 10), (10, 10), (7, 10)])),
            (50_778, Value::Short(vec![21])),
        ];
        if !self.exif.is_empty() {
            let offset = writer.directory(self.exif.clone());
            first.push((34_665, Value::Long(vec![offset])));
        }
        if !self.gps.is_empty() {
            let offset = writer.directory(self.gps.clone());
            first.push((34_853, Value::Long(vec![offset])));
        }
        if self.in_sub_directory {
            let offset = writer.directory(sensor);
            first.push((330, Value::Long(vec![offset])));
            first.push((254, Value::Long(vec![1])));
        } else {
            first.extend(sensor);
        }
        override_with(&mut first, &self.first);
        writer.finish(first)
    }

    /// One strip or tile as stored; beyond the picture its last row and column go on.
    fn stored(&self, left: usize, top: usize, width: usize, rows: usize) -> Vec<u8> {
        let mut values = Vec::new();
        for y in top..top + rows {
            for x in left..left + width {
                let (x, y) = (x.min(self.width - 1), y.min(self.height - 1));
                let from = (y * self.width + x) * self.channels;
                values.extend_from_slice(&self.counts[from..from + self.channels]);
            }
        }
        match self.storage {
            Storage::Plain => pack(&values, width * self.channels, self.bits, self.order),
            Storage::Lossless(options) => {
                let row = width * self.channels;
                lossless::encode(&values, row, options, self.bits)
            }
            Storage::Lossy => lossy(&values, width, rows, self.channels),
            Storage::Float => values
                .iter()
                .flat_map(|value| self.order.u32((f32::from(*value) / 65_535.0).to_bits()))
                .collect(),
        }
    }
}

/// Baseline JPEG of the lower eight bits.
fn lossy(values: &[u16], width: usize, height: usize, channels: usize) -> Vec<u8> {
    use jpeg_encoder::{ColorType, Encoder, SamplingFactor};
    let samples: Vec<u8> = values.iter().map(|value| *value as u8).collect();
    let mut stored = Vec::new();
    let mut encoder = Encoder::new(&mut stored, 100);
    encoder.set_sampling_factor(SamplingFactor::R_4_4_4);
    let colour = if channels == 3 {
        ColorType::Rgb
    } else {
        ColorType::Luma
    };
    encoder
        .encode(&samples, width as u16, height as u16, colour)
        .expect("a small picture");
    stored
}

fn override_with(fields: &mut Fields, by: &Fields) {
    for (tag, value) in by {
        fields.retain(|(known, _)| known != tag);
        fields.push((*tag, value.clone()));
    }
}

/// Nine numbers as signed rationals of four digits.
pub fn matrix(values: [f64; 9]) -> Value {
    Value::SRational(
        values
            .iter()
            .map(|value| ((value * 10_000.0).round() as i32, 10_000))
            .collect(),
    )
}

/// TIFF 6.0: rows begin at bytes; 16-bit samples follow the byte order, others are packed from the most significant bit on.
fn pack(values: &[u16], row: usize, bits: u32, order: Order) -> Vec<u8> {
    if bits == 16 {
        return values.iter().flat_map(|value| order.u16(*value)).collect();
    }
    let mut packed = Vec::new();
    for row in values.chunks(row) {
        let mut line: Vec<bool> = Vec::new();
        for value in row {
            line.extend((0..bits).rev().map(|bit| value >> bit & 1 == 1));
        }
        for byte in line.chunks(8) {
            packed.push(
                byte.iter()
                    .enumerate()
                    .map(|(at, bit)| u8::from(*bit) << (7 - at))
                    .sum(),
            );
        }
    }
    packed
}

/// Writes a file into a folder that the test keeps.
pub fn write(folder: &tempfile::TempDir, name: &str, bytes: &[u8]) -> std::path::PathBuf {
    let path = folder.path().join(name);
    std::fs::write(&path, bytes).expect("a temporary file");
    path
}
