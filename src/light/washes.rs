//! The colours of washes: what is coloured in a picture beyond what a white light makes of grey and skin.
//!
//! A wash is a lamp; its colour does not change with the key. So hue is that of camera RGB balanced for daylight (CIE D65
//! through the body's matrices), not for the frame's own white, under which a tungsten key would push every violet and magenta into
//! blue. It is the angle of the hexagon's opponent axes, atan2(sqrt(3) (G - B), 2 R - G - B): 0 red, 120 green, 240 blue.
//! Equal amounts of white leave it as it is, so haze and spill hardly turn it. No colour goes through a matrix: a 3 x 3 matrix
//! gives a 450 nm LED negative luminance, and no hue after that means anything.
//!
//! Names follow the hues that the trade's LED bands (630, 590, 525, 470, 450, 405 nm and their mixtures) have through a measured
//! camera's sensitivities and those of an invented second body; limits lie midway between neighbours.

use crate::base::units::Chromaticity;
use crate::colour::camera::CameraColour;
use crate::light::reading::{WashName, WashReading};
use crate::light::region::Region;
use crate::light::tiles::Tiles;

/// Washes that are kept of a frame.
pub const MOST: usize = 4;
/// A tile's strongest channel must be so many standard deviations of its noise above black.
const ABOVE_NOISE: f64 = 6.0;
/// Degrees in a bin of the histogram of hues; the peak of a wash is told by the mean over it and this many bins to each side.
const BIN: f64 = 10.0;
const BINS: usize = 36;
const REACH: usize = 1;
/// A wash colours at least this share of the picture, and of the coloured tiles.
const LEAST_SHARE: f64 = 0.01;
const LEAST_OF_COLOURED: f64 = 0.08;
/// Below this saturation, 1 - weakest / strongest, a red or magenta is pink.
const PALE: f64 = 0.6;

/// Upper limits of hues, degrees, and their names; what is beyond the last is red again.
const NAMES: [(f64, WashName); 10] = [
    (7.0, WashName::Red),
    (18.0, WashName::Amber),
    (62.0, WashName::Yellow),
    (112.0, WashName::Lime),
    (162.0, WashName::Green),
    (208.0, WashName::Cyan),
    (235.0, WashName::Blue),
    (248.0, WashName::Congo),
    (280.0, WashName::Violet),
    (335.0, WashName::Magenta),
];

/// What a pile of tiles of nearly one hue sums up to.
#[derive(Clone, Copy, Default)]
struct Pile {
    /// Sums of the hue's cosine and sine, weighted by saturation.
    vector: [f64; 2],
    saturation: f64,
    tiles: f64,
    lit: f64,
}

impl Pile {
    fn add(&mut self, other: &Self) {
        for (sum, value) in self.vector.iter_mut().zip(other.vector) {
            *sum += value;
        }
        self.saturation += other.saturation;
        self.tiles += other.tiles;
        self.lit += other.lit;
    }
}

