//! The DNG reader against files made by hand from the Digital Negative specification, TIFF 6.0 and ITU-T T.81.

#![allow(
    clippy::expect_used,
    clippy::panic,
    reason = "a test that meets the unexpected should stop there"
)]

mod raw_support;

use houselights::base::geometry::{Orientation, Rect};
use houselights::base::units::Kelvin;
use houselights::raw::frame::Layout;
use houselights::raw::{Fault, Frame, read_facts};
use raw_support::lossless::Options;
use raw_support::twice::read_frame;
use raw_support::{Cut, Dng, Order, Storage, Value, matrix, write};

fn read(dng: &Dng) -> Result<Frame, Fault> {
    read_bytes(&dng.bytes())
}

fn read_bytes(bytes: &[u8]) -> Result<Frame, Fault> {
    let folder = tempfile::tempdir().expect("a folder");
    read_frame(&write(&folder, "made by hand.dng", bytes)).map_err(|error| error.fault)
}

fn assert_counts(dng: &Dng, about: &str) {
    let frame = read(dng).unwrap_or_else(|fault| panic!("{about}: {fault}"));
    assert_eq!(
        (frame.mosaic.width(), frame.mosaic.height()),
        (dng.width, dng.height),
        "{about}"
    );
    let wrong = frame
        .mosaic
        .counts
        .values()
        .iter()
        .zip(&dng.counts)
        .position(|(got, wanted)| got != wanted);
    assert_eq!(wrong, None, "{about}: first wrong value");
}

/// Odd sizes and cuts that leave a rest: one strip, strips of 4 in 17 rows, tiles of 16 over an edge, one tile larger than
/// the picture.
const CUTS: [Cut; 4] = [
    Cut::Strips(17),
    Cut::Strips(4),
    Cut::Tiles(16, 16),
    Cut::Tiles(64, 32),
];

#[test]
fn every_depth_in_both_byte_orders_and_every_cut() {
    for bits in [8, 10, 12, 14, 16] {
        for order in [Order::Little, Order::Big] {
            for cut in CUTS {
                for made in [Dng::mosaic(23, 17, bits), Dng::linear(23, 17, bits)] {
                    let dng = Dng { order, cut, ..made };
                    assert_counts(
                        &dng,
                        &format!("{bits} bits, {order:?}, {cut:?}, {} channels", dng.channels),
                    );
                }
            }
        }
    }
}

#[test]
fn lossless_jpeg_with_every_predictor_and_number_of_components() {
    for predictor in 1..=7 {
        // Tiles that stick out, that fill each row of them, and that begin anew in the middle of one.
        for (components, width) in [1, 2, 4]
            .into_iter()
            .flat_map(|n| [(n, 23), (n, 48), (n, 64)])
        {
            for bits in [8, 12, 14, 16] {
                let dng = Dng {
                    cut: Cut::Tiles(16, 8),
                    storage: Storage::Lossless(Options {
                        components,
                        predictor,
                        ..Options::default()
                    }),
                    ..Dng::mosaic(width, 17, bits)
                };
                assert_counts(
                    &dng,
                    &format!(
                        "{width}: predictor {predictor}, {components} components, {bits} bits"
                    ),
                );
            }
        }
        let dng = Dng {
            cut: Cut::Tiles(16, 8),
            storage: Storage::Lossless(Options {
                components: 3,
                predictor,
                ..Options::default()
            }),
            ..Dng::linear(23, 17, 16)
        };
        assert_counts(&dng, &format!("linear, predictor {predictor}"));
    }
}

#[test]
fn lossless_jpeg_in_strips_with_restarts_long_codes_and_folded_rows() {
    let made = |options: Options, cut: Cut| Dng {
        cut,
        storage: Storage::Lossless(options),
        // 12 bits: differences stay below category 16, which the long codes do not hold.
        ..Dng::mosaic(24, 16, 12)
    };
    for restart_lines in [1, 3] {
        for long_codes in [false, true] {
            for predictor in [1, 6] {
                let options = Options {
                    components: 2,
                    predictor,
                    restart_lines,
                    long_codes,
                    ..Options::default()
                };
                let about = format!("{options:?}");
                assert_counts(&made(options, Cut::Strips(16)), &about);
                assert_counts(&made(options, Cut::Strips(5)), &about);
            }
        }
    }
    // Two rows of the tile in one row of the stream.
    let folded = Options {
        components: 2,
        rows_in_one: 2,
        ..Options::default()
    };
    assert_counts(&made(folded, Cut::Tiles(16, 8)), "folded rows");
}

