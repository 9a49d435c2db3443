//! Damaged files never panic, hang or ask for much memory in the code that is the project's own: TIFF walker, DNG reader,
//! lossless JPEG.
//!
//! Files that would go on to one of the decoder crates are left out here (those run in worker processes with limits): every
//! case is a DNG by its tags.

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

mod raw_support;

use houselights::raw::read_facts;
use proptest::prelude::*;
use raw_support::lossless::Options;
use raw_support::opcode::{Parameters, list, opcode};
use raw_support::twice::read_frame;
use raw_support::{Cut, Dng, Order, Storage, Value, write};

/// A small file with everything in it.
fn rich(order: Order, storage: Storage) -> Vec<u8> {
    let area = [0, 0, 12, 20, 0, 1, 1, 1];
    Dng {
        order,
        storage,
        cut: Cut::Tiles(16, 16),
        sensor: vec![
            (50_829, Value::Long(vec![2, 2, 16, 22])),
            (50_713, Value::Short(vec![2, 2])),
            (50_714, Value::Rational(vec![(256, 1); 4])),
            (50_717, Value::Long(vec![16_000])),
            (50_719, Value::Rational(vec![(0, 1), (0, 1)])),
            (50_720, Value::Rational(vec![(20, 1), (14, 1)])),
            (
                51_009,
                list(&[
                    opcode(8, 0, &Parameters::area(area).u32s(&[1]).f64s(&[0.0, 0.5]).0),
                    opcode(
                        9,
                        0,
                        &Parameters::area(area)
                            .u32s(&[1, 2])
                            .f64s(&[1.0, 1.0, 0.0, 0.0])
                            .u32s(&[1])
                            .f32s(&[1.0, 0.5])
                            .0,
                    ),
                ]),
            ),
        ],
        exif: vec![
            (33_434, Value::Rational(vec![(1, 320)])),
            (36_867, Value::Ascii("2026:05:09 21:14:03")),
        ],
        gps: vec![(1, Value::Ascii("N"))],
        // Three tiles beside each other.
        ..Dng::mosaic(48, 18, 14)
    }
    .bytes()
}

fn lossless() -> Storage {
    Storage::Lossless(Options {
        components: 2,
        predictor: 4,
        restart_lines: 4,
        ..Options::default()
    })
}

/// In one piece, so that tiles can be decoded together.
fn without_restarts() -> Storage {
    Storage::Lossless(Options {
        components: 2,
        ..Options::default()
    })
}

/// Reads a file both ways; any answer will do, but there must be one. The DNG tag is kept whole, so that no decoder crate
/// is called.
fn survives(mut bytes: Vec<u8>, version: Option<[u8; 12]>, at: usize) {
    if let Some(entry) = version {
        bytes[at..at + 12].copy_from_slice(&entry);
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = write(&folder, "damaged.dng", &bytes);
    let _ = read_facts(&path);
    // Decoder crates are called only for a walkable file without the DNG tag.
    let _ = read_frame(&path);
}

/// Where the entry of DNGVersion stands.
fn version_entry(bytes: &[u8]) -> usize {
    let little = bytes.starts_with(b"II");
    let tag: [u8; 2] = if little {
        50_706u16.to_le_bytes()
    } else {
        50_706u16.to_be_bytes()
    };
    bytes
        .windows(12)
        .rposition(|entry| entry[..2] == tag && entry[8..] == [1, 4, 0, 0])
        .expect("every DNG has it")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, ..ProptestConfig::default() })]

    #[test]
    fn changed_bytes(
        big in any::<bool>(),
        storage in prop::sample::select(vec![Storage::Plain, lossless(), without_restarts()]),
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..12),
    ) {
        let order = if big { Order::Big } else { Order::Little };
        let mut bytes = rich(order, storage);
        let at = version_entry(&bytes);
        let entry: [u8; 12] = bytes[at..at + 12].try_into().expect("twelve bytes");
        let length = bytes.len();
        for (index, value) in changes {
            let place = index.index(length);
            // The header stays: a lost first directory is the other test's business.
            if place >= 8 {
                bytes[place] = value;
            }
        }
        survives(bytes, Some(entry), at);
    }

    #[test]
    fn changed_directories(
        changes in prop::collection::vec((0usize..500, prop::sample::select(vec![0u8, 1, 2, 0x7f, 0x80, 0xff])), 1..6),
    ) {
        // Directories are written after the data: the last bytes of the file.
        let mut bytes = rich(Order::Little, lossless());
        let at = version_entry(&bytes);
        let entry: [u8; 12] = bytes[at..at + 12].try_into().expect("twelve bytes");
        let length = bytes.len();
        for (back, value) in changes {
            bytes[length - 1 - back] = value;
        }
        survives(bytes, Some(entry), at);
    }

    #[test]
    fn cut_anywhere(share in 0.0f64..1.0) {
        let bytes = rich(Order::Big, lossless());
        let length = (bytes.len() as f64 * share) as usize;
        survives(bytes[..length].to_vec(), None, 0);
    }

    #[test]
    fn arbitrary_bytes_after_a_tiff_header(
        big in any::<bool>(),
        mut rest in prop::collection::vec(any::<u8>(), 8..400),
    ) {
        // The first directory begins with DNGVersion.
        let mut bytes = if big { b"MM\0\x2a\0\0\0\x08".to_vec() } else { b"II\x2a\0\x08\0\0\0".to_vec() };
        let order = if big { Order::Big } else { Order::Little };
        bytes.extend(order.u16(1 + u16::from(rest[0] % 30)));
        bytes.extend(order.u16(50_706));
        bytes.extend(order.u16(1));
        bytes.extend(order.u32(4));
        bytes.extend([1, 4, 0, 0]);
        bytes.append(&mut rest);
        survives(bytes, None, 0);
    }
}
