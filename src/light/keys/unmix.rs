//! Key and wash told apart: the white of a cue from the colours that the same things had under the anchor.
//!
//! What the key lights is also lit by washes, from the air, the sides, sometimes from beside the key itself. A grey shirt is then
//! several degrees off the key's white, and so is every other thing: colours alone say what the light on the performer
//! is, not what the key is. Differences inside one material do not help where the wash is shaded like the key. What tells
//! them apart is that a key is nearly white and a wash is not: for every plausible white, every wash direction and
//! every amount of it, the lit region's colours are cleared of the wash and looked up among the anchor's; the most likely
//! explanation wins. The amount differs from place to place, so each is a small spread of amounts. The wash's direction is
//! what glows beside the lit region, the strongest colour of the whole picture (`hues`), or one that stage lamps have. Only the
//! brightest colours are asked: what faces the key has least of the washes in it.
//!
//! How much this can do depends on the washes. On simulated shows in which they put 4 to 20 % of their power on the performers, grey
//! things are 7 degrees off the key's white in the mean, aligning colours alone is 9 degrees wrong, the middle of stage keys
//! taken blindly 4.2, and this 2.7. Not much more is to be had there: a fit that is told the reflectance of every surface and the
//! direction of the washes is still 2.1 degrees wrong in the mean, because a wash along the locus (amber, blue, cyan) is told from
//! another key by its unevenness alone. Thresholds without a publication beside them were chosen there: no source.

use crate::light::keys::eyes::{DUVS, Eyes, MIREDS, mired_and_duv};
use crate::light::keys::map::Map;
use crate::light::locus::neutral_of;

/// Ratio of neighbouring amounts, the least of them, and how many.
const AMOUNT_RATIO: f64 = 1.7;
const LEAST_AMOUNT: f64 = 0.02;
const AMOUNTS: usize = 9;
/// How the amount is spread over the lit region: weights at neighbouring amounts.
const SPREAD: [f32; 5] = [0.15, 0.25, 0.30, 0.20, 0.10];
/// What a colour that the anchor never showed is worth: much, because washes and new clothes make many.
const UNSEEN: f32 = 3e-3;
/// Tiles of one surface are not independent, and what was drawn as even is not: all of them speak like so many.
const INDEPENDENT: f32 = 16.0;
/// Standard deviation of Duv of a key as a body's matrices report it. Discharge and LED keys of simulated shows report -0.003 to
/// +0.005.
const DUV_SPREAD: f64 = 0.002;
/// Stage keys, from tungsten to discharge spots, in mired: middle and standard deviation (3600 to 5700 K for two of three; common
/// practice, no source).
const MIRED: f64 = 225.0;
const MIRED_SPREAD: f64 = 50.0;

/// What each unit of wash and a direction that was not seen cost, as logarithms of likelihood.
const COST_OF_WASH: f64 = 1.0;
const COST_OF_GUESS: f32 = 4.0;

/// Shares of the key's white in what lies over the lit region beside the key's own light: haze and gloss scatter both.
const WHITENED: [f64; 3] = [0.0, 0.12, 0.3];

/// Temperatures that are tried first, one in so many; and how much less likely, as a logarithm, a neighbourhood may be.
const COARSE: usize = 3;
const UNLIKELY: f32 = 5.0;
/// Directions of washes as cameras see them, strongest channel 1: red, amber, green, cyan, blue, deep violet blue, violet,
/// magenta, orange, yellow green. Rounded from three-band LED fixtures through two sensors.
const GUESSES: [[f64; 3]; 10] = [
    [1.0, 0.12, 0.01],
    [1.0, 0.30, 0.03],
    [0.25, 1.0, 0.30],
    [0.10, 1.0, 0.80],
    [0.05, 0.45, 1.0],
    [0.10, 0.20, 1.0],
    [0.40, 0.25, 1.0],
    [1.0, 0.20, 0.90],
    [1.0, 0.60, 0.10],
    [0.80, 1.0, 0.10],
];

/// A wash on the lit region, against the key's green.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Wash {
    direction: [f64; 3],
    amount: f64,
}

impl Wash {
    /// The ln by which camera RGB under key and wash is brighter than under the key alone.
    pub(super) fn excess(&self, neutral: [f64; 3]) -> [f64; 3] {
        [0, 1, 2].map(|c| (1.0 + self.amount * self.direction[c] / neutral[c]).ln())
    }
}

/// What pictures show of the washes, as camera RGB with the strongest channel 1.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Seen {
    /// What glows beside the lit region.
    pub(super) glow: Option<[f64; 3]>,
    /// The strongest colours of the whole picture.
    pub(super) strongest: Option<[f64; 3]>,
}

impl Seen {
    /// Directions in which washes may pull under a white, with what each costs: those that were seen, the strongest colour with some of
    /// the key's white as well, and guesses.
    fn directions(self, neutral: [f64; 3]) -> impl Iterator<Item = ([f64; 3], f32)> {
        let whitened = self.strongest.into_iter().flat_map(move |direction| {
            WHITENED.map(|share| {
                let sum = [0, 1, 2].map(|c| direction[c] + share * neutral[c]);
                let most = sum.iter().copied().fold(0.0, f64::max);
                sum.map(|value| value / most)
            })
        });
        (self.glow.into_iter())
            .chain(whitened)
            .map(|direction| (direction, 0.0))
            .chain(GUESSES.map(|direction| (direction, COST_OF_GUESS)))
    }
}

/// How likely each white is for one body's part of a cue, and the wash that goes with it.
pub(super) struct Likelihoods {
    /// Logarithms, by point of the grid.
    pub(super) scores: Vec<f32>,
    pub(super) washes: Vec<Wash>,
    /// Mean logarithm of likelihood per tile at the best point: how well the anchor's colours explain the picture.
    pub(super) fit: f32,
}

