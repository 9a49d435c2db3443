//! CIEDE2000, the colour difference of CIE 142 and ISO/CIE 11664-6.
//!
//! The arithmetic is the palette library's, which passes all 34 pairs of Sharma, Wu and Dalal (2005); this module only
//! keeps that library's types out of the rest of the house.

use crate::colour::lab::Lab;
use palette::color_difference::Ciede2000;

/// CIEDE2000 between two colours under one white, with kL = kC = kH = 1. About 1 is a just visible difference side by
/// side (common practice, no source).
#[must_use]
pub fn ciede2000(one: Lab, other: Lab) -> f64 {
    let palette_lab =
        |lab: Lab| palette::Lab::<palette::white_point::D50, f64>::new(lab.lightness, lab.a, lab.b);
    palette_lab(one).difference(palette_lab(other))
}
