//! The ledger: what was made, noted in the output folder after each frame, so that a run goes on where another ended.
//!
//! A hidden file of JSON lines, only ever added to; the last word on a frame or a picture counts. A torn last line (the
//! power went) is passed over, a damaged one costs what it noted, and neither costs a picture: what is not noted is made
//! again. Before a picture is begun its name is noted as promised, so that a picture whose run died between writing it
//! and noting it is known as ours. Frames are recognised by path, or by name, size and time where a drive has moved.
//!
//! A database would do the same with a library more; for one folder written by one process lines are enough.

mod error;

pub use self::error::LedgerError;

use crate::base::files;
use crate::crew::lossless_path;
use crate::crew::stamp::{Outline, head_of};
use crate::crew::task::Stamp;
use serde::de::IgnoredAny;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};
use std::ffi::{OsStr, OsString};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// The hidden file's name.
pub const LEDGER_NAME: &str = ".houselights-ledger";

/// The version of the lines below. A later one is refused, not guessed at.
const VERSION: u32 = 1;

/// Outdated lines that are put up with before the ledger is written anew.
const OUTDATED_LINES: usize = 1000;

#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
enum Line {
    /// First line.
    Version(u32),
    /// A frame was metered: earlier versions noted it here.
    #[serde(skip_serializing)]
    Metered(IgnoredAny),
    /// A picture of this name is about to be made of this frame.
    Promised {
        #[serde(with = "lossless_path")]
        picture: PathBuf,
        #[serde(with = "lossless_path")]
        frame: PathBuf,
    },
    /// A picture is in its place.
    Made {
        #[serde(with = "lossless_path")]
        picture: PathBuf,
        #[serde(with = "lossless_path")]
        frame: PathBuf,
        input: Stamp,
        output: Stamp,
        recipe: String,
        /// Missing in the lines of earlier versions.
        #[serde(default)]
        outside: Option<f64>,
    },
}

/// A picture that is in its place, as it was noted.
#[derive(Clone, Debug, PartialEq)]
pub struct MadePicture {
    /// The raw it was made from.
    pub input: Stamp,
    /// The picture.
    pub output: Stamp,
    /// Digest of everything else it was made with: correction, output wish, program.
    pub recipe: String,
    /// Share of its pixels whose colours its space does not have, where that was noted.
    pub outside: Option<f64>,
}

#[derive(Clone, Debug)]
struct Picture {
    frame: PathBuf,
    made: Option<MadePicture>,
}

impl Picture {
    /// Whether it was made from this frame as it is now. What was never in its place, or cannot be compared, is.
    fn is_of(&self, frame: &Path, outline: Option<Outline>) -> bool {
        let Some((made, now)) = self.made.as_ref().zip(outline) else {
            return true;
        };
        let is_as_then = made.input.modified == now.modified
            || head_of(frame).is_ok_and(|head| head == made.input.head);
        made.input.bytes == now.bytes && is_as_then
    }
}

/// Who works into the folder of a ledger.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Hold {
    /// This run alone.
    Alone,
    /// Other runs too, whose added lines would be lost if the file were written anew.
    Shared,
}

/// The ledger of one output folder, open for this run.
#[derive(Debug)]
pub struct Ledger {
    path: PathBuf,
    file: File,
    pictures: BTreeMap<OsString, Picture>,
    /// Names of the pictures of each path, of every ending and of every frame that lay there.
    by_frame: HashMap<PathBuf, Vec<OsString>>,
    /// Where a frame that is not found by path may be noted: path and hash of its head, by file name and outline.
    elsewhere: HashMap<(OsString, Outline), Vec<(PathBuf, String)>>,
    /// Lines that could not be understood, a torn last one not counted.
    pub damaged_lines: usize,
}

impl Ledger {
    /// Opens the ledger of a folder, or begins one.
    ///
    /// # Errors
    /// When it cannot be read or written, or a later program wrote it.
    pub fn open(folder: &Path) -> Result<Self, LedgerError> {
        Self::open_as(folder, Hold::Alone)
    }

    /// Opens the ledger of a folder into which other runs may be working: lines are added, and nothing is written anew.
    ///
    /// # Errors
    /// As [`Self::open`].
    pub fn open_shared(folder: &Path) -> Result<Self, LedgerError> {
        Self::open_as(folder, Hold::Shared)
    }

