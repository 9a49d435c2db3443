//! A body's corrections by hue and saturation (DNG specification, ProfileHueSatMap), fitted to what its matrix leaves.
//!
//! In linear ROMM RGB every training colour tells by how much its hue, saturation and value are off after the matrix. A
//! few harmonics of hue, times saturation and its square, are fitted to that by damped least squares and written as a table:
//! smooth by construction, nothing at neutral, and bounded.

use crate::colorimetry::{D50_XY, Matrix, apply, diagonal, inverse, product, white_of};

/// Entries around the circle and from saturation 0 to 1.
pub(crate) const HUES: usize = 24;
pub(crate) const SATURATIONS: usize = 9;
/// Harmonics of the hue beside the mean.
const HARMONICS: usize = 4;
const TERMS: usize = 2 * (2 * HARMONICS + 1);
/// Damping relative to the number of colours: holds the fit back where training colours are few.
const DAMPING: f64 = 5e-5;
/// Colours less saturated than this have no hue to speak of.
const LEAST_SATURATION: f64 = 0.03;

/// Primaries of ROMM RGB (ISO 22028-2), white D50.
const PRIMARIES: [[f64; 2]; 3] = [[0.7347, 0.2653], [0.1596, 0.8404], [0.0366, 0.0001]];

/// XYZ under D50 to linear ROMM RGB.
pub(crate) fn to_romm() -> Matrix {
    let columns = PRIMARIES.map(white_of);
    let columns = [0, 1, 2].map(|row| [0, 1, 2].map(|column: usize| columns[column][row]));
    let shares = apply(&inverse(&columns), white_of(D50_XY));
    inverse(&product(&columns, &diagonal(shares)))
}

/// Hue in sixths of the circle, saturation, value.
fn hexagon([red, green, blue]: [f64; 3]) -> [f64; 3] {
    let value = red.max(green).max(blue);
    let range = value - red.min(green).min(blue);
    if range <= 0.0 || value <= 0.0 {
        return [0.0, 0.0, value];
    }
    let hue = if value == red {
        (green - blue) / range
    } else if value == green {
        2.0 + (blue - red) / range
    } else {
        4.0 + (red - green) / range
    };
    [hue, range / value, value]
}

/// Terms of the fit.
fn terms(hue: f64, saturation: f64) -> [f64; TERMS] {
    let mut terms = [0.0; TERMS];
    let angle = hue * std::f64::consts::PI / 3.0;
    for (power, half) in terms.chunks_exact_mut(TERMS / 2).enumerate() {
        let scale = if power == 0 {
            saturation
        } else {
            saturation * saturation
        };
        half[0] = scale;
        for harmonic in 1..=HARMONICS {
            half[2 * harmonic - 1] = scale * libm::cos(harmonic as f64 * angle);
            half[2 * harmonic] = scale * libm::sin(harmonic as f64 * angle);
        }
    }
    terms
}

/// The table for pairs of linear ROMM RGB: after the matrix, and as it should be. For each hue, for each saturation: a
/// shift in degrees, a factor on saturation, a factor on value.
pub(crate) fn fit(pairs: &[([f64; 3], [f64; 3])]) -> Vec<f32> {
    let mut gram = [[0.0; TERMS]; TERMS];
    let mut targets = [[0.0; TERMS]; 3];
    for (found, wanted) in pairs {
        let inside = |rgb: &[f64; 3]| rgb.iter().all(|value| *value > 0.0);
        let ([hue, saturation, value], [true_hue, true_saturation, true_value]) =
            (hexagon(*found), hexagon(*wanted));
        if !inside(found) || !inside(wanted) || saturation < LEAST_SATURATION {
            continue;
        }
        let turn = true_hue - hue;
        let off = [
            turn - 6.0 * (turn / 6.0).round(),
            true_saturation / saturation - 1.0,
            libm::log(true_value / value),
        ];
        let terms = terms(hue, saturation);
        // A hue counts by the saturation that it has, in both factors of the square.
        let weight = saturation * saturation;
        for row in 0..TERMS {
            for column in 0..TERMS {
                gram[row][column] += weight * terms[row] * terms[column];
            }
            for (target, off) in targets.iter_mut().zip(off) {
                target[row] += weight * terms[row] * off;
            }
        }
    }
    for (at, row) in gram.iter_mut().enumerate() {
        row[at] += DAMPING * pairs.len() as f64;
    }
    let [shift, saturation, value] = targets.map(|target| solved(gram, target));
    let along = |factors: &[f64; TERMS], terms: &[f64; TERMS]| -> f64 {
        factors.iter().zip(terms).map(|(a, b)| a * b).sum()
    };
    (0..HUES * SATURATIONS)
        .flat_map(|at| {
            let hue = 6.0 * (at / SATURATIONS) as f64 / HUES as f64;
            let terms = terms(hue, (at % SATURATIONS) as f64 / (SATURATIONS - 1) as f64);
            [
                (60.0 * along(&shift, &terms)) as f32,
                (1.0 + along(&saturation, &terms)) as f32,
                libm::exp(along(&value, &terms)) as f32,
            ]
        })
        .collect()
}

/// Solves a symmetric positive system (Cholesky).
fn solved(mut matrix: [[f64; TERMS]; TERMS], mut right: [f64; TERMS]) -> [f64; TERMS] {
    for row in 0..TERMS {
        for column in 0..=row {
            let mut sum = matrix[row][column];
            for (one, other) in matrix[row].iter().zip(&matrix[column]).take(column) {
                sum -= one * other;
            }
            matrix[row][column] = if row == column {
                sum.sqrt()
            } else {
                sum / matrix[column][column]
            };
        }
    }
    for row in 0..TERMS {
        for k in 0..row {
            right[row] -= matrix[row][k] * right[k];
        }
        right[row] /= matrix[row][row];
    }
    for row in (0..TERMS).rev() {
        for (k, below) in matrix.iter().enumerate().skip(row + 1) {
            right[row] -= below[row] * right[k];
        }
        right[row] /= matrix[row][row];
    }
    right
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn colours_that_are_right_need_no_correction() {
        let pairs: Vec<_> = (0..500)
            .map(|at: u32| {
                let step = |by: u32| f64::from(at * by % 97 + 1) / 98.0;
                let colour = [step(7), step(31), step(59)];
                (colour, colour)
            })
            .collect();
        for entry in fit(&pairs).chunks_exact(3) {
            assert!(entry[0].abs() < 1e-4 && (entry[1] - 1.0).abs() < 1e-5);
        }
    }

    #[test]
    fn too_little_saturation_is_mended() {
        let pairs: Vec<_> = (0..500)
            .map(|at: u32| {
                let step = |by: u32| f64::from(at * by % 97 + 1) / 98.0;
                let wanted = [step(7), step(31), step(59)];
                let top = wanted[0].max(wanted[1]).max(wanted[2]);
                let pale = wanted.map(|value| top - 0.8 * (top - value));
                (pale, wanted)
            })
            .collect();
        let table = fit(&pairs);
        // At 0.6 saturation, all around.
        for hue in 0..HUES {
            let factor = table[3 * (hue * SATURATIONS + 5) + 1];
            assert!((factor - 1.25).abs() < 0.05, "{hue}: {factor}");
        }
    }

    #[test]
    fn white_is_white() {
        for value in apply(&to_romm(), white_of(D50_XY)) {
            assert!((value - 1.0).abs() < 1e-12);
        }
    }
}
