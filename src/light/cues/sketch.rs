//! A frame's colours as a short vector: the dot product of two says how alike the light is in two frames of one body.
//!
//! The histogram of a picture's colours, blurred so that neighbouring bins know each other, is taken to the root (the dot
//! product of two roots is the affinity of Bhattacharyya, "On a measure of divergence between two statistical
//! populations", Bull. Calcutta Math. Soc. 35:99, 1943). Of its bins hundreds are filled; signs and places that depend on
//! nothing but the bin add them up into few numbers that keep distances (Kane and Nelson, "Sparser Johnson-Lindenstrauss
//! transforms", J. ACM 61:4, 2014). On simulated shows change points found with 96 numbers are as good as with all bins.

use crate::light::colours::{COLOUR_BIN, ColourTrace};

/// Numbers of a sketch.
pub(super) const NUMBERS: usize = 96;

/// A frame's colours.
pub(super) type Sketch = [f64; NUMBERS];

/// The histogram: bins each way. Channels are bounded against each other, so that log-chroma lies within 3.9, but for bodies'
/// odd greys; what lies outside joins the last bin.
const BINS: usize = 44;
/// The blur: weights of the bins at this distance, a Gaussian of one bin's standard deviation.
const BLUR: [f64; 4] = [1.0, 0.606_531, 0.135_335, 0.011_109];
/// A picture of which less than this share has a colour is black: it is noise that has one.
const LEAST_SHARE: f64 = 0.01;
/// Each bin is added to this many numbers: the vector is parted into as many blocks.
const BLOCKS: usize = 4;
const BLOCK: u64 = (NUMBERS / BLOCKS) as u64;

/// Sketches a frame's colours; `None` of a picture without any, which is black.
#[must_use]
pub(super) fn sketch(colours: &[ColourTrace]) -> Option<Sketch> {
    let mut bins = vec![0.0; BINS * BINS];
    for trace in colours {
        bins[bin(trace.chroma[0]) * BINS + bin(trace.chroma[1])] += trace.share;
    }
    let all: f64 = bins.iter().sum();
    if !(all >= LEAST_SHARE && all.is_finite()) {
        return None;
    }
    let bins = blurred(&blurred(&bins, 1), BINS);
    let all: f64 = bins.iter().sum();
    let mut sketch = [0.0; NUMBERS];
    for (place, share) in bins.iter().enumerate().filter(|(_, share)| **share > 0.0) {
        let root = (share / all / BLOCKS as f64).sqrt();
        let mut bits = mixed(place as u64);
        for block in 0..BLOCKS {
            let number = block * BLOCK as usize + ((bits >> 1) % BLOCK) as usize;
            sketch[number] += if bits & 1 == 1 { root } else { -root };
            bits >>= 64 / BLOCKS;
        }
    }
    Some(sketch)
}

/// The dot product: 1 for equal light, 0 for light that has nothing in common, but for the sketch's error.
#[must_use]
pub(super) fn affinity(a: &Sketch, b: &Sketch) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to the bins"
)]
fn bin(value: f64) -> usize {
    let middle = (BINS / 2) as f64;
    (value / COLOUR_BIN + middle)
        .max(0.0)
        .min((BINS - 1) as f64) as usize
}

/// Blurs along one axis, whose neighbours are `step` apart.
fn blurred(bins: &[f64], step: usize) -> Vec<f64> {
    let mut blurred = vec![0.0; bins.len()];
    for (at, share) in bins.iter().enumerate().filter(|(_, share)| **share > 0.0) {
        let along = at / step % BINS;
        for (distance, weight) in BLUR.iter().enumerate() {
            if along + distance < BINS {
                blurred[at + distance * step] += share * weight;
            }
            if distance > 0 && along >= distance {
                blurred[at - distance * step] += share * weight;
            }
        }
    }
    blurred
}

/// Bits that a place always gets: SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators",
/// OOPSLA 2014).
fn mixed(place: u64) -> u64 {
    let mut bits = (place + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    bits ^ (bits >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(chroma: [f64; 2]) -> Sketch {
        sketch(&[ColourTrace { chroma, share: 0.5 }]).expect("a colour")
    }

    #[test]
    fn equal_colours_are_alike_and_far_ones_are_not() {
        let grey = one([0.1, 0.1]);
        let own = affinity(&grey, &grey);
        assert!((own - 1.0).abs() < 0.4, "{own}");
        let (near, far) = (one([0.3, 0.1]), one([2.0, -2.0]));
        assert!(affinity(&grey, &near) > 0.7 * own);
        assert!(affinity(&grey, &far).abs() < 0.35);
        assert!(sketch(&[]).is_none());
        let odd = one([f64::NAN, 1e300]);
        assert!(odd.iter().all(|number| number.is_finite()));
    }
}
