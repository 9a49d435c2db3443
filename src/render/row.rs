//! Rows of planar colour, and a window of rows that moves down a picture.
//!
//! No stage keeps a whole picture: each asks the stage before it for the few rows it needs, and those are kept in a
//! ring. Rows come in order, once each.

use aligned_vec::{AVec, ConstAlign};
use std::ops::Range;

/// Bytes at a multiple of which a row begins: a cache line, and the widest vector. A vector that lies in two lines is
/// loaded and stored at half the speed.
const LINE: usize = 64;

/// Values that fill a line: a stage that begins its rows' inner part so far in, or a multiple of it, keeps to the lines.
pub(crate) const LINE_VALUES: usize = LINE / size_of::<f32>();

/// Values of one row, or of working memory as long as one.
pub(crate) type Row = AVec<f32, ConstAlign<LINE>>;

/// A row of zeros.
pub(crate) fn row_of(length: usize) -> Row {
    let mut row = Row::with_capacity(LINE, length);
    row.resize(length, 0.0);
    row
}

/// One row of red, green, blue.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct RgbRow {
    /// Red, green, blue, of one length.
    pub(crate) planes: [Row; 3],
}

impl Default for RgbRow {
    fn default() -> Self {
        Self::new(0)
    }
}

impl RgbRow {
    /// A row of zeros.
    pub(crate) fn new(length: usize) -> Self {
        Self {
            planes: std::array::from_fn(|_| row_of(length)),
        }
    }

    /// A row of these values.
    #[cfg(test)]
    pub(crate) fn of(planes: [&[f32]; 3]) -> Self {
        Self {
            planes: planes.map(|plane| Row::from_slice(LINE, plane)),
        }
    }

    /// The columns `range` of the three planes, to be changed.
    pub(crate) fn columns_mut(&mut self, range: Range<usize>) -> [&mut [f32]; 3] {
        let [red, green, blue] = &mut self.planes;
        [
            &mut red[range.clone()],
            &mut green[range.clone()],
            &mut blue[range],
        ]
    }
}

/// The last few rows of a picture that is made from top to bottom.
#[derive(Debug)]
pub(crate) struct Window<R> {
    rows: Vec<R>,
    /// Number of the next row to be made.
    next: usize,
}

impl<R> Window<R> {
    /// A window of `size` rows made by `empty`, whose first row will be `first`.
    pub(crate) fn new(size: usize, first: usize, empty: impl Fn() -> R) -> Self {
        Self {
            rows: (0..size.max(1)).map(|_| empty()).collect(),
            next: first,
        }
    }

    /// Makes rows until `end` (exclusive) is reached; rows that fell out of the window are overwritten.
    pub(crate) fn fill_to(&mut self, end: usize, mut make: impl FnMut(usize, &mut R)) {
        while self.next < end {
            let size = self.rows.len();
            make(self.next, &mut self.rows[self.next % size]);
            self.next += 1;
        }
    }

    /// Row `y`, which must be among the last `size` rows made.
    pub(crate) fn row(&self, y: usize) -> &R {
        debug_assert!(
            y < self.next && y + self.rows.len() >= self.next,
            "row {y} is not in the window that ends before {}",
            self.next
        );
        &self.rows[y % self.rows.len()]
    }
}

/// The index inside `0..length` that stands in for `index` beyond the border: mirrored on the border pixel itself, so
/// that a pattern of period two keeps its phase. `length` must not be 0.
#[inline]
pub(crate) fn mirrored(index: isize, length: usize) -> usize {
    if length == 1 {
        return 0;
    }
    let period = 2 * (length - 1);
    let wrapped = index.rem_euclid(period as isize) as usize;
    wrapped.min(period - wrapped)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mirrored_indices_stay_inside_and_keep_their_parity() {
        for length in 1..9usize {
            for index in -20isize..20 {
                let inside = mirrored(index, length);
                assert!(inside < length);
                if length > 1 {
                    assert_eq!(
                        inside % 2,
                        index.rem_euclid(2) as usize,
                        "{index} of {length}"
                    );
                }
                if index >= 0 && (index as usize) < length {
                    assert_eq!(inside, index as usize);
                }
            }
        }
        assert_eq!([-2, -1, 5, 6].map(|index| mirrored(index, 5)), [2, 1, 3, 2]);
    }

    #[test]
    fn rows_begin_at_a_line() {
        for length in [1, 2, 61, 4096, 6000] {
            for plane in RgbRow::new(length).planes {
                assert_eq!(
                    (plane.len(), plane.as_ptr().align_offset(LINE)),
                    (length, 0)
                );
            }
        }
    }

    #[test]
    fn a_window_makes_each_row_once_and_in_order() {
        let mut made = Vec::new();
        let mut window = Window::new(3, 2, || 0usize);
        for end in [3, 5, 5, 8] {
            window.fill_to(end, |y, row| {
                made.push(y);
                *row = y;
            });
            for y in end.saturating_sub(3).max(2)..end {
                assert_eq!(*window.row(y), y);
            }
        }
        assert_eq!(made, [2, 3, 4, 5, 6, 7]);
    }
}
