//! Oklab of a space's own linear RGB, in single precision.

use super::blocks::{BLOCK, Lane, cube_root};
use crate::base::matrix::Matrix3;
use crate::colour::oklab::{LAB_OF_ROOTS, LMS_OF_SRGB, ROOTS_OF_LAB, SRGB_OF_LMS};
use crate::colour::spaces::{RgbSpace, SRGB, conversion};

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
        const LAB: [[f32; 3]; 3] = single(LAB_OF_ROOTS.0);
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

    /// Oklab of a block.
    #[inline(always)]
    pub(super) fn oklab_block(&self, rgb: &[Lane; 3]) -> [Lane; 3] {
        let mut lab = [[0.0; BLOCK]; 3];
        for index in 0..BLOCK {
            let [l, a, b] = self.oklab([rgb[0][index], rgb[1][index], rgb[2][index]], cube_root);
            lab[0][index] = l;
            lab[1][index] = a;
            lab[2][index] = b;
        }
        lab
    }

    /// Linear RGB of a block of Oklab.
    #[inline(always)]
    pub(super) fn rgb_block(&self, lightness: &Lane, a: &Lane, b: &Lane) -> [Lane; 3] {
        let mut rgb = [[0.0; BLOCK]; 3];
        for index in 0..BLOCK {
            let [red, green, blue] = self.rgb([lightness[index], a[index], b[index]]);
            rgb[0][index] = red;
            rgb[1][index] = green;
            rgb[2][index] = blue;
        }
        rgb
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
