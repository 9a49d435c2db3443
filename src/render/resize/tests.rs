use super::*;
use crate::base::kernel::{hold_together, unordered_row};

#[test]
fn every_copy_gives_the_same_bits() {
    hold_together(&add_weighted::levels(), |kernel, length| {
        let mut sum = vec![7.0; length];
        let rows = [1, 2, 3, 4].map(|seed| unordered_row(seed, length));
        let rows = rows.each_ref().map(|row| &row[..]);
        kernel([0.3, -0.7, 0.0, 1.1], true, rows, &mut sum);
        kernel([-0.2, 0.4, 0.9, -0.1], false, rows, &mut sum);
        sum
    });
    hold_together(&filter_block::levels(), |kernel, length| {
        let weights = unordered_row(1, length * LANES);
        let [red, green, blue] = [2, 3, 4].map(|seed| unordered_row(seed, length));
        let mut out = [[0.0; LANES]; 3];
        let lines = weights.as_chunks::<LANES>().0;
        kernel(lines, &red, &green, &blue, &mut out);
        out.concat()
    });
}

/// A row whose channels are these samples, and them from the end and halved.
fn row_of(samples: &[f32]) -> RgbRow {
    let turned: Vec<f32> = samples.iter().rev().copied().collect();
    let halved: Vec<f32> = samples.iter().map(|sample| sample / 2.0).collect();
    RgbRow::of([samples, &turned, &halved])
}

fn resized(samples: &[f32], made: usize) -> Vec<f32> {
    let axis = Axis::new(samples.len(), samples.len() as f64, made);
    let mut out = RgbRow::new(made);
    Across::new(&axis).filter_row(0, &(0..made), &row_of(samples), &mut out);
    let [red, _, _] = out.planes;
    red.to_vec()
}

#[test]
fn weights_sum_to_one_and_parts_equal_the_whole() {
    for (samples, made) in [
        (1, 1),
        (2, 1),
        (7, 3),
        (100, 99),
        (101, 37),
        (3000, 2048),
        (9, 9),
    ] {
        let axis = Axis::new(samples, samples as f64, made);
        for index in 0..made {
            let sum: f32 = axis.weights_of(index).iter().sum();
            assert!((sum - 1.0).abs() < 1e-6);
            assert!(axis.needs(index).end <= samples);
        }
        let row = row_of(&unordered_row(3, samples));
        let mut whole = RgbRow::new(made);
        let across = Across::new(&axis);
        across.filter_row(0, &(0..made), &row, &mut whole);
        for (out, samples) in whole.planes.iter().zip(&row.planes) {
            for (index, found) in out.iter().enumerate() {
                let own = axis
                    .weights_of(index)
                    .iter()
                    .zip(&samples[axis.needs(index)]);
                let exact: f64 = own.map(|(w, s)| f64::from(*w) * f64::from(*s)).sum();
                // Sums of some hundred products of numbers around 1 at most.
                assert!(
                    (f64::from(*found) - exact).abs() < 3e-6,
                    "{samples:?} to {made}"
                );
            }
        }
        let part = made / 3..made.div_ceil(2);
        let needs = across.needs_of(&part);
        let cut = RgbRow::of(row.planes.each_ref().map(|plane| &plane[needs.clone()]));
        let mut out = RgbRow::new(part.len());
        across.filter_row(needs.start, &part, &cut, &mut out);
        // Samples beyond the needed ones are met by weights of zero only.
        let whole = whole.planes.each_ref().map(|plane| &plane[part.clone()]);
        assert_eq!(out, RgbRow::of(whole));
    }
}

#[test]
fn lines_of_single_pixels_become_their_mean() {
    let lines: Vec<f32> = (0..600).map(|i| (i % 2) as f32).collect();
    let out = resized(&lines, 200);
    // A filter of three lobes lets a little of the finest lines through, and is cut off at the borders.
    for value in &out[3..197] {
        assert!((value - 0.5).abs() < 0.01, "{value}");
    }
}

/// Against fast_image_resize, a general-purpose library, on one channel in single precision.
#[test]
fn a_library_resizes_the_same_way() {
    use fast_image_resize::images::Image;
    use fast_image_resize::{FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer as Library};
    for (width, made) in [(301usize, 100usize), (300, 205), (64, 63), (17, 5)] {
        let row = unordered_row(9, width);
        let bytes: Vec<u8> = row.iter().flat_map(|value| value.to_ne_bytes()).collect();
        let source = Image::from_vec_u8(width as u32, 1, bytes, PixelType::F32).expect("an image");
        let mut target = Image::new(made as u32, 1, PixelType::F32);
        let options = ResizeOptions::new()
            .resize_alg(ResizeAlg::Convolution(FilterType::Lanczos3))
            .use_alpha(false);
        Library::new()
            .resize(&source, &mut target, &options)
            .expect("resized");
        let theirs = target
            .buffer()
            .chunks_exact(4)
            .map(|b| f32::from_ne_bytes([b[0], b[1], b[2], b[3]]));
        for (ours, theirs) in resized(&row, made).iter().zip(theirs) {
            // Rounding of sums in another order.
            assert!(
                (ours - theirs).abs() < 2e-6,
                "{width} to {made}: {ours} {theirs}"
            );
        }
    }
}
