//! Opcodes of hand-made DNG files, each against its formula in the Digital Negative specification 1.7, chapter "Opcode List
//! Processing".

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

mod raw_support;

use houselights::raw::{Fault, Frame};
use raw_support::opcode::{Parameters, list, opcode};
use raw_support::twice::read_frame;
use raw_support::{Dng, Value, write};

const LIST_1: u16 = 51_008;
const LIST_2: u16 = 51_009;
const LIST_3: u16 = 51_022;
const WIDTH: usize = 24;
const HEIGHT: usize = 16;
/// A whole picture of one plane, no pitch.
const ALL: [u32; 8] = [0, 0, HEIGHT as u32, WIDTH as u32, 0, 1, 1, 1];

fn read(dng: &Dng) -> Result<Frame, Fault> {
    let folder = tempfile::tempdir().expect("a folder");
    read_frame(&write(&folder, "opcodes.dng", &dng.bytes())).map_err(|error| error.fault)
}

/// A mosaic of 14 bits without black, with opcodes in one list.
fn with(tag: u16, opcodes: &[Vec<u8>]) -> Dng {
    Dng {
        sensor: vec![(tag, list(opcodes)), (50_717, Value::Long(vec![16_383]))],
        ..Dng::mosaic(WIDTH, HEIGHT, 14)
    }
}

/// What list 2 made of each sample, against `expected(x, y, sample between 0 and 1)`, to half a count of 65535.
fn assert_second(dng: &Dng, about: &str, expected: impl Fn(usize, usize, f64) -> f64) {
    let frame = read(dng).unwrap_or_else(|fault| panic!("{about}: {fault}"));
    let mosaic = &frame.mosaic;
    assert_eq!(mosaic.white, [65_535.0; 3], "{about}");
    assert_eq!(mosaic.black.at(0, 0, 0), 0.0, "{about}");
    for y in 0..mosaic.height() {
        for x in 0..mosaic.width() {
            let sample = f64::from(dng.counts[y * WIDTH + x]) / 16_383.0;
            let wanted = expected(x, y, sample).clamp(0.0, 1.0) * 65_535.0;
            let got = f64::from(mosaic.counts.at(x, y));
            // Half a count of rounding, and the digits of single precision.
            assert!(
                (got - wanted).abs() <= 0.51,
                "{about} at {x}, {y}: {got}, {wanted}"
            );
        }
    }
    assert!(frame.notes.iter().any(|note| note.contains("carried out")));
}

#[test]
fn map_polynomial() {
    let parameters = Parameters::area(ALL)
        .u32s(&[3])
        .f64s(&[0.01, 0.2, 0.0, 0.7]);
    let dng = with(LIST_2, &[opcode(8, 0, &parameters.0)]);
    assert_second(&dng, "polynomial", |_, _, v| {
        0.01 + 0.2 * v + 0.7 * v.powi(3)
    });
}

#[test]
fn map_table() {
    // Samples of 16 bits are their own places in the table: no rounding decides.
    let table: Vec<u16> = (0..65_000u32).map(|v| (v * v / 65_535) as u16).collect();
    let parameters = Parameters::area(ALL).u32s(&[65_000]).u16s(&table);
    let dng = Dng {
        sensor: vec![(LIST_2, list(&[opcode(7, 0, &parameters.0)]))],
        ..Dng::mosaic(WIDTH, HEIGHT, 16)
    };
    let mosaic = read(&dng).expect("a frame").mosaic;
    for (got, stored) in mosaic.counts.values().iter().zip(&dng.counts) {
        // A sample beyond the table takes its last value.
        assert_eq!(*got, table[usize::from(*stored).min(64_999)]);
    }
}

#[test]
fn rows_and_columns_with_pitches() {
    // Rows 2, 5, 8, 11 of columns 1, 3, 5 ...: four values.
    let area = [2, 1, 13, WIDTH as u32, 0, 1, 3, 2];
    let touched =
        |x: usize, y: usize| (2..13).contains(&y) && (y - 2).is_multiple_of(3) && x % 2 == 1;
    let values = [0.125, -0.25, 0.5, 0.03125];
    let row = |y: usize| f64::from(values[(y - 2) / 3]);
    let parameters = Parameters::area(area).u32s(&[4]).f32s(&values);
    let dng = with(LIST_2, &[opcode(10, 0, &parameters.0)]);
    assert_second(&dng, "delta per row", |x, y, v| {
        if touched(x, y) { v + row(y) } else { v }
    });
    let dng = with(LIST_2, &[opcode(12, 0, &parameters.0)]);
    assert_second(&dng, "scale per row", |x, y, v| {
        if touched(x, y) { v * row(y) } else { v }
    });
    let columns: Vec<f32> = (0..12).map(|index| 0.5 + index as f32 / 16.0).collect();
    let column = |x: usize| f64::from(columns[(x - 1) / 2]);
    let parameters = Parameters::area(area).u32s(&[12]).f32s(&columns);
    let dng = with(LIST_2, &[opcode(11, 0, &parameters.0)]);
    assert_second(&dng, "delta per column", |x, y, v| {
        if touched(x, y) { v + column(x) } else { v }
    });
    let dng = with(LIST_2, &[opcode(13, 0, &parameters.0)]);
    assert_second(&dng, "scale per column", |x, y, v| {
        if touched(x, y) { v * column(x) } else { v }
    });
}

