//! What opcodes work on: samples between 0 (black) and 1 (white), and the opcodes themselves.
//!
//! What lies below black is kept, since noise does lie there; only tables know nothing below it. Nothing gets above 1: a clipped photosite stays clipped.

use super::parse::{Action, Area, GainMap, PerLine};
use crate::raw::frame::Layout;

/// Samples of a picture.
#[derive(Debug)]
pub(super) struct Samples {
    /// Pixels in a row.
    pub(super) width: usize,
    /// Rows.
    pub(super) height: usize,
    /// Values of a pixel.
    pub(super) channels: usize,
    /// The colours, phase counted from the first sample.
    pub(super) layout: Layout,
    /// Whether planes of an opcode mean the colours of a mosaic's photosites (opcodes meant for the demosaiced picture)
    /// instead of the values of a pixel.
    pub(super) planes_are_colours: bool,
    /// `width * height * channels` values.
    pub(super) values: Vec<f32>,
}

impl Samples {
    /// Carries out an action. A trim is no concern of samples: it returns false.
    pub(super) fn apply(&mut self, action: &Action) -> bool {
        match action {
            Action::FixVignetteRadial { k, centre } => self.fix_vignette(k, centre),
            Action::FixBadPixelsConstant { constant } => {
                #[expect(clippy::cast_precision_loss, reason = "counts of 16 bits are exact")]
                let bad = *constant as f32;
                let is_bad: Vec<bool> = self
                    .values
                    .iter()
                    .map(|value| (value * 65_535.0).round() == bad)
                    .collect();
                self.fix_bad(&is_bad);
            }
            Action::FixBadPixelsList { points, rectangles } => {
                let is_bad = self.bad_photosites(points, rectangles);
                self.fix_bad(&is_bad);
            }
            Action::TrimBounds { .. } => return false,
            Action::MapTable { area, table } => {
                self.for_each(area, |value, _, _, _| {
                    #[expect(
                        clippy::cast_possible_truncation,
                        clippy::cast_sign_loss,
                        reason = "clamped to the range of u16"
                    )]
                    let index = (value.max(0.0).min(1.0) * 65_535.0).round() as usize;
                    f32::from(table[index.min(table.len() - 1)]) / 65_535.0
                });
            }
            Action::MapPolynomial { area, coefficients } => {
                self.for_each(area, |value, _, _, _| polynomial(coefficients, value));
            }
            Action::GainMap { area, map } => {
                let (width, height) = (self.width, self.height);
                self.for_each(area, |value, x, y, plane| {
                    value * map.gain(x, y, plane, width, height)
                });
            }
            Action::PerRow { area, kind, values } => {
                let (top, pitch) = (area.top, area.row_pitch);
                self.for_each(area, |value, _, y, _| {
                    line(*kind, value, values[(y - top) / pitch])
                });
            }
            Action::PerColumn { area, kind, values } => {
                let (left, pitch) = (area.left, area.column_pitch);
                self.for_each(area, |value, x, _, _| {
                    line(*kind, value, values[(x - left) / pitch])
                });
            }
        }
        true
    }

    /// Changes each sample of an area by `change(value, x, y, plane of the area)`.
    fn for_each(&mut self, area: &Area, change: impl Fn(f32, usize, usize, usize) -> f32) {
        let end = area.plane.saturating_add(area.planes);
        let channels = self.channels;
        for y in (area.top..area.bottom.min(self.height)).step_by(area.row_pitch) {
            for x in (area.left..area.right.min(self.width)).step_by(area.column_pitch) {
                for channel in 0..channels {
                    let plane = if self.planes_are_colours {
                        colour_at(&self.layout, x, y).unwrap_or(channel)
                    } else {
                        channel
                    };
                    if !(area.plane..end).contains(&plane) {
                        continue;
                    }
                    let value = &mut self.values[(y * self.width + x) * channels + channel];
                    *value = change(*value, x, y, plane - area.plane)
                        .max(f32::MIN)
                        .min(1.0);
                }
            }
        }
    }

    fn fix_vignette(&mut self, k: &[f64; 5], centre: &[f64; 2]) {
        let (width, height) = (self.width as f64, self.height as f64);
        let (cx, cy) = (centre[0] * width, centre[1] * height);
        // The radius is 1 at the corner farthest from the centre.
        let farthest = cx.max(width - cx).powi(2) + cy.max(height - cy).powi(2);
        let row = self.width * self.channels;
        let channels = self.channels;
        for (y, line) in self.values.chunks_exact_mut(row).enumerate() {
            let dy = (y as f64 + 0.5 - cy).powi(2);
            for (x, pixel) in line.chunks_exact_mut(channels).enumerate() {
                let r2 = ((x as f64 + 0.5 - cx).powi(2) + dy) / farthest;
                let gain = 1.0 + r2 * k.iter().rev().fold(0.0, |sum, k| sum * r2 + k);
                #[expect(
                    clippy::cast_possible_truncation,
                    reason = "a gain needs no more digits"
                )]
                let gain = gain as f32;
                for value in pixel {
                    *value = (*value * gain).max(f32::MIN).min(1.0);
                }
            }
        }
    }

    fn bad_photosites(&self, points: &[[u32; 2]], rectangles: &[[u32; 4]]) -> Vec<bool> {
        let mut is_bad = vec![false; self.values.len()];
        let rectangles = rectangles
            .iter()
            .map(|edges| edges.map(|edge| edge as usize))
            .chain(points.iter().map(|[row, column]| {
                let (row, column) = (*row as usize, *column as usize);
                [row, column, row.saturating_add(1), column.saturating_add(1)]
            }));
        for [top, left, bottom, right] in rectangles {
            for y in top..bottom.min(self.height) {
                let row = y * self.width;
                let (left, right) = (left.min(self.width), right.min(self.width));
                if left < right {
                    is_bad[(row + left) * self.channels..(row + right) * self.channels].fill(true);
                }
            }
        }
        is_bad
    }

    /// Each bad sample becomes the mean of the nearest good ones of its colour. (The specification leaves the kind of
    /// interpolation to the reader.)
    fn fix_bad(&mut self, is_bad: &[bool]) {
        let before = self.values.clone();
        for (index, _) in is_bad.iter().enumerate().filter(|(_, bad)| **bad) {
            let channel = index % self.channels;
            let x = index / self.channels % self.width;
            let y = index / self.channels / self.width;
            if let Some(value) = self.nearest_mean(&before, is_bad, x, y, channel) {
                self.values[index] = value;
            }
        }
    }

    fn nearest_mean(
        &self,
        before: &[f32],
        is_bad: &[bool],
        x: usize,
        y: usize,
        channel: usize,
    ) -> Option<f32> {
        /// Photosites looked at in each direction: a cluster larger than this stays as it is.
        const REACH: isize = 6;
        let colour = colour_at(&self.layout, x, y);
        let mut nearest = isize::MAX;
        let (mut sum, mut count) = (0.0f32, 0.0f32);
        for dy in -REACH..=REACH {
            for dx in -REACH..=REACH {
                let (Some(nx), Some(ny)) = (x.checked_add_signed(dx), y.checked_add_signed(dy))
                else {
                    continue;
                };
                let distance = dx * dx + dy * dy;
                if nx >= self.width || ny >= self.height || distance > nearest {
                    continue;
                }
                let index = (ny * self.width + nx) * self.channels + channel;
                if is_bad[index] || colour_at(&self.layout, nx, ny) != colour {
                    continue;
                }
                if distance < nearest {
                    nearest = distance;
                    (sum, count) = (0.0, 0.0);
                }
                sum += before[index];
                count += 1.0;
            }
        }
        (count > 0.0).then(|| sum / count)
    }
}

