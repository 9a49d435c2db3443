//! A printer that nobody has: a simple model of one, and the ICC profile that describes it.
//!
//! The model is additive on purpose, so that it can be turned round exactly: three lights of a printer's modest gamut, a
//! power for the tone, and a black that is not dark. Its profile has lookup tables in both directions, as printers' profiles
//! have (lut16Type, ICC.1:2010, 10.10).

#![allow(dead_code, reason = "each test binary uses its part")]

use houselights::base::matrix::Matrix3;
use houselights::base::units::Chromaticity;
use houselights::colour::lab::{Lab, lab_of_xyz};

/// The white of the connection space (ICC.1:2010, 7.2.16).
pub(crate) const D50: [f64; 3] = [0.9642, 1.0, 0.8249];

/// Luminance of the paper's black: L* 3.13, as a glossy paper has it.
pub(crate) const BLACK: f64 = 0.003_47;
const TONE: f64 = 1.8;
const NODES: usize = 33;

/// Tristimulus values under D50, relative to the paper, of a full signal in red, green, blue.
fn lights() -> Matrix3 {
    let primaries = [(0.56, 0.33), (0.27, 0.52), (0.19, 0.16)];
    let columns = Matrix3(primaries.map(|(x, y)| Chromaticity { x, y }.to_xyz())).transposed();
    let shares = columns.inverse().expect("regular").apply(D50);
    columns * Matrix3::diagonal(shares)
}

/// What the printer makes of a signal.
pub(crate) fn printed(signal: [f64; 3]) -> [f64; 3] {
    let light = lights().apply(signal.map(|value| value.clamp(0.0, 1.0).powf(TONE)));
    [0, 1, 2].map(|index| BLACK * D50[index] + (1.0 - BLACK) * light[index])
}

/// The signal for a colour, cut off at both ends.
pub(crate) fn signal_for(xyz: [f64; 3]) -> [f64; 3] {
    let light = [0, 1, 2].map(|index| (xyz[index] - BLACK * D50[index]) / (1.0 - BLACK));
    let shares = lights().inverse().expect("regular").apply(light);
    shares.map(|share| share.clamp(0.0, 1.0).powf(1.0 / TONE))
}

pub(crate) fn lab(xyz: [f64; 3]) -> Lab {
    lab_of_xyz(xyz, D50)
}

fn xyz_of(lightness: f64, a: f64, b: f64) -> [f64; 3] {
    let y = (lightness + 16.0) / 116.0;
    let inverse = |f: f64| {
        if f > 6.0 / 29.0 {
            f.powi(3)
        } else {
            (f - 4.0 / 29.0) * 108.0 / 841.0
        }
    };
    let f = [y + a / 500.0, y, y - b / 200.0];
    [0, 1, 2].map(|index| D50[index] * inverse(f[index]))
}

/// CIELAB as version 2 profiles write it in 16 bits (ICC.1:2010, 6.3.4.2).
fn written(colour: Lab) -> [u16; 3] {
    let code = |value: f64| value.round().clamp(0.0, 65_535.0) as u16;
    [
        code(colour.lightness * 652.8),
        code((colour.a + 128.0) * 256.0),
        code((colour.b + 128.0) * 256.0),
    ]
}

fn lut(at_node: impl Fn([f64; 3]) -> [u16; 3]) -> Vec<u8> {
    let mut bytes = b"mft2\0\0\0\0".to_vec();
    bytes.extend([3, 3, NODES as u8, 0]);
    for row in 0..3 {
        for column in 0..3 {
            let one = if row == column { 0x1_0000_u32 } else { 0 };
            bytes.extend(one.to_be_bytes());
        }
    }
    bytes.extend(2_u16.to_be_bytes());
    bytes.extend(2_u16.to_be_bytes());
    let straight = [0_u16, 65_535].repeat(3);
    bytes.extend(straight.iter().flat_map(|value| value.to_be_bytes()));
    let last = (NODES - 1) as f64;
    for first in 0..NODES {
        for second in 0..NODES {
            for third in 0..NODES {
                let node = at_node([first, second, third].map(|index| index as f64 / last));
                bytes.extend(node.iter().flat_map(|value| value.to_be_bytes()));
            }
        }
    }
    bytes.extend(straight.iter().flat_map(|value| value.to_be_bytes()));
    bytes
}

/// The profile: version 2, output class, RGB, Lab, tables for the perceptual and the relative intent.
pub(crate) fn profile() -> Vec<u8> {
    let to_lab = lut(|signal| written(lab(printed(signal))));
    let from_lab = lut(|code| {
        // 16 bits of the table's axes are 100 + 100/255 of lightness, and -128 to 128 - 1/256 of a and b.
        let [l, a, b] = code.map(|share| share * 65_535.0);
        let xyz = xyz_of(l / 652.8, a / 256.0 - 128.0, b / 256.0 - 128.0);
        signal_for(xyz).map(|share| (share * 65_535.0).round() as u16)
    });
    let fixed = |value: f64| ((value * 65_536.0).round() as i32).to_be_bytes();
    let white = [
        b"XYZ \0\0\0\0".to_vec(),
        fixed(D50[0]).to_vec(),
        fixed(D50[1]).to_vec(),
        fixed(D50[2]).to_vec(),
    ]
    .concat();
    let name = b"A printer of nobody\0";
    let mut description = b"desc\0\0\0\0".to_vec();
    description.extend((name.len() as u32).to_be_bytes());
    description.extend(name);
    description.extend([0; 12 + 67]);
    let copyright = b"text\0\0\0\0No copyright, use freely\0".to_vec();
    let parts = [
        (vec![b"A2B0", b"A2B1"], to_lab),
        (vec![b"B2A0", b"B2A1"], from_lab),
        (vec![b"wtpt"], white),
        (vec![b"desc"], description),
        (vec![b"cprt"], copyright),
    ];
    let count: usize = parts.iter().map(|(names, _)| names.len()).sum();
    let mut table = (count as u32).to_be_bytes().to_vec();
    let mut data = Vec::new();
    for (names, content) in parts {
        let at = 128 + 4 + 12 * count + data.len();
        for name in names {
            table.extend(name);
            table.extend((at as u32).to_be_bytes());
            table.extend((content.len() as u32).to_be_bytes());
        }
        data.extend(content);
        data.resize(data.len().next_multiple_of(4), 0);
    }
    let mut header = vec![0; 128];
    let mut put = |at: usize, bytes: &[u8]| header[at..at + bytes.len()].copy_from_slice(bytes);
    put(0, &((128 + table.len() + data.len()) as u32).to_be_bytes());
    put(8, &[2, 0x40]);
    put(12, b"prtrRGB Lab ");
    for (index, number) in [2026_u16, 1, 1, 0, 0, 0].into_iter().enumerate() {
        put(24 + 2 * index, &number.to_be_bytes());
    }
    put(36, b"acsp");
    for (index, value) in D50.into_iter().enumerate() {
        put(68 + 4 * index, &fixed(value));
    }
    [header, table, data].concat()
}
