//! Faulty photosites: single ones that count far too much or less than nothing, found and replaced before the demosaic
//! spreads them.
//!
//! Light never falls on one photosite alone: a lens spreads even a star in focus over its neighbours, whatever their
//! colour. A hot photosite is therefore one that stands out from its own colour around it by far more than noise, while
//! its neighbours do not stand out from theirs. (Comparing with neighbours of the same colour is common practice, no
//! source; the second condition, which keeps stars and lamps, is ours, and the numbers were chosen on simulated ones.)
//!
//! A cold photosite counts no more than noise around black, where its colour around it counts light. Sensors subtract a
//! reading from before the exposure; a site whose charge jumps in between comes out too low by as much as others come out
//! too high (random telegraph noise: Wang, Rao, Mierop and Theuwissen, "Random telegraph signal in CMOS image sensor
//! pixels", IEDM 2006). In strong coloured light these are single black dots: on one frame under blue lamps, one red
//! photosite in 1200 is more than four standard deviations below black (measured).

use crate::base::bands::Threads;
use crate::base::kernel::row_kernel;
use crate::raw::frame::{Layout, Mosaic};
use crate::raw::noise::SensorNoise;
use crate::render::row::mirrored;
use std::ops::Range;

/// Standard deviations by which a hot photosite exceeds all but one of its own colour around it. One of them may be hot
/// as well.
const STANDS_OUT: f64 = 10.0;

/// Least share of the range by which it does so: less is not seen.
const LEAST_EXCESS: f64 = 0.01;

/// Standard deviations by which the sum of the neighbours may differ from what surrounds them.
const NEIGHBOURS_STAND_OUT: f64 = 3.0;

/// Standard deviations of the noise of black up to which a count holds no light.
const NO_LIGHT: f64 = 4.0;

/// Standard deviations by which a photosite without light is below all but one of its own colour around it to be cold.
/// Noise alone does that once in 10⁸ photosites. Fewer than for hot ones: nothing in a scene looks like that.
const FALLS_SHORT: f64 = 5.0;

/// What the marks say.
const HOT: u8 = 1;
const COLD: u8 = 2;

/// Photosites on each side that are looked at.
const REACH: usize = 2;

/// Columns worked on at a time, so that their marks need no memory of their own.
const CHUNK: usize = 1024;

/// A faulty photosite: its column and the count that replaces its own.
pub(crate) type Replacement = (usize, u16);

/// The faulty photosites of one row, from left to right.
pub(crate) type ReplacementsOfRow = Vec<Replacement>;

/// The faulty photosites of a mosaic, found once for all that look at it.
#[derive(Clone, Debug)]
pub(crate) struct Replacements(Vec<ReplacementsOfRow>);

impl Replacements {
    /// Of a mosaic; `None` for a picture with three colours a pixel, whose maker has repaired it.
    pub(crate) fn find(mosaic: &Mosaic, noise: SensorNoise, threads: &Threads) -> Option<Self> {
        let faulty = FaultySites::new(mosaic, noise)?;
        let mut rows = vec![Vec::new(); mosaic.height()];
        threads.for_each_band(
            &mut rows,
            1,
            ROWS,
            || (),
            |(), first, rows| {
                for (y, row) in (first..).zip(rows) {
                    *row = faulty.of_row(y);
                }
            },
        );
        Some(Self(rows))
    }

    /// Of all rows of a mosaic.
    pub(crate) fn of_rows(rows: Vec<ReplacementsOfRow>) -> Self {
        Self(rows)
    }

    /// All rows.
    #[cfg(test)]
    pub(crate) fn rows(&self) -> &[ReplacementsOfRow] {
        &self.0
    }

    /// Those of row `y` within `columns`, from left to right.
    pub(crate) fn in_row(&self, y: usize, columns: &Range<usize>) -> &[Replacement] {
        let row = &self.0[y];
        let before = |column: usize| row.partition_point(|(x, _)| *x < column);
        &row[before(columns.start)..before(columns.end)]
    }
}

/// Rows that one thread looks through at a time.
const ROWS: usize = 64;

