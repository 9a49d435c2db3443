//! Everything the queue knows of a show's frames and of its runs, for the report.

use super::ids::{JobId, OutputId, RunId, ShowId, WishId};
use super::runs::HowEnded;
use super::{JobState, OutputState, Queue, QueueError, rows};
use crate::crew::task::{Delivery, Stamp, TaskError};
use crate::look::correction::Correction;
use crate::night::engine::{Engine, Row};
use std::collections::HashMap;
use std::ffi::OsString;
use std::path::PathBuf;

/// A frame and what became of it.
#[derive(Clone, Debug, PartialEq)]
pub struct FrameReport {
    /// Its job.
    pub job: JobId,
    /// From the root, without links.
    pub frame: PathBuf,
    /// As a person named it.
    pub shown: PathBuf,
    /// Size of its file.
    pub bytes: u64,
    /// Where it is.
    pub state: JobState,
    /// Whether it came before the rest.
    pub is_first: bool,
    /// Workers that died over it.
    pub losses: u32,
    /// How long metering took a worker; `None` where its reading was kept.
    pub metering_seconds: Option<f64>,
    /// How long making its pictures took a worker.
    pub making_seconds: Option<f64>,
    /// The file as it was metered.
    pub input: Option<Stamp>,
    /// What it gets.
    pub correction: Option<Correction>,
    /// What a person should know of it.
    pub notes: Vec<String>,
    /// Why it was set aside, or why its worker died the last time.
    pub error: Option<TaskError>,
    /// When anything of it changed last: UTC, milliseconds since 1970.
    pub changed: i64,
    /// Its pictures, by wish.
    pub outputs: Vec<OutputReport>,
}

/// A picture and what became of it.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputReport {
    /// The output.
    pub output: OutputId,
    /// Its wish.
    pub wish: WishId,
    /// Folder.
    pub folder: PathBuf,
    /// File name.
    pub picture: OsString,
    /// Where it is.
    pub state: OutputState,
    /// How it is delivered.
    pub delivery: Delivery,
    /// Size of the picture.
    pub bytes: Option<u64>,
    /// Share of its pixels whose colours its space does not have.
    pub outside: Option<f64>,
    /// Why it could not be written.
    pub error: Option<TaskError>,
    /// When it was made: UTC, milliseconds since 1970.
    pub made: Option<i64>,
}

/// A run and what became of it.
#[derive(Clone, Debug, PartialEq)]
pub struct RunReport {
    /// Its number.
    pub run: RunId,
    /// Its machine.
    pub host: String,
    /// Its process.
    pub process: u32,
    /// UTC, milliseconds since 1970.
    pub began: i64,
    /// The same; `None` while it lives, or while nobody has seen that it does not.
    pub ended: Option<i64>,
    /// How it ended.
    pub how: Option<HowEnded>,
}

impl Queue {
    /// The frames of a show, in its order.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn frames(&mut self, show: ShowId) -> Result<Vec<FrameReport>, QueueError> {
        self.reading(|engine| {
            let found = engine.query(
                "SELECT jobs.id, frame, shown, bytes, state, is_first, losses, metering_seconds, making_seconds,
                     input, correction, notes, error, changed
                 FROM jobs JOIN details ON details.job = jobs.id WHERE jobs.show = $1 ORDER BY position, jobs.id",
                &[show.into()],
            )?;
            let mut frames = Vec::with_capacity(found.len());
            for row in &found {
                frames.push(frame_of(row)?);
            }
            add_outputs(engine, show, &mut frames)?;
            Ok(frames)
        })
    }

    /// What solving found of a show, as the planner wrote it (JSON); `None` before.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn found(&mut self, show: ShowId) -> Result<Option<String>, QueueError> {
        self.reading(|engine| {
            let found = engine.query("SELECT solved FROM shows WHERE id = $1", &[show.into()])?;
            let found = found.first().map_or(Ok(None), |row| row.maybe_text(0))?;
            Ok(found.map(ToOwned::to_owned))
        })
    }

    /// All runs, in their order.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn runs(&mut self) -> Result<Vec<RunReport>, QueueError> {
        self.reading(|engine| {
            let found = engine.query(
                "SELECT id, host, process, began, ended, how FROM runs ORDER BY id",
                &[],
            )?;
            let runs = found.iter().map(|row| {
                Ok(RunReport {
                    run: RunId(row.whole(0)?),
                    host: row.text(1)?.to_owned(),
                    process: u32::try_from(row.whole(2)?).unwrap_or(0),
                    began: row.whole(3)?,
                    ended: row.maybe_whole(4)?,
                    how: rows::maybe_column(row, 5)?,
                })
            });
            runs.collect()
        })
    }
}

fn frame_of(row: &Row) -> Result<FrameReport, QueueError> {
    let word = row.text(4)?;
    Ok(FrameReport {
        job: JobId(row.whole(0)?),
        frame: rows::path(row.bytes(1)?),
        shown: rows::path(row.bytes(2)?),
        bytes: row.count(3)?,
        state: JobState::of(word).ok_or_else(|| rows::unknown_word(word))?,
        is_first: row.is(5)?,
        losses: u32::try_from(row.whole(6)?).unwrap_or(u32::MAX),
        metering_seconds: row.maybe_real(7)?,
        making_seconds: row.maybe_real(8)?,
        input: rows::maybe_column(row, 9)?,
        correction: rows::maybe_column(row, 10)?,
        notes: rows::maybe_column(row, 11)?.unwrap_or_default(),
        error: rows::maybe_column(row, 12)?,
        changed: row.whole(13)?,
        outputs: Vec::new(),
    })
}

fn add_outputs(
    engine: &mut dyn Engine,
    show: ShowId,
    frames: &mut [FrameReport],
) -> Result<(), QueueError> {
    let places = frames.iter().enumerate();
    let places: HashMap<JobId, usize> = places.map(|(at, frame)| (frame.job, at)).collect();
    let found = engine.query(
        "SELECT job, id, wish, folder, picture, state, delivery, bytes, outside, error, made
         FROM outputs JOIN pictures ON pictures.output = outputs.id WHERE show = $1 ORDER BY job, wish",
        &[show.into()],
    )?;
    for row in &found {
        let Some(&at) = places.get(&JobId(row.whole(0)?)) else {
            continue;
        };
        let word = row.text(5)?;
        frames[at].outputs.push(OutputReport {
            output: OutputId(row.whole(1)?),
            wish: WishId(row.whole(2)?),
            folder: rows::path(row.bytes(3)?),
            picture: rows::name(row.bytes(4)?),
            state: OutputState::of(word).ok_or_else(|| rows::unknown_word(word))?,
            delivery: rows::column(row, 6)?,
            bytes: row
                .maybe_whole(7)?
                .map(|bytes| u64::try_from(bytes).unwrap_or(0)),
            outside: row.maybe_real(8)?,
            error: rows::maybe_column(row, 9)?,
            made: row.maybe_whole(10)?,
        });
    }
    Ok(())
}
