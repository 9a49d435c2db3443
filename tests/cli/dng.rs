//! Tiny raw files of an invented scene, written by the tests themselves: uncompressed 16-bit Bayer DNG (Digital Negative
//! specification 1.4: the tags that it requires, and nothing else).

/// Columns and rows of a test frame.
pub(crate) const WIDTH: u32 = 320;
pub(crate) const HEIGHT: u32 = 208;

/// A grey stand in the scene, as `--neutral` takes it.
pub(crate) const GREY: &str = "0.5,0.5,0.03";
/// A spot in the dark.
pub(crate) const DARK: &str = "0.05,0.95,0.02";
/// A spot on a lamp.
pub(crate) const LAMP: &str = "0.9,0.15,0.02";

const BLACK: u16 = 512;
const WHITE: u16 = 16_383;

/// How a test frame is taken.
#[derive(Clone, Copy)]
pub(crate) struct Shot {
    /// Told apart by noise, so that no two files are equal.
    pub(crate) seed: u32,
    /// Level of the grey stand, fraction of range.
    pub(crate) level: f64,
    /// Exposure time in seconds, as a fraction's denominator.
    pub(crate) exposure: u32,
    pub(crate) width: u32,
    pub(crate) height: u32,
}

impl Shot {
    pub(crate) fn number(seed: u32) -> Self {
        Self {
            seed,
            level: 0.3,
            exposure: 250,
            width: WIDTH,
            height: HEIGHT,
        }
    }

    /// The file's bytes.
    pub(crate) fn dng(&self) -> Vec<u8> {
        write(self)
    }
}

/// Camera RGB of grey under the scene's key.
const NEUTRAL: [f64; 3] = [0.62, 1.0, 0.48];

fn counts(shot: &Shot) -> Vec<u16> {
    let mut state = shot.seed.wrapping_mul(2_654_435_761) | 1;
    let mut noise = move || {
        // Marsaglia, "Xorshift RNGs" (2003): the 13, 17, 5 generator.
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        f64::from(state) / f64::from(u32::MAX) - 0.5
    };
    let mut counts = Vec::new();
    for y in 0..shot.height {
        for x in 0..shot.width {
            let (fx, fy) = (
                f64::from(x) / f64::from(shot.width),
                f64::from(y) / f64::from(shot.height),
            );
            let distance =
                |cx: f64, cy: f64| ((fx - cx).powi(2) + ((fy - cy) * 0.65).powi(2)).sqrt();
            let light = if distance(0.9, 0.15) < 0.06 {
                10.0
            } else if fx < 0.15 && fy > 0.85 {
                0.0
            } else if distance(0.5, 0.5) < 0.06 {
                shot.level
            } else if distance(0.5, 0.5) < 0.25 {
                // The performer: brighter and darker things about the stand.
                shot.level * (0.7 + 0.6 * fx) * (0.6 + 0.8 * fy)
            } else {
                0.002
            };
            let channel = match (y % 2, x % 2) {
                (0, 0) => 0,
                (1, 1) => 2,
                _ => 1,
            };
            let value = light * NEUTRAL[channel];
            let range = f64::from(WHITE - BLACK);
            let count = f64::from(BLACK) + range * value + noise() * (8.0 + 40.0 * value.sqrt());
            counts.push(count.round().clamp(0.0, f64::from(WHITE)) as u16);
        }
    }
    counts
}