/// Finds the faulty photosites of one mosaic.
#[derive(Clone, Copy, Debug)]
pub(crate) struct FaultySites<'a> {
    mosaic: &'a Mosaic,
    noise: SensorNoise,
    /// Distance of the photosites that a candidate is compared with first.
    distance: usize,
    /// Variance of a count: factor of the count and summand, of the channel with the least noise.
    slope: f32,
    floor: f32,
    /// The highest count without light, of the channel with the most noise.
    dark: u16,
}

impl<'a> FaultySites<'a> {
    /// `None` for a picture with three colours a pixel, whose maker has repaired it.
    pub(crate) fn new(mosaic: &'a Mosaic, noise: SensorNoise) -> Option<Self> {
        let distance = match mosaic.layout {
            // Of the same colour.
            Layout::Bayer(_) => 2,
            // The next ones, whatever their colour: the pattern has no fixed distance.
            Layout::XTrans(_) => 1,
            Layout::Linear => return None,
        };
        let black = f64::from(mosaic.black.at(0, 0, 0));
        let least = |of: &dyn Fn(usize) -> f64| (0..3).map(of).fold(f64::INFINITY, f64::min);
        let range = |channel: usize| f64::from(mosaic.white[channel]) - black;
        let slope = least(&|c| noise.channels[c].slope * range(c));
        let floor = least(&|c| noise.channels[c].floor * range(c) * range(c));
        let dark = (0..3)
            .map(|channel| NO_LIGHT * noise.channels[channel].floor.sqrt() * range(channel))
            .fold(black, |most, deviations| most.max(black + deviations));
        Some(Self {
            mosaic,
            noise,
            distance,
            dark: dark as u16,
            slope: slope as f32,
            floor: (floor - slope * black) as f32,
        })
    }

    /// Those of row `y`.
    pub(crate) fn of_row(&self, y: usize) -> ReplacementsOfRow {
        let mut row = Vec::new();
        let width = self.mosaic.width();
        for start in (0..width).step_by(CHUNK) {
            self.in_chunk(y, start..(start + CHUNK).min(width), &mut row);
        }
        row
    }

    fn in_chunk(&self, y: usize, columns: Range<usize>, found: &mut ReplacementsOfRow) {
        let counts = &self.mosaic.counts;
        let (width, height) = (counts.width(), counts.height());
        let first = columns.start.saturating_sub(self.distance);
        let end = (columns.end + self.distance).min(width);
        let row = |down: isize| {
            let y = mirrored(y as isize + down, height);
            &counts.row(y)[first..end]
        };
        let down = self.distance as isize;
        let (above, own, below) = (row(-down), row(0), row(down));
        let mut is_suspect = false;
        screen(
            above,
            own,
            below,
            self.distance,
            self.slope,
            self.floor,
            self.dark,
            &mut is_suspect,
        );
        if !is_suspect {
            return;
        }
        let mut marks = [0; CHUNK + 2 * REACH];
        let marks = &mut marks[..end - first];
        let mut suspects = 0;
        mark_suspects(
            above,
            own,
            below,
            self.distance,
            self.slope,
            self.floor,
            self.dark,
            marks,
            &mut suspects,
        );
        if suspects == 0 {
            return;
        }
        for (x, mark) in (first..).zip(marks.iter()) {
            if *mark != 0
                && columns.contains(&x)
                && let Some(count) = self.replacement(x, y, *mark)
            {
                found.push((x, count));
            }
        }
    }

