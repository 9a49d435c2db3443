//! How long the rest of a night takes, learned from the frames that are through.
//!
//! Counting frames misleads wherever sizes are mixed: the gallery's selection goes first, a second body has three times the
//! photosites. Within one part of the work on one show the time of a frame is a straight line over the size of its file, so
//! a line is learned for each such group, and what is left is read off it.
//!
//! How fast the machine is at the moment is learned apart from that, since it changes for all sizes alike: a laptop gets warm,
//! goes to battery, is used beside the work, and workers share memory and heat. So there is a pace for each number of busy
//! workers, which follows within some fifty frames, while the lines keep what they know of sizes that have become rare.
//!
//! Pure: whoever asks brings the time.

use crate::night::queue::ShowId;
use crate::night::run::Work;
use std::collections::BTreeMap;

/// What share of its weight a frame keeps in a pace with each further one: some fifty count. Fewer would follow the noise of
/// single frames, more would be late where a laptop slows down (common practice, no source).
const KEPT_OF_PACE: f64 = 0.98;

/// The same in a line: some thousand count, so that a size of which one frame in fifty is stays known by twenty (common
/// practice, no source).
const KEPT_OF_LINE: f64 = 0.999;

/// The line leans towards "time in proportion to size" as long as sizes differ by less than this share of their mean.
const SIZES_THAT_DIFFER: f64 = 0.1;

/// Making a picture against reading its frame's light, while none was made yet: chosen as an order of magnitude, no source.
/// The first pictures that are made say better.
pub const MAKING_TO_METERING: f64 = 3.0;

/// Frames whose times are alike by size: those of one show in one part of the work.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Group {
    /// What is done with them.
    pub work: Work,
    /// The show.
    pub show: ShowId,
}

/// Frames of a group that are left.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Rest {
    /// How many.
    pub frames: u64,
    /// Bytes of their files together.
    pub bytes: u64,
}

/// A frame that a worker has in hand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InHand {
    /// Its group.
    pub group: Group,
    /// Bytes of its file.
    pub bytes: u64,
    /// Seconds since a worker took it.
    pub seconds: f64,
}

/// Sums of a straight line through (megabytes, seconds at an even pace), older frames fading.
#[derive(Clone, Copy, Debug, Default)]
struct Line {
    weight: f64,
    size: f64,
    time: f64,
    size_size: f64,
    size_time: f64,
}

impl Line {
    /// Learns from so many frames of one size and time.
    fn learn(&mut self, frames: f64, megabytes: f64, seconds: f64) {
        for (sum, value) in [
            (&mut self.weight, 1.0),
            (&mut self.size, megabytes),
            (&mut self.time, seconds),
            (&mut self.size_size, megabytes * megabytes),
            (&mut self.size_time, megabytes * seconds),
        ] {
            *sum = *sum * KEPT_OF_LINE + frames * value;
        }
    }

    /// Seconds of a frame of no size, and further seconds for each megabyte; neither is negative.
    fn fixed_and_slope(&self) -> Option<(f64, f64)> {
        if self.weight <= 0.0 {
            return None;
        }
        let (size, time) = (self.size / self.weight, self.time / self.weight);
        if size <= 0.0 {
            return Some((time, 0.0));
        }
        let in_proportion = time / size;
        let spread = (self.size_size / self.weight - size * size).max(0.0);
        let together = self.size_time / self.weight - size * time;
        let leaning = (SIZES_THAT_DIFFER * size).powi(2);
        let slope = (together + leaning * in_proportion) / (spread + leaning);
        let slope = slope.max(0.0).min(in_proportion);
        Some((time - slope * size, slope))
    }
}

/// How much longer frames take at the moment than their lines say: a mean in which older frames fade.
#[derive(Clone, Copy, Debug)]
struct Pace {
    weight: f64,
    sum: f64,
}

impl Pace {
    fn beginning_with(value: f64) -> Self {
        Self {
            weight: 1.0,
            sum: value,
        }
    }

    fn learn(&mut self, value: f64) {
        self.weight = self.weight * KEPT_OF_PACE + 1.0;
        self.sum = self.sum * KEPT_OF_PACE + value;
    }

    fn mean(self) -> f64 {
        self.sum / self.weight
    }
}

/// What was learned.
#[derive(Clone, Debug, Default)]
pub struct TimeLeft {
    lines: BTreeMap<Group, Line>,
    /// By the number of busy workers.
    paces: BTreeMap<usize, Pace>,
    /// The number that was busy last.
    last: usize,
}

