//! What a person says about a show's light, shared by the commands that solve shows.

mod clock;
mod neutral;
mod pin;

use crate::look::carry::Follow;
use crate::look::file::{Look, LookError};
use crate::look::overrule::{OverruleError, Overrules};
use crate::look::presets;
use crate::show::solving::{Asked, ClockWish, NamedFrame, Neutral};
use neutral::NeutralWord;
use std::path::{Path, PathBuf};

/// What a person says about a show's light.
#[derive(Clone, Debug, clap::Args)]
#[command(next_help_heading = "Look")]
pub(super) struct SolvingArguments {
    /// The frame whose look the others get; it need not be one of FRAMES
    #[arg(long, value_name = "FRAME")]
    reference: Option<PathBuf>,

    /// Something grey, white or black by itself in the reference frame (repeatable), or `auto` to have it found
    ///
    /// X and Y are fractions of the upright picture's width, from the left, and height, from the top; R is the radius as
    /// a fraction of the width (default 0.006). Without a patch the white is estimated from the picture, with a warning
    /// where that cannot be trusted.
    #[arg(
        long,
        value_name = "X,Y[,R]|auto",
        value_parser = neutral::parse,
        allow_hyphen_values = true
    )]
    neutral: Vec<NeutralWord>,

    /// A look file, or the name of a preset [default: stage]
    ///
    /// With --reference the look gives curve, levels policy, noise reduction, sharpening and output, and the reference
    /// gives white, exposure and measured levels. Without, a look that was kept with --save-look gives these
    /// too: it remembers its reference and the venue's keys, by which another night's cues are recognised; with any other look a
    /// reference frame is proposed. `houselights look NAME` says what a look does.
    #[arg(long, value_name = "FILE|NAME")]
    look: Option<PathBuf>,

    /// A further frame whose key you know, with a name for the key and something grey in it (repeatable)
    ///
    /// For lights that are not the reference's: --pin 'night-one/DSC_0931.NEF=front wash@0.42,0.61'. NAME is what --save-look
    /// remembers the key by (default: the frame's); after @ stand neutral patches in that frame, as in --neutral. The frame's
    /// cue, and every cue under the same key, then has that key's white; brightness stays with the reference. Several pins
    /// fit into an overrule file.
    #[arg(long, value_name = "FRAME[=NAME][@X,Y[,R]...]", value_parser = pin::parse)]
    pin: Vec<NamedFrame>,

    /// How far a body's clock is ahead of the first body's, in seconds (repeatable) [default: found by changes of the light]
    ///
    /// BODY is a model or a serial number, or how it begins: --clock 2077=-3.5. `houselights meter` prints the bodies and what
    /// was found.
    #[arg(long, value_name = "BODY=SECONDS", value_parser = clock::parse, allow_hyphen_values = true)]
    clock: Vec<ClockWish>,

    /// A file in which you overrule single cues: their white, their stops, or to leave them as shot
    #[arg(long, value_name = "FILE", long_help = OVERRULE_HELP)]
    overrule: Option<PathBuf>,
}

const OVERRULE_HELP: &str = "\
A file in which you overrule single cues: their white, their stops, or to leave them as shot

  version = 1
  [[cue]]
  frame = \"DSC_0931.NEF\"          # the cue that this frame stands in
  white = \"4200 K, Duv +0.003\"    # or \"x 0.38, y 0.377\", \"as shot\", \"reference\", \"key NAME\"
  stops = \"+0.3 stops\"            # added to what was solved
  [[cue]]
  number = 7                      # as the cue sheet counts
  leave = \"as shot\"
  [[cue]]
  from = \"20:15:00\"               # frames of a time, on the first body's clock
  until = \"20:18:30\"
  white = \"reference\"
  [[pin]]                         # as --pin; the path starts at this file's folder
  frame = \"night-one/DSC_1020.NEF\"
  name = \"front wash\"
  neutral = [\"0.42,0.61\"]";

/// Why what was typed about the light cannot be used.
#[derive(Debug, thiserror::Error)]
pub(super) enum SolvingError {
    #[error(transparent)]
    Look(#[from] LookError),
    #[error(transparent)]
    Overrule(#[from] OverruleError),
    #[error("a pin of the overrule file {}: {reason}", .file.display())]
    Patch { file: PathBuf, reason: String },
    #[error("--neutral says what is grey in the reference frame; name that frame with --reference")]
    NothingToPointAt,
    #[error(
        "--neutral auto has neutral things found, and X,Y points at them: give one or the other"
    )]
    AutoAndPatches,
    #[error(
        "{0} speaks of cues, and cues are followed with --follow light only: leave one of them out"
    )]
    NoCues(&'static str),
}

impl SolvingError {
    /// Whether the command line itself is wrong, and not a file.
    pub(super) fn is_wrong_usage(&self) -> bool {
        match self {
            Self::Look(error) => matches!(error, LookError::Unknown { .. }),
            Self::Overrule(_) | Self::Patch { .. } => false,
            Self::NothingToPointAt | Self::AutoAndPatches | Self::NoCues(_) => true,
        }
    }
}

impl SolvingArguments {
    /// The look as it was named, for whoever needs its folder.
    pub(super) fn look_path(&self) -> Option<&Path> {
        self.look.as_deref()
    }

    /// The overrule file as it was named.
    pub(super) fn overrule_path(&self) -> Option<&Path> {
        self.overrule.as_deref()
    }

    /// Whether anything was typed.
    pub(super) fn is_given(&self) -> bool {
        self.reference.is_some()
            || self.look.is_some()
            || self.overrule.is_some()
            || !(self.neutral.is_empty() && self.pin.is_empty() && self.clock.is_empty())
    }

    /// What is asked for. Reads the look and the overrule file.
    pub(super) fn resolve(self, follow: Follow) -> Result<Asked, SolvingError> {
        let look = match &self.look {
            Some(name) => Look::resolve(name)?,
            None => presets::preset(presets::DEFAULT)?,
        };
        if self.reference.is_none() && !self.neutral.is_empty() {
            return Err(SolvingError::NothingToPointAt);
        }
        if follow != Follow::Light {
            for (given, option) in [
                (!self.pin.is_empty(), "--pin"),
                (!self.clock.is_empty(), "--clock"),
                (self.overrule.is_some(), "--overrule"),
            ] {
                if given {
                    return Err(SolvingError::NoCues(option));
                }
            }
        }
        let neutral = neutral_of(&self.neutral)?;
        let overrules = match &self.overrule {
            Some(file) => Overrules::load(file)?,
            None => Overrules::default(),
        };
        let mut pins = self.pin;
        if let Some(file) = &self.overrule {
            pins.extend(pin::of_file(&overrules, file)?);
        }
        Ok(Asked {
            look,
            reference: self.reference.map(|frame| NamedFrame {
                frame,
                name: None,
                neutral,
            }),
            pins,
            clocks: self.clock,
            overrules,
            follow,
        })
    }
}

fn neutral_of(words: &[NeutralWord]) -> Result<Neutral, SolvingError> {
    let patches: Vec<_> = words
        .iter()
        .filter_map(|word| match word {
            NeutralWord::Patch(patch) => Some(*patch),
            NeutralWord::Auto => None,
        })
        .collect();
    match (words.len() > patches.len(), patches.is_empty()) {
        (true, false) => Err(SolvingError::AutoAndPatches),
        (true, true) => Ok(Neutral::Found),
        (false, _) => Ok(Neutral::Patches(patches)),
    }
}
