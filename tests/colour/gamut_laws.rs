//! Laws of the gamut's guard, map and roll-off.

use crate::scene::{daylight_matrix, lights};
use houselights::colour::gamut::roll_off::{roll_off_row, toward_white, white_share};
use houselights::colour::gamut::{Guard, map_srgb, srgb_of_working, srgb_of_working_row};
use houselights::colour::ictcp::{hue, ictcp_of_bt2020};
use houselights::colour::spaces::{BT2020, SRGB, conversion};

/// Colours all over and outside the working space, with a prime number of steps so that no value repeats by chance.
fn colours() -> Vec<[f32; 3]> {
    let step = |index: usize| -0.4 + 1.7 * (index % 23) as f32 / 22.0;
    (0..23 * 23 * 23)
        .map(|index| [step(index), step(index / 23), step(index / 529)])
        .collect()
}

fn guard() -> Guard {
    Guard::for_camera(&daylight_matrix())
}

#[test]
fn neutral_stays_neutral_to_the_last_bit() {
    let guard = guard();
    for level in [0.0, 1e-6, 0.003, 0.18, 0.5, 0.900_1, 1.0, 2.7, 16.0, 1000.0] {
        let grey = [level; 3];
        assert_eq!(guard.apply(grey), grey);
        assert_eq!(srgb_of_working(grey), grey);
        assert_eq!(toward_white(grey, 0.7), grey);
    }
}

#[test]
fn nothing_negative_and_nothing_that_is_no_number_leaves() {
    let guard = guard();
    for colour in colours() {
        let srgb = srgb_of_working(guard.apply(colour));
        assert!(
            srgb.iter().all(|value| *value >= 0.0 && value.is_finite()),
            "{colour:?} {srgb:?}"
        );
        // The map alone too.
        let mapped = map_srgb(colour);
        assert!(
            mapped
                .iter()
                .all(|value| *value >= 0.0 && value.is_finite()),
            "{colour:?} {mapped:?}"
        );
    }
    for bad in [f32::NAN, f32::NEG_INFINITY] {
        for place in 0..3 {
            let mut colour = [0.3; 3];
            colour[place] = bad;
            let srgb = srgb_of_working(guard.apply(colour));
            assert!(
                srgb.iter().all(|value| *value >= 0.0 && value.is_finite()),
                "{colour:?} {srgb:?}"
            );
        }
    }
}

#[test]
fn twice_the_light_gives_twice_the_picture() {
    let guard = guard();
    for colour in colours() {
        let once = srgb_of_working(guard.apply(colour));
        for factor in [0.001_f32, 0.37, 2.0, 100.0] {
            let scaled = srgb_of_working(guard.apply(colour.map(|value| value * factor)));
            let top = once[0].max(once[1]).max(once[2]);
            for (value, wanted) in scaled.iter().zip(once) {
                // The seam between treated and untouched is continuous; roundings near it differ.
                assert!(
                    (value / factor - wanted).abs() <= 2e-5 * top.max(1e-3),
                    "{colour:?} x {factor}: {scaled:?} {once:?}"
                );
            }
        }
    }
}

#[test]
fn colours_inside_srgb_are_left_alone() {
    let to_working = conversion(&SRGB, &BT2020);
    for colour in colours() {
        let inside = colour.map(|value| value.max(0.0));
        assert_eq!(map_srgb(inside), inside);
        let working = to_working
            .apply(inside.map(f64::from))
            .map(|value| value as f32);
        let back = srgb_of_working(working);
        for (value, wanted) in back.iter().zip(inside) {
            assert!((value - wanted).abs() < 2e-4, "{inside:?} {back:?}");
        }
    }
}

#[test]
fn small_changes_stay_small() {
    // Across every seam: threshold, boundary, hue ranges. The steepest place is where a colour far outside is brought in.
    let guard = guard();
    let step = 1e-4;
    for colour in colours() {
        let here = srgb_of_working(guard.apply(colour));
        for channel in 0..3 {
            let mut moved = colour;
            moved[channel] += step;
            let there = srgb_of_working(guard.apply(moved));
            let brightest = colour[0].max(colour[1]).max(colour[2]);
            if brightest < 0.1 {
                // Ratios of next to nothing may swing: the light there is next to nothing too.
                continue;
            }
            for (value, wanted) in here.iter().zip(there) {
                assert!(
                    (value - wanted).abs() < 40.0 * step,
                    "{colour:?} {channel}: {here:?} {there:?}"
                );
            }
        }
    }
}