    /// What replaces the count at column `x`, row `y`: the median of its colour around it; `None` when it is not what
    /// its mark says.
    fn replacement(&self, x: usize, y: usize, mark: u8) -> Option<u16> {
        let mosaic = self.mosaic;
        let own = mosaic.channel_at(x, y);
        let mut same = [0; (2 * REACH + 1) * (2 * REACH + 1)];
        let mut found = 0;
        self.around(x, y, |_, _, channel, count| {
            if channel == own {
                same[found] = count;
                found += 1;
            }
        });
        let same = &mut same[..found];
        same.sort_unstable();
        let (second, sign, deviations, least) = if mark == HOT {
            let second = *found.checked_sub(2).and_then(|at| same.get(at))?;
            (second, 1.0, STANDS_OUT, LEAST_EXCESS)
        } else {
            (*same.get(1)?, -1.0, FALLS_SHORT, 0.0)
        };
        let level = self.level(mosaic.counts.row(y)[x], own);
        let model = self.noise.channels[own];
        if mark == COLD && level > NO_LIGHT * model.floor.sqrt() {
            return None;
        }
        let second = self.level(second, own);
        let excess = sign * (level - second);
        if excess < least || excess < deviations * model.variance(second).sqrt() {
            return None;
        }
        let (raised, deviation) = self.neighbours(x, y);
        (sign * raised < NEIGHBOURS_STAND_OUT * deviation).then(|| same[same.len() / 2])
    }

    /// By how much the sum of the eight next to a photosite exceeds what is around them, and the standard deviation of
    /// that.
    fn neighbours(&self, x: usize, y: usize) -> (f64, f64) {
        let (mut inner, mut outer) = ([(0.0, 0.0); 3], [(0.0, 0.0); 3]);
        self.around(x, y, |at_x, at_y, channel, count| {
            let is_next = at_x.abs_diff(x) <= 1 && at_y.abs_diff(y) <= 1;
            let ring = if is_next { &mut inner } else { &mut outer };
            let sum = &mut ring[channel];
            *sum = (sum.0 + self.level(count, channel), sum.1 + 1.0);
        });
        let (mut raised, mut variance) = (0.0, 0.0);
        for channel in 0..3 {
            let ((near, sites), (far, around)) = (inner[channel], outer[channel]);
            if sites > 0.0 && around > 0.0 {
                let level = far / around;
                raised += near - sites * level;
                let noise = self.noise.channels[channel].variance(level);
                variance += noise * sites * (1.0 + sites / around);
            }
        }
        (raised, variance.sqrt())
    }

    /// Hands on column, row, channel and count of every photosite within reach of one, without itself.
    fn around(&self, x: usize, y: usize, mut take: impl FnMut(usize, usize, usize, u16)) {
        let mosaic = self.mosaic;
        let (width, height) = (mosaic.width(), mosaic.height());
        for at_y in y.saturating_sub(REACH)..(y + REACH + 1).min(height) {
            for at_x in x.saturating_sub(REACH)..(x + REACH + 1).min(width) {
                if (at_x, at_y) != (x, y) {
                    let channel = mosaic.channel_at(at_x, at_y);
                    take(at_x, at_y, channel, mosaic.counts.row(at_y)[at_x]);
                }
            }
        }
    }

    /// A count as a fraction of its channel's range.
    fn level(&self, count: u16, channel: usize) -> f64 {
        let black = f64::from(self.mosaic.black.at(0, 0, 0));
        (f64::from(count) - black) / (f64::from(self.mosaic.white[channel]) - black)
    }
}

/// Photosites that are screened together.
const SCREENED: usize = 256;

