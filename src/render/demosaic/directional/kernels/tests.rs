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
fn every_copy_of_the_parts_gives_the_same_bits() {
    hold_together(&part_row::levels(), |kernel, length| {
        let [row] = rows(length, 0);
        // The odd columns' last place is made even where there is none.
        let mut parts = [(); 4].map(|()| vec![7.0; length.div_ceil(2)]);
        let [even_light, odd_light, even_root, odd_root] = &mut parts;
        let domain = Root::new(1e-3);
        kernel(domain, &row, even_light, odd_light, even_root, odd_root);
        for (x, light) in row.iter().enumerate() {
            assert_eq!(parts[x % 2][x / 2], *light);
            assert_eq!(parts[2 + x % 2][x / 2], domain.of(*light));
        }
        if !length.is_multiple_of(2) {
            assert_eq!([parts[1][length / 2], parts[3][length / 2]], [0.0; 2]);
        }
        parts.concat()
    });
}

#[test]
fn every_copy_of_the_sides_gives_the_same_bits() {
    hold_together(&side_row::levels(), |kernel, length| {
        let r: [_; 8] = rows(length, 0);
        let r = r.each_ref().map(Vec::as_slice);
        let [mut a, mut b] = rows(length, 0);
        let (along, across) = ([r[0], r[1], r[2], r[3]], [r[4], r[5], r[6], r[7]]);
        kernel(along, across, 0.05, &mut a, &mut b);
        [a, b].concat()
    });
}

#[test]
fn every_copy_of_the_shares_gives_the_same_bits() {
    hold_together(&share_row::levels(), |kernel, length| {
        let r: [_; 4] = rows(length, 0);
        let [mut made] = rows(length, 0);
        kernel(r.each_ref().map(Vec::as_slice), &mut made);
        made
    });
}

#[test]
fn every_copy_of_the_differences_gives_the_same_bits() {
    hold_together(&difference_row::levels(), |kernel, length| {
        let r: [_; 15] = rows(length, 0);
        let r = r.each_ref().map(Vec::as_slice);
        let [mut a, mut b] = rows(length, 0);
        kernel(
            [r[0], r[1], r[2], r[3]],
            std::array::from_fn(|i| r[4 + i]),
            std::array::from_fn(|i| r[9 + i]),
            r[14],
            &mut a,
            &mut b,
        );
        [a, b].concat()
    });
}

#[test]
fn every_copy_of_the_steady_differences_gives_the_same_bits() {
    hold_together(&steady_difference_row::levels(), |kernel, length| {
        let r: [_; 27] = rows(length, 0);
        let r = r.each_ref().map(Vec::as_slice);
        let [mut a, mut b] = rows(length, 0);
        kernel(
            [r[0], r[1], r[2], r[3]],
            std::array::from_fn(|i| r[4 + i]),
            std::array::from_fn(|i| r[13 + i]),
            [r[22], r[23], r[24], r[25]],
            r[26],
            &mut a,
            &mut b,
        );
        [a, b].concat()
    });
}

#[test]
fn every_copy_of_the_opposites_gives_the_same_bits() {
    hold_together(&opposite_row::levels(), |kernel, length| {
        let r: [_; 13] = rows(length, 0);
        let r = r.each_ref().map(Vec::as_slice);
        let [mut made] = rows(length, 0);
        kernel(
            std::array::from_fn(|i| r[i]),
            std::array::from_fn(|i| r[4 + i]),
            std::array::from_fn(|i| r[8 + i]),
            r[12],
            0.02,
            &mut made,
        );
        made
    });
}

#[test]
fn every_copy_of_the_colours_gives_the_same_bits() {
    hold_together(&colour_row::levels(), |kernel, length| {
        let r: [_; 14] = rows(length, 0);
        let r = r.each_ref().map(Vec::as_slice);
        let mut made = Vec::new();
        for is_green_first in [true, false] {
            let [mut colour, mut green, mut other] = rows(2 * length, 0);
            kernel(
                Root::new(1e-3),
                is_green_first,
                AtGreen {
                    light: r[0],
                    root: r[1],
                    share: r[2],
                    differences: [r[3], r[4], r[5], r[6]],
                    opposites: [r[7], r[8], r[9], r[10]],
                },
                AtColour {
                    light: r[11],
                    green: r[12],
                    opposite: r[13],
                },
                &mut colour,
                &mut green,
                &mut other,
            );
            made.extend([colour, green, other].concat());
        }
        made
    });
}
