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
    hold_together(&sharpen::levels(), |kernel, length| {
        let rows: [Vec<f32>; 7] = std::array::from_fn(|seed| unordered_row(seed, length));
        let row = |at: usize| &rows[at][..];
        let mut planes = [0, 1, 2].map(|_| vec![0.0; length]);
        let [red, green, blue] = &mut planes;
        kernel(
            [0.8, 0.1],
            row(0),
            row(1),
            row(2),
            row(3),
            [4, 5, 6].map(row),
            red,
            green,
            blue,
        );
        planes.concat()
    });
}

/// The squares of the bounds, of which only one root is taken, are those of the bounds.
#[test]
fn bounds_are_a_share_of_the_range_in_roots() {
    for overshoot in [0.06, 0.13_f32] {
        for low in [0.0, 1e-6, 0.002, 0.1, 0.5, 0.9_f32] {
            for factor in [1.0, 1.001, 1.1, 2.0, 400.0_f32] {
                let high = (low * factor).max(low);
                let [least, most] = bounds(overshoot, [low, high]).map(f64::from);
                let roots = [low, high].map(|value| f64::from(value).sqrt());
                let room = f64::from(overshoot) * (roots[1] - roots[0]);
                let kept = roots[0] * f64::from(KEPT_OF_DARK);
                let expected = [
                    (roots[0] - room).max(kept).powi(2),
                    (roots[1] + room).powi(2),
                ];
                for (made, expected) in [least, most].into_iter().zip(expected) {
                    // Single precision, a few times.
                    assert!((made - expected).abs() <= 1e-6 * expected, "{low} {high}");
                }
            }
        }
    }
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
