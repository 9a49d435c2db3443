use super::*;
use crate::base::chance::Normal;
use crate::base::geometry::Rect;
use crate::base::kernel::hold_together;
use crate::base::plane::Plane;
use crate::raw::frame::BlackLevels;
use crate::raw::noise::NoiseModel;
use crate::render::demosaic::xtrans::SIX_BY_SIX;

const BLACK: f64 = 512.0;
const RANGE: f64 = 15_000.0;
const MODEL: NoiseModel = NoiseModel {
    slope: 1e-3,
    floor: 4e-6,
};
const SIDE: usize = 96;

#[test]
fn every_copy_gives_the_same_bits() {
    for distance in [1, 2] {
        hold_together(&mark_suspects::levels(), |kernel, length| {
            let row = |seed: usize| -> Vec<u16> {
                (0..length)
                    .map(|i| ((i * 7919 + seed * 104_729) % 4099) as u16)
                    .collect()
            };
            let (mut marks, mut found) = (vec![0; length], 0);
            kernel(
                &row(1),
                &row(2),
                &row(3),
                distance,
                0.05,
                900.0,
                1500,
                &mut marks,
                &mut found,
            );
            marks
                .iter()
                .map(|mark| f32::from(*mark))
                .chain([found as f32])
                .collect()
        });
    }
}

/// The screen is never wrong where it says that nothing would be marked, and mostly right where it says otherwise.
#[test]
fn every_copy_of_the_screen_lets_through_what_would_be_marked() {
    let (slope, floor, dark) = (0.5, 400.0, 600);
    let mut normal = Normal::new(8);
    let mut row = |length: usize, spread: f64| -> Vec<u16> {
        (0..length)
            .map(|_| (560.0 + spread * normal.draw()).max(0.0) as u16)
            .collect()
    };
    let (mut passed, mut held) = (0, 0);
    for spread in [20.0, 45.0, 70.0] {
        for _ in 0..40 {
            let rows: [Vec<u16>; 3] = std::array::from_fn(|_| row(700, spread));
            for distance in [1, 2] {
                hold_together(&screen::levels(), |kernel, length| {
                    let rows = rows.each_ref().map(|row| &row[..length]);
                    let mut is_suspect = false;
                    kernel(
                        rows[0],
                        rows[1],
                        rows[2],
                        distance,
                        slope,
                        floor,
                        dark,
                        &mut is_suspect,
                    );
                    let (mut marks, mut found) = (vec![0; length], 0);
                    mark_suspects(
                        rows[0], rows[1], rows[2], distance, slope, floor, dark, &mut marks,
                        &mut found,
                    );
                    assert!(is_suspect || found == 0, "{length}: {found}");
                    passed += usize::from(is_suspect && found > 0);
                    held += usize::from(!is_suspect && length > 4);
                    vec![f32::from(u8::from(is_suspect))]
                });
            }
        }
    }
    assert!(passed > 50 && held > 50, "{passed} {held}");
}

/// A mosaic of light levels with noise of [`MODEL`].
fn mosaic(layout: Layout, light: impl Fn(usize, usize, usize) -> f64) -> Mosaic {
    let mut mosaic = Mosaic {
        counts: Plane::filled(SIDE, SIDE, 0u16),
        layout,
        black: BlackLevels::flat(BLACK as f32, 1),
        white: [(BLACK + RANGE) as f32; 3],
        crop: Rect {
            left: 0,
            top: 0,
            width: SIDE,
            height: SIDE,
        },
    };
    let mut normal = Normal::new(3);
    for y in 0..SIDE {
        for x in 0..SIDE {
            let level = light(x, y, mosaic.channel_at(x, y));
            let level = (level + normal.draw() * MODEL.variance(level).sqrt()).min(1.0);
            mosaic.counts.row_mut(y)[x] = (BLACK + RANGE * level).round() as u16;
        }
    }
    mosaic
}

fn replaced(mosaic: &Mosaic) -> Vec<(usize, usize, u16)> {
    let noise = SensorNoise {
        channels: [MODEL; 3],
    };
    let hot = FaultySites::new(mosaic, noise).expect("a mosaic");
    let mut all = Vec::new();
    for y in 0..SIDE {
        // In two strips, whose seam must not show.
        for columns in [0..41, 41..SIDE] {
            let mut found = Vec::new();
            hot.in_chunk(y, columns, &mut found);
            all.extend(found.into_iter().map(|(x, count)| (x, y, count)));
        }
    }
    all
}

const BAYER: Layout = Layout::Bayer([[0, 1], [1, 2]]);
const SIX: Layout = Layout::XTrans(SIX_BY_SIX);