    fn open_as(folder: &Path, hold: Hold) -> Result<Self, LedgerError> {
        let path = folder.join(LEDGER_NAME);
        let failed = |act| {
            let path = path.clone();
            move |source| LedgerError::Io { act, path, source }
        };
        let content = match fs::read(&path) {
            Ok(content) => content,
            Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
            Err(error) => return Err(failed("read")(error)),
        };
        let file = OpenOptions::new()
            .create(true)
            .append(true)
            .open(&path)
            .map_err(failed("write"))?;
        let mut ledger = Self {
            file,
            pictures: BTreeMap::new(),
            by_frame: HashMap::new(),
            elsewhere: HashMap::new(),
            damaged_lines: 0,
            path,
        };
        let read = ledger.take_in(&content)?;
        if content.is_empty() {
            ledger.note(&Line::Version(VERSION), false)?;
        } else if content.last() != Some(&b'\n') {
            // The torn line is ended, so that the next one stands by itself even if writing anew fails below.
            let ended = ledger.file.write_all(b"\n");
            ended.map_err(|source| ledger.io_error(source))?;
        }
        let live = ledger.pictures.len();
        let is_torn = !content.is_empty() && !content.ends_with(b"\n");
        let is_worn = is_torn || read > 2 * live + OUTDATED_LINES || ledger.damaged_lines > 0;
        if hold == Hold::Alone && is_worn && read > 0 {
            ledger.rewrite()?;
        }
        Ok(ledger)
    }

    /// Takes in the lines of a ledger; how many there were.
    fn take_in(&mut self, content: &[u8]) -> Result<usize, LedgerError> {
        let whole = content.ends_with(b"\n");
        let lines: Vec<&[u8]> = content
            .split(|&byte| byte == b'\n')
            .filter(|line| !line.is_empty())
            .collect();
        for (index, line) in lines.iter().enumerate() {
            match serde_json::from_slice(line) {
                Ok(Line::Version(version)) if version > VERSION => {
                    return Err(LedgerError::LaterVersion {
                        path: self.path.clone(),
                    });
                }
                Ok(line) => self.remember(line),
                Err(_) if index + 1 == lines.len() && !whole => {}
                Err(_) => self.damaged_lines += 1,
            }
        }
        Ok(lines.len())
    }

    fn remember(&mut self, line: Line) {
        match line {
            Line::Version(_) | Line::Metered(_) => {}
            Line::Promised { picture, frame } => {
                let name = picture.into_os_string();
                self.remember_name(&frame, &name);
                let made = self.pictures.remove(&name).and_then(|known| known.made);
                self.pictures.insert(name, Picture { frame, made });
            }
            Line::Made {
                picture,
                frame,
                input,
                output,
                recipe,
                outside,
            } => {
                let name = picture.into_os_string();
                self.remember_name(&frame, &name);
                self.remember_outline(&frame, &input);
                let made = Some(MadePicture {
                    input,
                    output,
                    recipe,
                    outside,
                });
                self.pictures.insert(name, Picture { frame, made });
            }
        }
    }

    fn remember_name(&mut self, frame: &Path, name: &OsStr) {
        let names = self.by_frame.entry(frame.to_path_buf()).or_default();
        names.retain(|known| known != name);
        names.push(name.to_os_string());
    }

    fn remember_outline(&mut self, frame: &Path, stamp: &Stamp) {
        let outline = Outline {
            bytes: stamp.bytes,
            modified: stamp.modified,
        };
        let name = frame.file_name().unwrap_or_default().to_os_string();
        let known = self.elsewhere.entry((name, outline)).or_default();
        known.retain(|(path, _)| path != frame);
        known.push((frame.to_path_buf(), stamp.head.clone()));
    }

    /// The name that the picture of this ending got, of the frame that lies at this path now. Where it has only pictures of other
    /// endings: their name with this one, unless a picture of another frame has that.
    ///
    /// It is the frame that a picture was made from when it has its name and size, and its time or its first bytes: cards count
    /// anew, and another night's frame at the same path has pictures of its own. A frame whose drive or folder moved has the same
    /// name, size, time and first bytes; two bodies' frames can share the first three: uncompressed raws are all of one size.
    #[must_use]
    pub fn picture_name(
        &self,
        frame: &Path,
        outline: Option<Outline>,
        ending: &str,
    ) -> Option<OsString> {
        let mut names = self.names_at(frame, frame, outline);
        if names.is_empty() {
            let moved = self
                .elsewhere
                .get(&(frame.file_name()?.to_os_string(), outline?))?;
            let head = head_of(frame).ok()?;
            let (known, _) = moved.iter().find(|(_, known)| *known == head)?;
            names = self.names_at(known, frame, outline);
        }
        let same = |name: &&&OsString| {
            let own = Path::new(name).extension();
            own.is_some_and(|own| own.eq_ignore_ascii_case(ending))
        };
        if let Some(name) = names.iter().rev().find(same) {
            return Some((*name).clone());
        }
        let name = Path::new(names.last()?).with_extension(ending);
        let name = name.into_os_string();
        (!self.is_ours(&name)).then_some(name)
    }