#[test]
fn a_point_transform_shifts_samples_back() {
    let mut dng = Dng {
        storage: Storage::Lossless(Options {
            point_transform: 2,
            ..Options::default()
        }),
        ..Dng::mosaic(23, 17, 12)
    };
    for count in &mut dng.counts {
        *count &= !3;
    }
    assert_counts(&dng, "point transform 2");
}

#[test]
fn the_picture_may_be_in_the_first_directory() {
    let dng = Dng {
        in_sub_directory: false,
        ..Dng::mosaic(23, 17, 14)
    };
    assert_counts(&dng, "first directory");
}

#[test]
fn the_active_area_is_cut_and_pattern_and_levels_count_from_it() {
    let dng = Dng {
        sensor: vec![
            // Top, left, bottom, right.
            (50_829, Value::Long(vec![3, 5, 15, 21])),
            (50_713, Value::Short(vec![2, 2])),
            (
                50_714,
                Value::Rational(vec![(1001, 4), (256, 1), (257, 1), (1033, 4)]),
            ),
            (
                50_715,
                Value::SRational((0..16).map(|x| (x - 8, 16)).collect()),
            ),
            (50_716, Value::SRational((0..12).map(|y| (y, 8)).collect())),
            (50_717, Value::Long(vec![15_871])),
            (50_719, Value::Rational(vec![(3, 2), (2, 1)])),
            (50_720, Value::Rational(vec![(12, 1), (17, 2)])),
        ],
        ..Dng::mosaic(23, 17, 14)
    };
    let mosaic = read(&dng).expect("a frame").mosaic;
    assert_eq!((mosaic.width(), mosaic.height()), (16, 12));
    for y in 0..12 {
        for x in 0..16 {
            assert_eq!(mosaic.counts.at(x, y), dng.counts[(y + 3) * 23 + x + 5]);
        }
    }
    // The specification counts both patterns from the active area's first photosite.
    assert_eq!(mosaic.layout, Layout::Bayer([[0, 1], [1, 2]]));
    assert_eq!(mosaic.black.at(0, 0, 0), 250.25 - 0.5);
    assert_eq!(mosaic.black.at(1, 0, 0), 256.0 - 7.0 / 16.0);
    assert_eq!(mosaic.black.at(8, 1, 0), 257.0 + 0.125);
    assert_eq!(mosaic.black.at(9, 11, 0), 258.25 + 1.0 / 16.0 + 11.0 / 8.0);
    assert_eq!(mosaic.white, [15_871.0; 3]);
    // From 1.5 to 13.5 and from 2 to 10.5: whole photosites inside.
    let crop = Rect {
        left: 2,
        top: 2,
        width: 11,
        height: 8,
    };
    assert_eq!(mosaic.crop, crop);
}

#[test]
fn linear_pictures_have_levels_for_each_channel() {
    let dng = Dng {
        sensor: vec![
            (50_714, Value::Rational(vec![(100, 1), (203, 2), (102, 1)])),
            (50_717, Value::Long(vec![60_000, 61_000, 62_000])),
        ],
        ..Dng::linear(9, 5, 16)
    };
    let mosaic = read(&dng).expect("a frame").mosaic;
    assert_eq!(mosaic.layout, Layout::Linear);
    assert_eq!(
        [0, 1, 2].map(|channel| mosaic.black.at(4, 3, channel)),
        [100.0, 101.5, 102.0]
    );
    assert_eq!(mosaic.white, [60_000.0, 61_000.0, 62_000.0]);
}