/// The polynomial on 0 to 1, continued below black by its point reflection, so that noise around black stays noise
/// around black. (Writers of lossy files choose odd polynomials for that very reason; for those this is the polynomial.)
fn polynomial(coefficients: &[f64], value: f32) -> f32 {
    let x = f64::from(value.max(-1.0).min(1.0));
    let at = |x: f64| coefficients.iter().rev().fold(0.0, |sum, c| sum * x + c);
    let y = if x < 0.0 {
        2.0 * at(0.0) - at(-x)
    } else {
        at(x)
    };
    #[expect(clippy::cast_possible_truncation, reason = "clamped to -1 to 1")]
    {
        y.max(-1.0).min(1.0) as f32
    }
}

/// The colour of a mosaic's photosite; `None` for linear RGB.
fn colour_at(layout: &Layout, x: usize, y: usize) -> Option<usize> {
    match layout {
        Layout::Bayer(pattern) => Some(usize::from(pattern[y % 2][x % 2])),
        Layout::XTrans(pattern) => Some(usize::from(pattern[y % 6][x % 6])),
        Layout::Linear => None,
    }
}

fn line(kind: PerLine, value: f32, by: f32) -> f32 {
    match kind {
        PerLine::Delta => value + by,
        PerLine::Scale => value * by,
    }
}

impl GainMap {
    /// The gain at a photosite's centre: bilinear between the map's points, which lie at `origin + index * spacing` in
    /// fractions of the picture; the outermost gains hold beyond.
    fn gain(&self, x: usize, y: usize, plane: usize, width: usize, height: usize) -> f32 {
        let axis = |at: usize, of: usize, index: usize, points: usize| {
            let fraction = (at as f64 + 0.5) / of as f64;
            let place = if points == 1 || self.spacing[index] == 0.0 {
                0.0
            } else {
                ((fraction - self.origin[index]) / self.spacing[index])
                    .max(0.0)
                    .min((points - 1) as f64)
            };
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "clamped to the map's points"
            )]
            let low = place as usize;
            #[expect(clippy::cast_possible_truncation, reason = "a fraction")]
            let share = (place - low as f64) as f32;
            (low, (low + 1).min(points - 1), share)
        };
        let (top, bottom, down) = axis(y, height, 0, self.rows);
        let (left, right, across) = axis(x, width, 1, self.columns);
        let plane = plane.min(self.planes - 1);
        let at = |row: usize, column: usize| {
            self.gains[(row * self.columns + column) * self.planes + plane]
        };
        let upper = at(top, left) * (1.0 - across) + at(top, right) * across;
        let lower = at(bottom, left) * (1.0 - across) + at(bottom, right) * across;
        upper * (1.0 - down) + lower * down
    }
}