    /// Names of the pictures noted of a path that are of this frame, the latest last.
    fn names_at(&self, path: &Path, frame: &Path, outline: Option<Outline>) -> Vec<&OsString> {
        let names = self.by_frame.get(path).into_iter().flatten();
        let is_its_own = |name: &&OsString| {
            let picture = self.pictures.get(*name);
            picture.is_some_and(|picture| picture.is_of(frame, outline))
        };
        names.filter(is_its_own).collect()
    }

    /// All names of pictures made or promised.
    pub fn picture_names(&self) -> impl Iterator<Item = &OsStr> {
        self.pictures.keys().map(OsString::as_os_str)
    }

    /// Whether a picture of this name is ours, made or begun.
    #[must_use]
    pub fn is_ours(&self, picture: &OsStr) -> bool {
        self.pictures.contains_key(picture)
    }

    /// The picture of this name as it was last made.
    #[must_use]
    pub fn made(&self, picture: &OsStr) -> Option<&MadePicture> {
        self.pictures.get(picture)?.made.as_ref()
    }

    /// Notes that a picture is about to be made.
    ///
    /// # Errors
    /// When the ledger cannot be written.
    pub fn note_promised(&mut self, picture: &OsStr, frame: &Path) -> Result<(), LedgerError> {
        let known = self.pictures.get(picture);
        if known.is_some_and(|known| known.frame == frame) {
            return Ok(());
        }
        let line = Line::Promised {
            picture: picture.into(),
            frame: frame.to_path_buf(),
        };
        self.note(&line, false)?;
        self.remember(line);
        Ok(())
    }

    /// Notes a picture that is in its place, and has the system keep the note.
    ///
    /// # Errors
    /// When the ledger cannot be written.
    pub fn note_made(
        &mut self,
        picture: &OsStr,
        frame: &Path,
        made: MadePicture,
    ) -> Result<(), LedgerError> {
        let line = Line::Made {
            picture: picture.into(),
            frame: frame.to_path_buf(),
            input: made.input,
            output: made.output,
            recipe: made.recipe,
            outside: made.outside,
        };
        self.note(&line, true)?;
        self.remember(line);
        Ok(())
    }

    fn note(&mut self, line: &Line, keep: bool) -> Result<(), LedgerError> {
        let written = written(line).and_then(|bytes| self.file.write_all(&bytes));
        let kept = written.and_then(|()| if keep { self.file.sync_data() } else { Ok(()) });
        kept.map_err(|source| self.io_error(source))
    }

    fn io_error(&self, source: io::Error) -> LedgerError {
        LedgerError::Io {
            act: "write",
            path: self.path.clone(),
            source,
        }
    }

    /// Writes the ledger anew without what is outdated: whole beside it, then renamed.
    fn rewrite(&mut self) -> Result<(), LedgerError> {
        let pictures = self.pictures.iter().map(|(name, picture)| {
            let (picture_path, frame) = (PathBuf::from(name), picture.frame.clone());
            match picture.made.clone() {
                None => Line::Promised {
                    picture: picture_path,
                    frame,
                },
                Some(made) => Line::Made {
                    picture: picture_path,
                    frame,
                    input: made.input,
                    output: made.output,
                    recipe: made.recipe,
                    outside: made.outside,
                },
            }
        });
        let mut content = Vec::new();
        for line in std::iter::once(Line::Version(VERSION)).chain(pictures) {
            content.extend(written(&line).map_err(|source| self.io_error(source))?);
        }
        files::write_whole(&self.path, &content)?;
        self.file = OpenOptions::new()
            .append(true)
            .open(&self.path)
            .map_err(|source| self.io_error(source))?;
        Ok(())
    }
}

fn written(line: &Line) -> io::Result<Vec<u8>> {
    let mut bytes = serde_json::to_vec(line)?;
    bytes.push(b'\n');
    Ok(bytes)
}

#[cfg(test)]
mod tests;
