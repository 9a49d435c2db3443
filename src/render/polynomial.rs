//! Smooth functions of one variable as polynomials, fitted once when a plan is made ready.
//!
//! A polynomial fills vectors where a table's look-ups cannot, and its coefficients need no file. The fit interpolates at
//! Chebyshev nodes, which comes within a small factor of the best polynomial of its degree (Trefethen, "Approximation
//! Theory and Approximation Practice", chapters 4 and 8); the error is then measured and can be asked for.

/// Highest degree.
const DEGREE: usize = 9;

/// A polynomial of degree 9 on an interval, in the variable u = (x - middle) / half.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Polynomial {
    middle: f32,
    per_half: f32,
    /// Coefficients of u⁰ to u⁹.
    coefficients: [f32; DEGREE + 1],
}

impl Polynomial {
    /// Fits `function` between `from` and `to`.
    pub(crate) fn fit(from: f64, to: f64, function: impl Fn(f64) -> f64) -> Self {
        const NODES: usize = DEGREE + 1;
        let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
        let angle = |node: usize| std::f64::consts::PI * (node as f64 + 0.5) / NODES as f64;
        let values: Vec<f64> = (0..NODES)
            .map(|node| function(middle + half * angle(node).cos()))
            .collect();
        let mut power = [0.0f64; NODES];
        // Chebyshev polynomials in powers of u, one after the other: T(k+1) = 2 u T(k) - T(k-1).
        let (mut before, mut current) = ([0.0f64; NODES], [0.0f64; NODES]);
        current[0] = 1.0;
        for order in 0..NODES {
            let share: f64 = values
                .iter()
                .enumerate()
                .map(|(node, value)| value * (order as f64 * angle(node)).cos())
                .sum::<f64>()
                * if order == 0 { 1.0 } else { 2.0 }
                / NODES as f64;
            for (sum, own) in power.iter_mut().zip(&current) {
                *sum += share * own;
            }
            let mut next = [0.0f64; NODES];
            for place in 0..NODES {
                let shifted = if place == 0 { 0.0 } else { current[place - 1] };
                let factor = if order == 0 { 1.0 } else { 2.0 };
                next[place] = factor * shifted - before[place];
            }
            (before, current) = (current, next);
        }
        Self {
            middle: middle as f32,
            per_half: (1.0 / half) as f32,
            coefficients: power.map(|value| value as f32),
        }
    }

    /// The value at `x`, which must lie within the interval.
    #[inline(always)]
    pub(crate) fn at(&self, x: f32) -> f32 {
        let u = (x - self.middle) * self.per_half;
        let c = &self.coefficients;
        // Two chains side by side, even and odd powers, so that the machine need not wait for each product.
        let v = u * u;
        let even = c[0] + v * (c[2] + v * (c[4] + v * (c[6] + v * c[8])));
        let odd = c[1] + v * (c[3] + v * (c[5] + v * (c[7] + v * c[9])));
        even + u * odd
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_polynomial_of_its_degree_is_met_exactly() {
        let function = |x: f64| 1.0 + x * (0.5 - x * x * (0.25 + x.powi(6)));
        let fit = Polynomial::fit(0.1, 0.9, function);
        for step in 0..=97 {
            let x = 0.1 + 0.8 * f64::from(step) / 97.0;
            assert!((f64::from(fit.at(x as f32)) - function(x)).abs() < 2e-6);
        }
    }
}
