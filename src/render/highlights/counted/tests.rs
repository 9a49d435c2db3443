use super::*;
use crate::base::bands::Threads;
use crate::base::geometry::Rect;
use crate::base::kernel::{hold_together, unordered_row};
use crate::base::plane::Plane;
use crate::raw::frame::{BlackLevels, Mosaic};
use crate::raw::noise::{NoiseModel, SensorNoise};
use crate::render::highlights::cells::CellRow;
use crate::render::sensor::{Sensor, SensorRows, SensorStep};

fn counts(seed: usize, length: usize) -> Vec<u16> {
    (0..length)
        .map(|at| ((at * 7919 + seed * 104_729) % 16_421) as u16)
        .collect()
}

#[test]
fn every_copy_gives_the_same_numbers() {
    // Sums that fit 16 bits, and sums that do not.
    for (rows, most) in
        (0..=4).flat_map(|rows| [(rows, [16_000, 15_000]), (rows, [15_000, 65_535])])
    {
        hold_together(&add_rows::levels(), |kernel, cells| {
            let rows: Vec<_> = (0..rows).map(|row| counts(row, cells * SIDE + 5)).collect();
            let rows: Vec<&[u16]> = rows.iter().map(Vec::as_slice).collect();
            let mut sums = [0, 1, 2, 3].map(|_| vec![0; cells]);
            let [held_even, held_odd, clipped_even, clipped_odd] = &mut sums;
            kernel(
                &rows,
                most,
                [15_800, 14_800],
                held_even,
                held_odd,
                clipped_even,
                clipped_odd,
            );
            sums.concat().into_iter().map(f64::from).collect()
        });
    }
    hold_together(&make_cells::levels(), |kernel, cells| {
        let sums = |seed: usize, most: u32| -> Vec<u32> {
            let of = |value: u16| u32::from(value) % most;
            counts(seed, cells).into_iter().map(of).collect()
        };
        let [held, clipped] = [60_000, 3].map(|most| [1, 2, 3, 4].map(|seed| sums(seed, most)));
        let mut made = vec![Cell::default(); cells];
        kernel(
            [0.5, 1.0, 0.7],
            [[16.0, 64.5, 3e-5]; 4],
            held.each_ref().map(Vec::as_slice),
            clipped.each_ref().map(Vec::as_slice),
            &mut made,
        );
        made.iter().flat_map(fields).collect()
    });
}

fn fields(cell: &Cell) -> [f32; 2 + FIELDS] {
    let mut fields = [cell.core; 2 + FIELDS];
    fields[1] = cell.colour.weight;
    fields[2..].copy_from_slice(&cell.colour.sums);
    fields
}

/// Added up as counts, cells are as photosite by photosite but for the rounding of sums, at any size, with every pattern,
/// black levels by photosite, and hot photosites.
#[test]
fn by_counts_is_as_one_by_one() {
    let mut seen = [0, 0];
    for (width, height) in [
        (1, 1),
        (2, 8),
        (7, 3),
        (8, 8),
        (9, 5),
        (31, 8),
        (137, 24),
        (260, 17),
    ] {
        for pattern in [
            [[0, 1], [1, 2]],
            [[1, 2], [0, 1]],
            [[2, 1], [1, 0]],
            [[1, 0], [2, 1]],
        ] {
            let rows = (0..height).flat_map(|y| {
                let scale = [0.02, 0.9, 1.0, 0.3][y / 6 % 4];
                let light = unordered_row(y, width).into_iter();
                light.map(move |light| (500.0 + 15_000.0 * scale * light) as u16)
            });
            let mut mosaic = Mosaic {
                counts: Plane::from_values(width, height, rows.collect()).expect("as many"),
                layout: Layout::Bayer(pattern),
                black: BlackLevels {
                    rows: 2,
                    columns: 2,
                    pattern: vec![512.0, 511.5, 510.25, 512.0],
                    ..BlackLevels::flat(0.0, 1)
                },
                white: [15_871.0, 15_900.0, 15_000.0],
                crop: Rect {
                    left: 0,
                    top: 0,
                    width,
                    height,
                },
            };
            if let (137.., 20..) = (width, height) {
                for y in 0..height {
                    mosaic.counts.row_mut(y)[40..90].fill(600);
                }
                mosaic.counts.row_mut(9)[60] = 16_000;
                mosaic.counts.row_mut(14)[71] = 9_000;
            }
            let model = NoiseModel {
                slope: 1e-4,
                floor: 1e-7,
            };
            let neutral = [0.5, 1.0, 0.75];
            let step = SensorStep {
                black: mosaic.black.clone(),
                white: mosaic.white,
                neutral,
                noise: Some(SensorNoise {
                    channels: [model; 3],
                }),
            };
            let sensor = Sensor::new(&step, &mosaic, &Threads::one());
            let full = step.full();
            let counted = Counted::new(&step, &mosaic, full).expect("whole levels");
            let replacements = sensor.replacements().expect("looked for").rows();
            let rows = SensorRows::new(&sensor, 0..width as isize);
            let (mut sums, mut row) = (Sums::default(), CellRow::default());
            let cells = width.div_ceil(SIDE);
            let mut slow = vec![Cell::default(); cells];
            for (at, top) in (0..height).step_by(SIDE).enumerate() {
                let faulty = &replacements[counted.photosites_of(at)];
                let fast = counted.gather(&mut sums, at, faulty);
                row.gather(&rows, &mosaic, full, top, &mut slow);
                for (fast, slow) in fast.iter().zip(&slow) {
                    for (fast, slow) in fields(fast).into_iter().zip(fields(slow)) {
                        // Sums of up to 32 values, their logarithms and products with those.
                        let error = (fast - slow).abs();
                        assert!(
                            error <= 2e-6 * (1.0 + slow.abs()),
                            "{width} {height}: {fast} {slow}"
                        );
                    }
                    seen[0] += usize::from(slow.core > 0.0);
                    seen[1] += usize::from(slow.colour.weight > 0.0);
                }
            }
            let is_replaced = |x: usize, y: usize| replacements[y].iter().any(|(at, _)| *at == x);
            // The hot ones, among scattered light that may have others.
            assert!((width, height) != (137, 24) || is_replaced(60, 9) && is_replaced(71, 14));
        }
    }
    // Clipped cells and coloured ones.
    assert!(seen[0] > 20 && seen[1] > 100, "{seen:?}");
}

#[test]
fn levels_that_differ_between_cells_are_left_to_the_plain_way() {
    let flat = BlackLevels::flat(64.0, 1);
    let three = BlackLevels {
        columns: 3,
        pattern: vec![64.0; 3],
        ..flat.clone()
    };
    let rows = BlackLevels {
        row_deviation: vec![1.0; 8],
        ..flat.clone()
    };
    let columns = BlackLevels {
        column_deviation: vec![1.0; 8],
        ..flat.clone()
    };
    for (black, white, is_counted) in [
        (flat.clone(), 1000.0, true),
        (flat, 1000.5, false),
        (three, 1000.0, false),
        (rows, 1000.0, false),
        (columns, 1000.0, false),
    ] {
        let mosaic = Mosaic {
            counts: Plane::filled(8, 8, 100),
            layout: Layout::Bayer([[0, 1], [1, 2]]),
            black: black.clone(),
            white: [white; 3],
            crop: Rect {
                left: 0,
                top: 0,
                width: 8,
                height: 8,
            },
        };
        let step = SensorStep {
            black,
            white: [white; 3],
            neutral: [1.0; 3],
            noise: None,
        };
        assert_eq!(
            Counted::new(&step, &mosaic, step.full()).is_some(),
            is_counted
        );
    }
}