#[test]
fn rows_are_their_plain_twins() {
    let guard = guard();
    let all = colours();
    // Block edges: 0, 1, around 16 and 64, and everything.
    for length in [0, 1, 2, 15, 16, 17, 31, 33, 63, 64, 65, 127, all.len()] {
        let part = &all[..length];
        let [mut red, mut green, mut blue] = [0, 1, 2].map(|channel| {
            part.iter()
                .map(|colour| colour[channel])
                .collect::<Vec<_>>()
        });
        guard.apply_row(&mut red, &mut green, &mut blue);
        for (index, colour) in part.iter().enumerate() {
            close(
                &[red[index], green[index], blue[index]],
                &guard.apply(*colour),
            );
        }
        let guarded: Vec<[f32; 3]> = (0..length)
            .map(|index| [red[index], green[index], blue[index]])
            .collect();
        srgb_of_working_row(&mut red, &mut green, &mut blue);
        for (index, colour) in guarded.iter().enumerate() {
            close(
                &[red[index], green[index], blue[index]],
                &srgb_of_working(*colour),
            );
        }
        let mapped: Vec<[f32; 3]> = (0..length)
            .map(|index| [red[index] * 9.0, green[index] * 9.0, blue[index] * 9.0])
            .collect();
        for row in [&mut red, &mut green, &mut blue] {
            row.iter_mut().for_each(|value| *value *= 9.0);
        }
        roll_off_row(&mut red, &mut green, &mut blue, 0.8, 1.0, 16.0);
        for (index, colour) in mapped.iter().enumerate() {
            let level = colour[0].max(colour[1]).max(colour[2]);
            let plain = toward_white(*colour, 0.8 * white_share(level, 1.0, 16.0));
            close(&[red[index], green[index], blue[index]], &plain);
        }
    }

    #[track_caller]
    fn close(fast: &[f32; 3], plain: &[f32; 3]) {
        let top = plain[0].max(plain[1]).max(plain[2]).max(0.1);
        for (value, wanted) in fast.iter().zip(plain) {
            assert!((value - wanted).abs() <= 2e-6 * top, "{fast:?} {plain:?}");
        }
    }
}

#[test]
fn white_share_has_its_ends() {
    assert_eq!(white_share(0.0, 1.0, 16.0), 0.0);
    assert_eq!(white_share(1.0, 1.0, 16.0), 0.0);
    assert_eq!(white_share(f32::NAN, 1.0, 16.0), 0.0);
    assert!((white_share(4.0, 1.0, 16.0) - 0.5).abs() < 1e-6);
    assert_eq!(white_share(16.0, 1.0, 16.0), 1.0);
    assert_eq!(white_share(1e9, 1.0, 16.0), 1.0);
    let colour = [0.9, 0.1, 0.4];
    assert_eq!(toward_white(colour, 0.0), colour);
    for value in toward_white(colour, 1.0) {
        assert!((value - 0.9).abs() < 1e-6);
    }
}

/// Every stage light through the sensor from middle grey's level to +4 stops: guard, map, curve on the brightest channel, roll-off.
#[test]
fn ramps_rise_and_keep_their_hue() {
    let to_working = daylight_matrix();
    let guard = guard();
    let from_srgb = conversion(&SRGB, &BT2020);
    // f(x) = m x^a / (x^a + b) with f(0.18) = 0.18 and f(8) = 1.
    let (contrast, b, m) = (1.3_f64, 0.510_676, 1.034_208);
    let curve = |x: f64| (m * x.powf(contrast) / (x.powf(contrast) + b)).min(1.0);
    let mut worst: f64 = 0.0;
    for (name, camera) in lights() {
        let mut last_luminance = 0.0;
        let mut first_hue = None;
        let mut last_drift: f64 = 0.0;
        let mut extremes = [0.0_f64; 2];
        for sixteenth in 0..=96 {
            let exposure = 0.5 * 2_f64.powf(f64::from(sixteenth) / 16.0 - 2.0);
            let working = to_working.apply(camera.map(|value| value * exposure));
            let mapped = srgb_of_working(guard.apply(working.map(|value| value as f32)));
            let level = mapped[0].max(mapped[1]).max(mapped[2]);
            let rolled = toward_white(mapped, white_share(level, 1.0, 16.0));
            let gain = curve(f64::from(level)) / f64::from(level);
            let shown = rolled.map(|value| f64::from(value) * gain);
            assert!(
                shown.iter().all(|value| (0.0..=1.000_001).contains(value)),
                "{name}: {shown:?}"
            );
            let luminance = SRGB.to_xyz().apply(shown)[1];
            assert!(luminance > last_luminance, "{name} falls at {exposure}");
            last_luminance = luminance;
            let here = hue(ictcp_of_bt2020(from_srgb.apply(shown), 100.0));
            let first = *first_hue.get_or_insert(here);
            let drift = (here - first + 540.0).rem_euclid(360.0) - 180.0;
            extremes = [extremes[0].min(drift), extremes[1].max(drift)];
            // No jump from one sixteenth of a stop to the next.
            assert!(
                (drift - last_drift).abs() < 3.0,
                "{name} jumps at {exposure}"
            );
            last_drift = drift;
        }
        println!(
            "{name}: ICtCp hue drifts from {:.1} to {:.1} degrees",
            extremes[0], extremes[1]
        );
        worst = worst.max(-extremes[0]).max(extremes[1]);
    }
    assert!(worst <= 15.0, "{worst}");
}
