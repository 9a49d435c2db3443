//! Where readings are kept, shared by the commands that read light.

use crate::show::readings::Place;
use std::path::PathBuf;

/// Where readings are kept.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "Work")]
pub(super) struct ReadingsArguments {
    /// File in which the readings of frames are kept, so that no frame is read twice; `none` keeps none [default: in
    /// this user's cache folder]
    #[arg(long, value_name = "FILE")]
    readings: Option<PathBuf>,
}

/// The word for keeping none. A file of that name is reached as `./none`.
const NONE: &str = "none";

impl ReadingsArguments {
    /// The place that was asked for.
    pub(super) fn place(&self) -> Place {
        match &self.readings {
            None => Place::OfTheUser,
            Some(file) if file.as_os_str() == NONE => Place::Nowhere,
            Some(file) => Place::File(file.clone()),
        }
    }
}