/// Lit tiles of nearly one colour: (ln R/G, ln B/G) and their share; the shares sum to 1.
pub(super) type Tiles = [([f64; 2], f64)];

/// The anchor's colours as a body would see them under each white of its grid, beside that white.
pub(super) fn maps(eyes: &Eyes, colours: &[([f64; 2], f64)]) -> Vec<Option<Map>> {
    eyes.grid
        .iter()
        .map(|eye| {
            let eye = eye.as_ref()?;
            Some(Map::of(colours.iter().filter_map(|(colour, share)| {
                let chroma = eye.chroma_of(*colour)?;
                Some(([0, 1].map(|axis| chroma[axis] - eye.chroma[axis]), *share))
            })))
        })
        .collect()
}

/// Tries every white, wash and amount.
pub(super) fn explain(eyes: &Eyes, maps: &[Option<Map>], tiles: &Tiles, seen: Seen) -> Likelihoods {
    let points = MIREDS * DUVS;
    let mut found = Likelihoods {
        scores: vec![f32::NEG_INFINITY; points],
        washes: vec![Wash::default(); points],
        fit: f32::NEG_INFINITY,
    };
    // Every third temperature first; then those beside the likely ones. What is left out is a hundred times less likely than
    // the best.
    let coarse = |row: usize| row.is_multiple_of(COARSE);
    for row in (0..MIREDS).filter(|row| coarse(*row)) {
        explain_row(row, eyes, maps, tiles, seen, &mut found);
    }
    let best = found
        .scores
        .iter()
        .copied()
        .fold(f32::NEG_INFINITY, f32::max);
    let likely: Vec<bool> = found
        .scores
        .chunks_exact(DUVS)
        .map(|row| row.iter().any(|score| *score > best - UNLIKELY))
        .collect();
    for row in (0..MIREDS).filter(|row| !coarse(*row)) {
        let below = row / COARSE * COARSE;
        if likely[below] || likely.get(below + COARSE).is_some_and(|likely| *likely) {
            explain_row(row, eyes, maps, tiles, seen, &mut found);
        }
    }
    found
}

/// Tries every white of one temperature.
fn explain_row(
    row: usize,
    eyes: &Eyes,
    maps: &[Option<Map>],
    tiles: &Tiles,
    seen: Seen,
    found: &mut Likelihoods,
) {
    let first = row * DUVS;
    let pairs = eyes.grid.iter().zip(maps).skip(first).take(DUVS);
    for (point, pair) in (first..).zip(pairs) {
        let (Some(eye), Some(map)) = pair else {
            continue;
        };
        let beside: Vec<([f32; 2], f32)> = tiles
            .iter()
            .map(|(chroma, share)| {
                (
                    [0, 1].map(|axis| (chroma[axis] - eye.chroma[axis]) as f32),
                    *share as f32,
                )
            })
            .collect();
        let (mired, duv) = mired_and_duv(point);
        let likely_duv = prior(mired, duv);
        let plain: f32 = beside
            .iter()
            .map(|(colour, share)| share * (map.at(*colour) + UNSEEN).ln())
            .sum();
        let (mut best, mut fit, mut wash) = (INDEPENDENT * plain, plain, Wash::default());
        let neutral = neutral_of(eye.chroma);
        for (direction, cost) in seen.directions(neutral) {
            for (amount, mean) in cleared(map, &beside, direction, neutral) {
                let score = INDEPENDENT * mean - (COST_OF_WASH * amount) as f32 - cost;
                if score > best {
                    (best, fit) = (score, mean);
                    wash = Wash { direction, amount };
                }
            }
        }
        found.scores[point] = best + likely_duv;
        found.washes[point] = wash;
        found.fit = found.fit.max(fit);
    }
}

/// Mean logarithm of likelihood of tiles that are cleared of a wash, for each amount of it.
fn cleared(
    map: &Map,
    tiles: &[([f32; 2], f32)],
    direction: [f64; 3],
    neutral: [f64; 3],
) -> [(f64, f32); AMOUNTS] {
    const STEPS: usize = AMOUNTS + SPREAD.len() - 1;
    let amount =
        |step: usize| LEAST_AMOUNT * AMOUNT_RATIO.powi(step as i32 - (SPREAD.len() / 2) as i32);
    let shifts: [[f32; 2]; STEPS] = std::array::from_fn(|step| {
        let wash = Wash {
            direction,
            amount: amount(step),
        };
        let excess = wash.excess(neutral);
        [
            (excess[0] - excess[1]) as f32,
            (excess[2] - excess[1]) as f32,
        ]
    });
    let mut sums = [0.0_f32; AMOUNTS];
    for (colour, share) in tiles {
        let likely: [f32; STEPS] = std::array::from_fn(|step| {
            map.at([colour[0] - shifts[step][0], colour[1] - shifts[step][1]])
        });
        for (at, sum) in sums.iter_mut().enumerate() {
            let mixed: f32 = SPREAD
                .iter()
                .zip(&likely[at..])
                .map(|(weight, likely)| weight * likely)
                .sum();
            *sum += share * (mixed + UNSEEN).ln();
        }
    }
    std::array::from_fn(|at| (amount(at + SPREAD.len() / 2), sums[at]))
}

/// Logarithm of how likely a key of this white is before anything was seen, up to a constant.
fn prior(mired: f64, duv: f64) -> f32 {
    let daylight = ((250.0 - mired) / 50.0).max(0.0).min(1.0) * 0.003;
    let (off, far) = (
        (duv - daylight) / DUV_SPREAD,
        (mired - MIRED) / MIRED_SPREAD,
    );
    (-0.5 * (off * off + far * far)) as f32
}