/// The washes of a frame, most of the picture first.
#[must_use]
pub fn washes(tiles: &Tiles, region: &Region, colour: &CameraColour) -> Vec<WashReading> {
    let Ok(daylight) = colour.neutral_of_white(Chromaticity::D65) else {
        return Vec::new();
    };
    let mut bins = [Pile::default(); BINS];
    let mut coloured = 0.0;
    for at in 0..tiles.len() {
        if region.lamps.values()[at] || !is_coloured(tiles, at) {
            continue;
        }
        let Some(balanced) = Balanced::of(tiles.colour(at), daylight) else {
            continue;
        };
        let saturation = balanced.saturation;
        let lit = f64::from(u8::from(region.lit.values()[at]));
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "degrees from 0 to 360"
        )]
        let bin = ((balanced.hue() / BIN) as usize).min(BINS - 1);
        bins[bin].add(&Pile {
            vector: balanced.direction().map(|part| saturation * part),
            saturation,
            tiles: 1.0,
            lit,
        });
        coloured += 1.0;
    }
    let all = tiles.len().max(1) as f64;
    let lit = region
        .lit
        .values()
        .iter()
        .filter(|lit| **lit)
        .count()
        .max(1) as f64;
    let least = (LEAST_SHARE * all).max(LEAST_OF_COLOURED * coloured);
    let mut found = Vec::new();
    while found.len() < MOST {
        let around =
            |bin: usize| (0..=2 * REACH).map(move |step| (bin + BINS + step - REACH) % BINS);
        let weight = |bin: usize| around(bin).map(|bin| bins[bin].saturation).sum::<f64>();
        let Some(peak) = (0..BINS).max_by(|&a, &b| weight(a).total_cmp(&weight(b))) else {
            break;
        };
        let mut pile = Pile::default();
        for bin in around(peak) {
            pile.add(&bins[bin]);
        }
        if !(pile.tiles > 0.0 && pile.tiles >= least) {
            break;
        }
        for bin in around(peak) {
            bins[bin] = Pile::default();
        }
        let hue = pile.vector[1]
            .atan2(pile.vector[0])
            .to_degrees()
            .rem_euclid(360.0);
        found.push(WashReading {
            name: name(hue, pile.saturation / pile.tiles),
            hue,
            share: pile.tiles / all,
            lit_share: pile.lit / lit,
        });
    }
    found.sort_by(|a, b| b.share.total_cmp(&a.share));
    found
}

/// Whether a tile is no mere noise, and no white light makes grey or skin look like it.
fn is_coloured(tiles: &Tiles, at: usize) -> bool {
    let (raw, noise) = (tiles.colour(at), tiles.noise[at]);
    let is_clear = (0..3).any(|channel| raw[channel] > ABOVE_NOISE * noise[channel]);
    is_clear && tiles.is_coloured_above_noise(at)
}

/// A camera colour balanced by a neutral, on the hexagon's axes.
struct Balanced {
    /// 2 R - G - B, and sqrt(3) (G - B): a hue is the angle of this vector.
    opponents: [f64; 2],
    /// 1 - weakest / strongest, 0 to 1.
    saturation: f64,
}

impl Balanced {
    /// `None` of black. A channel below black counts as black.
    fn of(raw: [f64; 3], neutral: [f64; 3]) -> Option<Self> {
        let [red, green, blue] =
            [0, 1, 2].map(|channel| (raw[channel] / neutral[channel]).max(0.0));
        let strongest = red.max(green).max(blue);
        let weakest = red.min(green).min(blue);
        (strongest > 0.0 && strongest.is_finite()).then(|| Self {
            opponents: [2.0 * red - green - blue, 3.0_f64.sqrt() * (green - blue)],
            saturation: 1.0 - weakest / strongest,
        })
    }

    /// The hue in degrees, 0 to 360.
    fn hue(&self) -> f64 {
        let angle = self.opponents[1].atan2(self.opponents[0]);
        angle.to_degrees().rem_euclid(360.0)
    }

    /// Cosine and sine of the hue; of grey, those of red.
    fn direction(&self) -> [f64; 2] {
        let [x, y] = self.opponents;
        let length = (x * x + y * y).sqrt();
        if length > 0.0 {
            [x / length, y / length]
        } else {
            [1.0, 0.0]
        }
    }
}

/// Hue in degrees and saturation, 0 to 1, of a camera colour balanced by a neutral; `None` of black. A channel below black counts as
/// black.
#[must_use]
pub fn hue_and_saturation(raw: [f64; 3], neutral: [f64; 3]) -> Option<(f64, f64)> {
    Balanced::of(raw, neutral).map(|balanced| (balanced.hue(), balanced.saturation))
}

