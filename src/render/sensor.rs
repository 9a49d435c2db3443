//! Sensor correction: counts become white-balanced light, one row at a time.
//!
//! c = (count - black) / (white - black) / neutral, where neutral is what the body counts for a grey under the light
//! that is to be rendered neutral, with green at 1. A grey therefore has three equal values, and a green photosite that
//! just fills gives 1. Values below black stay negative here: noise around black has a mean of zero only as long as
//! nobody cuts off its lower half, so the cut comes after the demosaic. Values above the level of a full photosite are
//! held at it.
//!
//! Division by the neutral comes before the demosaic because that compares neighbours of different colour.

use crate::base::arithmetic::smaller;
use crate::base::bands::Threads;
use crate::base::kernel::row_kernel;
use crate::raw::frame::{BlackLevels, Layout, Mosaic};
use crate::raw::noise::SensorNoise;
use crate::render::faulty::Replacements;
use crate::render::row::{RgbRow, mirrored};
use std::ops::Range;

/// Numbers of the sensor correction.
#[derive(Clone, Debug, PartialEq)]
pub struct SensorStep {
    /// Counts of no light.
    pub black: BlackLevels,
    /// Counts of a full photosite, for red, green, blue.
    pub white: [f32; 3],
    /// What the body counts for grey under the light that is rendered neutral; green is 1.
    pub neutral: [f64; 3],
    /// The noise by which faulty photosites are told and replaced; `None` leaves them.
    pub noise: Option<SensorNoise>,
}

impl SensorStep {
    /// The white-balanced level at which each channel is full.
    #[must_use]
    pub fn full(&self) -> [f32; 3] {
        self.neutral.map(|value| (1.0 / value) as f32)
    }
}

/// A mosaic and how its counts become light.
#[derive(Clone, Debug)]
pub(crate) struct Sensor<'a> {
    pub(crate) step: &'a SensorStep,
    pub(crate) mosaic: &'a Mosaic,
    replacements: Option<Replacements>,
}

impl<'a> Sensor<'a> {
    /// Looks through the mosaic for faulty photosites, where the step says so.
    pub(crate) fn new(step: &'a SensorStep, mosaic: &'a Mosaic, threads: &Threads) -> Self {
        let replacements = step
            .noise
            .and_then(|noise| Replacements::find(mosaic, noise, threads));
        Self::with(step, mosaic, replacements)
    }

    /// With faulty photosites that are known already.
    pub(crate) fn with(
        step: &'a SensorStep,
        mosaic: &'a Mosaic,
        replacements: Option<Replacements>,
    ) -> Self {
        Self {
            step,
            mosaic,
            replacements,
        }
    }

    /// The faulty photosites, if any were looked for.
    #[cfg(test)]
    pub(crate) fn replacements(&self) -> Option<&Replacements> {
        self.replacements.as_ref()
    }
}

/// Level, scale and ceiling of each photosite of one row, for one phase of the patterns.
#[derive(Clone, Debug)]
struct Phase {
    black: Vec<f32>,
    scale: Vec<f32>,
    ceiling: Vec<f32>,
}

/// The sensor correction, made ready for a range of columns.
#[derive(Clone, Debug)]
pub(crate) struct SensorRows<'a> {
    mosaic: &'a Mosaic,
    replacements: Option<&'a Replacements>,
    row_deviation: &'a [f32],
    /// Columns asked for, which may lie beyond the active area.
    asked: Range<isize>,
    /// Those of them that exist.
    inside: Range<usize>,
    phases: Vec<Phase>,
}

impl<'a> SensorRows<'a> {
    /// Ready to make the pixel columns `asked` of the mosaic, mirrored where they lie beyond it.
    pub(crate) fn new(sensor: &'a Sensor<'_>, asked: Range<isize>) -> Self {
        let (step, mosaic) = (sensor.step, sensor.mosaic);
        let width = mosaic.width();
        let inside = asked.start.clamp(0, width as isize) as usize
            ..asked.end.clamp(0, width as isize) as usize;
        let layout_rows = match mosaic.layout {
            Layout::Bayer(_) => 2,
            Layout::XTrans(_) => 6,
            Layout::Linear => 1,
        };
        let phases = least_common_multiple(layout_rows, step.black.rows);
        let full = step.full();
        let channels = mosaic.values_per_pixel();
        let phases = (0..phases)
            .map(|y| {
                let site = |x: usize, value: usize| {
                    let channel = mosaic.channel_at(x * channels + value, y);
                    let pattern = pattern_level(&step.black, x, y, value);
                    let deviation = step.black.column_deviation.get(x).copied().unwrap_or(0.0);
                    (pattern, deviation, channel)
                };
                let sites = || {
                    inside
                        .clone()
                        .flat_map(|x| (0..channels).map(move |value| (x, value)))
                        .map(|(x, value)| site(x, value))
                };
                Phase {
                    black: sites()
                        .map(|(pattern, deviation, _)| pattern + deviation)
                        .collect(),
                    scale: sites()
                        .map(|(pattern, _, channel)| {
                            full[channel] / (step.white[channel] - pattern)
                        })
                        .collect(),
                    ceiling: sites().map(|(_, _, channel)| full[channel]).collect(),
                }
            })
            .collect();
        Self {
            mosaic,
            replacements: sensor.replacements.as_ref(),
            row_deviation: &step.black.row_deviation,
            asked,
            inside,
            phases,
        }
    }

