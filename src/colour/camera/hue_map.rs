//! What a matrix cannot do: a table of corrections by hue and saturation (Digital Negative specification 1.7.1, tags
//! ProfileHueSatMapDims and ProfileHueSatMapData1 to 3; chapter 6, "Hue/Saturation/Value Mapping Table").
//!
//! A sensor is no linear function of the observer, so the best matrix leaves errors that depend on hue and grow with
//! saturation. Who calibrates a body may write them into its files: for each hue and saturation of linear ROMM RGB a shift
//! of the hue, a factor on the saturation and one on the value. Neutral colours have no saturation, and so stay.
//!
//! Colours of one light outside ROMM RGB have a saturation above 1. They take the entry at 1; the specification would
//! clip them, and with them all modelling in an LED wash.

use serde::{Deserialize, Serialize};

/// Most entries along one side, and in all: far more than any published table (90 by 30).
const MOST_SIDE: usize = 360;
const MOST_ENTRIES: usize = 65_536;
/// Largest shift of a hue in degrees, and largest factor: a correction beyond them is damage.
const LARGEST_SHIFT: f32 = 90.0;
const LARGEST_FACTOR: f32 = 4.0;

/// Corrections at evenly spaced hues around the circle and saturations from 0 to 1.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct HueMap {
    hues: usize,
    saturations: usize,
    /// Shift in sixths of the circle, factor on saturation, factor on value; saturations of a hue together.
    entries: Vec<[f32; 3]>,
}

impl HueMap {
    /// From the values of a file: for each hue, for each saturation, a shift in degrees and two factors. `None` when their
    /// number or size is absurd.
    #[must_use]
    pub fn new(hues: usize, saturations: usize, values: &[f32]) -> Option<Self> {
        let fits = (1..=MOST_SIDE).contains(&hues)
            && (2..=MOST_SIDE).contains(&saturations)
            && hues * saturations <= MOST_ENTRIES
            && values.len() == hues * saturations * 3;
        if !fits {
            return None;
        }
        let entries: Vec<[f32; 3]> = values
            .as_chunks::<3>()
            .0
            .iter()
            .map(|[shift, saturation, value]| [shift / 60.0, *saturation, *value])
            .collect();
        let is_sane = |[shift, saturation, value]: &[f32; 3]| {
            shift.abs() <= LARGEST_SHIFT / 60.0
                && (0.0..=LARGEST_FACTOR).contains(saturation)
                && (0.0..=LARGEST_FACTOR).contains(value)
        };
        entries.iter().all(is_sane).then_some(Self {
            hues,
            saturations,
            entries,
        })
    }

    /// Both, blended by the share of the other; this one alone when they have different sides.
    #[must_use]
    pub fn blend(&self, other: &Self, share: f64) -> Self {
        if (self.hues, self.saturations) != (other.hues, other.saturations) {
            return self.clone();
        }
        let share = share as f32;
        let entries = self
            .entries
            .iter()
            .zip(&other.entries)
            .map(|(one, other)| std::array::from_fn(|at| one[at] + share * (other[at] - one[at])))
            .collect();
        Self {
            entries,
            ..self.clone()
        }
    }

    /// Hues around the circle and saturations from 0 to 1.
    #[must_use]
    pub fn sides(&self) -> (usize, usize) {
        (self.hues, self.saturations)
    }

    /// One colour of linear ROMM RGB. Neutral and dark ones come out as they went in.
    #[inline(always)]
    #[must_use]
    pub fn apply(&self, colour: [f32; 3]) -> [f32; 3] {
        let hexagonal = Hexagonal::of(colour);
        let entry = self.entry(self.place(hexagonal.hue, hexagonal.saturation));
        hexagonal.moved(colour, entry)
    }

