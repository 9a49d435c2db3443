//! Rectangles in sensor pixels, and the way a picture is to be turned upright.

use serde::{Deserialize, Serialize};

/// A rectangle in whole pixels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rect {
    /// First column.
    pub left: usize,
    /// First row.
    pub top: usize,
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
}

impl Rect {
    /// Whether the whole rectangle lies inside a plane of this size and is not empty.
    #[must_use]
    pub fn fits(&self, width: usize, height: usize) -> bool {
        self.width > 0
            && self.height > 0
            && self
                .left
                .checked_add(self.width)
                .is_some_and(|right| right <= width)
            && self
                .top
                .checked_add(self.height)
                .is_some_and(|bottom| bottom <= height)
    }
}

/// How the stored picture must be turned to stand upright: the values 1 to 8 of the TIFF 6.0 and EXIF tag Orientation
/// (274), named by what has to be done to the stored picture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Orientation {
    /// 1: stored upright.
    #[default]
    Upright,
    /// 2: mirror left to right.
    MirrorHorizontal,
    /// 3: turn by 180 degrees.
    Turn180,
    /// 4: mirror top to bottom.
    MirrorVertical,
    /// 5: swap rows and columns (mirror on the main diagonal).
    Transpose,
    /// 6: turn by 90 degrees clockwise.
    Turn90,
    /// 7: mirror on the other diagonal.
    Transverse,
    /// 8: turn by 270 degrees clockwise.
    Turn270,
}

impl Orientation {
    /// From the tag's value; `None` outside 1 to 8.
    #[must_use]
    pub fn from_tag(value: u16) -> Option<Self> {
        Some(match value {
            1 => Self::Upright,
            2 => Self::MirrorHorizontal,
            3 => Self::Turn180,
            4 => Self::MirrorVertical,
            5 => Self::Transpose,
            6 => Self::Turn90,
            7 => Self::Transverse,
            8 => Self::Turn270,
            _ => return None,
        })
    }

    /// Whether width and height change places.
    #[must_use]
    pub fn swaps_sides(self) -> bool {
        matches!(
            self,
            Self::Transpose | Self::Turn90 | Self::Transverse | Self::Turn270
        )
    }

    /// The size of the upright picture, from the stored size.
    #[must_use]
    pub fn upright_size(self, width: usize, height: usize) -> (usize, usize) {
        if self.swaps_sides() {
            (height, width)
        } else {
            (width, height)
        }
    }

    /// Where a point of the upright picture lies in the stored one, both in fractions (0 to 1) of width and height.
    #[must_use]
    pub fn stored_fraction(self, x: f64, y: f64) -> (f64, f64) {
        match self {
            Self::Upright => (x, y),
            Self::MirrorHorizontal => (1.0 - x, y),
            Self::Turn180 => (1.0 - x, 1.0 - y),
            Self::MirrorVertical => (x, 1.0 - y),
            Self::Transpose => (y, x),
            Self::Turn90 => (y, 1.0 - x),
            Self::Transverse => (1.0 - y, 1.0 - x),
            Self::Turn270 => (1.0 - y, x),
        }
    }

    /// Where a point of the stored picture lies in the upright one, both in fractions (0 to 1) of width and height: the
    /// other way of [`Self::stored_fraction`].
    #[must_use]
    pub fn upright_fraction(self, x: f64, y: f64) -> (f64, f64) {
        match self {
            // A quarter turn is undone by the other quarter turn; all the others undo themselves.
            Self::Turn90 => Self::Turn270.stored_fraction(x, y),
            Self::Turn270 => Self::Turn90.stored_fraction(x, y),
            itself => itself.stored_fraction(x, y),
        }
    }

    /// Where the pixel at column `x`, row `y` of the upright picture lies in the stored one of this size.
    #[must_use]
    pub fn stored_pixel(
        self,
        x: usize,
        y: usize,
        stored_width: usize,
        stored_height: usize,
    ) -> (usize, usize) {
        let (right, bottom) = (stored_width - 1, stored_height - 1);
        match self {
            Self::Upright => (x, y),
            Self::MirrorHorizontal => (right - x, y),
            Self::Turn180 => (right - x, bottom - y),
            Self::MirrorVertical => (x, bottom - y),
            Self::Transpose => (y, x),
            Self::Turn90 => (y, bottom - x),
            Self::Transverse => (right - y, bottom - x),
            Self::Turn270 => (right - y, x),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const ALL: [u16; 8] = [1, 2, 3, 4, 5, 6, 7, 8];

    #[test]
    fn a_point_of_the_stored_picture_comes_back_from_the_upright_one() {
        for tag in ALL {
            let orientation = Orientation::from_tag(tag).expect("a tag of the standard");
            let (x, y) = orientation.upright_fraction(0.25, 0.125);
            assert_eq!(orientation.stored_fraction(x, y), (0.25, 0.125), "{tag}");
        }
    }

    #[test]
    fn the_corner_that_the_standard_names_comes_first() {
        // TIFF 6.0, tag 274: "the 0th row represents the visual ..., the 0th column represents the visual ...".
        // The upright picture's top left pixel lies, in a stored picture of 3 x 2, at:
        let expected = [
            (0, 0),
            (2, 0),
            (2, 1),
            (0, 1),
            (0, 0),
            (0, 1),
            (2, 1),
            (2, 0),
        ];
        for (tag, corner) in ALL.into_iter().zip(expected) {
            let orientation = Orientation::from_tag(tag).expect("1 to 8");
            assert_eq!(orientation.stored_pixel(0, 0, 3, 2), corner, "tag {tag}");
        }
    }

    #[test]
    fn fractions_and_pixels_agree() {
        let (width, height) = (7, 4);
        for tag in ALL {
            let orientation = Orientation::from_tag(tag).expect("1 to 8");
            let (upright_width, upright_height) = orientation.upright_size(width, height);
            for y in 0..upright_height {
                for x in 0..upright_width {
                    let centre = |at: usize, of: usize| (at as f64 + 0.5) / of as f64;
                    let (fx, fy) = orientation
                        .stored_fraction(centre(x, upright_width), centre(y, upright_height));
                    let expected = orientation.stored_pixel(x, y, width, height);
                    assert_eq!(
                        ((fx * width as f64) as usize, (fy * height as f64) as usize),
                        expected,
                        "tag {tag}"
                    );
                }
            }
        }
    }

    #[test]
    fn rectangles_that_overflow_do_not_fit() {
        assert!(
            Rect {
                left: 1,
                top: 1,
                width: 2,
                height: 2
            }
            .fits(3, 3)
        );
        assert!(
            !Rect {
                left: 2,
                top: 1,
                width: 2,
                height: 2
            }
            .fits(3, 3)
        );
        assert!(
            !Rect {
                left: usize::MAX,
                top: 0,
                width: 2,
                height: 2
            }
            .fits(3, 3)
        );
        assert!(
            !Rect {
                left: 0,
                top: 0,
                width: 0,
                height: 2
            }
            .fits(3, 3)
        );
    }
}