/// The trade's name of a hue.
#[must_use]
pub fn name(hue: f64, saturation: f64) -> WashName {
    let name = NAMES
        .iter()
        .find(|(limit, _)| hue < *limit)
        .map_or(WashName::Red, |(_, name)| *name);
    match name {
        WashName::Red | WashName::Magenta if saturation < PALE => WashName::Pink,
        name => name,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::light::scene::{Kind, camera, with_scene};

    const RED: [f64; 3] = [0.4, 0.02, 0.02];
    const BLUE: [f64; 3] = [0.02, 0.15, 0.4];
    const GREY: [f64; 3] = [0.2, 0.2, 0.2];

    /// At its corners the angle is the hue of the colour hexagon, and saturation is that of its HSV model everywhere (A. R. Smith,
    /// "Color gamut transform pairs", SIGGRAPH 1978).
    #[test]
    fn hues_are_those_of_the_hexagon_at_its_corners() {
        let corners = [
            [1.0, 0.0, 0.0],
            [1.0, 1.0, 0.0],
            [0.0, 1.0, 0.0],
            [0.0, 1.0, 1.0],
            [0.0, 0.0, 1.0],
            [1.0, 0.0, 1.0],
        ];
        for (corner, expected) in corners
            .into_iter()
            .zip([0.0, 60.0, 120.0, 180.0, 240.0, 300.0])
        {
            // What is added to all channels leaves the hue.
            for (strength, white) in [(0.7, 0.0), (0.3, 0.25)] {
                let neutral = [0.5, 1.0, 0.7];
                let raw = [0, 1, 2].map(|c| neutral[c] * (white + strength * corner[c]));
                let (hue, saturation) = hue_and_saturation(raw, neutral).expect("light");
                let error = (hue - expected + 180.0).rem_euclid(360.0) - 180.0;
                assert!(error.abs() < 1e-9, "{corner:?}: {hue}");
                assert!((saturation - strength / (strength + white)).abs() < 1e-12);
            }
        }
        assert!(hue_and_saturation([0.0, -0.1, 0.0], [1.0; 3]).is_none());
    }

    #[test]
    fn washes_are_found_with_their_shares_the_largest_first() {
        // Of 200 tiles 60 are blue, 40 red, four of them on what the key lights; a green lamp is no wash.
        let of = |x: usize, y: usize| match (x, y) {
            (0..6, _) => (BLUE, Kind::Beside),
            (6..10, 0) => (RED, Kind::Lit),
            (6..10, _) => (RED, Kind::Beside),
            (10..18, _) => (GREY, Kind::Lit),
            _ => ([0.02, 0.9, 0.02], Kind::Lamp),
        };
        let found = with_scene((20, 10), of, |tiles, region| {
            washes(tiles, region, &camera())
        });
        let told = |found: &[WashReading]| -> Vec<WashName> {
            found.iter().map(|wash| wash.name).collect()
        };
        assert_eq!(told(&found), [WashName::Blue, WashName::Red]);
        let expected = [(BLUE, 0.3, 0.0), (RED, 0.2, 4.0 / 84.0)];
        for (wash, (colour, share, lit_share)) in found.iter().zip(expected) {
            let (hue, _) = hue_and_saturation(colour, [1.0; 3]).expect("light");
            let error = (wash.hue - hue + 180.0).rem_euclid(360.0) - 180.0;
            // The camera's daylight is that of its matrix' four digits.
            assert!(error.abs() < 0.5, "{wash:?} {hue}");
            assert!(
                (wash.share - share).abs() < 1e-12 && (wash.lit_share - lit_share).abs() < 1e-12,
                "{wash:?}"
            );
        }
    }

    #[test]
    fn grey_skin_noise_and_specks_are_no_wash() {
        let found = |of: &dyn Fn(usize, usize) -> [f64; 3]| {
            let of = |x, y| (of(x, y), Kind::Beside);
            with_scene((40, 30), of, |tiles, region| {
                washes(tiles, region, &camera())
            })
        };
        assert_eq!(found(&|_, _| GREY), []);
        assert_eq!(found(&|_, _| [0.36, 0.24, 0.18]), [], "skin");
        assert_eq!(found(&|_, _| RED.map(|value| 1e-4 * value)), [], "noise");
        // A hundredth of 1,200 tiles.
        let speck = |tiles: usize| found(&move |x, y| if y == 0 && x < tiles { RED } else { GREY });
        assert_eq!(speck(11), []);
        assert_eq!(speck(12).len(), 1);
    }
}