#[test]
fn the_linearisation_table_maps_counts_and_its_last_value_holds_beyond_it() {
    let table: Vec<u16> = (0..200u16).map(|count| count * count).collect();
    let dng = Dng {
        sensor: vec![
            (50_712, Value::Short(table.clone())),
            (50_717, Value::Long(vec![39_601])),
        ],
        ..Dng::mosaic(23, 17, 8)
    };
    let mosaic = read(&dng).expect("a frame").mosaic;
    for (got, stored) in mosaic.counts.values().iter().zip(&dng.counts) {
        assert_eq!(*got, table[usize::from(*stored).min(199)]);
    }
}

#[test]
fn every_bayer_phase_and_the_six_by_six_pattern() {
    for pattern in [[0, 1, 1, 2], [2, 1, 1, 0], [1, 0, 2, 1], [1, 2, 0, 1]] {
        let dng = Dng {
            sensor: vec![(33_422, Value::Byte(pattern.to_vec()))],
            ..Dng::mosaic(23, 17, 14)
        };
        let [a, b, c, d] = pattern;
        assert_eq!(
            read(&dng).expect("a frame").mosaic.layout,
            Layout::Bayer([[a, b], [c, d]])
        );
    }
    let rows: [[u8; 6]; 6] = [
        [1, 2, 1, 1, 0, 1],
        [0, 1, 0, 2, 1, 2],
        [1, 2, 1, 1, 0, 1],
        [1, 0, 1, 1, 2, 1],
        [2, 1, 2, 0, 1, 0],
        [1, 0, 1, 1, 2, 1],
    ];
    let dng = Dng {
        sensor: vec![
            (33_421, Value::Short(vec![6, 6])),
            (33_422, Value::Byte(rows.concat())),
        ],
        ..Dng::mosaic(23, 17, 14)
    };
    assert_eq!(
        read(&dng).expect("a frame").mosaic.layout,
        Layout::XTrans(rows)
    );
}

#[test]
fn other_patterns_are_refused() {
    for fields in [
        // Four colours; a staggered layout; a pattern of 4 x 2.
        vec![
            (33_422, Value::Byte(vec![0, 1, 3, 2])),
            (50_710, Value::Byte(vec![0, 1, 2, 3])),
        ],
        vec![(50_711, Value::Short(vec![2]))],
        vec![
            (33_421, Value::Short(vec![2, 4])),
            (33_422, Value::Byte(vec![0, 1, 0, 1, 1, 2, 1, 2])),
        ],
    ] {
        let dng = Dng {
            sensor: fields,
            ..Dng::mosaic(23, 17, 14)
        };
        assert!(matches!(read(&dng), Err(Fault::Pattern { .. })));
    }
}

#[test]
fn three_calibrations_with_their_lights_come_out_coolest_first() {
    let one = [0.9, -0.3, -0.1, -0.5, 1.3, 0.2, -0.1, 0.2, 0.6];
    let scaled = |by: f64| matrix(one.map(|value| value * by));
    let dng = Dng {
        first: vec![
            // D65, standard light A, D50.
            (50_778, Value::Short(vec![21])),
            (50_779, Value::Short(vec![17])),
            (52_529, Value::Short(vec![23])),
            (50_721, scaled(1.0)),
            (50_722, scaled(1.1)),
            (52_531, scaled(1.2)),
            (
                50_724,
                matrix([1.01, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.98]),
            ),
            // A forward matrix keeps white: its rows sum to D50.
            (
                50_964,
                matrix([0.5, 0.3, 0.1642, 0.2, 0.7, 0.1, 0.0, 0.1, 0.7249]),
            ),
            (50_727, Value::Rational(vec![(3, 2), (1, 1), (5, 4)])),
        ],
        ..Dng::mosaic(23, 17, 14)
    };
    let colour = read(&dng).expect("a frame").colour;
    let kelvins: Vec<_> = colour
        .calibrations
        .iter()
        .map(|calibration| calibration.temperature)
        .collect();
    assert_eq!(
        kelvins,
        [2850.0, 5000.0, 6500.0].map(|kelvin| Some(Kelvin(kelvin)))
    );
    // Rationals of four digits.
    let near = |value: f64, wanted: f64| (value - wanted).abs() < 1e-4;
    assert!(near(
        colour.calibrations[0].colour_matrix.0[1][1],
        1.3 * 1.1
    ));
    assert!(near(
        colour.calibrations[0].camera_calibration.0[2][2],
        0.98
    ));
    assert!(near(
        colour.calibrations[1].colour_matrix.0[1][1],
        1.3 * 1.2
    ));
    assert!(colour.calibrations[1].forward_matrix.is_none());
    let forward = colour.calibrations[2]
        .forward_matrix
        .expect("the file has one");
    assert!(near(forward.0[0][0], 0.5));
    assert_eq!(colour.analog_balance, [1.5, 1.0, 1.25]);
    assert_eq!(colour.as_shot_neutral, Some([0.5, 1.0, 0.7]));
}

