//! Laws of the gamut's guard, map and roll-off.

use crate::scene::{Gamut, daylight_matrix, double, lights};
use houselights::colour::gamut::{Destination, white_share};
use houselights::colour::ictcp::{hue, ictcp_of_bt2020};
use houselights::colour::spaces::{AP1, BT2020, DISPLAY_P3, RgbSpace, SRGB, conversion};
use houselights::colour::transfer::srgb_encode;

/// Spaces that a picture may be made for.
const SPACES: [RgbSpace; 3] = [SRGB, DISPLAY_P3, BT2020];

/// Colours all over and outside the working space, with a prime number of steps so that no value repeats by chance.
fn colours() -> Vec<[f32; 3]> {
    let step = |index: usize| -0.4 + 1.7 * (index % 23) as f32 / 22.0;
    (0..23 * 23 * 23)
        .map(|index| [step(index), step(index / 23), step(index / 529)])
        .collect()
}

#[test]
fn neutral_stays_neutral_to_the_last_bit() {
    let gamut = Gamut::new();
    for level in [0.0, 1e-6, 0.003, 0.18, 0.5, 0.900_1, 1.0, 2.7, 16.0, 1000.0] {
        let grey = [level; 3];
        assert_eq!(gamut.compression.compress(grey), grey);
        for space in SPACES {
            let destination = Destination::of(&space);
            assert_eq!(destination.map(grey), grey);
            assert_eq!(destination.toward_white(grey, 0.7), grey);
        }
    }
}

#[test]
fn nothing_negative_and_nothing_that_is_no_number_leaves() {
    let gamut = Gamut::new();
    for colour in colours() {
        let srgb = gamut.srgb(double(colour));
        assert!(
            srgb.iter().all(|value| *value >= 0.0 && value.is_finite()),
            "{colour:?} {srgb:?}"
        );
        // The map alone too.
        for space in SPACES {
            let mapped = Destination::of(&space).map(colour);
            assert!(
                mapped
                    .iter()
                    .all(|value| *value >= 0.0 && value.is_finite()),
                "{} {colour:?} {mapped:?}",
                space.name()
            );
        }
    }
    for bad in [f32::NAN, f32::NEG_INFINITY] {
        for place in 0..3 {
            let mut colour = [0.3; 3];
            colour[place] = bad;
            let srgb = gamut.srgb(double(colour));
            assert!(
                srgb.iter().all(|value| *value >= 0.0 && value.is_finite()),
                "{colour:?} {srgb:?}"
            );
        }
    }
}

