use super::*;
use crate::base::kernel::{hold_together, unordered_row};

/// Full levels of a usual body under daylight.
const FULL: [f32; 3] = [2.0, 1.0, 1.5];
const WHITE: f32 = 6.0;

/// Surroundings of one colour, given as red and blue over green.
fn of_one_colour(red: f32, blue: f32) -> [f32; FIELDS + 1] {
    let (red, blue) = (red.log2(), blue.log2());
    [red, blue, red * red, red * blue, blue * blue, 0.0]
}

/// Surroundings half of one colour, half of another.
fn of_two_colours(one: [f32; 2], other: [f32; 2]) -> [f32; FIELDS + 1] {
    let (one, other) = (
        of_one_colour(one[0], one[1]),
        of_one_colour(other[0], other[1]),
    );
    std::array::from_fn(|at| f32::midpoint(one[at], other[at]))
}

/// A light after the sensor has clipped it, rebuilt.
fn seen(around: &[f32; FIELDS + 1], light: [f32; 3]) -> [f32; 3] {
    let mut planes = [0, 1, 2].map(|k| [light[k].min(FULL[k])]);
    let [red, green, blue] = &mut planes;
    rebuild_row(FULL, WHITE, &[*around], 0.0, 0.1, red, green, blue);
    planes.map(|[value]| value)
}

#[test]
fn every_copy_gives_the_same_bits() {
    hold_together(&find_above::levels(), |kernel, length| {
        let rows = [1, 2, 3].map(|seed| unordered_row(seed, length));
        let found = |limits| {
            let mut is_any = false;
            kernel(limits, &rows[0], &rows[1], &rows[2], &mut is_any);
            f32::from(u8::from(is_any))
        };
        [9.0, 0.7, -1.0]
            .into_iter()
            .flat_map(|limit| [[limit, 9.0, 9.0], [9.0, limit, 9.0], [9.0, 9.0, limit]])
            .map(found)
            .collect()
    });
    let fields: Vec<_> = (0..9)
        .map(|at| of_two_colours([0.5 + at as f32, 0.3], [1.0, 1.0 + at as f32]))
        .collect();
    hold_together(&rebuild_row::levels(), |kernel, length| {
        let [mut red, mut green, mut blue] = [1, 2, 3].map(|seed| {
            let row = unordered_row(seed, length);
            row.iter().map(|v| v * 2.0).collect::<Vec<_>>()
        });
        kernel(
            FULL, WHITE, &fields, -0.4, 0.125, &mut red, &mut green, &mut blue,
        );
        [red, green, blue].concat()
    });
}

#[test]
fn what_is_not_clipped_is_left_alone() {
    for colour in [
        [0.3, 0.6, 0.2],
        [1.7, 0.88, 1.3],
        [0.0; 3],
        [-0.01, 0.5, 0.2],
    ] {
        assert_eq!(seen(&of_one_colour(3.0, 0.2), colour), colour);
    }
    // Nor is a channel beside clipped ones: no green under magenta.
    let [_, green, _] = seen(&of_one_colour(20.0, 15.0), [4.0, 0.2, 3.0]);
    assert_eq!(green, 0.2);
}

#[test]
fn one_clipped_channel_comes_back() {
    for colour in [
        [1.0, 1.0, 1.0],
        [0.9, 1.0, 0.7],
        [0.5, 1.0, 1.2],
        [0.4, 1.0, 0.3],
    ] {
        let around = of_one_colour(colour[0], colour[2]);
        for level in [1.05_f32, 1.2] {
            let light = colour.map(|value| value * level);
            let found = seen(&around, light);
            for (found, wanted) in found.iter().zip(light) {
                assert!((found / wanted - 1.0).abs() < 0.02, "{light:?}: {found}");
            }
        }
    }
}

#[test]
fn two_clipped_channels_come_back() {
    // A red wash on a face, two stops over: red and green are full, blue tells the level.
    let colour = [4.0, 1.0, 0.6];
    let light = colour.map(|value| value * 1.4);
    let found = seen(&of_one_colour(colour[0], colour[2]), light);
    for (found, wanted) in found.iter().zip(light) {
        assert!((found / wanted - 1.0).abs() < 0.05, "{found} {wanted}");
    }
}

#[test]
fn a_pixel_takes_the_colour_of_the_object_that_it_looks_like() {
    // A white shirt beside skin under a warm light: the unclipped ratio of red to blue tells them apart.
    let (shirt, skin) = ([1.0, 1.0], [1.6, 0.5]);
    let around = of_two_colours(shirt, skin);
    for [red, blue] in [shirt, skin] {
        let light = [red, 1.0, blue].map(|value| value * 1.15);
        let [_, green, _] = seen(&around, light);
        assert!((green / light[1] - 1.0).abs() < 0.06, "{red}: {green}");
    }
}

#[test]
fn a_grey_ramp_never_turns_pink_and_never_darker() {
    let around = of_one_colour(1.0, 1.0);
    let mut before = 0.0;
    for step in 0..=4000 {
        let light = step as f32 / 1000.0;
        let [r, g, b] = seen(&around, [light; 3]);
        let (largest, least) = (r.max(g).max(b), r.min(g).min(b));
        assert!(
            largest - least < 0.03 * largest.max(0.01),
            "{light}: {r} {g} {b}"
        );
        assert!(g >= before - 2e-3, "{light} is darker: {g} {before}");
        before = before.max(g);
    }
    for value in seen(&around, [4.0; 3]) {
        assert!((value - 2.0).abs() < 1e-3);
    }
}

#[test]
fn a_core_is_white_and_rises_inside() {
    let mut around = of_one_colour(0.2, 3.0);
    let rim = seen(&around, [4.0; 3]);
    around[FIELDS] = 1.0;
    let inside = seen(&around, [4.0; 3]);
    for colour in [rim, inside] {
        assert!((colour[0] - colour[1]).abs() + (colour[2] - colour[1]).abs() < 1e-4);
    }
    assert!(inside[1] >= WHITE && rim[1] >= 2.0);
}