fn megabytes(bytes: u64) -> f64 {
    bytes as f64 / 1e6
}

impl TimeLeft {
    /// Learns from a frame that is through: `seconds` of one worker, while so many were busy, this one included.
    pub fn learn(&mut self, group: Group, bytes: u64, seconds: f64, busy_workers: usize) {
        if !(seconds.is_finite() && seconds > 0.0) {
            return;
        }
        let size = megabytes(bytes);
        let before = self.pace(busy_workers);
        self.last = busy_workers;
        let pace = self
            .paces
            .entry(busy_workers)
            .or_insert(Pace::beginning_with(before));
        if let Some((fixed, slope)) = self.lines.get(&group).and_then(Line::fixed_and_slope) {
            let expected = fixed + slope * size;
            if expected > 0.0 {
                pace.learn(seconds / expected);
            }
        }
        let evened = seconds / pace.mean();
        self.lines
            .entry(group)
            .or_default()
            .learn(1.0, size, evened);
    }

    /// Learns from frames of which only the sums are known, as a queue keeps them of earlier runs.
    pub fn learn_sums(&mut self, group: Group, frames: u64, bytes: u64, seconds: f64) {
        if frames == 0 || !(seconds.is_finite() && seconds > 0.0) {
            return;
        }
        let (size, time) = (megabytes(bytes) / frames as f64, seconds / frames as f64);
        let line = self.lines.entry(group).or_default();
        line.learn(frames as f64, size, time);
    }

    /// The pace of so many workers, or of the number that was busy last.
    fn pace(&self, workers: usize) -> f64 {
        let known = self.paces.get(&workers);
        let known = known.or_else(|| self.paces.get(&self.last));
        known.copied().map_or(1.0, Pace::mean)
    }

    /// Seconds of one worker for the rest of a group at an even pace; `None` while nothing tells.
    fn even_seconds(&self, group: Group, rest: Rest) -> Option<f64> {
        if rest.frames == 0 {
            return Some(0.0);
        }
        let (fixed, slope) = self.line_for(group)?;
        Some(fixed * rest.frames as f64 + slope * megabytes(rest.bytes))
    }

    /// Seconds until everything is through with so many workers; `None` while nothing tells.
    #[must_use]
    pub fn seconds_left(
        &self,
        rest: &[(Group, Rest)],
        in_hand: &[InHand],
        workers: usize,
    ) -> Option<f64> {
        let pace = self.pace(workers);
        let mut work = 0.0;
        for (group, rest) in rest {
            work += self.even_seconds(*group, *rest)?;
        }
        let mut longest = 0.0_f64;
        for frame in in_hand {
            let one = Rest {
                frames: 1,
                bytes: frame.bytes,
            };
            let left = (self.even_seconds(frame.group, one)? - frame.seconds / pace).max(0.0);
            longest = longest.max(left);
            work += left;
        }
        // The last frames cannot be shared out.
        Some((work / workers.max(1) as f64).max(longest) * pace)
    }

    /// The group's own line, or one of the same part of another show, or what metering says of making.
    fn line_for(&self, group: Group) -> Option<(f64, f64)> {
        let own = self.lines.get(&group).and_then(Line::fixed_and_slope);
        own.or_else(|| self.line_of_work(group.work)).or_else(|| {
            let (fixed, slope) = match group.work {
                Work::Metering => return None,
                Work::Making => {
                    let same = Group {
                        work: Work::Metering,
                        ..group
                    };
                    let own = self.lines.get(&same).and_then(Line::fixed_and_slope);
                    own.or_else(|| self.line_of_work(Work::Metering))?
                }
            };
            Some((MAKING_TO_METERING * fixed, MAKING_TO_METERING * slope))
        })
    }

    /// All shows' lines of a part as one, each by what it has seen.
    fn line_of_work(&self, work: Work) -> Option<(f64, f64)> {
        let mut all = Line::default();
        for line in self
            .lines
            .iter()
            .filter(|(group, _)| group.work == work)
            .map(|(_, line)| line)
        {
            all.weight += line.weight;
            all.size += line.size;
            all.time += line.time;
            all.size_size += line.size_size;
            all.size_time += line.size_time;
        }
        all.fixed_and_slope()
    }
}

#[cfg(test)]
mod tests;
