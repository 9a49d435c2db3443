//! What is made and where, so that whoever begins a run can see whether it still stands.

use super::ids::{JobId, OutputId, ShowId};
use super::ranks::rank_anew;
use super::solving::keep;
use super::{Queue, QueueError, rows};
use crate::crew::task::Stamp;
use std::ffi::OsString;
use std::path::PathBuf;

/// A picture that is made.
#[derive(Clone, Debug, PartialEq)]
pub struct MadeRow {
    /// The output.
    pub output: OutputId,
    /// Its job.
    pub job: JobId,
    /// Its show.
    pub show: ShowId,
    /// The frame, from the root and without links.
    pub frame: PathBuf,
    /// The folder.
    pub folder: PathBuf,
    /// File name.
    pub picture: OsString,
    /// The picture as it was made.
    pub stamp: Stamp,
}

impl Queue {
    /// Every made picture of the shows that are not dropped, by folder.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn made_outputs(&mut self) -> Result<Vec<MadeRow>, QueueError> {
        self.reading(|engine| {
            let found = engine.query(
                "SELECT outputs.id, outputs.job, outputs.show, outputs.folder, outputs.picture, pictures.stamp, jobs.frame
                 FROM outputs JOIN pictures ON pictures.output = outputs.id JOIN jobs ON jobs.id = outputs.job
                 WHERE outputs.state = 'made' AND jobs.state <> 'dropped' ORDER BY outputs.folder, outputs.id",
                &[],
            )?;
            let made = found.iter().map(|row| {
                Ok(MadeRow {
                    output: OutputId(row.whole(0)?),
                    job: JobId(row.whole(1)?),
                    show: ShowId(row.whole(2)?),
                    folder: rows::path(row.bytes(3)?),
                    picture: rows::name(row.bytes(4)?),
                    stamp: rows::column(row, 5)?,
                    frame: rows::path(row.bytes(6)?),
                })
            });
            made.collect()
        })
    }

    /// Pictures that were removed or changed are to be made again; how many that are. One that was made anew since this
    /// stamp stays.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn remake(&mut self, missing: &[MadeRow]) -> Result<u64, QueueError> {
        self.writing(|engine| {
            let mut remade = 0;
            let mut shows: Vec<ShowId> = missing.iter().map(|row| row.show).collect();
            shows.sort_unstable();
            shows.dedup();
            for show in &shows {
                keep(engine, *show)?;
            }
            for row in missing {
                let stamp = rows::json(&row.stamp)?;
                let again = engine.execute(
                    "UPDATE outputs SET state = 'to-make', made_key = NULL WHERE id = $1 AND state = 'made'
                     AND EXISTS (SELECT 1 FROM pictures WHERE output = $1 AND stamp = $2)",
                    &[row.output.into(), stamp.into()],
                )?;
                remade += again;
                if again > 0 {
                    engine.execute(
                        "UPDATE jobs SET state = CASE WHEN (SELECT state FROM shows WHERE id = jobs.show) = 'solved'
                             THEN 'to-make' ELSE 'metered' END
                         WHERE id = $1 AND state = 'made'",
                        &[row.job.into()],
                    )?;
                }
            }
            for show in &shows {
                rank_anew(engine, *show)?;
            }
            Ok(remade)
        })
    }

    /// A picture that was only touched (its time is another, its content is not) is known by its new stamp from now on.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn restamp(&mut self, row: &MadeRow, stamp: &Stamp) -> Result<(), QueueError> {
        self.writing(|engine| {
            engine.execute(
                "UPDATE pictures SET stamp = $2 WHERE output = $1 AND stamp = $3",
                &[
                    row.output.into(),
                    rows::json(stamp)?.into(),
                    rows::json(&row.stamp)?.into(),
                ],
            )?;
            Ok(())
        })
    }
}
