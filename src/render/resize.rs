//! Resizing by a separable Lanczos filter in linear light, row by row.
//!
//! It works on the finished linear picture, after the curve and the mapping to the output's gamut and before encoding.
//! Resizing scene light instead would be cheaper, but a lamp eight times as bright as white next to black makes stairs
//! and dark rings that no later step removes; and a small picture is meant to look like the large one seen from afar.
//!
//! A library resizes whole pictures well; this one streams rows, and its weights come from the whole picture's geometry,
//! so that no band and no strip can change a bit of the result. Rows are combined first, then columns, both in vectors. A
//! test holds the result against a library's.

use crate::base::kernel::row_kernel;
use crate::render::row::{RgbRow, Window};
use std::ops::Range;

/// Lobes of the Lanczos window to each side. Three is the customary compromise of sharpness and ringing.
const LOBES: f64 = 3.0;

/// Output samples of a row that are made together. Each source sample that one of them needs is multiplied with a weight for each,
/// most of them zero: three products in four are for nothing, but no vector is ever summed up, and weights serve three channels.
const LANES: usize = 16;

/// The source samples that a block of output samples needs.
#[derive(Clone, Debug, PartialEq)]
struct Block {
    source: Range<usize>,
    /// Where its weights begin, one line a source sample.
    weights: usize,
}

/// Weights of one axis: which source samples make each output sample.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Axis {
    /// First source sample of each output sample.
    starts: Vec<usize>,
    /// Samples in use for each output sample.
    counts: Vec<usize>,
    /// `longest` weights for each output sample, zeros at the end.
    weights: Vec<f32>,
    longest: usize,
}

/// The same for the axis along rows.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Across {
    /// Of [`LANES`] output samples each, from the first on.
    blocks: Vec<Block>,
    /// What a source sample adds to each output sample of its block.
    lines: Vec<[f32; LANES]>,
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
        let mut weights = vec![0.0f32; made * longest];
        for (row, (_, own)) in weights.chunks_exact_mut(longest).zip(&per_sample) {
            for (to, from) in row.iter_mut().zip(own) {
                *to = *from as f32;
            }
        }
        Self {
            starts: per_sample.iter().map(|(first, _)| *first).collect(),
            counts: per_sample.iter().map(|(_, own)| own.len()).collect(),
            weights,
            longest,
        }
    }

    /// Most source samples that one output sample needs.
    pub(crate) fn longest(&self) -> usize {
        self.longest
    }

    /// The source samples that one output sample needs.
    pub(crate) fn needs(&self, index: usize) -> Range<usize> {
        self.starts[index]..self.starts[index] + self.counts[index]
    }

    /// The source samples that a run of output samples needs.
    fn needs_of(&self, made: &Range<usize>) -> Range<usize> {
        let run = made.clone().map(|index| self.needs(index));
        run.reduce(|a, b| a.start.min(b.start)..a.end.max(b.end))
            .unwrap_or(0..0)
    }

    /// The weights of one output sample's source samples.
    pub(crate) fn weights_of(&self, index: usize) -> &[f32] {
        &self.weights[index * self.longest..][..self.counts[index]]
    }
}

impl Across {
    /// The blocks of an axis.
    pub(crate) fn new(axis: &Axis) -> Self {
        let made = axis.starts.len();
        let mut lines = Vec::new();
        let blocks = (0..made).step_by(LANES).map(|first| {
            let made = first..(first + LANES).min(made);
            let (source, weights) = (axis.needs_of(&made), lines.len());
            lines.resize(weights + source.len(), [0.0; LANES]);
            for (lane, index) in made.enumerate() {
                let start = weights + axis.starts[index] - source.start;
                for (line, weight) in lines[start..].iter_mut().zip(axis.weights_of(index)) {
                    line[lane] = *weight;
                }
            }
            Block { source, weights }
        });
        Self {
            blocks: blocks.collect(),
            lines,
        }
    }

    /// The source samples that a run of output samples needs, made in whole blocks.
    fn needs_of(&self, made: &Range<usize>) -> Range<usize> {
        let blocks = &self.blocks[made.start / LANES..made.end.div_ceil(LANES)];
        let sources = blocks.iter().map(|block| block.source.clone());
        sources
            .reduce(|a, b| a.start.min(b.start)..a.end.max(b.end))
            .unwrap_or(0..0)
    }

