use super::kernels::*;
use super::*;
use crate::base::kernel::{hold_together, unordered_row};
use crate::colour::spaces::SRGB;

const MEDIA: [Medium; 3] = [Medium::Screen, Medium::Glossy, Medium::Matte];

#[test]
fn every_copy_gives_the_same_bits() {
    hold_together(&luminance::levels(), |kernel, length| {
        let [red, green, blue] = [1, 2, 3].map(|seed| unordered_row(seed, length));
        let mut made = vec![0.0; length];
        kernel([0.2, 0.7, 0.1], &red, &green, &blue, &mut made);
        made
    });
    for (weights, near) in [
        (&[0.6, 0.2][..], 1),
        (&[0.4, 0.2, 0.1], 1),
        (&[0.4, 0.2, 0.1], 2),
    ] {
        let reach = weights.len() - 1;
        hold_together(&blur_and_range_along::levels(), |kernel, length| {
            let [mut soft, mut low, mut high] = [0, 1, 2].map(|_| vec![0.0; length]);
            let values = unordered_row(1, length + 2 * reach);
            let mut roots = vec![0.0; values.len()];
            kernel(
                weights, near, &values, &mut roots, &mut soft, &mut low, &mut high,
            );
            [soft, low, high].concat()
        });
        hold_together(&sharpen_row::levels(), |kernel, length| {
            let rows = |seed: usize| -> Vec<Vec<f32>> {
                (0..=2 * reach)
                    .map(|row| unordered_row(seed + row, length))
                    .collect()
            };
            let [soft, low, high] = [1, 11, 21].map(rows);
            let [soft, low, high]: [Vec<&[f32]>; 3] =
                [&soft, &low, &high].map(|rows| rows.iter().map(Vec::as_slice).collect());
            let from = [31, 32, 33].map(|seed| unordered_row(seed, length));
            let mut planes = [0, 1, 2].map(|_| vec![0.0; length]);
            let [red, green, blue] = &mut planes;
            kernel(
                [0.8, 0.1],
                weights,
                near,
                &unordered_row(40, length),
                &soft,
                &low,
                &high,
                from.each_ref().map(Vec::as_slice),
                red,
                green,
                blue,
            );
            planes.concat()
        });
    }
}

/// The pass for the mask of a screen is the general one: a weight of nothing at a third distance sends it through that.
#[test]
fn the_mask_of_a_screen_in_one_pass_is_the_general_one() {
    let length = 777;
    let rows = |seed: usize| -> Vec<Vec<f32>> {
        (0..7)
            .map(|row| unordered_row(seed + row, length))
            .collect()
    };
    let [soft, low, high] = [1, 11, 21].map(rows);
    let [soft, low, high]: [Vec<&[f32]>; 3] =
        [&soft, &low, &high].map(|rows| rows.iter().map(Vec::as_slice).collect());
    let from = [31, 32, 33].map(|seed| unordered_row(seed, length));
    let made = |weights: &[f32], rows: Range<usize>| {
        let mut planes = [0, 1, 2].map(|_| vec![0.0; length]);
        let [red, green, blue] = &mut planes;
        sharpen_row(
            [0.8, 0.1],
            weights,
            1,
            &unordered_row(40, length),
            &soft[rows.clone()],
            &low[rows.clone()],
            &high[rows],
            from.each_ref().map(Vec::as_slice),
            red,
            green,
            blue,
        );
        planes
    };
    assert_eq!(
        made(&[0.4, 0.2, 0.1], 1..6),
        made(&[0.4, 0.2, 0.1, 0.0], 0..7)
    );
}

fn step_of(amount: f64, medium: Medium, resolution: Option<f64>) -> SharpenStep {
    let wish = Sharpening {
        amount,
        medium,
        resolution,
    };
    SharpenStep::new(&wish, &SRGB).expect("an amount above 0")
}

fn sharpened(picture: &[Vec<f32>], step: &SharpenStep) -> Vec<Vec<f32>> {
    let (width, height) = (picture[0].len(), picture.len());
    let mut sharpener = Sharpener::new(step, (width, height), 0..width, 0);
    (0..height)
        .map(|y| {
            let mut row = RgbRow::new(width);
            sharpener.row(y, &mut row, |y, row| {
                for plane in &mut row.planes {
                    plane.copy_from_slice(&picture[y]);
                }
            });
            let [red, green, blue] = row.planes;
            assert!(red == green && green == blue, "grey stays grey");
            red.to_vec()
        })
        .collect()
}

