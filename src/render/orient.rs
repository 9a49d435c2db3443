//! Turning the picture upright while its finished bytes are placed.
//!
//! A band of upright rows is a rectangle of the stored picture: rows where the sides stay, columns where they change
//! places. Each finished stored row is written along its line of the band, so that no second picture is ever held.

use crate::base::geometry::{Orientation, Rect};

/// The rectangle of the stored picture (of size `stored`) that makes `rows` upright rows from `first` on.
pub(crate) fn stored_part(
    orientation: Orientation,
    stored: (usize, usize),
    first: usize,
    rows: usize,
) -> Rect {
    let (width, _) = orientation.upright_size(stored.0, stored.1);
    let corner = |x, y| orientation.stored_pixel(x, y, stored.0, stored.1);
    let (x0, y0) = corner(0, first);
    let (x1, y1) = corner(width - 1, first + rows - 1);
    Rect {
        left: x0.min(x1),
        top: y0.min(y1),
        width: x0.abs_diff(x1) + 1,
        height: y0.abs_diff(y1) + 1,
    }
}

/// Where a stored pixel goes in the upright picture, as a pixel index row after row.
pub(crate) fn upright_index(
    orientation: Orientation,
    stored: (usize, usize),
    x: usize,
    y: usize,
) -> usize {
    // A turn is undone by the opposite turn, everything else by itself.
    let back = match orientation {
        Orientation::Turn90 => Orientation::Turn270,
        Orientation::Turn270 => Orientation::Turn90,
        own => own,
    };
    let (width, height) = orientation.upright_size(stored.0, stored.1);
    let (x, y) = back.stored_pixel(x, y, width, height);
    y * width + x
}

/// Writes one finished row of codes (three a pixel) into a band: pixel `i` goes to pixel index `start + i * step` of it.
pub(crate) fn place<S: Copy>(codes: &[S], start: usize, step: isize, band: &mut [S]) {
    if step == 1 {
        band[3 * start..][..codes.len()].copy_from_slice(codes);
        return;
    }
    let mut at = start as isize;
    let pixels = band.as_chunks_mut::<3>().0;
    for pixel in codes.as_chunks::<3>().0 {
        pixels[at as usize] = *pixel;
        at += step;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stored_pixel_has_its_own_place() {
        let stored = (5, 3);
        for tag in 1..=8 {
            let orientation = Orientation::from_tag(tag).expect("1 to 8");
            let (width, height) = orientation.upright_size(5, 3);
            for y in 0..height {
                for x in 0..width {
                    let (sx, sy) = orientation.stored_pixel(x, y, 5, 3);
                    assert_eq!(
                        upright_index(orientation, stored, sx, sy),
                        y * width + x,
                        "tag {tag}"
                    );
                }
                let part = stored_part(orientation, stored, y, 1);
                assert_eq!(part.width * part.height, width, "tag {tag}");
            }
            let whole = stored_part(orientation, stored, 0, height);
            assert_eq!((whole.width, whole.height), stored, "tag {tag}");
        }
    }
}
