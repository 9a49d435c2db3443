//! Full channels of a row: what they hide is for the highlights to find, not for an average, so they stay full.

use crate::base::kernel::row_kernel;
use crate::render::row::Row;
use std::ops::Range;

/// Which channels of a row are full, a bit each.
#[derive(Clone, Debug, Default)]
pub(super) struct Full {
    marks: Vec<u8>,
    /// Whether there are any; marks are not looked at otherwise.
    any: bool,
}

impl Full {
    /// Marks values at or above the level of a full channel, and whether there are any.
    pub(super) fn mark(&mut self, planes: &[&mut [f32]; 3], full: &[f32; 3]) {
        let mut count = 0;
        for (plane, full) in planes.iter().zip(full) {
            count_full(plane, *full, &mut count);
        }
        self.any = count > 0;
        if !self.any {
            return;
        }
        let [red, green, blue] = planes;
        self.marks.resize(red.len(), 0);
        let marks = self.marks.iter_mut();
        for (((mark, r), g), b) in marks.zip(&**red).zip(&**green).zip(&**blue) {
            *mark = u8::from(*r >= full[0])
                | u8::from(*g >= full[1]) << 1
                | u8::from(*b >= full[2]) << 2;
        }
    }

    /// Holds marked channels of the columns `made` at their full level.
    pub(super) fn hold(&self, made: Range<usize>, full: &[f32; 3], planes: &mut [Row; 3]) {
        if !self.any {
            return;
        }
        let marks = &self.marks[made];
        for (channel, (plane, full)) in planes.iter_mut().zip(full).enumerate() {
            for (value, mark) in plane.iter_mut().zip(marks) {
                if mark >> channel & 1 == 1 {
                    *value = value.max(*full);
                }
            }
        }
    }
}

row_kernel! {
    /// Counts the values of a row that are at or above the level of a full channel.
    fn count_full(row: &[f32], full: f32, count: &mut u32) {
        let mut found = 0;
        for value in row {
            found += u32::from(*value >= full);
        }
        *count += found;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&count_full::levels(), |kernel, length| {
            let mut count = 0;
            kernel(&unordered_row(1, length), 0.9, &mut count);
            vec![count as f32]
        });
    }
}
