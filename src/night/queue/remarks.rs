//! Remarks: what happened in the night beside the pictures, dated, for the report.

use super::ids::{RunId, ShowId};
use super::{Queue, QueueError, rows};
use crate::crew::lossless_path;
use crate::night::engine::Engine;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// Something that happened. Facts only: the wording is with whoever talks to people.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Remark {
    /// The machine slept.
    Slept {
        /// How long.
        seconds: f64,
    },
    /// The clock of the machine was set.
    ClockSet {
        /// By how much, forward positive.
        seconds: f64,
    },
    /// A source or an output folder went away.
    Away {
        /// The folder.
        #[serde(with = "lossless_path")]
        folder: PathBuf,
        /// Whether it has frames: no word of a person brings those back.
        #[serde(default)]
        is_source: bool,
    },
    /// Pictures that were removed or changed, and cannot be made again while their raws are away.
    RawsAway {
        /// How many.
        pictures: u64,
    },
    /// A folder in a store could not be looked into when the run began: what was made there counts as standing.
    NotSeen {
        /// Why.
        reason: String,
    },
    /// It came back.
    Back {
        /// The folder.
        #[serde(with = "lossless_path")]
        folder: PathBuf,
        /// How long it was away.
        seconds: f64,
    },
    /// The battery fell below the charge that a person gave, and the run waited.
    BatteryLow {
        /// The charge, 0 to 1.
        charge: f64,
    },
    /// The run went on after that.
    BatteryBack {
        /// How long it waited.
        seconds: f64,
    },
    /// A person paused.
    Paused,
    /// A person let it go on.
    Resumed,
    /// A worker died over a frame.
    WorkerLost {
        /// The frame.
        #[serde(with = "lossless_path")]
        frame: PathBuf,
        /// Why.
        reason: String,
    },
    /// A run died with jobs in hand, and they went back.
    RunDied {
        /// Its machine.
        host: String,
        /// Its process.
        process: u32,
        /// The jobs.
        jobs: u64,
    },
    /// An output drive ran short of space.
    ShortOfSpace {
        /// The folder.
        #[serde(with = "lossless_path")]
        folder: PathBuf,
        /// Bytes that are free.
        free: u64,
        /// Bytes that are wanted.
        wanted: u64,
    },
    /// Pictures that were made were removed or changed since, and are made again.
    Remade {
        /// How many.
        pictures: u64,
        /// Some of them, those that were changed first.
        #[serde(default)]
        named: Vec<LostPicture>,
    },
    /// Frames whose files changed since they were metered.
    Replaced {
        /// The frame.
        #[serde(with = "lossless_path")]
        frame: PathBuf,
        /// How many more of its show.
        #[serde(default)]
        others: u64,
    },
    /// What the solving of a show warns of, or another thing in words.
    Warning {
        /// The words.
        text: String,
    },
}

/// A picture that was made, and does not stand any more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LostPicture {
    /// Where it was made.
    #[serde(with = "lossless_path")]
    pub place: PathBuf,
    /// Whether something else is in its place: somebody changed it.
    pub is_changed: bool,
}

/// A remark as it was kept.
#[derive(Clone, Debug, PartialEq)]
pub struct DatedRemark {
    /// The run that made it, where one did.
    pub run: Option<RunId>,
    /// The show that it is about, where it is about one.
    pub show: Option<ShowId>,
    /// UTC, milliseconds since 1970.
    pub at: i64,
    /// What happened.
    pub remark: Remark,
}

impl Queue {
    /// Keeps a remark.
    ///
    /// # Errors
    /// When the queue cannot be written.
    pub fn remark(
        &mut self,
        run: Option<RunId>,
        show: Option<ShowId>,
        remark: &Remark,
    ) -> Result<(), QueueError> {
        self.writing(|engine| write(engine, run, show, remark))
    }

    /// All remarks, in their order.
    ///
    /// # Errors
    /// When the queue cannot be read.
    pub fn remarks(&mut self) -> Result<Vec<DatedRemark>, QueueError> {
        self.reading(|engine| {
            let found =
                engine.query("SELECT run, show, at, remark FROM remarks ORDER BY id", &[])?;
            let remarks = found.iter().map(|row| {
                Ok(DatedRemark {
                    run: row.maybe_whole(0)?.map(RunId),
                    show: row.maybe_whole(1)?.map(ShowId),
                    at: row.whole(2)?,
                    remark: rows::column(row, 3)?,
                })
            });
            remarks.collect()
        })
    }
}

/// Keeps a remark in a transaction.
pub(super) fn write(
    engine: &mut dyn Engine,
    run: Option<RunId>,
    show: Option<ShowId>,
    remark: &Remark,
) -> Result<(), QueueError> {
    engine.execute(
        "INSERT INTO remarks (run, show, at, remark) VALUES ($1, $2, $3, $4)",
        &[
            run.into(),
            show.into(),
            rows::now().into(),
            rows::json(remark)?.into(),
        ],
    )?;
    Ok(())
}

/// Remarks of a waiting that none after them has ended.
pub(super) fn unended(remarks: Vec<Remark>) -> Vec<Remark> {
    let mut waits: Vec<Remark> = Vec::new();
    for remark in remarks {
        match &remark {
            Remark::Away { .. }
            | Remark::ShortOfSpace { .. }
            | Remark::BatteryLow { .. }
            | Remark::Paused
                if !waits.contains(&remark) =>
            {
                waits.push(remark);
            }
            Remark::Back { folder: back, .. } => waits.retain(|wait| {
                !matches!(wait, Remark::Away { folder, .. } | Remark::ShortOfSpace { folder, .. } if folder == back)
            }),
            Remark::BatteryBack { .. } => {
                waits.retain(|wait| !matches!(wait, Remark::BatteryLow { .. }));
            }
            Remark::Resumed => waits.retain(|wait| *wait != Remark::Paused),
            _ => {}
        }
    }
    waits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_run_waits_for_is_what_nothing_has_ended() {
        let away = |folder: &str| Remark::Away {
            folder: folder.into(),
            is_source: true,
        };
        let back = |folder: &str| Remark::Back {
            folder: folder.into(),
            seconds: 1.0,
        };
        assert_eq!(
            unended(vec![away("a"), away("b"), away("a"), back("b")]),
            [away("a")]
        );
        let low = Remark::BatteryLow { charge: 0.2 };
        let mended = Remark::BatteryBack { seconds: 1.0 };
        assert_eq!(
            unended(vec![low.clone(), Remark::Paused]),
            [low.clone(), Remark::Paused]
        );
        assert_eq!(
            unended(vec![low, Remark::Paused, mended, Remark::Resumed]),
            []
        );
    }
}
