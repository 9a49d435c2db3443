//! The overrule file: what a person says about single cues, against what was solved.
//!
//! A small TOML file that people write by hand. It names a cue by its number on the cue sheet, by a frame that stands in it
//! (which still holds when frames are added and numbers change), or names the frames of a time; and says its white, its
//! stops, or to leave it as shot. It can also pin frames whose keys a person knows. Reading is strict, like a look's: what
//! is not understood, and what is not there, is refused by name.

mod read;
mod settle;
mod white;
mod write;

pub use settle::{Overruling, SettleError};
pub use white::WhiteWish;
pub use write::{TemplateCue, template};

use crate::base::units::Stops;
use crate::look::read::FieldError;
use jiff::civil::{Date, DateTime, Time};
use serde::Serialize;
use std::fmt;
use std::path::{Path, PathBuf};

/// The version of overrule files that this program reads.
pub const VERSION: i64 = 1;

/// No overrule file is anywhere near this long. Bytes.
const LONGEST_FILE: u64 = 1 << 20;

/// What a person says about a show.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Overrules {
    /// About cues, in the order of the file: a later one wins where two speak of the same.
    pub cues: Vec<Overrule>,
    /// Frames whose keys a person knows.
    pub pins: Vec<Pin>,
}

/// What a person says about one cue, or about the frames of a time.
#[derive(Clone, Debug, PartialEq)]
pub struct Overrule {
    /// What it is about.
    pub place: Place,
    /// What it gets.
    pub wish: CueWish,
}

/// What an overrule is about.
#[derive(Clone, Debug, PartialEq)]
pub enum Place {
    /// The cue of this number on the cue sheet, which counts from 1.
    Number(usize),
    /// The cue that this frame stands in: a file name, or the end of a path.
    Frame(PathBuf),
    /// The frames from one time to another on the first body's clock, both included.
    Times {
        /// The first.
        from: Moment,
        /// The last.
        until: Moment,
    },
}

/// A time of day, with or without its date.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Without one: of the evening that the show began.
    pub date: Option<Date>,
    /// Time of day.
    pub time: Time,
}

impl Moment {
    /// The moment in a show that began at `start`: without a date, the first such time from half a day before the start on.
    #[must_use]
    pub fn after(self, start: DateTime) -> DateTime {
        /// A show that begins in the evening and ends after midnight is one show.
        const HALF_A_DAY: jiff::SignedDuration = jiff::SignedDuration::from_hours(12);
        let date = self.date.unwrap_or(start.date());
        let moment = DateTime::from_parts(date, self.time);
        let is_long_before = moment
            .checked_add(HALF_A_DAY)
            .is_ok_and(|later| later < start);
        if self.date.is_none() && is_long_before {
            moment.tomorrow().unwrap_or(moment)
        } else {
            moment
        }
    }
}

/// What frames get by a person's word.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct CueWish {
    /// The white.
    pub white: Option<WhiteWish>,
    /// Added to what was solved.
    pub stops: Option<Stops>,
    /// White, exposure and levels stay as the body made them.
    pub as_shot: bool,
}

impl CueWish {
    /// Whether a later word takes something of this one's place.
    fn is_contested_by(&self, later: &Self) -> bool {
        let is_other_white = self.white.is_some() && self.white != later.white;
        let is_other_stops = self.stops.is_some() && self.stops != later.stops;
        (later.white.is_some() && is_other_white)
            || (later.stops.is_some() && is_other_stops)
            || self.as_shot != later.as_shot
    }

    /// What a later word makes of an earlier one.
    fn then(&self, later: &Self) -> Self {
        Self {
            white: later.white.clone().or_else(|| self.white.clone()),
            stops: later.stops.or(self.stops),
            as_shot: later.as_shot
                || (self.as_shot && later.white.is_none() && later.stops.is_none()),
        }
    }
}

impl fmt::Display for CueWish {
    /// Such as `white reference, +0.30 stops`.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.as_shot {
            return formatter.write_str("left as shot");
        }
        let white = self.white.as_ref().map(|white| format!("white {white}"));
        let stops = self.stops.map(|stops| stops.to_string());
        let words: Vec<String> = white.into_iter().chain(stops).collect();
        formatter.write_str(&words.join(", "))
    }
}

/// A frame whose key a person knows.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// The frame's path as written.
    pub frame: PathBuf,
    /// The key's name; without one, the frame's own.
    pub name: Option<String>,
    /// Neutral patches in it, each (x, y, radius where one is given), fractions of the upright picture.
    pub neutral: Vec<(f64, f64, Option<f64>)>,
}

/// Why an overrule file cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum OverruleError {
    /// The file cannot be read.
    #[error("cannot read the overrule file {path}: {source}. Check the path and its permissions", path = path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// The file says something that cannot be.
    #[error("the overrule file {path} cannot be used: {source}", path = path.display())]
    Content {
        /// The file.
        path: PathBuf,
        /// What is wrong with it, and what to do.
        source: FieldError,
    },
}

impl Overrules {
    /// Reads the text of an overrule file.
    ///
    /// # Errors
    /// When it is not TOML, or holds what is not understood.
    pub fn from_text(text: &str) -> Result<Self, FieldError> {
        read::read(text)
    }

    /// Reads an overrule file.
    ///
    /// # Errors
    /// When it cannot be read or used.
    pub fn load(path: &Path) -> Result<Self, OverruleError> {
        let refuse = |source| OverruleError::Read {
            path: path.to_owned(),
            source,
        };
        let about = std::fs::metadata(path).map_err(refuse)?;
        if !about.is_file() {
            return Err(refuse(std::io::Error::other("it is not a file")));
        }
        if about.len() > LONGEST_FILE {
            return Err(refuse(std::io::Error::other(format!(
                "{} bytes are too long for an overrule file",
                about.len()
            ))));
        }
        let text = std::fs::read_to_string(path).map_err(refuse)?;
        Self::from_text(&text).map_err(|source| OverruleError::Content {
            path: path.to_owned(),
            source,
        })
    }
}
