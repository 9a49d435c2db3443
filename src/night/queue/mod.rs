//! The queue: what waits, what is in hand, what is made, kept by a database.
//!
//! A **show** has **jobs**, one for each frame; a job has **outputs**, one picture for each wish of its show. A **run**
//! claims jobs in one transaction each, in the order of their ranks, and tells what came of them after the pictures are in
//! their places and synced. A claim belongs to a run's number and to nothing else: whatever a run tells of a job that is not
//! its own any more is not taken ([`Noted::NotOurs`]), so that a run which slept and was declared dead can do no harm.
//!
//! Whether an output is made is a comparison of keys: the one it should be made with and the one it was made with. A show
//! that is solved again, with more frames or another look, costs only the pictures whose key has changed.
//!
//! Times are kept for people. Nothing compares the clocks of two machines: a run shows that it lives by a counter that
//! rises, and whoever watches it measures by his own clock how long it has not ([`Watch`]).

mod adding;
mod claiming;
mod claims;
mod control;
mod error;
mod ids;
mod looking;
mod place;
mod ranks;
mod recording;
mod remarks;
pub mod replaced;
mod reporting;
mod rows;
mod runs;
mod schema;
mod sizes;
mod solving;
mod states;
mod unreadable;
mod verifying;
mod wishes;

pub use self::claims::{
    AfterLoss, Claim, Claimed, MadeOutput, MakeClaim, MeteredJob, Noted, PlannedOutput, SolveClaim,
    SolvedJob, SolvedJobs, Standing, WantedOutput,
};
pub use self::control::{Changed, Scope};
pub use self::error::QueueError;
pub use self::ids::{JobId, OutputId, RunId, ShowId, WishId};
pub use self::looking::{JobCount, OutputCount, RunStatus, ShowStatus, Status, Timed, Trouble};
pub use self::place::Place;
pub use self::remarks::{DatedRemark, LostPicture, Remark};
pub use self::reporting::{FrameReport, OutputReport, RunReport};
pub use self::runs::{BEAT, Beat, HowEnded, PATIENCE, Returned, Run, RunOf, Watch};
pub use self::solving::NamedOutput;
pub use self::states::{JobState, OutputState, ShowState};
pub use self::unreadable::Unreadable;
pub use self::verifying::MadeRow;
pub use self::wishes::{Added, LOWEST_PRIORITY, NewFrame, NewShow, OutputWish, USUAL_PRIORITY};

use crate::night::engine::{self, Access, Engine, Purpose, Sqlite};

/// The queue, open. Each thread and each process opens its own.
pub struct Queue {
    engine: Box<dyn Engine>,
    place: Place,
}

impl std::fmt::Debug for Queue {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(formatter, "Queue({})", self.place)
    }
}

impl Queue {
    /// Opens a queue, or begins one.
    ///
    /// # Errors
    /// When its place cannot be used, or holds something else.
    pub fn open(place: &Place) -> Result<Self, QueueError> {
        if let Some(folder) = place.file()?.as_deref().and_then(std::path::Path::parent)
            && *place == Place::OfTheUser
        {
            std::fs::create_dir_all(folder).map_err(|source| QueueError::Folder {
                path: folder.to_path_buf(),
                source,
            })?;
        }
        Self::connect(place, Access::ReadAndWrite)
    }

    /// Opens a queue that is there, to look at it: nothing is written.
    ///
    /// # Errors
    /// When there is none, or it cannot be read.
    pub fn look_into(place: &Place) -> Result<Self, QueueError> {
        if place.file()?.is_some_and(|file| !file.exists()) {
            return Err(QueueError::Absent(place.clone()));
        }
        Self::connect(place, Access::ReadOnly)
    }

    /// Opens a queue that is there, to change it.
    ///
    /// # Errors
    /// When there is none, or it cannot be used.
    pub fn open_existing(place: &Place) -> Result<Self, QueueError> {
        if place.file()?.is_some_and(|file| !file.exists()) {
            return Err(QueueError::Absent(place.clone()));
        }
        Self::connect(place, Access::ReadAndWrite)
    }

    fn connect(place: &Place, access: Access) -> Result<Self, QueueError> {
        let engine: Box<dyn Engine> = match place.file()? {
            Some(file) => {
                let opened = Sqlite::open(&file, access, schema::TABLES, schema::STEPS);
                Box::new(opened.map_err(|error| QueueError::from(error).at(place))?)
            }
            None => at_server(place, access)?,
        };
        Ok(Self {
            engine,
            place: place.clone(),
        })
    }

    /// Where it is.
    #[must_use]
    pub fn place(&self) -> &Place {
        &self.place
    }

    /// Does something in one transaction that may write.
    fn writing<T>(
        &mut self,
        mut act: impl FnMut(&mut dyn Engine) -> Result<T, QueueError>,
    ) -> Result<T, QueueError> {
        let done =
            engine::in_transaction(&mut *self.engine, Purpose::Writing, |engine| act(engine));
        done.map_err(|error| error.at(&self.place))
    }

    /// Does something in one transaction that reads.
    fn reading<T>(
        &mut self,
        mut act: impl FnMut(&mut dyn Engine) -> Result<T, QueueError>,
    ) -> Result<T, QueueError> {
        let done =
            engine::in_transaction(&mut *self.engine, Purpose::Reading, |engine| act(engine));
        done.map_err(|error| error.at(&self.place))
    }
}

#[cfg(feature = "many-machines")]
fn at_server(place: &Place, access: Access) -> Result<Box<dyn Engine>, QueueError> {
    let Place::Server(address) = place else {
        return Err(QueueError::NoPlace);
    };
    let opened = engine::Server::open(address, access, schema::TABLES, schema::STEPS);
    Ok(Box::new(
        opened.map_err(|error| QueueError::from(error).at(place))?,
    ))
}

#[cfg(not(feature = "many-machines"))]
fn at_server(place: &Place, _access: Access) -> Result<Box<dyn Engine>, QueueError> {
    Err(QueueError::NotInThisBuild(place.clone()))
}

#[cfg(test)]
mod tests;