    /// Makes the output samples `made` of a row of three channels, whose first sample is source sample `first`: it must have
    /// what [`Across::needs_of`] says.
    fn filter_row(&self, first: usize, made: &Range<usize>, row: &RgbRow, out: &mut RgbRow) {
        let [red, green, blue] = &row.planes;
        let mut block = [[0.0; LANES]; 3];
        for number in made.start / LANES..made.end.div_ceil(LANES) {
            let Block { source, weights } = &self.blocks[number];
            let lines = &self.lines[*weights..][..source.len()];
            let samples = source.start - first..source.end - first;
            filter_block(
                lines,
                &red[samples.clone()],
                &green[samples.clone()],
                &blue[samples],
                &mut block,
            );
            let start = number * LANES;
            let own = made.start.max(start)..made.end.min(start + LANES);
            for (out, block) in out.planes.iter_mut().zip(&block) {
                out[own.start - made.start..own.end - made.start]
                    .copy_from_slice(&block[own.start - start..own.end - start]);
            }
        }
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

/// Rows that are added up in one go.
const TOGETHER: usize = 4;

row_kernel! {
    /// Adds rows times their weights to a sum; the first rows of a sum replace what was there.
    fn add_weighted(weights: [f32; TOGETHER], is_first: bool, rows: [&[f32]; TOGETHER], sum: &mut [f32]) {
        let length = sum.len();
        let [a, b, c, d] = rows.map(|row| &row[..length]);
        for (x, sum) in sum.iter_mut().enumerate() {
            let before = if is_first { 0.0 } else { *sum };
            *sum = before + weights[0] * a[x] + weights[1] * b[x] + weights[2] * c[x] + weights[3] * d[x];
        }
    }
}

row_kernel! {
    /// Weighted sums of samples of three channels: out[c][i] = Σ lines[k][i] · channel[k].
    fn filter_block(
        lines: &[[f32; LANES]],
        red: &[f32],
        green: &[f32],
        blue: &[f32],
        out: &mut [[f32; LANES]; 3],
    ) {
        let mut sums = [[0.0_f32; LANES]; 3];
        for (((line, r), g), b) in lines.iter().zip(red).zip(green).zip(blue) {
            for i in 0..LANES {
                sums[0][i] += line[i] * r;
            }
            for i in 0..LANES {
                sums[1][i] += line[i] * g;
            }
            for i in 0..LANES {
                sums[2][i] += line[i] * b;
            }
        }
        *out = sums;
    }
}

/// The resize of one band: keeps the source rows that its filter looks at.
#[derive(Debug)]
pub(crate) struct Resizer<'a> {
    across: &'a Across,
    down: &'a Axis,
    /// Output columns that are made, and the source columns they need.
    columns: Range<usize>,
    source_columns: Range<usize>,
    first_row: usize,
    window: Window<RgbRow>,
    /// One row of sums.
    sums: RgbRow,
}

impl<'a> Resizer<'a> {
    /// For a run of output columns, from output row `first_row` on.
    pub(crate) fn new(
        across: &'a Across,
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
            sums: RgbRow::new(length),
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
        let weights = self.down.weights_of(y);
        for (channel, sum) in self.sums.planes.iter_mut().enumerate() {
            for (place, weights) in weights.chunks(TOGETHER).enumerate() {
                let first = needs.start + place * TOGETHER;
                // Where there are fewer, the first stands for the others, without weight.
                let row = |at: usize| {
                    let source = if at < weights.len() {
                        first + at
                    } else {
                        first
                    };
                    &self.window.row(source).planes[channel][..]
                };
                add_weighted(
                    std::array::from_fn(|at| weights.get(at).copied().unwrap_or(0.0)),
                    place == 0,
                    std::array::from_fn(row),
                    sum,
                );
            }
        }
        self.across
            .filter_row(self.source_columns.start, &self.columns, &self.sums, row);
    }
}

#[cfg(test)]
mod tests;