#[test]
fn a_white_stated_as_chromaticity_becomes_the_bodys_neutral() {
    let mut dng = Dng::mosaic(23, 17, 14);
    dng.first = vec![
        (50_728, Value::Ascii("")),
        (
            50_729,
            Value::Rational(vec![(3127, 10_000), (3290, 10_000)]),
        ),
    ];
    let colour = read(&dng).expect("a frame").colour;
    let neutral = colour.as_shot_neutral.expect("a neutral");
    // ColorMatrix times the XYZ of D65 (0.95046, 1, 1.08906), green scaled to 1.
    let xyz = [0.3127 / 0.3290, 1.0, (1.0 - 0.3127 - 0.3290) / 0.3290];
    let camera = colour.calibrations[0].colour_matrix.apply(xyz);
    for channel in 0..3 {
        assert!((neutral[channel] - camera[channel] / camera[1]).abs() < 1e-9);
    }
}

#[test]
fn facts_come_from_the_tags() {
    let dng = Dng {
        first: vec![
            (274, Value::Short(vec![6])),
            (50_735, Value::Ascii("0042-A")),
        ],
        exif: vec![
            (33_434, Value::Rational(vec![(1, 320)])),
            (33_437, Value::Rational(vec![(28, 10)])),
            (34_855, Value::Short(vec![65_535])),
            (34_866, Value::Long(vec![102_400])),
            (36_867, Value::Ascii("2026:05:09 21:14:03")),
            (36_881, Value::Ascii("+02:00")),
            (37_386, Value::Rational(vec![(135, 1)])),
            (37_521, Value::Ascii("25")),
            (42_036, Value::Ascii("135 mm F1.8")),
        ],
        gps: vec![
            (1, Value::Ascii("N")),
            (2, Value::Rational(vec![(50, 1), (43, 1), (2500, 100)])),
            (3, Value::Ascii("W")),
            (4, Value::Rational(vec![(7, 1), (6, 1), (0, 1)])),
            (5, Value::Byte(vec![1])),
            (6, Value::Rational(vec![(61, 2)])),
        ],
        ..Dng::mosaic(23, 17, 14)
    };
    let folder = tempfile::tempdir().expect("a folder");
    let path = write(&folder, "facts.dng", &dng.bytes());
    let facts = read_facts(&path).expect("facts");
    assert_eq!(facts, read_frame(&path).expect("a frame").facts);
    assert_eq!(facts.body.make, "Handmade");
    assert_eq!(facts.body.model, "Test Body 1");
    assert_eq!(facts.body.serial.as_deref(), Some("0042-A"));
    let captured = facts.captured.expect("a time");
    assert_eq!(captured.civil.to_string(), "2026-05-09T21:14:03.25");
    assert_eq!(captured.offset_minutes, Some(120));
    assert_eq!(facts.exposure_seconds, Some(1.0 / 320.0));
    assert_eq!(facts.f_number, Some(2.8));
    assert_eq!(facts.iso, Some(102_400.0));
    assert_eq!(facts.focal_length_mm, Some(135.0));
    assert_eq!(facts.lens.as_deref(), Some("135 mm F1.8"));
    assert_eq!(facts.orientation, Orientation::Turn90);
    let position = facts.position.expect("a position");
    assert!((position.latitude - (50.0 + 43.0 / 60.0 + 25.0 / 3600.0)).abs() < 1e-12);
    assert!((position.longitude + 7.1).abs() < 1e-12);
    assert_eq!(position.altitude, Some(-30.5));
}

