//! What an overrule file means for the cues and frames of a show.

use super::{CueWish, Overrules, Place, WhiteWish};
use crate::light::reading::FrameLight;
use crate::light::sheet::CueSheet;
use crate::look::keys::Key;
use jiff::civil::DateTime;
use jiff::{SignedDuration, ToSpan};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// A person's words, by cue and by frame.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Overruling {
    /// By cue, as the sheet's runs name it.
    pub cues: BTreeMap<usize, CueWish>,
    /// By frame, on top of its cue's.
    pub frames: BTreeMap<usize, CueWish>,
    /// Cues about which two words say the same thing differently: the later one holds.
    pub contested: BTreeSet<usize>,
}

/// Why a person's word about a show has no meaning in it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SettleError {
    /// A cue that is not there.
    #[error(
        "the overrule file speaks of cue {number}, and this show has {}: look at the cue sheet of `houselights meter`, and name the \
         cue by a frame in it, since numbers change when frames are added", cues_in_words(*.cues)
    )]
    NoCue {
        /// As it is written.
        number: usize,
        /// How many there are.
        cues: usize,
    },
    /// A frame that is not there.
    #[error(
        "the overrule file speaks of the frame {}, which is none of this show's that could be read: correct its name, or name the \
         frames of its folder too", .0.display()
    )]
    NoFrame(PathBuf),
    /// A name that several frames have.
    #[error("the overrule file speaks of {}, and several frames are called so: {found}; write more of its path", .frame.display())]
    SeveralFrames {
        /// As it is written.
        frame: PathBuf,
        /// Their paths, with commas.
        found: String,
    },
    /// A time in which there is no frame.
    #[error(
        "the overrule file speaks of {from} to {until}, and no frame was taken then: the show goes from {start} to {end} on its first \
         body's clock"
    )]
    NoTime {
        /// The first moment.
        from: DateTime,
        /// The last moment.
        until: DateTime,
        /// The show's first frame.
        start: DateTime,
        /// The show's last frame.
        end: DateTime,
    },
    /// No frame has a time.
    #[error(
        "the overrule file speaks of times, and no frame of this show has one; name cues by number or by a frame"
    )]
    NoTimes,
    /// A key that nobody knows.
    #[error(
        "the overrule file speaks of the key \"{name}\", and there is none of that name; {known}"
    )]
    NoKey {
        /// As it is written.
        name: String,
        /// The names there are, in words.
        known: String,
    },
}

fn cues_in_words(cues: usize) -> String {
    match cues {
        0 => "no cue".to_owned(),
        1 => "one".to_owned(),
        _ => format!("cues 1 to {cues}"),
    }
}

impl Overrules {
    /// What the file means for a show. `paths` are those of the frames, in their order.
    ///
    /// # Errors
    /// When it speaks of what the show does not have.
    pub fn settle(
        &self,
        sheet: &CueSheet,
        frames: &[FrameLight],
        paths: &[PathBuf],
        keys: &[Key],
    ) -> Result<Overruling, SettleError> {
        let mut found = Overruling::default();
        for overrule in &self.cues {
            if let Some(WhiteWish::Key { name }) = &overrule.wish.white {
                check_key(name, keys)?;
            }
            match &overrule.place {
                Place::Number(number) => {
                    let cue = number
                        .checked_sub(1)
                        .filter(|cue| *cue < sheet.cues)
                        .ok_or(SettleError::NoCue {
                            number: *number,
                            cues: sheet.cues,
                        })?;
                    found.about_cue(cue, &overrule.wish);
                }
                Place::Frame(name) => {
                    let at = frame_called(name, paths)?;
                    let cue = sheet
                        .places
                        .get(at)
                        .and_then(|place| sheet.runs.get(place.run))
                        .map(|run| run.cue)
                        .ok_or_else(|| SettleError::NoFrame(name.clone()))?;
                    found.about_cue(cue, &overrule.wish);
                }
                Place::Times { from, until } => {
                    let start = start_of(sheet, frames).ok_or(SettleError::NoTimes)?;
                    let (from, until) = (from.after(start), until.after(start));
                    let times: Vec<(usize, DateTime)> = times_of(sheet, start);
                    let mut any = false;
                    for (at, time) in &times {
                        if (from..=until).contains(time) {
                            put(&mut found.frames, *at, &overrule.wish);
                            any = true;
                        }
                    }
                    if !any {
                        let end = times.iter().map(|(_, time)| *time).max().unwrap_or(start);
                        let start = times.iter().map(|(_, time)| *time).min().unwrap_or(start);
                        return Err(SettleError::NoTime {
                            from,
                            until,
                            start,
                            end,
                        });
                    }
                }
            }
        }
        Ok(found)
    }
}

impl Overruling {
    fn about_cue(&mut self, cue: usize, wish: &CueWish) {
        let is_contested = |known: &CueWish| known.is_contested_by(wish);
        if self.cues.get(&cue).is_some_and(is_contested) {
            self.contested.insert(cue);
        }
        put(&mut self.cues, cue, wish);
    }
}

fn put(wishes: &mut BTreeMap<usize, CueWish>, at: usize, later: &CueWish) {
    let wish = wishes.entry(at).or_default();
    *wish = wish.then(later);
}

fn check_key(name: &str, keys: &[Key]) -> Result<(), SettleError> {
    if keys.iter().any(|key| key.name == name) {
        return Ok(());
    }
    let names: Vec<&str> = keys.iter().map(|key| key.name.as_str()).collect();
    Err(SettleError::NoKey {
        name: name.to_owned(),
        known: if names.is_empty() {
            "pin a frame under that name with --pin FRAME=NAME".to_owned()
        } else {
            format!("the keys are {}", names.join(", "))
        },
    })
}

/// The frame of this file name, or whose path ends so.
fn frame_called(name: &Path, paths: &[PathBuf]) -> Result<usize, SettleError> {
    let found: Vec<usize> = (0..paths.len())
        .filter(|&at| paths[at].ends_with(name))
        .collect();
    match found[..] {
        [] => Err(SettleError::NoFrame(name.to_path_buf())),
        [at] => Ok(at),
        _ => Err(SettleError::SeveralFrames {
            frame: name.to_path_buf(),
            found: found
                .iter()
                .map(|&at| paths[at].display().to_string())
                .collect::<Vec<_>>()
                .join(", "),
        }),
    }
}

/// The moment from which a sheet counts its seconds, on the first body's clock.
fn start_of(sheet: &CueSheet, frames: &[FrameLight]) -> Option<DateTime> {
    sheet.places.iter().zip(frames).find_map(|(place, frame)| {
        let seconds = place.seconds.filter(|_| place.body == 0)?;
        let civil = frame.facts.captured.as_ref()?.civil;
        civil
            .checked_sub(SignedDuration::try_from_secs_f64(seconds).ok()?)
            .ok()
    })
}

fn times_of(sheet: &CueSheet, start: DateTime) -> Vec<(usize, DateTime)> {
    let time = |seconds: f64| {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "a cast of doubles saturates, and checked_add refuses what is beyond time"
        )]
        let milliseconds = (seconds * 1000.0).round() as i64;
        start.checked_add(milliseconds.milliseconds()).ok()
    };
    sheet
        .places
        .iter()
        .enumerate()
        .filter_map(|(at, place)| Some((at, time(place.seconds?)?)))
        .collect()
}
