//! Simulates an invented show, spectrally, and writes it as raw frames whose truth is known.
//!
//! Published reflectances are lit by published and modelled lamps, seen by measured and invented sensors, counted with
//! photon and read noise, and written as DNG. [`demo_show`] is the show of `demo-frames`, the same bytes on every
//! machine; [`ShowPlan::drawn`] makes others by lot, at any size, for tests that must not know the answer by heart:
//!
//! ```
//! use stage_simulator::{Show, ShowPlan, Wishes};
//! # fn main() -> Result<(), stage_simulator::SimulatorError> {
//! let wishes = Wishes { size: [48, 32], cues: 1, frames: [1, 1], ..Wishes::default() };
//! let show = Show::new(ShowPlan::drawn(7, &wishes))?;
//! let frame = show.frame(0)?;
//! assert_eq!(&frame.dng()[..2], b"II");
//! assert!(frame.truth.key.is_some());
//! # Ok(())
//! # }
//! ```

mod automatic;
mod body;
mod calibration;
mod chance;
mod colorimetry;
mod demo;
mod dng;
mod files;
mod furniture;
mod head;
mod hue_map;
mod instruments;
mod lamp;
mod library;
mod lighting;
mod lossless_jpeg;
mod material;
mod optics;
mod parts;
mod performer;
mod picture;
mod plan;
mod preview;
mod sensor;
mod settings;
mod shade;
mod shape;
mod show;
mod spectrum;
mod stage;
mod surroundings;
mod texture;
mod tiff;
mod training;
mod truth;
mod vector;
mod view;

pub use body::{Body, Lens};
pub use calibration::{ColourProfile, LightProfile};
pub use colorimetry::{D50_XY, D65_XY, Matrix, bradford, lab, white_of, xy_of};
pub use demo::{demo_files, demo_show};
pub use dng::{Exposed, Storage, write as write_dng};
pub use files::{ShowTruth, show_files};
pub use lamp::{KeyLamp, WashColour};
pub use material::SurfaceKind;
pub use plan::{
    CuePlan, FramePlan, Framing, KEY_LUX, KeyPlan, SetPlan, ShowPlan, WashFrom, WashPlan, Wishes,
};
pub use settings::{Exposure, Moment};
pub use show::{Show, SimulatedFrame};
pub use spectrum::Spectrum;
pub use tiff::ByteOrder;
pub use truth::{FrameTruth, KeyTruth, PatchTruth, WashTruth};

/// Why a show cannot be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SimulatorError {
    /// A compiled-in table is damaged.
    Table(String),
    /// The plan asks for what cannot be.
    Plan(String),
}

impl std::fmt::Display for SimulatorError {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Table(what) => write!(formatter, "a spectral table cannot be read: {what}"),
            Self::Plan(what) => write!(formatter, "the show cannot be planned so: {what}"),
        }
    }
}

impl std::error::Error for SimulatorError {}
