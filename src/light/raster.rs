//! A small picture in double precision with a mark on each value that counts, and the filters that estimators share.

use crate::light::{filter, mask};

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
        mask::eroded(self.valid, self.width, radius)
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
        filter::separable(plane, self.width, along, down)
    }

    /// Length of the gradient of a plane, edge values repeated; its parts are the derivative along a row or column, blurred across.
    #[must_use]
    pub fn gradient(&self, plane: &[f64], derivative: &[f64], blur: &[f64]) -> Vec<f64> {
        filter::gradient(plane, self.width, derivative, blur)
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
