//! Mosaic and correction become pixels.
//!
//! A [`plan::Plan`] says what will be done, in plain numbers: steps that change the shape of the data have their named
//! places (sensor, demosaic, resize, sharpen, orient, encode), everything that happens to a pixel by itself is a list of
//! [`points::PointOperation`]s. A plan is compiled from a frame's facts, its colour and its correction; it folds and
//! prints itself; one loop runs it (`run`).
//!
//! The loop goes down the picture in bands of rows. A row's counts become finished bytes while the row is in the
//! processor's cache, each stage keeping the few rows that the next one looks at: beside the mosaic (two bytes a
//! photosite) and the finished bytes (three a pixel) a picture needs the rows of the stages' windows, whatever its
//! height. The simpler way, one stage after the other over whole planes, would take twelve bytes a pixel for each plane set
//! and wait for memory.
//! Every band computes what it needs of its neighbours' rows anew, so that neither bands nor threads change a bit.
//!
//! Each fast row function has a plain twin and is held to it by a test; see `kernel`.

#![allow(
    clippy::manual_clamp,
    reason = "clamp lets NaN through where max().min() takes the lower bound"
)]

pub(crate) mod around;
pub(crate) mod compile;
pub mod demosaic;
pub mod detail;
pub(crate) mod develop;
pub(crate) mod faulty;
pub(crate) mod first_walk;
pub mod highlights;
pub mod noise;
pub(crate) mod orient;
pub mod plan;
pub mod points;
pub(crate) mod resize;
pub(crate) mod row;
pub(crate) mod run;
pub mod sample;
pub mod sensor;
pub mod sharpen;

use crate::base::bands::Threads;
use crate::colour::camera::CameraColourError;
use crate::colour::output_space::OutputSpace;
use crate::look::correction::Correction;
use crate::raw::frame::Frame;

/// What the picture is for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Target {
    /// Longest edge in pixels; never enlarged. `None`: full size.
    ///
    /// The long edge comes out exactly so; the short one is its share of it rounded to the nearest whole pixel, at
    /// least 1.
    pub long_edge: Option<u32>,
    /// Space of the finished pixels.
    pub space: OutputSpace,
}

/// A finished picture held whole: upright, 8 bits a channel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rendered {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Space of the pixels.
    pub space: OutputSpace,
    /// `width * height` pixels of red, green, blue, row after row: the space's signal.
    pub rgb: Vec<u8>,
}

/// Why no picture can be made of a frame. No path here: rendering knows no files, callers add the name.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RenderError {
    /// The mosaic does not describe a picture.
    #[error("the frame's raw data make no picture ({0}); the file may be damaged")]
    NoPicture(&'static str),
    /// The body's matrices and the white do not go together.
    #[error("the body's colour cannot be solved for the correction's white: {0}")]
    Colour(#[from] CameraColourError),
    /// A number of the correction lies outside its range.
    #[error("the correction's {field} is {value}, which must be {range}; correct the look")]
    OutOfRange {
        /// Which number.
        field: &'static str,
        /// What it is.
        value: f64,
        /// What it may be.
        range: &'static str,
    },
}

/// Renders a frame in 8 bits: compiles the plan and runs it. [`plan::Plan::run_in_order`] makes 16 bits too.
///
/// # Errors
/// When the mosaic is no picture, the body's colour cannot be solved for the white, or a number of the correction is out
/// of range.
pub fn render(
    frame: &Frame,
    correction: &Correction,
    target: &Target,
    threads: &Threads,
) -> Result<Rendered, RenderError> {
    let plan = plan::Plan::compile(frame, correction, target)?;
    Ok(run::run(&plan, &frame.mosaic, threads))
}