#[test]
fn all_eight_orientations_are_read() {
    for tag in 1..=8u16 {
        let dng = Dng {
            first: vec![(274, Value::Short(vec![tag]))],
            ..Dng::mosaic(23, 17, 14)
        };
        let facts = read(&dng).expect("a frame").facts;
        assert_eq!(Some(facts.orientation), Orientation::from_tag(tag));
    }
}

#[test]
fn levels_without_room_and_flat_pictures_are_refused() {
    let dng = Dng {
        sensor: vec![
            (50_714, Value::Long(vec![2000])),
            (50_717, Value::Long(vec![1000])),
        ],
        ..Dng::mosaic(23, 17, 14)
    };
    assert!(matches!(read(&dng), Err(Fault::Levels { .. })));
    let mut dng = Dng::mosaic(23, 17, 14);
    dng.counts.fill(77);
    assert!(matches!(read(&dng), Err(Fault::Implausible { .. })));
}

#[test]
fn what_is_cut_short_or_impossible_is_refused() {
    let dng = Dng {
        storage: Storage::Lossless(Options::default()),
        ..Dng::mosaic(64, 64, 14)
    };
    let whole = dng.bytes();
    // The last four bytes are the place of a next directory: nothing is lost without them.
    for length in [0, 1, 7, 8, 100, whole.len() / 2, whole.len() - 5] {
        assert!(read_bytes(&whole[..length]).is_err(), "{length} bytes");
    }
    for (tag, value) in [
        (256, Value::Long(vec![0])),
        (256, Value::Long(vec![u32::MAX])),
        (257, Value::Long(vec![400_000_000])),
        (258, Value::Short(vec![0])),
        (258, Value::Short(vec![7])),
        (277, Value::Short(vec![2])),
        (279, Value::Long(vec![u32::MAX])),
        (273, Value::Long(vec![u32::MAX])),
        (50_713, Value::Short(vec![0, 2])),
        (50_714, Value::Rational(vec![(1, 0)])),
        (50_829, Value::Long(vec![0, 0, 65, 64])),
        (50_829, Value::Long(vec![10, 10, 5, 64])),
    ] {
        let dng = Dng {
            sensor: vec![(tag, value.clone())],
            ..Dng::mosaic(64, 64, 14)
        };
        assert!(read(&dng).is_err(), "tag {tag} = {value:?}");
    }
}

#[test]
fn lossy_tiles_of_a_mosaic_and_of_linear_rgb() {
    for made in [Dng::mosaic(37, 21, 8), Dng::linear(37, 21, 8)] {
        let mut dng = Dng {
            cut: Cut::Tiles(16, 16),
            storage: Storage::Lossy,
            ..made
        };
        // Smooth, so that what the JPEG loses is little.
        for (index, count) in dng.counts.iter_mut().enumerate() {
            let (x, y) = (index / dng.channels % 37, index / dng.channels / 37);
            *count = (40 + 2 * x + 3 * y + 20 * (index % dng.channels)) as u16;
        }
        let mosaic = read(&dng).expect("a frame").mosaic;
        for (index, (got, wanted)) in mosaic.counts.values().iter().zip(&dng.counts).enumerate() {
            // Quality 100 rounds 64 coefficients to whole numbers, and colour back and forth.
            assert!(got.abs_diff(*wanted) <= 3, "value {index}: {got}, {wanted}");
        }
    }
}

#[test]
fn floating_point_becomes_counts_of_16_bits() {
    let dng = Dng {
        storage: Storage::Float,
        sensor: vec![
            (258, Value::Short(vec![32])),
            (339, Value::Short(vec![3])),
            (50_717, Value::Long(vec![1])),
        ],
        ..Dng::mosaic(24, 16, 16)
    };
    let mosaic = read(&dng).expect("a frame").mosaic;
    assert_eq!(mosaic.counts.values(), dng.counts);
    assert_eq!(mosaic.white, [65_535.0; 3]);
}
