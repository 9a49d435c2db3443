//! Three by three matrices in double precision, for colour.

use serde::{Deserialize, Serialize};
use std::ops::Mul;

/// Rows of three numbers; multiplies column vectors from the left.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Matrix3(pub [[f64; 3]; 3]);

/// Determinants smaller than this, relative to the product of the row norms, are taken for zero: such a matrix would
/// turn rounding errors of its entries (published with four digits) into colours.
const SINGULAR: f64 = 1e-9;

impl Matrix3 {
    /// The matrix that changes nothing.
    pub const IDENTITY: Self = Self::diagonal([1.0, 1.0, 1.0]);

    /// A matrix that scales each channel.
    #[must_use]
    pub const fn diagonal(d: [f64; 3]) -> Self {
        Self([[d[0], 0.0, 0.0], [0.0, d[1], 0.0], [0.0, 0.0, d[2]]])
    }

    /// The product with a column vector.
    #[must_use]
    pub fn apply(&self, v: [f64; 3]) -> [f64; 3] {
        self.0
            .map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
    }

    /// Rows become columns.
    #[must_use]
    pub fn transposed(&self) -> Self {
        let m = &self.0;
        Self([
            [m[0][0], m[1][0], m[2][0]],
            [m[0][1], m[1][1], m[2][1]],
            [m[0][2], m[1][2], m[2][2]],
        ])
    }

    /// The inverse; `None` when the matrix is singular or holds a value that is not finite.
    #[must_use]
    pub fn inverse(&self) -> Option<Self> {
        let m = &self.0;
        let cofactor = |r0: usize, c0: usize, r1: usize, c1: usize| {
            m[r0][c0] * m[r1][c1] - m[r0][c1] * m[r1][c0]
        };
        let adjugate = [
            [
                cofactor(1, 1, 2, 2),
                -cofactor(0, 1, 2, 2),
                cofactor(0, 1, 1, 2),
            ],
            [
                -cofactor(1, 0, 2, 2),
                cofactor(0, 0, 2, 2),
                -cofactor(0, 0, 1, 2),
            ],
            [
                cofactor(1, 0, 2, 1),
                -cofactor(0, 0, 2, 1),
                cofactor(0, 0, 1, 1),
            ],
        ];
        let determinant =
            m[0][0] * adjugate[0][0] + m[0][1] * adjugate[1][0] + m[0][2] * adjugate[2][0];
        let scale: f64 = m
            .iter()
            .map(|row| row.iter().map(|v| v * v).sum::<f64>().sqrt())
            .product();
        if !determinant.is_finite() || determinant.abs() <= SINGULAR * scale {
            return None;
        }
        Some(Self(adjugate.map(|row| row.map(|v| v / determinant))))
    }

    /// Linear blend: `1 - share` of this one and `share` of the other.
    #[must_use]
    pub fn blend(&self, other: &Self, share: f64) -> Self {
        let mut blended = *self;
        for (row, other_row) in blended.0.iter_mut().zip(&other.0) {
            for (value, other_value) in row.iter_mut().zip(other_row) {
                *value = (1.0 - share) * *value + share * other_value;
            }
        }
        blended
    }

    /// The same numbers in single precision, for pixel loops.
    #[must_use]
    #[expect(
        clippy::cast_possible_truncation,
        reason = "colour matrices are published with four digits"
    )]
    pub fn to_f32(&self) -> [[f32; 3]; 3] {
        self.0.map(|row| row.map(|value| value as f32))
    }
}

impl Mul for Matrix3 {
    type Output = Self;

    fn mul(self, right: Self) -> Self {
        let columns = right.transposed();
        Self(self.0.map(|row| columns.apply(row)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_matrix_times_its_inverse_is_the_identity() {
        let matrix = Matrix3([[0.9, -0.3, 0.1], [-0.5, 1.2, 0.25], [-0.1, 0.2, 0.7]]);
        let product = matrix * matrix.inverse().expect("regular");
        for (row, expected) in product.0.iter().zip(Matrix3::IDENTITY.0) {
            for (value, wanted) in row.iter().zip(expected) {
                assert!((value - wanted).abs() < 1e-14);
            }
        }
    }

    #[test]
    fn singular_and_not_finite_have_no_inverse() {
        assert_eq!(
            Matrix3([[1.0, 2.0, 3.0], [2.0, 4.0, 6.0], [0.0, 1.0, 0.0]]).inverse(),
            None
        );
        assert_eq!(Matrix3([[0.0; 3]; 3]).inverse(), None);
        assert_eq!(Matrix3::diagonal([1.0, f64::NAN, 1.0]).inverse(), None);
    }

    #[test]
    fn products_apply_the_right_one_first() {
        let swap = Matrix3([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]);
        let scale = Matrix3::diagonal([2.0, 3.0, 5.0]);
        assert_eq!((swap * scale).apply([1.0, 1.0, 1.0]), [3.0, 2.0, 5.0]);
    }
}
