//! A small picture in double precision with a mark on each value that counts, and the filters that estimators share.

/// Camera RGB values row after row, with a mark on those that may speak.
#[derive(Clone, Debug)]
pub struct Raster<'a> {
    /// Values in a row.
    pub width: usize,
    /// Camera RGB, row after row.
    pub colours: &'a [[f64; 3]],
    /// Which values count; as long as `colours`.
    pub valid: &'a [bool],
}

/// Kernels are cut at this many standard deviations.
const CUT: f64 = 3.0;

impl Raster<'_> {
    /// Rows.
    #[must_use]
    pub fn height(&self) -> usize {
        self.colours.len().checked_div(self.width).unwrap_or(0)
    }

    /// The values that count.
    pub fn valid_values(&self) -> impl Iterator<Item = [f64; 3]> {
        self.colours
            .iter()
            .zip(self.valid)
            .filter(|(_, valid)| **valid)
            .map(|(colour, _)| *colour)
    }

    /// One channel.
    #[must_use]
    pub fn channel(&self, channel: usize) -> Vec<f64> {
        self.colours.iter().map(|colour| colour[channel]).collect()
    }

    /// The marks of values whose whole square of this radius is marked; the picture's edge does not unmark.
    #[must_use]
    pub fn eroded_valid(&self, radius: usize) -> Vec<bool> {
        let numbers: Vec<f64> = self
            .valid
            .iter()
            .map(|&valid| f64::from(u8::from(valid)))
            .collect();
        self.box_mean(&numbers, radius)
            .iter()
            // A mean of ones is one up to rounding; one missing value of the largest square used takes off more.
            .map(|&mean| mean > 1.0 - 1e-6)
            .collect()
    }

    /// Mean over a square of this radius, edge values repeated.
    #[must_use]
    pub fn box_mean(&self, plane: &[f64], radius: usize) -> Vec<f64> {
        let side = 2 * radius + 1;
        let kernel = vec![1.0 / side as f64; side];
        self.separable(plane, &kernel, &kernel)
    }

    /// Correlation with a kernel along rows and one down columns, edge values repeated.
    #[must_use]
    pub fn separable(&self, plane: &[f64], along: &[f64], down: &[f64]) -> Vec<f64> {
        let (width, height) = (self.width, self.height());
        if width == 0 || height == 0 {
            return Vec::new();
        }
        let mut rows = vec![0.0; plane.len()];
        let radius = along.len() / 2;
        for (source, target) in plane.chunks_exact(width).zip(rows.chunks_exact_mut(width)) {
            let mut padded = vec![source[0]; radius];
            padded.extend_from_slice(source);
            padded.extend(std::iter::repeat_n(source[width - 1], radius));
            // All places side by side, a factor at a time: no sum waits for another.
            for (at, factor) in along.iter().enumerate() {
                add_scaled(target, &padded[at..], *factor);
            }
        }
        let mut result = vec![0.0; plane.len()];
        let radius = down.len() / 2;
        for (y, target) in result.chunks_exact_mut(width).enumerate() {
            for (at, factor) in down.iter().enumerate() {
                let source_y = (y + at).saturating_sub(radius).min(height - 1);
                add_scaled(target, &rows[source_y * width..][..width], *factor);
            }
        }
        result
    }
}

/// Adds a row times a factor.
#[multiversion::multiversion(targets(
    "x86_64+avx512f+avx512vl+avx512bw+avx512dq",
    "x86_64+avx2",
    "aarch64+neon"
))]
fn add_scaled(sums: &mut [f64], row: &[f64], factor: f64) {
    for (sum, value) in sums.iter_mut().zip(row) {
        *sum += factor * value;
    }
}

/// A Gaussian of this standard deviation, cut at three of them, summing to 1.
#[must_use]
pub fn gaussian(sigma: f64) -> Vec<f64> {
    #[expect(clippy::cast_possible_truncation, reason = "a few values")]
    let radius = (CUT * sigma + 0.5) as i32;
    let kernel: Vec<f64> = (-radius..=radius)
        .map(|at| (-0.5 * (f64::from(at) / sigma).powi(2)).exp())
        .collect();
    let sum: f64 = kernel.iter().sum();
    kernel.iter().map(|value| value / sum).collect()
}

/// First or second derivative of [`gaussian`].
#[must_use]
pub fn gaussian_derivative(sigma: f64, order: usize) -> Vec<f64> {
    let kernel = gaussian(sigma);
    let radius = (kernel.len() / 2) as f64;
    kernel
        .iter()
        .enumerate()
        .map(|(at, value)| {
            let x = at as f64 - radius;
            let factor = if order < 2 {
                x / (sigma * sigma)
            } else {
                (x * x / (sigma * sigma) - 1.0) / (sigma * sigma)
            };
            value * factor
        })
        .collect()
}