    /// Makes row `y` of a mosaic with one value a pixel; `row` is as long as the columns asked for.
    pub(crate) fn mosaic_row(&self, y: usize, row: &mut [f32]) {
        let (before, length) = self.span();
        self.part_of_mosaic_row(y, 0..length, &mut row[before..before + length]);
        for at in (0..before).chain(before + length..row.len()) {
            row[at] = row[self.stand_in(at)];
        }
    }

    /// Makes a part of row `y` of a mosaic, `part` counted from the first column asked for that exists.
    pub(crate) fn part_of_mosaic_row(&self, y: usize, part: Range<usize>, row: &mut [f32]) {
        self.correct(y, part.clone(), row);
        if let Some(replacements) = &self.replacements {
            let phase = &self.phases[y % self.phases.len()];
            let deviation = self.row_deviation.get(y).copied().unwrap_or(0.0);
            let first = self.inside.start;
            for (x, count) in replacements.in_row(y, &(first + part.start..first + part.end)) {
                let at = x - first;
                let above_black = f32::from(*count) - phase.black[at] - deviation;
                row[at - part.start] = (above_black * phase.scale[at]).min(phase.ceiling[at]);
            }
        }
    }

    /// Makes row `y` of a picture with three values a pixel.
    pub(crate) fn linear_row(&self, y: usize, interleaved: &mut Vec<f32>, row: &mut RgbRow) {
        let (before, length) = self.span();
        interleaved.resize(length * 3, 0.0);
        self.correct(y, 0..length, interleaved);
        for (channel, plane) in row.planes.iter_mut().enumerate() {
            for (value, pixel) in plane[before..].iter_mut().zip(interleaved.chunks_exact(3)) {
                *value = pixel[channel];
            }
            for at in (0..before).chain(before + length..plane.len()) {
                plane[at] = plane[self.stand_in(at)];
            }
        }
    }

    /// Where the existing columns begin among those asked for, and how many there are.
    fn span(&self) -> (usize, usize) {
        let before = (self.inside.start as isize - self.asked.start) as usize;
        (before, self.inside.len())
    }

    /// The place among the columns asked for that stands in for the place `at` beyond the border.
    fn stand_in(&self, at: usize) -> usize {
        let column = mirrored(self.asked.start + at as isize, self.mosaic.width());
        (column as isize - self.asked.start) as usize
    }

    /// Makes the values of the columns `part`, counted from the first that exists.
    fn correct(&self, y: usize, part: Range<usize>, row: &mut [f32]) {
        let values = self.mosaic.values_per_pixel();
        let first = self.inside.start;
        let counts =
            &self.mosaic.counts.row(y)[(first + part.start) * values..(first + part.end) * values];
        let part = part.start * values..part.end * values;
        let phase = &self.phases[y % self.phases.len()];
        let deviation = self.row_deviation.get(y).copied().unwrap_or(0.0);
        light_of_counts(
            counts,
            &phase.black[part.clone()],
            &phase.scale[part.clone()],
            &phase.ceiling[part],
            deviation,
            row,
        );
    }
}

fn pattern_level(black: &BlackLevels, x: usize, y: usize, value: usize) -> f32 {
    let values = black.pattern.len() / (black.rows * black.columns);
    let cell = (y % black.rows) * black.columns + x % black.columns;
    black.pattern[cell * values + value]
}

fn least_common_multiple(a: usize, b: usize) -> usize {
    let mut multiple = a.max(1);
    while !multiple.is_multiple_of(b.max(1)) {
        multiple += a.max(1);
    }
    multiple
}

row_kernel! {
    /// min((count - black) · scale, ceiling) for each photosite of a row; all slices are as long as `light`.
    fn light_of_counts(
        counts: &[u16],
        black: &[f32],
        scale: &[f32],
        ceiling: &[f32],
        deviation: f32,
        light: &mut [f32],
    ) {
        let length = light.len();
        let (counts, black) = (&counts[..length], &black[..length]);
        let (scale, ceiling) = (&scale[..length], &ceiling[..length]);
        for x in 0..length {
            let above_black = f32::from(counts[x]) - black[x] - deviation;
            light[x] = smaller(above_black * scale[x], ceiling[x]);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::kernel::{hold_together, unordered_row};

    #[test]
    fn every_copy_gives_the_same_bits() {
        hold_together(&light_of_counts::levels(), |kernel, length| {
            let counts: Vec<u16> = (0..length).map(|i| (i * 7919 % 65_521) as u16).collect();
            let [black, scale, ceiling] = [1, 2, 3].map(|seed| unordered_row(seed, length));
            let mut light = vec![0.0; length];
            kernel(&counts, &black, &scale, &ceiling, 0.25, &mut light);
            light
        });
    }
}
