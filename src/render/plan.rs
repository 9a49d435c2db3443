//! The plan as data: everything that will happen to a frame, in order, in plain numbers.
//!
//! `Plan::compile` makes one; [`Plan`]'s `Display` shows one, a line a step; the loop in `crate::render::run` runs one. Nothing is
//! decided while running.

use crate::base::bands::Threads;
use crate::base::geometry::{Orientation, Rect};
use crate::colour::output_space::OutputSpace;
use crate::look::correction::Correction;
use crate::raw::frame::{Frame, Mosaic};
use crate::render::demosaic::Method;
use crate::render::detail::DetailStep;
use crate::render::highlights::HighlightStep;
use crate::render::noise::NoiseStep;
use crate::render::points::PointOperation;
use crate::render::sample::Sample;
use crate::render::sensor::SensorStep;
use crate::render::sharpen::SharpenStep;
use crate::render::{RenderError, Rendered, Target, compile, run};
use std::fmt;

/// What will be done to a frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// Counts to white-balanced light.
    pub sensor: SensorStep,
    /// The part of the active area that makes the picture.
    pub crop: Rect,
    /// One colour a photosite to three a pixel.
    pub demosaic: Method,
    /// Noise reduction in camera colour; `None` when the correction asks for none.
    pub noise: Option<NoiseStep>,
    /// Capture sharpening in camera colour; `None` when the correction asks for none, or at half size.
    pub detail: Option<DetailStep>,
    /// Rebuilding clipped channels; `None` leaves them as they are.
    pub highlights: Option<HighlightStep>,
    /// What happens to each pixel by itself, from camera colour to linear light of the output space.
    pub points: Vec<PointOperation>,
    /// Size of the picture as it is stored, before and after resizing.
    pub size: Size,
    /// Sharpening in the finished picture's pixels; `None` when the correction asks for none.
    pub sharpen: Option<SharpenStep>,
    /// The space whose signal the finished pixels are.
    pub space: OutputSpace,
    /// How the picture is turned upright.
    pub orientation: Orientation,
}

/// Sizes on the way, in the sensor's orientation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Size {
    /// Columns and rows that the demosaic makes.
    pub made: (usize, usize),
    /// The part of them that the crop covers: a half less on a side of an odd number of photosites at half size.
    pub span: (f64, f64),
    /// Columns and rows of the finished picture.
    pub finished: (usize, usize),
}

impl Size {
    /// Whether the picture is resized at all.
    #[must_use]
    pub fn is_resized(&self) -> bool {
        let whole = (self.finished.0 as f64, self.finished.1 as f64);
        self.span != whole
    }
}

impl Plan {
    /// Compiles a plan.
    ///
    /// # Errors
    /// When the mosaic is no picture, the body's colour cannot be solved for the white, or a number of the correction is
    /// out of range.
    pub fn compile(
        frame: &Frame,
        correction: &Correction,
        target: &Target,
    ) -> Result<Self, RenderError> {
        compile::plan(frame, correction, target)
    }

    /// Runs the plan on the mosaic it was compiled for, in 8 bits.
    #[must_use]
    pub fn run(&self, mosaic: &Mosaic, threads: &Threads) -> Rendered {
        run::run(self, mosaic, threads)
    }

    /// Runs it without holding the picture: hands groups of finished upright rows, from the top down, to `take`, and
    /// stops at its first error. A row is all of its red, then its green, then its blue.
    ///
    /// Returns the share, 0 to 1, of the demosaiced pixels that lie outside the picture's space, before they are brought in: see
    /// [`crate::colour::gamut::OUTSIDE`].
    ///
    /// # Errors
    /// What `take` returns.
    pub fn run_in_order<S: Sample, E>(
        &self,
        mosaic: &Mosaic,
        threads: &Threads,
        take: impl FnMut(&[S]) -> Result<(), E>,
    ) -> Result<f64, E> {
        run::run_in_order(self, mosaic, threads, take)
    }

    /// Columns and rows of the upright picture.
    #[must_use]
    pub fn upright_size(&self) -> (usize, usize) {
        let (width, height) = self.size.finished;
        self.orientation.upright_size(width, height)
    }
}

impl fmt::Display for Plan {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        let [r, g, b] = self.sensor.neutral;
        writeln!(
            to,
            "sensor: black to 0, full to 1, divided by the neutral {r:.4}, {g:.4}, {b:.4}"
        )?;
        let Rect {
            left,
            top,
            width,
            height,
        } = self.crop;
        writeln!(to, "crop: {width} x {height} from {left}, {top}")?;
        let (made_width, made_height) = self.size.made;
        writeln!(
            to,
            "demosaic: {} to {made_width} x {made_height}",
            self.demosaic
        )?;
        if let Some(step) = &self.noise {
            writeln!(to, "{step}")?;
        }
        if let Some(step) = &self.detail {
            writeln!(to, "{step}")?;
        }
        if let Some(HighlightStep {
            full: [r, g, b],
            white,
        }) = self.highlights
        {
            writeln!(
                to,
                "highlights: clipped channels from the others and from the colour around; full photosites at {r:.3}, {g:.3}, {b:.3}, lamps up to {white:.3}"
            )?;
        }
        for operation in &self.points {
            writeln!(to, "{operation}")?;
        }
        if self.size.is_resized() {
            let (width, height) = self.size.finished;
            writeln!(
                to,
                "resize: to {width} x {height} in linear light, Lanczos of three lobes"
            )?;
        }
        if let Some(SharpenStep {
            amount,
            radius,
            overshoot,
            ..
        }) = self.sharpen
        {
            writeln!(
                to,
                "sharpen: luminance by {amount:.2} of its difference from a mask of {radius:.2} pixels, \
                 at most {overshoot:.2} of the neighbours' range beyond them"
            )?;
        }
        writeln!(to, "encode: {}, rounded", self.space.title())?;
        if self.orientation != Orientation::Upright {
            writeln!(to, "orient: {:?}", self.orientation)?;
        }
        Ok(())
    }
}
