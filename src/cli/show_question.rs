//! What a person gives to commands that read a show and make no pictures of it: reference, look, readings, workers.

use super::neutral;
use super::readings::ReadingsArguments;
use super::workers::WorkerArguments;
use crate::crew::stamp::stamp_of;
use crate::crew::supervisor::CrewSettings;
use crate::light::patch::Patch;
use crate::look::file::{Look, LookError};
use crate::look::presets;
use crate::show::meter::MeterJob;
use std::path::PathBuf;

/// Options about the reference and the look.
#[derive(Clone, Debug, clap::Args)]
pub(super) struct ShowQuestion {
    /// The frame that the show is held against [default: the look's, else one is proposed]
    #[arg(long, value_name = "FRAME", help_heading = "Look")]
    reference: Option<PathBuf>,

    /// Something grey, white or black by itself in the reference frame (repeatable)
    ///
    /// As `houselights carry` takes it: X and Y are fractions of the upright picture, R the radius as a fraction of its
    /// width.
    #[arg(
        long,
        value_name = "X,Y[,R]",
        value_parser = neutral::parse,
        allow_hyphen_values = true,
        requires = "reference",
        help_heading = "Look"
    )]
    neutral: Vec<Patch>,

    /// The look that would be carried: a file, or the name of a preset [default: stage]
    #[arg(long, value_name = "FILE|NAME", help_heading = "Look")]
    look: Option<PathBuf>,

    #[command(flatten)]
    readings: ReadingsArguments,

    #[command(flatten)]
    workers: WorkerArguments,
}

/// Why what was typed makes no job.
#[derive(Debug, thiserror::Error)]
pub(super) enum ResolveError {
    /// The look.
    #[error(transparent)]
    Look(#[from] LookError),
    /// The program itself.
    #[error("cannot find out which program this is: {0}")]
    Program(#[from] std::io::Error),
}

impl ShowQuestion {
    /// The job about these frames, and the crew for it.
    pub(super) fn resolve(
        self,
        frames: Vec<PathBuf>,
    ) -> Result<(MeterJob, CrewSettings), ResolveError> {
        let look = match &self.look {
            Some(name) => Look::resolve(name)?,
            None => presets::preset(presets::DEFAULT)?,
        };
        let crew = self.workers.resolve()?;
        let job = MeterJob {
            frames,
            reference: self.reference.map(|frame| (frame, self.neutral)),
            look,
            readings: self.readings.place(),
            program: stamp_of(crew.program.as_ref())?.hash,
        };
        Ok((job, crew))
    }
}
