//! Sends a raw file through sensor correction, demosaic and noise reduction alone, for comparisons with other methods:
//! camera light, balanced for D65, as the sRGB signal of a 16-bit PPM on standard output.
//!
//! `cargo run --example noise-stage -- FILE LUMINANCE COLOUR > quiet.ppm`

use houselights::base::bands::Threads;
use houselights::base::units::Chromaticity;
use houselights::look::correction::{Correction, NoiseReduction};
use houselights::render::Target;
use houselights::render::plan::Plan;
use houselights::render::sample::interleave_rows;
use std::error::Error;
use std::io::Write;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [file, luminance, colour] = arguments.as_slice() else {
        return Err("usage: noise-stage FILE LUMINANCE COLOUR".into());
    };
    let frame = houselights::raw::read_frame(Path::new(file))?;
    let correction = Correction {
        noise: NoiseReduction {
            luminance: luminance.parse()?,
            colour: colour.parse()?,
            ..NoiseReduction::NEUTRAL
        },
        detail: 0.0,
        ..Correction::neutral(Chromaticity::D65)
    };
    let plan = Plan {
        highlights: None,
        points: Vec::new(),
        ..Plan::compile(&frame, &correction, &Target::default())?
    };
    let (width, height) = plan.upright_size();
    let mut to = std::io::stdout().lock();
    writeln!(to, "P6 {width} {height} 65535")?;
    plan.run_in_order(&frame.mosaic, &Threads::one(), |rows: &[u16]| {
        let mut codes = Vec::new();
        interleave_rows(width, rows, &mut codes);
        let bytes: Vec<u8> = codes.iter().flat_map(|code| code.to_be_bytes()).collect();
        to.write_all(&bytes)
    })?;
    Ok(())
}
