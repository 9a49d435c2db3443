//! Drawn scenes: each pixel is the mean of a grid of points, as a photosite collects light, after a lens that spreads a
//! point a little.

use super::Picture;

/// Points along each side of a pixel.
const POINTS: usize = 5;
/// Half the width of a lens's spread, in pixels: a good lens at full aperture.
const SPREAD: f64 = 0.6;

/// A scene of `width` by `height` pixels; `at(x, y)` is the light of a point, in pixels.
pub(super) fn drawn(width: usize, height: usize, at: impl Fn(f64, f64) -> [f64; 3]) -> Picture {
    Picture::drawn(width, height, |x, y| {
        let mut sum = [0.0; 3];
        for i in 0..POINTS * POINTS {
            // The spread of the lens makes a photosite's window wider than its side.
            let offset = |step: usize| ((step as f64 + 0.5) / POINTS as f64 - 0.5) * (1.0 + SPREAD);
            let light = at(
                x as f64 + 0.5 + offset(i % POINTS),
                y as f64 + 0.5 + offset(i / POINTS),
            );
            for (sum, light) in sum.iter_mut().zip(light) {
                *sum += light / (POINTS * POINTS) as f64;
            }
        }
        sum
    })
}

/// Left of a line that leans by `slope` columns a row one colour, right of it another.
pub(super) fn slanted_edge(side: usize, slope: f64, left: [f64; 3], right: [f64; 3]) -> Picture {
    let middle = side as f64 / 2.0;
    drawn(side, side, |x, y| {
        if x - middle < (y - middle) * slope {
            left
        } else {
            right
        }
    })
}

/// Grey rings that grow finer outwards, from none to `cycles` a pixel at the middle of the sides.
pub(super) fn zone_plate(side: usize, cycles: f64) -> Picture {
    let middle = side as f64 / 2.0;
    drawn(side, side, |x, y| {
        let square = (x - middle).powi(2) + (y - middle).powi(2);
        let phase = std::f64::consts::PI * cycles * square / middle;
        [0.2 + 0.15 * phase.cos(); 3]
    })
}

/// A disc of a lamp's colour on the ground's.
pub(super) fn lamp(side: usize, radius: f64, lamp: [f64; 3], ground: [f64; 3]) -> Picture {
    let middle = side as f64 / 2.0;
    drawn(side, side, |x, y| {
        if (x - middle).hypot(y - middle) < radius {
            lamp
        } else {
            ground
        }
    })
}