enum Value {
    Bytes(Vec<u8>),
    Text(&'static str),
    Shorts(Vec<u16>),
    Longs(Vec<u32>),
    Fractions(Vec<(u32, u32)>),
    SignedFractions(Vec<(i32, i32)>),
}

impl Value {
    /// TIFF 6.0 type, count, bytes.
    fn written(&self) -> (u16, u32, Vec<u8>) {
        let flat = |parts: Vec<[u8; 4]>| parts.concat();
        match self {
            Self::Bytes(bytes) => (1, bytes.len() as u32, bytes.clone()),
            Self::Text(text) => {
                let bytes = [text.as_bytes(), &[0]].concat();
                (2, bytes.len() as u32, bytes)
            }
            Self::Shorts(values) => {
                let bytes = values.iter().flat_map(|value| value.to_le_bytes());
                (3, values.len() as u32, bytes.collect())
            }
            Self::Longs(values) => {
                let parts = values.iter().map(|value| value.to_le_bytes());
                (4, values.len() as u32, flat(parts.collect()))
            }
            Self::Fractions(values) => {
                let parts = values
                    .iter()
                    .flat_map(|(a, b)| [a.to_le_bytes(), b.to_le_bytes()]);
                (5, values.len() as u32, flat(parts.collect()))
            }
            Self::SignedFractions(values) => {
                let parts = values
                    .iter()
                    .flat_map(|(a, b)| [a.to_le_bytes(), b.to_le_bytes()]);
                (10, values.len() as u32, flat(parts.collect()))
            }
        }
    }
}

/// A directory at `start`, with what does not fit into its entries behind it.
fn directory(start: u32, tags: &[(u16, Value)]) -> Vec<u8> {
    let mut entries = (tags.len() as u16).to_le_bytes().to_vec();
    let mut behind = Vec::new();
    let behind_start = start + 2 + 12 * tags.len() as u32 + 4;
    for (tag, value) in tags {
        let (kind, count, mut bytes) = value.written();
        entries.extend(tag.to_le_bytes());
        entries.extend(kind.to_le_bytes());
        entries.extend(count.to_le_bytes());
        if bytes.len() <= 4 {
            bytes.resize(4, 0);
            entries.extend(bytes);
        } else {
            entries.extend((behind_start + behind.len() as u32).to_le_bytes());
            behind.extend(bytes);
            if behind.len() % 2 == 1 {
                behind.push(0);
            }
        }
    }
    entries.extend([0; 4]);
    entries.extend(behind);
    entries
}

fn write(shot: &Shot) -> Vec<u8> {
    /// Room for both directories.
    const PICTURE_AT: u32 = 2048;
    const EXIF_AT: u32 = 1536;
    let counts = counts(shot);
    let fraction = |value: f64| ((value * 10_000.0).round() as u32, 10_000);
    // XYZ to linear sRGB (IEC 61966-2-1) serves as the body's matrix.
    let matrix = [
        3.2406, -1.5372, -0.4986, -0.9689, 1.8758, 0.0415, 0.0557, -0.2040, 1.0570,
    ];
    let signed = matrix.map(|value: f64| ((value * 10_000.0).round() as i32, 10_000));
    let tags = [
        (254, Value::Longs(vec![0])),
        (256, Value::Longs(vec![shot.width])),
        (257, Value::Longs(vec![shot.height])),
        (258, Value::Shorts(vec![16])),
        (259, Value::Shorts(vec![1])),
        (262, Value::Shorts(vec![32_803])),
        (271, Value::Text("Invented")),
        (272, Value::Text("Test Body")),
        (273, Value::Longs(vec![PICTURE_AT])),
        (274, Value::Shorts(vec![1])),
        (277, Value::Shorts(vec![1])),
        (278, Value::Longs(vec![shot.height])),
        (279, Value::Longs(vec![counts.len() as u32 * 2])),
        (306, Value::Text("2026:05:09 21:14:03")),
        (33_421, Value::Shorts(vec![2, 2])),
        (33_422, Value::Bytes(vec![0, 1, 1, 2])),
        (34_665, Value::Longs(vec![EXIF_AT])),
        (50_706, Value::Bytes(vec![1, 4, 0, 0])),
        (50_708, Value::Text("Invented Test Body")),
        (50_714, Value::Shorts(vec![BLACK])),
        (50_717, Value::Shorts(vec![WHITE])),
        (50_721, Value::SignedFractions(signed.to_vec())),
        (50_728, Value::Fractions(NEUTRAL.map(fraction).to_vec())),
        (50_778, Value::Shorts(vec![21])),
    ];
    let exif = [
        (33_434, Value::Fractions(vec![(1, shot.exposure)])),
        (33_437, Value::Fractions(vec![(28, 10)])),
        (34_855, Value::Shorts(vec![3200])),
        (36_867, Value::Text("2026:05:09 21:14:03")),
    ];
    let mut file = b"II\x2a\x00\x08\x00\x00\x00".to_vec();
    file.extend(directory(8, &tags));
    assert!(file.len() <= EXIF_AT as usize, "room for the directory");
    file.resize(EXIF_AT as usize, 0);
    file.extend(directory(EXIF_AT, &exif));
    assert!(file.len() <= PICTURE_AT as usize, "room for the directory");
    file.resize(PICTURE_AT as usize, 0);
    file.extend(counts.iter().flat_map(|count| count.to_le_bytes()));
    file
}
