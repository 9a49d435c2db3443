//! Resizing by a separable Lanczos filter in linear light, row by row.
//!
//! It works on the finished linear picture, after the curve and the mapping to the output's gamut and before encoding.
//! Resizing scene light instead would be cheaper, but a lamp eight times as bright as white next to black makes stairs
//! and dark rings that no later step removes; and a small picture is meant to look like the large one seen from afar.
//!
//! A library resizes whole pictures well; this one streams rows, and its weights come from the whole picture's geometry,
//! so that no band and no strip can change a bit of the result. Rows are combined first, which fills vectors, then
//! columns. A test holds the result against a library's.

use crate::render::kernel::row_kernel;
use crate::render::row::{RgbRow, Window};
use std::ops::Range;

/// Lobes of the Lanczos window to each side. Three is the customary compromise of sharpness and ringing.
const LOBES: f64 = 3.0;

/// Columns' weights are filled up with zeros to a multiple of this, so that products come in vectors.
const LANES: usize = 4;

/// Weights of one axis: which source samples make each output sample.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Axis {
    /// First source sample of each output sample.
    starts: Vec<usize>,
    /// Samples in use for each output sample.
    counts: Vec<usize>,
    /// `stride` weights for each output sample, zeros at the end.
    weights: Vec<f32>,
    stride: usize,
}

impl Axis {
    /// An axis of `samples` source samples, of which the first `span` (a whole number or a part less) are spread over
    /// `made` output samples. None of them may be 0.
    pub(crate) fn new(samples: usize, span: f64, made: usize) -> Self {
        let scale = span / made as f64;
        let stretch = scale.max(1.0);
        let per_sample: Vec<(usize, Vec<f64>)> = (0..made)
            .map(|index| {
                let centre = (index as f64 + 0.5) * scale;
                let reach = LOBES * stretch;
                let first = ((centre - reach).floor().max(0.0) as usize).min(samples - 1);
                let end = ((centre + reach).ceil() as usize).clamp(first + 1, samples);
                let weights: Vec<f64> = (first..end)
                    .map(|sample| lanczos((sample as f64 + 0.5 - centre) / stretch))
                    .collect();
                let sum: f64 = weights.iter().sum();
                (first, weights.iter().map(|weight| weight / sum).collect())
            })
            .collect();
        let longest = per_sample.iter().map(|(_, w)| w.len()).max().unwrap_or(1);
        let stride = longest.next_multiple_of(LANES);
        let mut weights = vec![0.0f32; made * stride];
        for (row, (_, own)) in weights.chunks_exact_mut(stride).zip(&per_sample) {
            for (to, from) in row.iter_mut().zip(own) {
                *to = *from as f32;
            }
        }
        Self {
            starts: per_sample.iter().map(|(first, _)| *first).collect(),
            counts: per_sample.iter().map(|(_, own)| own.len()).collect(),
            weights,
            stride,
        }
    }

    /// Most source samples that one output sample needs.
    pub(crate) fn longest(&self) -> usize {
        self.counts.iter().copied().max().unwrap_or(1)
    }

    /// The source samples that one output sample needs.
    pub(crate) fn needs(&self, index: usize) -> Range<usize> {
        self.starts[index]..self.starts[index] + self.counts[index]
    }

    /// The source samples that a run of output samples needs.
    pub(crate) fn needs_of(&self, made: &Range<usize>) -> Range<usize> {
        let run = made.clone().map(|index| self.needs(index));
        run.reduce(|a, b| a.start.min(b.start)..a.end.max(b.end))
            .unwrap_or(0..0)
    }

    /// The weights of one output sample's source samples.
    pub(crate) fn weights_of(&self, index: usize) -> &[f32] {
        &self.weights[index * self.stride..][..self.counts[index]]
    }

    /// How far a row of source samples must go on (with zeros) beyond the last that is needed.
    pub(crate) fn padding(&self) -> usize {
        self.stride
    }

    /// Makes the output samples `made` of one row, whose first sample is source sample `first`.
    pub(crate) fn filter_row(
        &self,
        first: usize,
        made: &Range<usize>,
        row: &[f32],
        out: &mut [f32],
    ) {
        let weights = &self.weights[made.start * self.stride..made.end * self.stride];
        filter_row(
            first,
            &self.starts[made.clone()],
            weights,
            self.stride,
            row,
            out,
        );
    }
}

/// The Lanczos window times the ideal low pass: sinc(x) sinc(x / 3) within ±3 (Duchon, "Lanczos filtering in one and two
/// dimensions", Journal of Applied Meteorology 18, 1979).
fn lanczos(x: f64) -> f64 {
    if x == 0.0 {
        return 1.0;
    }
    if x.abs() >= LOBES {
        return 0.0;
    }
    let angle = std::f64::consts::PI * x;
    LOBES * angle.sin() * (angle / LOBES).sin() / (angle * angle)
}

row_kernel! {
    /// Adds a row times its weight to a sum; the first row of a sum replaces what was there.
    fn add_weighted(weight: f32, is_first: bool, row: &[f32], sum: &mut [f32]) {
        let length = sum.len();
        let row = &row[..length];
        if is_first {
            for x in 0..length {
                sum[x] = weight * row[x];
            }
        } else {
            for x in 0..length {
                sum[x] += weight * row[x];
            }
        }
    }
}