#[test]
fn flat_stays_flat_at_any_size() {
    for medium in MEDIA {
        let step = step_of(2.0, medium, Some(720.0));
        for (width, height) in [(1, 1), (2, 1), (1, 2), (2, 2), (3, 7), (9, 9), (40, 3)] {
            for row in sharpened(&vec![vec![0.37; width]; height], &step) {
                assert!(row.iter().all(|value| *value == 0.37));
            }
        }
    }
}

/// Edges between light and dark of every height: neither side goes further beyond its own level than the stated share
/// of the step, in square roots of light, and the edge gets steeper.
#[test]
fn no_side_of_an_edge_overshoots_by_more_than_stated() {
    let edges = [
        (0.0, 1.0),
        (0.002, 0.9),
        (0.02, 0.04),
        (0.03, 0.7),
        (0.2, 0.22),
        (0.2, 0.6),
        (0.5, 0.95),
    ];
    for medium in MEDIA {
        for (amount, resolution) in [(0.5, None), (1.0, None), (2.0, None), (2.0, Some(720.0))] {
            let step = step_of(amount, medium, resolution);
            for (dark, light) in edges {
                // A hard edge, and one over three pixels as a lens draws it; upright, lying and aslant.
                for width in [1.0, 3.0] {
                    for (across, down) in [(1.0, 0.0), (0.0, 1.0), (0.8, 0.6)] {
                        let picture: Vec<Vec<f32>> = (0..24)
                            .map(|y| {
                                (0..24)
                                    .map(|x| {
                                        let place = (f64::from(x) - 11.5) * across
                                            + (f64::from(y) - 11.5) * down;
                                        let share = (place / width + 0.5).clamp(0.0, 1.0);
                                        (dark + share * (light - dark)) as f32
                                    })
                                    .collect()
                            })
                            .collect();
                        let made = sharpened(&picture, &step);
                        let all = || made.iter().flatten().copied();
                        let (least, most) = (all().fold(1.0, f32::min), all().fold(0.0, f32::max));
                        let roots = [dark, light].map(f64::sqrt);
                        let room = step.overshoot * (roots[1] - roots[0]) + 1e-6;
                        assert!(
                            f64::from(least).sqrt() >= roots[0] - room
                                && f64::from(most).sqrt() <= roots[1] + room
                                && most <= 1.0,
                            "{medium:?} {amount} {dark} {light} {width}: {least} {most}"
                        );
                        // However high the step, the dark side is no black ring.
                        assert!(
                            f64::from(least).sqrt() >= roots[0] * f64::from(KEPT_OF_DARK) - 1e-6,
                            "{medium:?} {amount} {dark} {light} {width}: {least}"
                        );
                        // From black to white there is no room on either side.
                        let has_room = dark > 0.0 || light < 1.0;
                        assert!(
                            made != picture || !has_room,
                            "{dark} {light}: nothing was sharpened"
                        );
                    }
                }
            }
        }
    }
}

/// Noise on nearly no light: a made-up film of it, with the same spread before and after.
#[test]
fn noise_in_the_dark_is_left_alone() {
    let noise = |x: usize, y: usize| ((x * 7919 + y * 104_729) % 1009) as f32 / 1009.0 - 0.5;
    let picture: Vec<Vec<f32>> = (0..40)
        .map(|y| (0..40).map(|x| 0.0016 + 0.0016 * noise(x, y)).collect())
        .collect();
    assert_eq!(
        sharpened(&picture, &step_of(2.0, Medium::Matte, None)),
        picture
    );
}

#[test]
fn more_pixels_an_inch_and_matte_paper_ask_for_a_wider_mask() {
    let radius = |medium, resolution| step_of(1.0, medium, resolution).radius;
    // Worked by hand: the eye's 0.0733 mm at 600 mm is 0.317 pixels of 110 an inch, with the pixel's own 0.5: 0.592.
    assert!((radius(Medium::Screen, None) - 0.592).abs() < 1e-3);
    // 0.0428 mm at 350 mm and 0.02 mm of ink: 0.0472 mm, 0.558 pixels of 300 an inch: 0.749.
    assert!((radius(Medium::Glossy, None) - 0.749).abs() < 1e-3);
    for medium in MEDIA {
        let mut before = 0.0;
        for resolution in [72.0, 110.0, 220.0, 300.0, 360.0, 720.0] {
            let wide = radius(medium, Some(resolution));
            assert!(wide > before && 3.0 * wide < MOST_REACH as f64);
            before = wide;
        }
    }
    assert!(radius(Medium::Matte, None) > radius(Medium::Glossy, None));
    assert_eq!(SharpenStep::new(&Sharpening::NEUTRAL, &SRGB), None);
}
