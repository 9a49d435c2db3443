//! Marks on a picture's tiles, grown and shrunk by squares.
//!
//! Row by row: a row against itself, shifted, then rows against their neighbours, which a compiler puts into vectors of 64 marks. What
//! lies beyond the picture neither marks nor unmarks.

use crate::base::kernel::row_kernel;

/// The marks whose whole square of this radius is marked.
#[must_use]
pub fn eroded(mask: &[bool], width: usize, radius: usize) -> Vec<bool> {
    over_squares(mask, width, radius, keep_common)
}

/// The marks with all that lies within a square of this radius around one.
#[must_use]
pub fn dilated(mask: &[bool], width: usize, radius: usize) -> Vec<bool> {
    over_squares(mask, width, radius, take_either)
}

/// Removes what holds no square of this radius.
#[must_use]
pub fn opened(mask: &[bool], width: usize, radius: usize) -> Vec<bool> {
    dilated(&eroded(mask, width, radius), width, radius)
}

/// Fills gaps that hold no square of this radius.
#[must_use]
pub fn closed(mask: &[bool], width: usize, radius: usize) -> Vec<bool> {
    eroded(&dilated(mask, width, radius), width, radius)
}

/// Puts together the marks of a square around each place: along rows, then down columns.
fn over_squares(
    mask: &[bool],
    width: usize,
    radius: usize,
    with: fn(&mut [bool], &[bool]),
) -> Vec<bool> {
    if width == 0 {
        return Vec::new();
    }
    let mut rows = mask.to_vec();
    let sources = mask.chunks_exact(width);
    for (row, source) in rows.chunks_exact_mut(width).zip(sources) {
        for shift in 1..=radius.min(width - 1) {
            with(&mut row[..width - shift], &source[shift..]);
            with(&mut row[shift..], &source[..width - shift]);
        }
    }
    let mut result = rows.clone();
    for (y, row) in result.chunks_exact_mut(width).enumerate() {
        let near = rows.chunks_exact(width).skip(y.saturating_sub(radius));
        for other in near.take(radius + 1 + y.min(radius)) {
            with(row, other);
        }
    }
    result
}

row_kernel! {
    /// Keeps the marks that another row has too.
    fn keep_common(row: &mut [bool], other: &[bool]) {
        for (mark, other) in row.iter_mut().zip(other) {
            *mark &= other;
        }
    }
}

row_kernel! {
    /// Takes the marks of another row as well.
    fn take_either(row: &mut [bool], other: &[bool]) {
        for (mark, other) in row.iter_mut().zip(other) {
            *mark |= other;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::GrayImage;
    use imageproc::distance_transform::Norm;
    use imageproc::morphology;

    #[test]
    fn masks_grow_and_shrink_as_a_library_has_it() {
        // One place, one row, one column, odd sizes, and radii larger than the picture.
        for (width, height) in [(1, 1), (9, 1), (1, 9), (5, 4), (37, 23), (130, 7)] {
            for seed in 0..4_usize {
                // From a few marks to nearly all.
                let mask: Vec<bool> = (0..width * height)
                    .map(|at| (at * 7919 + seed * 31) % 1009 < 100 + 290 * seed)
                    .collect();
                let bytes = mask.iter().map(|&mark| u8::from(mark) * u8::MAX).collect();
                let image =
                    GrayImage::from_raw(width as u32, height as u32, bytes).expect("sizes fit");
                // The library counts no distance beyond width and height together.
                for radius in [1, 2, 6, 50_u8].map(|radius| radius.min((width + height - 1) as u8))
                {
                    let expected = |of: fn(&GrayImage, Norm, u8) -> GrayImage| -> Vec<bool> {
                        let image = of(&image, Norm::LInf, radius);
                        image.as_raw().iter().map(|&value| value > 0).collect()
                    };
                    let reach = usize::from(radius);
                    assert_eq!(eroded(&mask, width, reach), expected(morphology::erode));
                    assert_eq!(dilated(&mask, width, reach), expected(morphology::dilate));
                    assert_eq!(opened(&mask, width, reach), expected(morphology::open));
                    assert_eq!(closed(&mask, width, reach), expected(morphology::close));
                }
            }
        }
        assert!(eroded(&[], 0, 1).is_empty());
        for length in [0, 1, 63, 64, 65, 251] {
            let row = |seed: usize| -> Vec<bool> {
                (0..length).map(|at| (at * 7919 + seed) % 5 > 1).collect()
            };
            let of = |kernel: fn(&mut [bool], &[bool])| {
                let mut found = row(1);
                kernel(&mut found, &row(2));
                found
            };
            for copies in [keep_common::levels(), take_either::levels()] {
                for (name, kernel) in &copies {
                    assert_eq!(of(*kernel), of(copies[0].1), "{name} at {length}");
                }
            }
        }
    }
}
