//! Turning the picture upright while its finished codes are placed.
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

/// Writes one finished row into a band of finished rows of `width` pixels: pixel `i` goes to pixel index `start + i * step` of it,
/// which leads along a row or from row to row.
pub(crate) fn place<S: Copy>(codes: &[S], width: usize, start: usize, step: isize, band: &mut [S]) {
    // Where the red of a pixel stands.
    let red = |pixel: usize| pixel / width * 3 * width + pixel % width;
    let first = red(start);
    let step = red(start.strict_add_signed(step)) as isize - first as isize;
    for (channel, codes) in codes.chunks_exact(codes.len() / 3).enumerate() {
        let first = first + channel * width;
        if step == 1 {
            band[first..][..codes.len()].copy_from_slice(codes);
            continue;
        }
        let mut at = first as isize;
        for code in codes {
            band[at as usize] = *code;
            at += step;
        }
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

    #[test]
    fn every_code_is_placed_where_its_pixel_goes() {
        for stored in [(5, 3), (1, 4), (4, 1), (1, 1)] {
            for tag in 1..=8 {
                let orientation = Orientation::from_tag(tag).expect("1 to 8");
                let (width, height) = orientation.upright_size(stored.0, stored.1);
                let mut band = vec![0; width * height * 3];
                // A code says which stored pixel and channel it is.
                let code =
                    |x: usize, y: usize, channel: usize| 100 + (y * stored.0 + x) * 3 + channel;
                for y in 0..stored.1 {
                    let codes: Vec<usize> = (0..3)
                        .flat_map(|channel| (0..stored.0).map(move |x| code(x, y, channel)))
                        .collect();
                    let index = |x: usize| upright_index(orientation, stored, x, y);
                    let step = index(1.min(stored.0 - 1)) as isize - index(0) as isize;
                    place(&codes, width, index(0), step, &mut band);
                }
                for y in 0..height {
                    for x in 0..width {
                        let (sx, sy) = orientation.stored_pixel(x, y, stored.0, stored.1);
                        for channel in 0..3 {
                            let found = band[y * 3 * width + channel * width + x];
                            assert_eq!(found, code(sx, sy, channel), "{stored:?}, tag {tag}");
                        }
                    }
                }
            }
        }
    }
}