#[test]
fn gain_map() {
    // Gains 1 at the left edge, 2 at the right one, twice that at the lower edge; points at the corners.
    let parameters = Parameters::area(ALL)
        .u32s(&[2, 2])
        .f64s(&[1.0, 1.0, 0.0, 0.0])
        .u32s(&[1])
        .f32s(&[0.25, 0.5, 0.5, 1.0]);
    let dng = with(LIST_2, &[opcode(9, 0, &parameters.0)]);
    assert_second(&dng, "gain map", |x, y, v| {
        let across = (x as f64 + 0.5) / WIDTH as f64;
        let down = (y as f64 + 0.5) / HEIGHT as f64;
        v * 0.25 * (1.0 + across) * (1.0 + down)
    });
    // A flat map with one point leaves everything as it is times its gain.
    let parameters = Parameters::area(ALL)
        .u32s(&[1, 1])
        .f64s(&[0.0, 0.0, 0.0, 0.0])
        .u32s(&[1])
        .f32s(&[0.75]);
    let dng = with(LIST_2, &[opcode(9, 0, &parameters.0)]);
    assert_second(&dng, "flat gain map", |_, _, v| v * 0.75);
}

#[test]
fn fix_vignette_radial_in_lists_2_and_3() {
    let parameters = Parameters::default().f64s(&[0.5, -0.25, 0.125, 0.0, 0.0625, 0.5, 0.25]);
    let expected = |x: usize, y: usize, v: f64| {
        let (dx, dy) = (x as f64 + 0.5 - 12.0, y as f64 + 0.5 - 4.0);
        // The farthest corner is 12 columns and 12 rows away.
        let r2 = (dx * dx + dy * dy) / 288.0;
        v * (1.0 + 0.5 * r2 - 0.25 * r2.powi(2) + 0.125 * r2.powi(3) + 0.0625 * r2.powi(5))
    };
    for tag in [LIST_2, LIST_3] {
        let dng = with(tag, &[opcode(3, 0, &parameters.0)]);
        assert_second(&dng, "vignette", expected);
    }
}

#[test]
fn several_opcodes_in_their_order() {
    let by = |number: u32, value: f32| {
        let parameters = Parameters::area(ALL)
            .u32s(&[HEIGHT as u32])
            .f32s(&[value; HEIGHT]);
        opcode(number, 0, &parameters.0)
    };
    let dng = with(LIST_2, &[by(12, 0.5), by(10, 0.125), by(12, 0.5)]);
    assert_second(&dng, "in order", |_, _, v| (v * 0.5 + 0.125) * 0.5);
}

#[test]
fn bad_photosites_take_the_nearest_of_their_colour() {
    let mut dng = with(
        LIST_1,
        &[opcode(
            5,
            0,
            // One point (row 6, column 6) and one rectangle, rows 12 and 13 of columns 3 and 4.
            &Parameters::default().u32s(&[0, 1, 1, 6, 6, 12, 3, 14, 5]).0,
        )],
    );
    // Each colour has a count of its own; a ramp around the point, so that a lopsided mean shows.
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            let colour = [[1000, 3000], [3000, 9000]][y % 2][x % 2];
            dng.counts[y * WIDTH + x] = (colour + if y < 9 { 10 * x } else { 0 }) as u16;
        }
    }
    let truth = dng.counts.clone();
    for (x, y) in [(6, 6), (3, 12), (4, 12), (3, 13), (4, 13)] {
        dng.counts[y * WIDTH + x] = 16_000;
    }
    let mosaic = read(&dng).expect("a frame").mosaic;
    for y in 0..HEIGHT {
        for x in 0..WIDTH {
            assert_eq!(mosaic.counts.at(x, y), truth[y * WIDTH + x], "{x}, {y}");
        }
    }
    // The stored counts are still counts: list 1 does not change their range.
    assert_eq!(mosaic.white, [16_383.0; 3]);
    // By a constant instead of a list.
    let constant = Dng {
        sensor: vec![
            (
                LIST_1,
                list(&[opcode(4, 0, &Parameters::default().u32s(&[16_000, 0]).0)]),
            ),
            (50_717, Value::Long(vec![16_383])),
        ],
        ..dng
    };
    let mosaic = read(&constant).expect("a frame").mosaic;
    assert_eq!(mosaic.counts.values(), truth);
}