#[test]
fn twice_the_light_gives_twice_the_picture() {
    let gamut = Gamut::new();
    for colour in colours() {
        let once = gamut.srgb(double(colour));
        for factor in [0.001_f32, 0.37, 2.0, 100.0] {
            let scaled = gamut.srgb(double(colour.map(|value| value * factor)));
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
fn colours_inside_are_left_alone() {
    for colour in colours() {
        let inside = colour.map(|value| value.max(0.0));
        for space in SPACES {
            assert_eq!(Destination::of(&space).map(inside), inside);
        }
    }
}

/// A wider space needs less bringing in: what the guard lets through lies inside BT.2020 or close by, and each light moves
/// no further in Display P3 than in sRGB.
#[test]
fn a_wider_space_changes_less() {
    let to_working = daylight_matrix();
    let gamut = Gamut::new();
    for (name, camera) in lights() {
        let guarded = double(gamut.guarded(to_working.apply(camera)));
        let moved = SPACES.map(|space| {
            let linear = conversion(&AP1, &space).apply(guarded);
            let mapped = double(Destination::of(&space).map(linear.map(|value| value as f32)));
            let ictcp = |rgb| ictcp_of_bt2020(conversion(&space, &BT2020).apply(rgb), 100.0);
            let (before, after) = (ictcp(linear.map(|value| value.max(-0.1))), ictcp(mapped));
            (0..3)
                .map(|at| (before[at] - after[at]).powi(2))
                .sum::<f64>()
                .sqrt()
        });
        // Up to the rounding of single precision.
        assert!(moved[1] <= moved[0] + 1e-6, "{name}: {moved:?}");
        assert!(moved[2] <= moved[1] + 1e-6, "{name}: {moved:?}");
    }
}

#[test]
fn small_changes_stay_small() {
    // Across every seam: threshold, boundary, hue ranges. The steepest place is where a colour far outside is brought
    // in.
    let gamut = Gamut::new();
    let step = 1e-4;
    for colour in colours() {
        let here = gamut.srgb(double(colour));
        for channel in 0..3 {
            let mut moved = colour;
            moved[channel] += step;
            let there = gamut.srgb(double(moved));
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
    let compression = Gamut::new().compression;
    let mut all = colours();
    // What no camera sends, in the middle of blocks of ordinary colours.
    for (index, bad) in [f32::NAN, f32::NEG_INFINITY, -0.0, f32::MIN_POSITIVE, 1e-20]
        .into_iter()
        .enumerate()
    {
        all[37 * index + 5][index % 3] = bad;
    }
    all[1000] = [0.0; 3];
    all[2000] = [f32::NAN; 3];
    all[3000] = [-1.0, -0.5, -2.0];
    // Block edges: nothing, one, around 16, and everything.
    for length in [0, 1, 2, 15, 16, 17, 31, 32, 33, all.len()] {
        // The end of the list too, so that short rows are not only the dark corner.
        for part in [&all[..length], &all[all.len() - length..]] {
            let guarded = worked(part, |[red, green, blue]| {
                compression.compress_row(red, green, blue)
            });
            compare(1e-6, &guarded, part, |colour| compression.compress(colour));
            for space in SPACES {
                let destination = Destination::of(&space);
                let mapped = worked(part, |[red, green, blue]| {
                    destination.map_row(red, green, blue);
                });
                compare(1e-5, &mapped, part, |colour| destination.map(colour));
            }
            let destination = Destination::of(&SRGB);
            let mapped: Vec<_> = part.iter().map(|colour| destination.map(*colour)).collect();
            let bright: Vec<_> = mapped
                .iter()
                .map(|colour| colour.map(|value| value * 9.0))
                .collect();
            let rolled = worked(&bright, |planes| {
                destination.roll_off_row(planes, 0.8, 1.0, 16.0)
            });
            compare(3e-6, &rolled, &bright, |colour| {
                let level = colour[0].max(colour[1]).max(colour[2]);
                destination.toward_white(colour, 0.8 * white_share(level, 1.0, 16.0))
            });
        }
    }

    fn worked(pixels: &[[f32; 3]], work: impl Fn([&mut [f32]; 3])) -> Vec<[f32; 3]> {
        let mut rows = [0, 1, 2].map(|channel| {
            pixels
                .iter()
                .map(|colour| colour[channel])
                .collect::<Vec<_>>()
        });
        let [red, green, blue] = &mut rows;
        work([red, green, blue]);
        (0..pixels.len())
            .map(|index| [0, 1, 2].map(|channel| rows[channel][index]))
            .collect()
    }

    #[track_caller]
    fn compare(
        stated: f32,
        fast: &[[f32; 3]],
        before: &[[f32; 3]],
        plain: impl Fn([f32; 3]) -> [f32; 3],
    ) {
        for (fast, before) in fast.iter().zip(before) {
            let plain = plain(*before);
            let top = before[0].max(before[1]).max(before[2]);
            for (value, wanted) in fast.iter().zip(plain) {
                // The stated error of the rows, down to light that is none.
                assert!(
                    (value - wanted).abs() <= stated * top.max(1e-30),
                    "{before:?}: {fast:?} {plain:?}"
                );
            }
        }
    }
}

#[test]
fn a_pixel_comes_out_the_same_wherever_it_stands() {
    let compression = Gamut::new().compression;
    let colour = [-0.2_f32, 0.05, 0.9];
    let mut outcomes = Vec::new();
    for length in [1, 16, 35] {
        for place in 0..length {
            let mut rows = [0, 1, 2].map(|_| vec![0.25_f32; length]);
            for (row, value) in rows.iter_mut().zip(colour) {
                row[place] = value;
            }
            let [red, green, blue] = &mut rows;
            compression.compress_row(red, green, blue);
            let destination = Destination::of(&SRGB);
            destination.map_row(red, green, blue);
            destination.roll_off_row([red, green, blue], 1.0, 0.25, 4.0);
            outcomes.push([0, 1, 2].map(|channel| rows[channel][place].to_bits()));
        }
    }
    outcomes.dedup();
    assert_eq!(outcomes.len(), 1);
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
    let destination = Destination::of(&SRGB);
    assert_eq!(destination.toward_white(colour, 0.0), colour);
    for value in destination.toward_white(colour, 1.0) {
        assert!((value - 0.9).abs() < 1e-6);
    }
}

/// What a person calls each LED: the sector of the hexagon of sRGB's hues in which it must arrive, in degrees. Sectors
/// common practice, no source; violet ends where the purples begin, blue where azure does. At 405 nm this sensor sees blue
/// alone, so that light may be blue.
const NAMES: [(&str, [f64; 2]); 9] = [
    ("LED 405", [235.0, 300.0]),
    ("LED 450", [228.0, 258.0]),
    ("LED 470", [215.0, 245.0]),
    ("LED 525", [95.0, 165.0]),
    ("LED 590", [15.0, 50.0]),
    ("LED 630", [-15.0, 15.0]),
    ("LED 660", [-20.0, 15.0]),
    ("magenta", [285.0, 340.0]),
    ("violet", [255.0, 300.0]),
];

#[test]
fn every_light_has_the_hue_of_its_name() {
    let to_working = daylight_matrix();
    let gamut = Gamut::new();
    let lights = lights();
    let mut wrong = Vec::new();
    for (name, [low, high]) in NAMES {
        let (_, camera) = lights
            .iter()
            .find(|(light, _)| light.starts_with(name))
            .expect("a light of the table");
        let linear = double(gamut.srgb(to_working.apply(*camera)));
        let [red, green, blue] = linear.map(srgb_encode);
        let (top, least) = (red.max(green).max(blue), red.min(green).min(blue));
        let sixths = if top == red {
            (green - blue) / (top - least)
        } else if top == green {
            2.0 + (blue - red) / (top - least)
        } else {
            4.0 + (red - green) / (top - least)
        };
        let hue = 60.0 * sixths;
        let saturation = 1.0 - least / top;
        // It is a colour still, not a tinted white.
        if !(low..=high).contains(&hue) || saturation < 0.8 {
            wrong.push(format!(
                "{name}: {hue:.0} degrees, saturation {saturation:.2}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{wrong:?}");
}

/// Folds of cloth and the planes of a face are the same light, more and less of it, with a little of another: what a wash
/// shows of them is the brightest channel. It must come through the map as the sensor saw it.
#[test]
fn modelling_inside_a_wash_is_kept() {
    let to_working = daylight_matrix();
    let gamut = Gamut::new();
    // White cloth and skin under one light: white-balanced skin has more red and less blue than green (means of the
    // groups of `skin_lab`, log R/G 0.40, log B/G -0.21).
    let skin = [1.49, 1.0, 0.81].map(|value: f64| 0.4 * value);
    for (name, camera) in lights() {
        let shown = |reflected: [f64; 3]| {
            let light = [0, 1, 2].map(|k| camera[k] * reflected[k]);
            let srgb = double(gamut.srgb(to_working.apply(light)));
            (srgb, SRGB.to_xyz().apply(srgb)[1])
        };
        let (_, white) = shown([1.0; 3]);
        let (face, dark) = shown(skin);
        assert!(
            dark < 0.9 * white && dark > 0.1 * white,
            "{name}: {dark} {white}"
        );
        // A tenth more light is a tenth more picture.
        let (brighter, _) = shown(skin.map(|value| 1.1 * value));
        for (value, wanted) in brighter.iter().zip(face) {
            assert!((value - 1.1 * wanted).abs() < 1e-5, "{name}");
        }
    }
}

/// Every stage light through the sensor from middle grey's level to +4 stops: guard, map, curve on the brightest
/// channel, roll-off.
#[test]
fn ramps_rise_and_keep_their_hue() {
    let to_working = daylight_matrix();
    let gamut = Gamut::new();
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
            let mapped = gamut.srgb(working);
            let level = mapped[0].max(mapped[1]).max(mapped[2]);
            let rolled = Destination::of(&SRGB).toward_white(mapped, white_share(level, 1.0, 16.0));
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
        worst = worst.max(-extremes[0]).max(extremes[1]);
    }
    assert!(worst <= 15.0, "{worst}");
}
