//! Oklab of a space's own linear RGB, in single precision.

use super::blocks::cube_root;
use crate::base::matrix::Matrix3;
use crate::colour::oklab::{LAB_OF_ROOTS, LMS_OF_SRGB, ROOTS_OF_LAB, SRGB_OF_LMS};
use crate::colour::spaces::{RgbSpace, SRGB, conversion};

const LAB: [[f32; 3]; 3] = single(LAB_OF_ROOTS.0);

/// The matrices between a space's linear RGB and Oklab's cone responses, its white at L = 1, a = b = 0.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::colour) struct OklabOfSpace {
    lms: [[f32; 3]; 3],
    rgb: [[f32; 3]; 3],
    exact_rgb: Matrix3,
}

impl OklabOfSpace {
    /// Of any RGB space; one of another white than D65 is adapted by Bradford's matrix.
    pub(in crate::colour) fn new(space: &RgbSpace) -> Self {
        let exact_rgb = conversion(&SRGB, space) * SRGB_OF_LMS;
        Self {
            lms: (LMS_OF_SRGB * conversion(space, &SRGB)).to_f32(),
            rgb: exact_rgb.to_f32(),
            exact_rgb,
        }
    }

    /// Oklab of linear RGB.
    #[inline(always)]
    pub(in crate::colour) fn oklab(&self, rgb: [f32; 3], root: impl Fn(f32) -> f32) -> [f32; 3] {
        let [l, m, s] = product(&self.lms, rgb);
        product(&LAB, [root(l), root(m), root(s)])
    }

    /// Linear RGB of Oklab.
    #[inline(always)]
    pub(in crate::colour) fn rgb(&self, lab: [f32; 3]) -> [f32; 3] {
        const ROOTS: [[f32; 3]; 3] = single(ROOTS_OF_LAB.0);
        let [l, m, s] = product(&ROOTS, lab);
        product(&self.rgb, [l * l * l, m * m * m, s * s * s])
    }

    /// Linear RGB of Oklab in double precision.
    pub(super) fn exact_rgb(&self, lab: [f64; 3]) -> [f64; 3] {
        let roots = ROOTS_OF_LAB.apply(lab);
        self.exact_rgb.apply(roots.map(|root| root * root * root))
    }

    /// Rows of one length, linear RGB to Oklab in place.
    #[inline(always)]
    pub(super) fn to_oklab(&self, reds: &mut [f32], greens: &mut [f32], blues: &mut [f32]) {
        change_each(reds, greens, blues, |rgb| product(&self.lms, rgb));
        for row in [&mut *reds, &mut *greens, &mut *blues] {
            for value in row {
                *value = cube_root(*value);
            }
        }
        change_each(reds, greens, blues, |roots| product(&LAB, roots));
    }

    /// Rows of one length, Oklab to linear RGB in place.
    #[inline(always)]
    pub(super) fn to_rgb(&self, lightness: &mut [f32], a: &mut [f32], b: &mut [f32]) {
        change_each(lightness, a, b, |lab| self.rgb(lab));
    }
}

#[inline(always)]
fn change_each(
    first: &mut [f32],
    second: &mut [f32],
    third: &mut [f32],
    change: impl Fn([f32; 3]) -> [f32; 3],
) {
    let length = first.len();
    let (second, third) = (&mut second[..length], &mut third[..length]);
    for at in 0..length {
        [first[at], second[at], third[at]] = change([first[at], second[at], third[at]]);
    }
}

#[inline(always)]
fn product(matrix: &[[f32; 3]; 3], v: [f32; 3]) -> [f32; 3] {
    let row = |row: &[f32; 3]| row[2].mul_add(v[2], row[1].mul_add(v[1], row[0] * v[0]));
    [row(&matrix[0]), row(&matrix[1]), row(&matrix[2])]
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "rounding to single precision is meant"
)]
const fn single(matrix: [[f64; 3]; 3]) -> [[f32; 3]; 3] {
    let mut rounded = [[0.0; 3]; 3];
    let mut place = 0;
    while place < 9 {
        rounded[place / 3][place % 3] = matrix[place / 3][place % 3] as f32;
        place += 1;
    }
    rounded
}
