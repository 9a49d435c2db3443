//! A map of colours: how likely each (ln R/G, ln B/G) is, beside a white.

/// Side of a cell, and cells each way: 1.92 to either side of the white.
const CELL: f64 = 0.04;
const SIDE: usize = 96;
/// Blur, in cells.
const BLUR: f64 = 0.75;
/// Cells that the blur reaches.
const REACH: usize = 3;

/// Likelihood by colour; the cells sum to 1 unless the map is empty.
#[derive(Clone, Debug)]
pub(super) struct Map(Vec<f32>);

impl Map {
    /// Puts colours with their amounts on a map and blurs it.
    pub(super) fn of(colours: impl Iterator<Item = ([f64; 2], f64)>) -> Self {
        let mut cells = vec![0.0_f32; SIDE * SIDE];
        for (colour, amount) in colours {
            spread(&mut cells, colour, amount);
        }
        let sum: f32 = cells.iter().sum();
        if sum > 0.0 {
            cells.iter_mut().for_each(|value| *value /= sum);
        }
        Self(cells)
    }

    /// What the map holds at a colour.
    pub(super) fn at(&self, colour: [f32; 2]) -> f32 {
        let [x, y] = colour.map(|value| value / CELL as f32 + SIDE as f32 / 2.0 + 0.5);
        let side = SIDE as f32;
        if !(x >= 0.0 && y >= 0.0 && x < side && y < side) {
            return 0.0;
        }
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "seen to be inside"
        )]
        let cell = y as usize * SIDE + x as usize;
        self.0[cell]
    }
}

/// Adds an amount as a small Gaussian.
fn spread(cells: &mut [f32], colour: [f64; 2], amount: f64) {
    let at = colour.map(|value| value / CELL + SIDE as f64 / 2.0);
    let inside = |value: f64| value >= REACH as f64 && value < (SIDE - REACH - 1) as f64;
    if !at.iter().all(|value| inside(*value)) {
        return;
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "seen to be inside"
    )]
    let middle = at.map(|value| value.round() as usize);
    for y in middle[1] - REACH..=middle[1] + REACH {
        for x in middle[0] - REACH..=middle[0] + REACH {
            let square = (x as f64 - at[0]).powi(2) + (y as f64 - at[1]).powi(2);
            cells[y * SIDE + x] += (amount * (-square / (2.0 * BLUR * BLUR)).exp()) as f32;
        }
    }
}