    /// A row of colours, each as [`HueMap::apply`] has it. All that is arithmetic is done for many pixels side by side; only the
    /// entries are fetched pixel by pixel.
    #[inline(always)]
    pub fn apply_row(&self, red: &mut [f32], green: &mut [f32], blue: &mut [f32]) {
        /// Pixels at a time: what is kept of them lies in the first cache.
        const TOGETHER: usize = 64;
        let length = red.len().min(green.len()).min(blue.len());
        for start in (0..length).step_by(TOGETHER) {
            let block = start..(start + TOGETHER).min(length);
            let count = block.len();
            let red = &mut red[block.clone()][..count];
            let green = &mut green[block.clone()][..count];
            let blue = &mut blue[block][..count];
            // A list for each number, so that vectors hold the same number of several pixels.
            let [mut hues, mut saturations, mut values] = [[0.0_f32; TOGETHER]; 3];
            let [mut coloured, mut near, mut next] = [[0_u32; TOGETHER]; 3];
            let [mut along, mut share] = [[0.0_f32; TOGETHER]; 2];
            let [mut shifts, mut more, mut brighter] = [[0.0_f32; TOGETHER]; 3];
            for x in 0..count {
                let found = Hexagonal::of([red[x], green[x], blue[x]]);
                hues[x] = found.hue;
                saturations[x] = found.saturation;
                values[x] = found.value;
                coloured[x] = u32::from(found.is_coloured);
                let place = self.place(found.hue, found.saturation);
                near[x] = place.near;
                next[x] = place.next;
                along[x] = place.along;
                share[x] = place.share;
            }
            for x in 0..count {
                [shifts[x], more[x], brighter[x]] = self.entry(Place {
                    near: near[x],
                    next: next[x],
                    along: along[x],
                    share: share[x],
                });
            }
            for x in 0..count {
                let found = Hexagonal {
                    hue: hues[x],
                    saturation: saturations[x],
                    value: values[x],
                    is_coloured: coloured[x] != 0,
                };
                let entry = [shifts[x], more[x], brighter[x]];
                [red[x], green[x], blue[x]] = found.moved([red[x], green[x], blue[x]], entry);
            }
        }
    }

    /// Where the entry of a hue in sixths of the circle and a saturation lies.
    #[inline(always)]
    fn place(&self, hue: f32, saturation: f32) -> Place {
        let around = hue * (1.0 / 6.0);
        let across = (around - around.floor()) * self.hues as f32;
        let up = saturation.max(0.0).min(1.0) * (self.saturations - 1) as f32;
        // Sides are a few hundred at most: 32 bits hold all, and vectors hold many of them.
        let (left, below) = (
            (across as i32).min(self.hues as i32 - 1),
            (up as i32).min(self.saturations as i32 - 2),
        );
        let (along, share) = (across - left as f32, up - below as f32);
        let right = if left + 1 == self.hues as i32 {
            0
        } else {
            left + 1
        };
        let of_hue = |hue: i32| (hue * self.saturations as i32 + below).cast_unsigned();
        Place {
            near: of_hue(left),
            next: of_hue(right),
            along,
            share,
        }
    }

    /// The entry at a place, straight lines between entries.
    #[inline(always)]
    fn entry(&self, place: Place) -> [f32; 3] {
        let pair = |at: u32| [self.entries[at as usize], self.entries[at as usize + 1]];
        let ([near, near_above], [next, next_above]) = (pair(place.near), pair(place.next));
        std::array::from_fn(|k| {
            let low = near[k] + place.along * (next[k] - near[k]);
            let high = near_above[k] + place.along * (next_above[k] - near_above[k]);
            low + place.share * (high - low)
        })
    }
}

/// A place among entries.
#[derive(Clone, Copy)]
struct Place {
    /// The entry of the hue and the saturation below, and that of the next hue.
    near: u32,
    next: u32,
    /// How far on the way to the next hue, and to the next saturation.
    along: f32,
    share: f32,
}

/// A colour in the hexagon of hues.
#[derive(Clone, Copy)]
struct Hexagonal {
    /// In sixths of the circle.
    hue: f32,
    saturation: f32,
    value: f32,
    /// Whether it has a hue at all.
    is_coloured: bool,
}

impl Hexagonal {
    #[inline(always)]
    fn of([red, green, blue]: [f32; 3]) -> Self {
        let value = red.max(green).max(blue);
        let range = value - red.min(green).min(blue);
        // Written so that a NaN is left alone too.
        let is_coloured = (range > 0.0) & (value > 0.0);
        let per_range = 1.0 / if is_coloured { range } else { 1.0 };
        let from_red = (green - blue) * per_range;
        let from_green = 2.0 + (blue - red) * per_range;
        let from_blue = 4.0 + (red - green) * per_range;
        let hue = if value == red {
            from_red
        } else if value == green {
            from_green
        } else {
            from_blue
        };
        Self {
            hue,
            saturation: range / if is_coloured { value } else { 1.0 },
            value,
            is_coloured,
        }
    }