row_kernel! {
    /// Whether [`mark_suspects`] may mark any of these counts, in whole numbers and from four neighbours alone, above, below
    /// and on both sides. Of four the second highest is no higher than of eight, the second lowest no lower, and the variance
    /// grows with the count: held to the least variance of a block of photosites, the largest excess and lack never say no
    /// where a count would be marked.
    fn screen(
        above: &[u16],
        row: &[u16],
        below: &[u16],
        distance: usize,
        slope: f32,
        floor: f32,
        dark: u16,
        is_suspect: &mut bool,
    ) {
        const STANDS_OUT_SQUARE: f32 = (STANDS_OUT * STANDS_OUT) as f32;
        const FALLS_SHORT_SQUARE: f32 = (FALLS_SHORT * FALLS_SHORT) as f32;
        let inner = row.len().saturating_sub(2 * distance);
        if inner == 0 {
            return;
        }
        let (left, here, right) =
            (&row[..inner], &row[distance..][..inner], &row[2 * distance..][..inner]);
        let (above, below) = (&above[distance..][..inner], &below[distance..][..inner]);
        for start in (0..inner).step_by(SCREENED) {
            let (mut most_excess, mut most_lack) = (0_u16, 0_u16);
            let (mut least_high, mut least) = (u16::MAX, u16::MAX);
            for x in start..(start + SCREENED).min(inner) {
                let (low_beside, high_beside) = (left[x].min(right[x]), left[x].max(right[x]));
                let (low_across, high_across) = (above[x].min(below[x]), above[x].max(below[x]));
                let (one, other) = (high_beside.min(high_across), low_beside.max(low_across));
                let (high, low) = (one.max(other), one.min(other));
                let own = here[x];
                most_excess = most_excess.max(own.saturating_sub(high));
                least_high = least_high.min(high);
                let lack = low.saturating_sub(own);
                most_lack = most_lack.max(if own <= dark { lack } else { 0 });
                least = least.min(own);
            }
            let variance = |count: u16| (f32::from(count) * slope + floor).max(0.0);
            let (excess, lack) = (f32::from(most_excess), f32::from(most_lack));
            // What is marked for its lack has a second lowest neighbour above itself.
            *is_suspect |= excess * excess > STANDS_OUT_SQUARE * variance(least_high)
                || lack * lack > FALLS_SHORT_SQUARE * variance(least);
        }
    }
}

row_kernel! {
    /// Marks counts that exceed all but one of the eight around them, `distance` away, by [`STANDS_OUT`] standard
    /// deviations, whose square is `slope · count + floor`, and those up to `dark` that are [`FALLS_SHORT`] deviations
    /// below all but one; counts them. Counts nearer to an end than `distance` are not marked.
    fn mark_suspects(
        above: &[u16],
        row: &[u16],
        below: &[u16],
        distance: usize,
        slope: f32,
        floor: f32,
        dark: u16,
        marks: &mut [u8],
        found: &mut u32,
    ) {
        const STANDS_OUT_SQUARE: f32 = (STANDS_OUT * STANDS_OUT) as f32;
        const FALLS_SHORT_SQUARE: f32 = (FALLS_SHORT * FALLS_SHORT) as f32;
        marks.fill(0);
        let inner = marks.len().saturating_sub(2 * distance);
        if inner == 0 {
            return;
        }
        let (above_left, above_here, above_right) =
            (&above[..inner], &above[distance..][..inner], &above[2 * distance..][..inner]);
        let (left, here, right) =
            (&row[..inner], &row[distance..][..inner], &row[2 * distance..][..inner]);
        let (below_left, below_here, below_right) =
            (&below[..inner], &below[distance..][..inner], &below[2 * distance..][..inner]);
        let marks = &mut marks[distance..][..inner];
        let mut sum = 0;
        for x in 0..inner {
            let (mut highest, mut high) = (above_left[x].max(above_here[x]), above_left[x].min(above_here[x]));
            let (mut lowest, mut low) = (high, highest);
            for next in [above_right[x], left[x], right[x], below_left[x], below_here[x], below_right[x]] {
                high = high.max(highest.min(next));
                highest = highest.max(next);
                low = low.min(lowest.max(next));
                lowest = lowest.min(next);
            }
            let excess = f32::from(here[x].saturating_sub(high));
            let variance = (f32::from(high) * slope + floor).max(0.0);
            let is_hot = u8::from(excess * excess > STANDS_OUT_SQUARE * variance) & u8::from(here[x] > high);
            let lack = f32::from(low.saturating_sub(here[x]));
            let variance = (f32::from(low) * slope + floor).max(0.0);
            let is_cold = u8::from(lack * lack > FALLS_SHORT_SQUARE * variance)
                & u8::from(here[x] < low)
                & u8::from(here[x] <= dark);
            let mark = is_hot * HOT + is_cold * COLD;
            marks[x] = mark;
            sum += u32::from(is_hot | is_cold);
        }
        *found += sum;
    }
}

#[cfg(test)]
mod tests;