#[test]
fn trimming_moves_pattern_and_crop() {
    let dng = with(
        LIST_2,
        &[opcode(6, 0, &Parameters::default().u32s(&[1, 3, 15, 20]).0)],
    );
    let mosaic = read(&dng).expect("a frame").mosaic;
    assert_eq!((mosaic.width(), mosaic.height()), (17, 14));
    assert_eq!(mosaic.channel_at(0, 0), 2);
    let wanted = f64::from(dng.counts[WIDTH + 3]) / 16_383.0 * 65_535.0;
    assert!((f64::from(mosaic.counts.at(0, 0)) - wanted).abs() <= 0.51);
    assert_eq!((mosaic.crop.width, mosaic.crop.height), (17, 14));
}

#[test]
fn noise_below_black_survives() {
    let mut dng = with(
        LIST_2,
        &[opcode(
            8,
            0,
            &Parameters::area(ALL)
                .u32s(&[3])
                .f64s(&[0.0, 0.5, 0.0, 0.5])
                .0,
        )],
    );
    dng.sensor.push((50_714, Value::Long(vec![512])));
    dng.counts.fill(512);
    dng.counts[5] = 480;
    dng.counts[6] = 544;
    let mosaic = read(&dng).expect("a frame").mosaic;
    let black = f64::from(mosaic.black.at(0, 0, 0));
    let [low, middle, high] = [5, 7, 6].map(|x| f64::from(mosaic.counts.at(x, 0)) - black);
    assert_eq!(middle, 0.0);
    assert_eq!(low, -high);
    let v: f64 = 32.0 / (16_383.0 - 512.0);
    let wanted = (0.5 * v + 0.5 * v.powi(3)) * (65_535.0 - black);
    assert!((high - wanted).abs() <= 0.51, "{high}, {wanted}");
}

#[test]
fn what_cannot_be_carried_out_is_refused_unless_optional() {
    let warp = Parameters::default()
        .u32s(&[1])
        .f64s(&[1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.5, 0.5]);
    let polynomial = Parameters::area([0, 0, 16, 24, 0, 3, 1, 1])
        .u32s(&[1])
        .f64s(&[0.0, 0.5]);
    for (tag, number, parameters) in [
        (LIST_3, 1, &warp.0),
        (LIST_3, 2, &warp.0),
        (LIST_2, 99, &warp.0),
        // Not linear, so it does not commute with the demosaic.
        (LIST_3, 8, &polynomial.0),
    ] {
        let dng = with(tag, &[opcode(number, 0, parameters)]);
        assert!(
            matches!(read(&dng), Err(Fault::Opcode { opcode, .. }) if opcode == number),
            "opcode {number}"
        );
        let dng = with(tag, &[opcode(number, 1, parameters)]);
        let frame = read(&dng).expect("optional");
        assert_eq!(frame.mosaic.counts.values(), dng.counts, "opcode {number}");
        assert!(frame.notes.iter().any(|note| note.contains("left out")));
    }
}

#[test]
fn opcodes_that_make_no_sense_are_damage() {
    let cut = Parameters::area(ALL).u32s(&[3]).f64s(&[0.0, 1.0]);
    let backwards = Parameters::area([16, 0, 0, 24, 0, 1, 1, 1])
        .u32s(&[0])
        .f64s(&[1.0]);
    let no_pitch = Parameters::area([0, 0, 16, 24, 0, 1, 0, 1])
        .u32s(&[0])
        .f64s(&[1.0]);
    let not_a_number = Parameters::area(ALL).u32s(&[0]).f64s(&[f64::NAN]);
    for parameters in [cut, backwards, no_pitch, not_a_number] {
        let dng = with(LIST_2, &[opcode(8, 0, &parameters.0)]);
        assert!(matches!(read(&dng), Err(Fault::Damaged { .. })));
    }
    // More gains, rows, points than there are bytes: refused before memory is asked for.
    let gains = Parameters::area(ALL)
        .u32s(&[u32::MAX, 1])
        .f64s(&[1.0, 1.0, 0.0, 0.0])
        .u32s(&[1]);
    let points = Parameters::default().u32s(&[0, u32::MAX, u32::MAX]);
    for (number, parameters) in [(9, gains), (5, points)] {
        let dng = with(LIST_2, &[opcode(number, 0, &parameters.0)]);
        assert!(matches!(read(&dng), Err(Fault::Damaged { .. })));
    }
    let mut list = with(LIST_2, &[]);
    list.sensor[0].1 = Value::Undefined(vec![0, 0, 0, 9, 1, 2, 3]);
    assert!(matches!(read(&list), Err(Fault::Damaged { .. })));
}