    /// The colour that an entry makes of this one.
    #[inline(always)]
    fn moved(self, colour: [f32; 3], [shift, more, brighter]: [f32; 3]) -> [f32; 3] {
        // Above 1 only down, so that no colour leaves ROMM RGB by the table.
        let mapped = if self.saturation <= 1.0 {
            (self.saturation * more).min(1.0)
        } else {
            self.saturation * more.min(1.0)
        };
        let (hue, top) = (self.hue + shift, self.value * brighter);
        // The hexagon of hues, from 6 to 12 so that no number is negative.
        let channel = |offset: f32| {
            let turned = hue + offset + 12.0;
            let place = turned - 6.0 * (turned * (1.0 / 6.0)).floor();
            let below = place.min(4.0 - place).max(0.0).min(1.0);
            top * (1.0 - mapped * below)
        };
        let moved = [channel(5.0), channel(3.0), channel(1.0)];
        if self.is_coloured { moved } else { colour }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn identity(hues: usize, saturations: usize) -> HueMap {
        HueMap::new(
            hues,
            saturations,
            &[0.0, 1.0, 1.0].repeat(hues * saturations),
        )
        .expect("a map")
    }

    fn colours() -> impl Iterator<Item = [f32; 3]> {
        let step = |index: usize| -0.2 + 1.3 * (index % 17) as f32 / 16.0;
        (0..17 * 17 * 17).map(move |index| [step(index), step(index / 17), step(index / 289)])
    }

    #[test]
    fn a_table_of_nothing_changes_nothing() {
        for (hues, saturations) in [(1, 2), (6, 2), (36, 9)] {
            let map = identity(hues, saturations);
            for colour in colours() {
                for (found, wanted) in map.apply(colour).iter().zip(colour) {
                    assert!((found - wanted).abs() < 2e-6, "{colour:?}: {found}");
                }
            }
        }
    }

    #[test]
    fn neutral_stays_neutral_whatever_the_table_says() {
        let map = HueMap::new(4, 2, &[20.0, 1.5, 1.3].repeat(8)).expect("a map");
        for level in [-0.1, 0.0, 1e-6, 0.18, 1.0, 30.0] {
            assert_eq!(map.apply([level; 3]), [level; 3]);
        }
        assert!(map.apply([f32::NAN, 0.1, 0.2])[0].is_nan());
    }

    #[test]
    fn entries_are_met_at_their_hue_and_saturation() {
        // Six hues, saturations 0, ½, 1: red is turned by 30 degrees at full saturation, nothing at half.
        let mut values = [0.0, 1.0, 1.0].repeat(18);
        values[6] = 30.0;
        values[7] = 0.8;
        values[8] = 0.5;
        let map = HueMap::new(6, 3, &values).expect("a map");
        let close = |found: [f32; 3], wanted: [f32; 3]| {
            found.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-6)
        };
        // Half a sixth towards yellow: green is half of the range of 0.8.
        assert!(close(map.apply([1.0, 0.0, 0.0]), [0.5, 0.3, 0.1]));
        assert!(close(map.apply([1.0, 0.5, 0.5]), [1.0, 0.5, 0.5]));
        assert!(close(map.apply([0.0, 1.0, 0.0]), [0.0, 1.0, 0.0]));
        // Twice the light gives twice the colour.
        assert!(close(map.apply([2.0, 0.0, 0.0]), [1.0, 0.6, 0.2]));
    }

    #[test]
    fn absurd_tables_are_refused() {
        let entry = |values: [f32; 3]| HueMap::new(1, 2, &values.repeat(2));
        for bad in [
            [200.0, 1.0, 1.0],
            [0.0, -1.0, 1.0],
            [0.0, 1.0, f32::NAN],
            [0.0, 9.0, 1.0],
        ] {
            assert_eq!(entry(bad), None);
        }
        assert_eq!(HueMap::new(3, 2, &[0.0; 9]), None);
        assert_eq!(HueMap::new(0, 2, &[]), None);
        assert_eq!(HueMap::new(usize::MAX, 2, &[]), None);
    }

    #[test]
    fn a_blend_has_its_ends() {
        let (one, other) = (
            identity(2, 2),
            HueMap::new(2, 2, &[6.0, 1.2, 0.9].repeat(4)).expect("a map"),
        );
        assert_eq!(one.blend(&other, 0.0), one);
        let whole = one.blend(&other, 1.0);
        for (found, wanted) in whole
            .entries
            .iter()
            .flatten()
            .zip(other.entries.iter().flatten())
        {
            assert!((found - wanted).abs() < 1e-6);
        }
        assert_eq!(one.blend(&identity(3, 2), 0.5), one);
    }
}
