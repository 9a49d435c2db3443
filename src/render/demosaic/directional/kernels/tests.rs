use super::*;
use crate::base::kernel::{hold_together, unordered_row};

/// Rows without order, longer than what is made by `margin`.
fn rows<const N: usize>(length: usize, margin: usize) -> [Vec<f32>; N] {
    std::array::from_fn(|seed| unordered_row(seed, length + margin))
}

#[test]
fn every_copy_of_the_residuals_gives_the_same_bits() {
    hold_together(&residual_row::levels(), |kernel, length| {
        let r: [_; 9] = rows(length, 0);
        let [mut a, mut b] = rows(length, 0);
        kernel(
            &r[0], &r[1], &r[2], &r[3], &r[4], &r[5], &r[6], &r[7], &r[8], &mut a, &mut b,
        );
        [a, b].concat()
    });
}

#[test]
fn every_copy_of_the_changes_gives_the_same_bits() {
    hold_together(&change_row::levels(), |kernel, length| {
        let r: [_; 12] = rows(length, 0);
        let [mut a, mut b] = rows(length, 0);
        kernel(
            &r[0], &r[1], &r[2], &r[3], &r[4], &r[5], &r[6], &r[7], &r[8], &r[9], &r[10], &r[11],
            &mut a, &mut b,
        );
        [a, b].concat()
    });
}

#[test]
fn every_copy_of_the_sides_gives_the_same_bits() {
    hold_together(&side_row::levels(), |kernel, length| {
        let r: [_; 5] = rows(length, 3);
        let r = r.each_ref().map(Vec::as_slice);
        let [mut a, mut b] = rows(length, 0);
        kernel(r[0], [r[1], r[2], r[3], r[4]], 0.05, &mut a, &mut b);
        [a, b].concat()
    });
}

#[test]
fn every_copy_of_the_differences_gives_the_same_bits() {
    hold_together(&difference_row::levels(), |kernel, length| {
        let r: [_; 10] = rows(length, 6);
        let r = r.each_ref().map(Vec::as_slice);
        let [mut a, mut b, mut c] = rows(length, 0);
        kernel(
            r[0],
            [r[1], r[2]],
            r[3],
            std::array::from_fn(|i| r[4 + i]),
            r[9],
            &mut a,
            &mut b,
            &mut c,
        );
        [a, b, c].concat()
    });
}

#[test]
fn every_copy_of_the_steady_differences_gives_the_same_bits() {
    hold_together(&steady_difference_row::levels(), |kernel, length| {
        let r: [_; 18] = rows(length, 8);
        let r = r.each_ref().map(Vec::as_slice);
        let [mut a, mut b, mut c] = rows(length, 0);
        kernel(
            r[0],
            [r[1], r[2]],
            r[3],
            std::array::from_fn(|i| r[4 + i]),
            std::array::from_fn(|i| r[13 + i]),
            r[17],
            &mut a,
            &mut b,
            &mut c,
        );
        [a, b, c].concat()
    });
}

#[test]
fn every_copy_of_the_opposites_gives_the_same_bits() {
    hold_together(&opposite_row::levels(), |kernel, length| {
        let r: [_; 7] = rows(length, 6);
        let r = r.each_ref().map(Vec::as_slice);
        let [mut made] = rows(length, 0);
        kernel(
            [r[0], r[1], r[2], r[3]],
            [r[4], r[5], r[6]],
            0.02,
            &mut made,
        );
        made
    });
}

#[test]
fn every_copy_of_the_colours_gives_the_same_bits() {
    hold_together(&colour_row::levels(), |kernel, length| {
        let r: [_; 10] = rows(length, 2);
        let mut made = Vec::new();
        for green_at in [0, 1] {
            let [mut colour, mut green, mut other] = rows(length, 0);
            kernel(
                Root::new(1e-3),
                &r[0],
                &r[1],
                &r[2],
                &r[3],
                &r[4],
                &r[5],
                &r[6],
                &r[7],
                &r[8],
                &r[9],
                green_at,
                &mut colour,
                &mut green,
                &mut other,
            );
            made.extend([colour, green, other].concat());
        }
        made
    });
}