row_kernel! {
    /// Weighted sums along a row: out[i] = Σ weights[i · stride + k] · row[starts[i] - first + k].
    fn filter_row(
        first: usize,
        starts: &[usize],
        weights: &[f32],
        stride: usize,
        row: &[f32],
        out: &mut [f32],
    ) {
        for ((value, &start), own) in
            out.iter_mut().zip(starts).zip(weights.chunks_exact(stride))
        {
            let samples = &row[start - first..][..stride];
            let mut sums = [0.0f32; LANES];
            for (w, s) in own.chunks_exact(LANES).zip(samples.chunks_exact(LANES)) {
                for lane in 0..LANES {
                    sums[lane] += w[lane] * s[lane];
                }
            }
            *value = (sums[0] + sums[1]) + (sums[2] + sums[3]);
        }
    }
}

/// The resize of one band: keeps the source rows that its filter looks at.
#[derive(Debug)]
pub(crate) struct Resizer<'a> {
    across: &'a Axis,
    down: &'a Axis,
    /// Output columns that are made, and the source columns they need.
    columns: Range<usize>,
    source_columns: Range<usize>,
    first_row: usize,
    window: Window<RgbRow>,
    /// One row of sums, filled up with zeros for the filter along the row.
    sums: RgbRow,
}

impl<'a> Resizer<'a> {
    /// For a run of output columns, from output row `first_row` on.
    pub(crate) fn new(
        across: &'a Axis,
        down: &'a Axis,
        columns: Range<usize>,
        first_row: usize,
    ) -> Self {
        let source_columns = across.needs_of(&columns);
        let length = source_columns.len();
        let first_row = down.needs(first_row).start;
        Self {
            across,
            down,
            columns,
            source_columns,
            first_row,
            window: Window::new(down.longest(), first_row, || RgbRow::new(length)),
            sums: RgbRow::new(length + across.padding()),
        }
    }

    /// The source columns and the first source row that are needed.
    pub(crate) fn source(&self) -> (Range<usize>, usize) {
        (self.source_columns.clone(), self.first_row)
    }

    /// Makes output row `y` from source rows that `make` makes, from top to bottom.
    pub(crate) fn row(&mut self, y: usize, row: &mut RgbRow, make: impl FnMut(usize, &mut RgbRow)) {
        let needs = self.down.needs(y);
        self.window.fill_to(needs.end, make);
        let length = self.source_columns.len();
        for (channel, (sum, out)) in self.sums.planes.iter_mut().zip(&mut row.planes).enumerate() {
            let weights = self.down.weights_of(y);
            for (place, (source, weight)) in needs.clone().zip(weights).enumerate() {
                let from = &self.window.row(source).planes[channel];
                add_weighted(*weight, place == 0, from, &mut sum[..length]);
            }
            self.across
                .filter_row(self.source_columns.start, &self.columns, sum, out);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::render::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&add_weighted::levels(), |kernel, length| {
            let mut sum = vec![7.0; length];
            kernel(0.3, true, &unordered_row(1, length), &mut sum);
            kernel(-0.7, false, &unordered_row(2, length), &mut sum);
            sum
        });
        hold_together(&filter_row::levels(), |kernel, length| {
            let starts: Vec<usize> = (0..length).map(|i| 3 + i / 2).collect();
            let mut out = vec![0.0; length];
            let weights = unordered_row(1, length * 8);
            kernel(
                3,
                &starts,
                &weights,
                8,
                &unordered_row(2, length / 2 + 9),
                &mut out,
            );
            out
        });
    }

    fn resized(samples: &[f32], made: usize) -> Vec<f32> {
        let axis = Axis::new(samples.len(), samples.len() as f64, made);
        let mut row = samples.to_vec();
        row.resize(samples.len() + axis.padding(), 0.0);
        let mut out = vec![0.0; made];
        axis.filter_row(0, &(0..made), &row, &mut out);
        out
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
            let row = unordered_row(3, samples + axis.padding());
            let mut whole = vec![0.0; made];
            axis.filter_row(0, &(0..made), &row, &mut whole);
            let part = made / 3..made.div_ceil(2);
            let needs = axis.needs_of(&part);
            let mut out = vec![0.0; part.len()];
            let mut cut = row[needs.clone()].to_vec();
            cut.resize(needs.len() + axis.padding(), 0.0);
            axis.filter_row(needs.start, &part, &cut, &mut out);
            // Samples beyond the needed ones are met by weights of zero only.
            assert_eq!(out, whole[part]);
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
        use fast_image_resize::{
            FilterType, PixelType, ResizeAlg, ResizeOptions, Resizer as Library,
        };
        for (width, made) in [(301usize, 100usize), (300, 205), (64, 63), (17, 5)] {
            let row = unordered_row(9, width);
            let bytes: Vec<u8> = row.iter().flat_map(|value| value.to_ne_bytes()).collect();
            let source =
                Image::from_vec_u8(width as u32, 1, bytes, PixelType::F32).expect("an image");
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
}
