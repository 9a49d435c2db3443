//! Clipped channels of a pixel as their conditional mean, given its unclipped ones.

use super::floor::Floor;
use super::pyramid::FIELDS;
use super::surroundings::Surroundings;
use super::{CLIPPED, HighlightStep};
use crate::base::arithmetic::{exp2, largest, log2, smallest, smooth_step};
use crate::base::kernel::row_kernel;
use crate::render::sensor::Sensor;
use std::ops::Range;

/// Variance, in stops, by which any channel may deviate from what its surroundings predict: about a tenth of a stop, the
/// spread of one material's colour. It also keeps the solution regular where the surroundings have one colour only.
const SPREAD: f32 = 0.01;
/// Variance, in stops, of what a half-clipped channel tells.
const HALF_CLIPPED: f32 = 0.05;
/// Least share by which a channel is unclipped: bounds the variance of one that is wholly clipped.
const LEAST_FREE: f32 = 1e-4;
/// White-balanced light as large as its noise in a frame of high ISO, and the variance in stops of a level from which half
/// of it is believed. Common practice, no source.
const NOISE: f32 = 0.004;
const HALF_BELIEVED: f32 = 0.15;
/// Most stops by which a channel is raised above what was counted.
const MOST_STOPS: f32 = 3.0;
/// Least unclipped share of the least clipped channel at which a pixel keeps a colour, where none is 0.
const COLOURLESS: f32 = 0.3;
/// Blurred share of wholly clipped photosites at which a core begins to rise to display white, and is there.
const INSIDE: (f32, f32) = (0.45, 0.98);
/// Least light whose logarithm is taken.
const LEAST_LIGHT: f32 = 1e-4;

/// Pixels that are looked at together: where none is near its end, nothing is computed.
const BLOCK: usize = 64;

/// Rebuilds rows of a strip of the picture.
#[derive(Debug)]
pub(crate) struct Rebuilder<'a> {
    step: HighlightStep,
    surroundings: &'a Surroundings,
    floor: Option<Floor<'a>>,
    /// Photosite in the middle of pixel column 0, pixel row 0, and photosites a pixel.
    origin: (f32, f32),
    photosites: f32,
    /// The cells' row for the pixel row that it was made for.
    fields: Vec<[f32; FIELDS + 1]>,
    made_for: Option<usize>,
}

impl<'a> Rebuilder<'a> {
    /// For the picture columns `columns` of a mosaic, `photosites` a side of a pixel.
    pub(crate) fn new(
        step: HighlightStep,
        surroundings: &'a Surroundings,
        sensor: &'a Sensor<'_>,
        photosites: usize,
        columns: &Range<usize>,
    ) -> Self {
        let half = photosites as f32 / 2.0;
        let crop = sensor.mosaic.crop;
        Self {
            step,
            surroundings,
            // A pixel of two by two photosites holds what they counted.
            floor: (photosites == 1)
                .then(|| Floor::new(sensor, columns))
                .flatten(),
            origin: (crop.left as f32 + half, crop.top as f32 + half),
            photosites: photosites as f32,
            fields: vec![[0.0; FIELDS + 1]; surroundings.width],
            made_for: None,
        }
    }

    /// Rebuilds the pixels of picture columns `columns` in picture row `y`.
    pub(crate) fn run(
        &mut self,
        y: usize,
        columns: Range<usize>,
        [red, green, blue]: [&mut [f32]; 3],
    ) {
        if let Some(floor) = &mut self.floor {
            floor.run(y, columns.clone(), [red, green, blue]);
        }
        let limits = self.step.full.map(|level| CLIPPED.0 * level);
        let mut is_any = false;
        find_above(limits, red, green, blue, &mut is_any);
        if !is_any {
            return;
        }
        self.prepare(y);
        let per_cell = 1.0 / self.surroundings.side as f32;
        let first = (columns.start as f32 * self.photosites + self.origin.0) * per_cell - 0.5;
        rebuild_row(
            self.step.full,
            self.step.white,
            &self.fields,
            first,
            self.photosites * per_cell,
            red,
            green,
            blue,
        );
    }

    /// Interpolates the cells' rows above and below a pixel row.
    fn prepare(&mut self, y: usize) {
        if self.made_for == Some(y) {
            return;
        }
        self.made_for = Some(y);
        let Surroundings {
            side,
            width,
            height,
            cells,
        } = self.surroundings;
        let place = (y as f32 * self.photosites + self.origin.1) / *side as f32 - 0.5;
        let place = place.max(0.0).min((height - 1) as f32);
        let above = place as usize;
        let share = place - above as f32;
        let row = |y: usize| &cells[y * width..][..*width];
        let (above, below) = (row(above), row((above + 1).min(height - 1)));
        for ((field, above), below) in self.fields.iter_mut().zip(above).zip(below) {
            *field = std::array::from_fn(|at| above[at] + share * (below[at] - above[at]));
        }
    }
}

row_kernel! {
    /// Sets `is_any` when a value of a channel is above that channel's limit.
    fn find_above(limits: [f32; 3], red: &[f32], green: &[f32], blue: &[f32], is_any: &mut bool) {
        let length = red.len();
        let (green, blue) = (&green[..length], &blue[..length]);
        let mut found = 0_u32;
        for x in 0..length {
            found |= u32::from((red[x] > limits[0]) | (green[x] > limits[1]) | (blue[x] > limits[2]));
        }
        *is_any |= found != 0;
    }
}