#[test]
fn hot_photosites_are_replaced_and_nothing_else() {
    // Places of every phase of both patterns, one at the seam of the strips; 37 and 39 share a colour of the mosaic.
    let places = [
        (20, 21),
        (37, 40),
        (39, 40),
        (41, 60),
        (62, 33),
        (75, 74),
        (8, 91),
    ];
    for layout in [BAYER, SIX] {
        for (ground, excess) in [(0.002, 0.2), (0.05, 0.3), (0.2, 0.8)] {
            let mut mosaic = mosaic(layout, |_, _, channel| ground * [0.6, 1.0, 0.7][channel]);
            for (x, y) in places {
                let count = &mut mosaic.counts.row_mut(y)[x];
                *count = (f64::from(*count) + excess * RANGE).min(BLACK + RANGE) as u16;
            }
            let found = replaced(&mosaic);
            let mut at: Vec<(usize, usize)> = found.iter().map(|(x, y, _)| (*x, *y)).collect();
            at.sort_unstable();
            let mut expected = places.to_vec();
            expected.sort_unstable();
            assert_eq!(at, expected, "{layout:?} on {ground}");
            for (x, y, count) in found {
                let level = ground * [0.6, 1.0, 0.7][mosaic.channel_at(x, y)];
                let error = (f64::from(count) - BLACK) / RANGE - level;
                assert!(
                    error.abs() < 3.0 * MODEL.variance(level).sqrt(),
                    "{x},{y}: {error}"
                );
            }
        }
    }
}

#[test]
fn cold_photosites_are_replaced_and_dark_detail_is_kept() {
    let places = [(20, 20), (37, 40), (39, 40), (41, 61), (62, 33), (74, 74)];
    for layout in [BAYER, SIX] {
        for ground in [0.06, 0.15, 0.3] {
            let colour = [1.0, 1.4, 1.8];
            let mut mosaic = mosaic(layout, |_, _, channel| ground * colour[channel]);
            for (at, (x, y)) in places.into_iter().enumerate() {
                // Below black, as far as a count goes, or without light.
                let count = [-100.0, -BLACK, 0.0][at % 3] + BLACK;
                mosaic.counts.row_mut(y)[x] = count as u16;
            }
            let found = replaced(&mosaic);
            let mut at: Vec<(usize, usize)> = found.iter().map(|(x, y, _)| (*x, *y)).collect();
            at.sort_unstable();
            assert_eq!(at, places, "{layout:?} on {ground}");
            for (x, y, count) in found {
                let level = ground * colour[mosaic.channel_at(x, y)];
                let error = (f64::from(count) - BLACK) / RANGE - level;
                assert!(
                    error.abs() < 3.0 * MODEL.variance(level).sqrt(),
                    "{x},{y}: {error}"
                );
            }
        }
    }
    // Black hairs a photosite wide, upright and slanting, and a hole as sharp as a lens draws one.
    let mosaic = mosaic(BAYER, |x, y, _| {
        let away = |distance: f64| 1.0 - (-distance * distance / (2.0 * 0.5 * 0.5)).exp();
        let (x, y) = (x as f64, y as f64);
        let hole = ((x - 70.0).powi(2) + (y - 40.0).powi(2)).sqrt();
        0.3 * away(x - 20.0) * away((x - 40.0 - y / 3.0) * 0.95) * away(hole)
    });
    assert_eq!(replaced(&mosaic), []);
}

#[test]
fn stars_and_coloured_dots_in_focus_are_kept() {
    // Spots of half a pixel's standard deviation, as sharp as an excellent lens draws them, centred on and between
    // photosites. A red diode of 630 nm gives green photosites about 6 % and blue 2 % of what it gives red ones.
    for (colour, strength) in [
        ([0.6, 1.0, 0.7], 0.1),
        ([0.6, 1.0, 0.7], 0.9),
        ([1.0, 0.06, 0.02], 0.9),
        ([0.03, 0.15, 1.0], 0.9),
    ] {
        let spots = [
            (20.0, 21.0),
            (37.3, 40.0),
            (41.0, 60.5),
            (62.0, 33.0),
            (75.0, 75.0),
        ];
        let mosaic = mosaic(BAYER, |x, y, channel| {
            let light: f64 = spots
                .iter()
                .map(|(sx, sy)| {
                    let (dx, dy) = (x as f64 - sx, y as f64 - sy);
                    (-(dx * dx + dy * dy) / (2.0 * 0.5 * 0.5)).exp()
                })
                .sum();
            (0.002 + strength * light) * colour[channel]
        });
        assert_eq!(replaced(&mosaic), [], "{colour:?} {strength}");
    }
}
