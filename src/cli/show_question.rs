//! What a person gives to commands that read a show and make no pictures of it: the light, readings, workers.

use super::readings::ReadingsArguments;
use super::solving::{SolvingArguments, SolvingError};
use super::workers::WorkerArguments;
use crate::crew::stamp::stamp_of;
use crate::crew::supervisor::CrewSettings;
use crate::look::carry::Follow;
use crate::show::meter::MeterJob;
use std::path::PathBuf;

/// Options about the light, as `carry` takes them.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct ShowQuestion {
    #[command(flatten)]
    solving: SolvingArguments,

    #[command(flatten)]
    readings: ReadingsArguments,

    #[command(flatten)]
    workers: WorkerArguments,
}

/// Why what was typed makes no job.
#[derive(Debug, thiserror::Error)]
pub(super) enum ResolveError {
    /// The look, the reference, the overrule file.
    #[error(transparent)]
    Solving(#[from] SolvingError),
    /// The program itself.
    #[error("cannot find out which program this is: {0}")]
    Program(#[from] std::io::Error),
}

impl ResolveError {
    /// Whether the command line itself is wrong, and not a file.
    pub(super) fn is_wrong_usage(&self) -> bool {
        matches!(self, Self::Solving(error) if error.is_wrong_usage())
    }
}

impl ShowQuestion {
    /// The job about these frames, and the crew for it.
    pub(super) fn resolve(
        self,
        frames: Vec<PathBuf>,
    ) -> Result<(MeterJob, CrewSettings), ResolveError> {
        let asked = self.solving.resolve(Follow::Light)?;
        let crew = self.workers.resolve()?;
        let job = MeterJob {
            frames,
            asked,
            readings: self.readings.place(),
            program: stamp_of(crew.program.as_ref())?.hash,
        };
        Ok((job, crew))
    }
}