row_kernel! {
    /// Rebuilds a row. Channels are white-balanced and full at `full`; `white` is the light that becomes display white;
    /// pixel x lies at place `first + x * step` among the cells of `fields`. Pixels whose channels are all below nine
    /// tenths of full are left as they are; no channel is lowered, but that it is held at its full level first.
    fn rebuild_row(
        full: [f32; 3],
        white: f32,
        fields: &[[f32; FIELDS + 1]],
        first: f32,
        step: f32,
        red: &mut [f32],
        green: &mut [f32],
        blue: &mut [f32],
    ) {
        let length = red.len();
        let (green, blue) = (&mut green[..length], &mut blue[..length]);
        let last = fields.len() - 1;
        let inverse = [1.0 / full[0], 1.0 / full[1], 1.0 / full[2]];
        for start in (0..length).step_by(BLOCK) {
            let block = start..(start + BLOCK).min(length);
            let mut any = 0u32;
            for x in block.clone() {
                any |= u32::from(red[x] * inverse[0] > CLIPPED.0);
                any |= u32::from(green[x] * inverse[1] > CLIPPED.0);
                any |= u32::from(blue[x] * inverse[2] > CLIPPED.0);
            }
            if any == 0 {
                continue;
            }
            for x in block {
                let colour = [red[x].min(full[0]), green[x].min(full[1]), blue[x].min(full[2])];
                let fullness = [colour[0] * inverse[0], colour[1] * inverse[1], colour[2] * inverse[2]];
                if largest(fullness) <= CLIPPED.0 {
                    continue;
                }
                let place = (first + x as f32 * step).max(0.0).min(last as f32);
                let left = place as usize;
                let share = place - left as f32;
                let (here, next) = (&fields[left], &fields[(left + 1).min(last)]);
                let mut around = [0.0; FIELDS + 1];
                for at in 0..=FIELDS {
                    around[at] = here[at] + share * (next[at] - here[at]);
                }
                let rebuilt = rebuilt(full, white, &around, colour, fullness);
                red[x] = rebuilt[0];
                green[x] = rebuilt[1];
                blue[x] = rebuilt[2];
            }
        }
    }
}

/// One pixel. Logarithms are to base two; red, green and blue are predicted as a level, plus the mean of the surroundings,
/// plus a deviation of the surroundings' covariance; each channel is observed with a variance that grows without bound
/// as it clips. The level has no prior: it is the generalised least squares estimate.
#[expect(
    clippy::manual_clamp,
    reason = "clamp lets NaN through; max and min turn it into the lower bound"
)]
#[inline(always)]
fn rebuilt(
    full: [f32; 3],
    white: f32,
    around: &[f32; FIELDS + 1],
    colour: [f32; 3],
    fullness: [f32; 3],
) -> [f32; 3] {
    let [red, blue, red_red, red_blue, blue_blue, core_share] = *around;
    let clipped = fullness.map(|share| smooth_step(share, CLIPPED.0, CLIPPED.1));
    let logs = colour.map(|value| log2(value.max(LEAST_LIGHT)));
    // Covariance of red and blue over green; green carries the level.
    let spread_red = (red_red - red * red).max(0.0) + SPREAD;
    let spread_blue = (blue_blue - blue * blue).max(0.0) + SPREAD;
    let most = (spread_red * spread_blue).sqrt();
    let joint = (red_blue - red * blue).max(-most).min(most);
    let noise = colour.map(|value| {
        let relative = NOISE / value.max(LEAST_LIGHT);
        relative * relative
    });
    let doubt =
        [0, 1, 2].map(|k| noise[k] + HALF_CLIPPED * clipped[k] / (1.0 - clipped[k] + LEAST_FREE));
    // The sum of both covariances, and its inverse: red and blue are joined, green stands alone.
    let (a, b, d) = (
        spread_red + doubt[0],
        SPREAD + doubt[1],
        spread_blue + doubt[2],
    );
    let determinant = (a * d - joint * joint).max(1e-9);
    let solve = |v: [f32; 3]| {
        [
            (d * v[0] - joint * v[2]) / determinant,
            v[1] / b,
            (a * v[2] - joint * v[0]) / determinant,
        ]
    };
    let mean = [red, 0.0, blue];
    let above = [logs[0] - red, logs[1], logs[2] - blue];
    let shares = solve([1.0; 3]);
    let total = shares[0] + shares[1] + shares[2];
    let weights = shares.map(|share| share / total);
    let level = weights[0] * above[0] + weights[1] * above[1] + weights[2] * above[2];
    let level_noise = weights[0] * weights[0] * noise[0]
        + weights[1] * weights[1] * noise[1]
        + weights[2] * weights[2] * noise[2];
    // No channel tells the level: it is at least what each clipped one says.
    let least_clipped = smallest(clipped);
    let core = 1.0 - smooth_step(1.0 - least_clipped, 0.0, COLOURLESS);
    let at_least = largest(above);
    let level = level + core * (at_least - level).max(0.0);
    let z = solve(above.map(|value| value - level));
    let deviation = [
        spread_red * z[0] + joint * z[2],
        SPREAD * z[1],
        joint * z[0] + spread_blue * z[2],
    ];
    let belief = HALF_BELIEVED / (HALF_BELIEVED + level_noise);
    let raised = [0, 1, 2].map(|k| {
        let missing = (mean[k] + level + deviation[k] - logs[k])
            .max(0.0)
            .min(MOST_STOPS);
        colour[k].max(0.0) * exp2(belief * clipped[k] * missing)
    });
    // Without a colour: white, as bright as what it grew from, and up to display white inside.
    let top = raised[0].max(raised[1]).max(raised[2]).max(largest(full));
    let inside = smooth_step(core_share, INSIDE.0, INSIDE.1);
    let lamp = top + inside * (white - top).max(0.0);
    [0, 1, 2].map(|k| {
        // What is not clipped at all stays as it was, a negative too.
        let value = if clipped[k] > 0.0 {
            raised[k]
        } else {
            colour[k]
        };
        value + core * (lamp - value)
    })
}

#[cfg(test)]
mod tests;
