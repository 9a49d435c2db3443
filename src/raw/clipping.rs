//! What the pixels say of the white level.
//!
//! The decoders' tables disagree about it (for one body by 6 %), and a table that is too high leaves clipped lamps with a
//! colour cast. Photosites that are full pile up at one level, so the pile tells where full is. Where two tables disagree,
//! the nearer one is taken; where a strong pile lies clearly below, the pile itself is. One level serves all colours: gains
//! of the colours relative to each other are the matrices' business. Without a pile the higher table stays: the scale of
//! counts must not wander from frame to frame of one show.
//!
//! Thresholds without a publication beside them were chosen by measurement on simulated stage frames: no source.

use crate::raw::decoded::Decoded;
use crate::raw::frame::Layout;

/// Photosites in a pile at least.
const LEAST_PHOTOSITES: u32 = 12;
/// A pile holds at least this many times what the levels below it hold.
const LEAST_RISE: f64 = 4.0;
/// Share of a colour's photosites in a pile that may move the white level.
const STRONG_SHARE: f64 = 0.0005;
/// Tables differ from the pile by less than this for other reasons (noise of full photosites, rounding).
const NEAR: f32 = 0.02;
/// A pile this far below the stated white is something else: a lit white wall.
const LOWEST: f32 = 0.75;
/// Levels of the stated range are looked at in this many steps.
const STEPS: usize = 256;

/// A pile of full photosites.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Pile {
    /// The level that 95 % of them reach.
    lower: f32,
    /// Their middle level.
    middle: f32,
    /// Their share of the colour's photosites.
    share: f64,
}

/// Finds the pile in a histogram of counts, looking around the stated white.
fn pile(histogram: &[u32], stated: f32) -> Option<Pile> {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a white level is a positive count of 16 bits"
    )]
    let stated_count = stated as usize;
    let step = (stated_count / STEPS).max(1);
    let sums: Vec<u32> = histogram
        .chunks(step)
        .map(|levels| levels.iter().sum())
        .collect();
    let total: u32 = sums.iter().sum();
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a positive count of 16 bits"
    )]
    let first = (stated * LOWEST) as usize / step;
    // Two steps together, so that a pile on the edge between them is seen whole.
    let two = |at: usize| sums[at] + sums.get(at + 1).copied().unwrap_or(0);
    let at = (first..sums.len()).max_by_key(|at| (two(*at), *at))?;
    let mass = two(at);
    let below = sums.get(at.checked_sub(10)?..at - 2)?;
    let usual = 2.0 * f64::from(below.iter().sum::<u32>()) / below.len() as f64;
    let above: u32 = sums.get(at + 2..).unwrap_or_default().iter().sum();
    if mass < LEAST_PHOTOSITES || f64::from(mass) < LEAST_RISE * usual || above > mass / 2 {
        return None;
    }
    let levels = at * step..((at + 2) * step).min(histogram.len());
    let level_of_share = |percent: u64| {
        let wanted = u64::from(mass) * percent / 100;
        let mut sum = 0;
        levels
            .clone()
            .find(|level| {
                sum += u64::from(histogram[*level]);
                sum > wanted
            })
            .map(|level| level as f32)
    };
    Some(Pile {
        lower: level_of_share(5)?,
        middle: level_of_share(50)?,
        share: f64::from(mass) / f64::from(total),
    })
}

/// Histograms of red, green, blue counts in the active area.
fn histograms(decoded: &Decoded) -> [Vec<u32>; 3] {
    let mut histograms = [const { Vec::new() }; 3];
    for histogram in &mut histograms {
        histogram.resize(1 << 16, 0u32);
    }
    let area = decoded.active;
    let channels = if decoded.layout == Layout::Linear {
        3
    } else {
        1
    };
    for y in 0..area.height {
        let Some(row) = decoded
            .counts
            .get(((area.top + y) * decoded.width + area.left) * channels..)
            .and_then(|row| row.get(..area.width * channels))
        else {
            break;
        };
        let colours: &[u8] = match &decoded.layout {
            Layout::Bayer(pattern) => &pattern[y % 2],
            Layout::XTrans(pattern) => &pattern[y % 6],
            Layout::Linear => &[0, 1, 2],
        };
        for part in row.chunks(colours.len()) {
            for (count, colour) in part.iter().zip(colours) {
                histograms[usize::from(*colour)][usize::from(*count)] += 1;
            }
        }
    }
    histograms
}

/// Settles the white level of a picture whose file does not state it; `other` is what another table says.
pub(crate) fn settle_white(decoded: &mut Decoded, other: Option<f32>) {
    let own = decoded.white.iter().copied().fold(f32::MAX, f32::min);
    let other = other.filter(|other| other.is_finite() && *other > 0.0);
    let stated = own.max(other.unwrap_or(own));
    if !(1.0..=65_535.0).contains(&stated) {
        return;
    }
    let histograms = histograms(decoded);
    let piles: Vec<Pile> = histograms
        .iter()
        .filter_map(|histogram| pile(histogram, stated))
        .collect();
    let lowest = piles
        .iter()
        .copied()
        .min_by(|one, other| one.middle.total_cmp(&other.middle));
    let (white, why) = settled(own, other, lowest, piles.len());
    if let Some(why) = why {
        decoded.notes.push(why);
    }
    if white != own {
        decoded.white = [white; 3];
    }
}

/// The white level, and words for the report when something was odd.
fn settled(
    own: f32,
    other: Option<f32>,
    lowest: Option<Pile>,
    piles: usize,
) -> (f32, Option<String>) {
    let tables = [own, other.unwrap_or(own)];
    let highest = tables[0].max(tables[1]);
    let Some(pile) = lowest else {
        let why = (tables[0] != tables[1]).then(|| {
            format!(
                "white level: tables say {} and {}, no clipped photosites tell which; {highest} taken",
                tables[0], tables[1]
            )
        });
        return (highest, why);
    };
    let nearest = if (tables[0] - pile.middle).abs() <= (tables[1] - pile.middle).abs() {
        tables[0]
    } else {
        tables[1]
    };
    let is_far_below = pile.middle < nearest * (1.0 - NEAR);
    if is_far_below && pile.share >= STRONG_SHARE && piles >= 2 {
        return (
            pile.lower,
            Some(format!(
                "white level: tables say {}, but photosites clip at {}; {} taken",
                nearest, pile.middle, pile.lower
            )),
        );
    }
    let why = (tables[0] != tables[1]).then(|| {
        format!(
            "white level: tables say {} and {}, photosites clip at {}; {nearest} taken",
            tables[0], tables[1], pile.middle
        )
    });
    (nearest, why)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A falling histogram up to `top`, with a pile of `piled` photosites at `level`.
    fn histogram(top: usize, level: usize, piled: u32) -> Vec<u32> {
        let mut histogram = vec![0; 1 << 16];
        for (count, photosites) in histogram.iter_mut().enumerate().take(top) {
            *photosites = 1 + 200_000 / (count as u32 + 100);
        }
        histogram[level] += piled;
        histogram
    }

    #[test]
    fn a_pile_is_found_at_its_level() {
        let found = pile(&histogram(15_000, 15_360, 9000), 16_380.0).expect("a pile");
        assert_eq!((found.lower, found.middle), (15_360.0, 15_360.0));
        let at_the_top = pile(&histogram(16_383, 16_383, 9000), 16_383.0).expect("a pile");
        assert_eq!(at_the_top.middle, 16_383.0);
    }

    #[test]
    fn a_frame_without_clipping_has_no_pile() {
        assert_eq!(pile(&histogram(9000, 0, 0), 16_380.0), None);
        assert_eq!(pile(&histogram(16_383, 0, 0), 16_383.0), None);
        assert_eq!(pile(&vec![0; 1 << 16], 16_383.0), None);
        // A dark frame with a handful of hot photosites.
        let mut dark = histogram(600, 0, 0);
        dark[16_000] = 5;
        assert_eq!(pile(&dark, 16_383.0), None);
    }

    #[test]
    fn the_pile_chooses_between_tables() {
        let at = |middle: f32, share: f64| {
            Some(Pile {
                lower: middle - 10.0,
                middle,
                share,
            })
        };
        assert_eq!(
            settled(15_360.0, Some(16_380.0), at(16_372.0, 1e-5), 3).0,
            16_380.0
        );
        assert_eq!(
            settled(16_380.0, Some(15_360.0), at(15_340.0, 1e-5), 3).0,
            15_360.0
        );
        assert_eq!(settled(15_360.0, Some(16_380.0), None, 0).0, 16_380.0);
        // Far below both tables: only a strong pile in two colours moves it.
        assert_eq!(settled(4095.0, None, at(3800.0, 0.02), 3).0, 3790.0);
        assert_eq!(settled(4095.0, None, at(3800.0, 1e-5), 3).0, 4095.0);
        assert_eq!(settled(4095.0, None, at(3800.0, 0.02), 1).0, 4095.0);
        // Above the table: full a little later is no reason to change the scale.
        assert_eq!(settled(15_360.0, None, at(16_383.0, 0.02), 3).0, 15_360.0);
    }
}
