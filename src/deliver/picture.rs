//! From a plan to a finished file: rows are rendered, converted where a printer's profile asks for it, and written.
//!
//! Neither file is ever held whole: a TIFF goes out strip by strip, a JPEG is encoded row by row, while its rows are in the
//! cache.

use crate::base::bands::Threads;
use crate::colour::printer::Conversion;
use crate::deliver::error::DeliverError;
use crate::deliver::tagged::Tagged;
use crate::deliver::tiff::{self, Metadata};
use crate::deliver::wish::{Format, Wish};
use crate::deliver::{jpeg, xmp};
use crate::raw::facts::Facts;
use crate::raw::frame::Mosaic;
use crate::render::plan::Plan;
use crate::render::sample::interleave_rows;
use std::io::{Seek, Write};

/// Every how many-th pixel of every how many-th row is asked of a printer's profile whether it has its colour: one in 64 is
/// hundreds of thousands a picture, and costs a few hundredths of a second.
const PROOF_STEP: usize = 8;

/// Makes the picture that a plan describes, in a file that is empty. Returns the share of its pixels, 0 to 1, whose colours
/// the space of the picture does not have: see [`crate::render::plan::Plan::run_in_order`], and with a profile
/// [`Conversion::count_lost`]. A mosaic that is given away is let go as early as can be; one that is lent serves the next picture.
///
/// # Errors
/// When the picture does not fit the format, or the file cannot be written.
pub fn write(
    plan: &Plan,
    mosaic: &Mosaic,
    facts: &Facts,
    wish: &Wish,
    conversion: Option<&Conversion>,
    file: &mut (impl Write + Seek),
) -> Result<f64, DeliverError> {
    let tagged = match conversion {
        Some(conversion) => Tagged::profile(conversion.profile()),
        None => Tagged::space(plan.space)?,
    };
    match wish.format {
        Format::Jpeg => write_jpeg(plan, mosaic, facts, wish, conversion, &tagged, file),
        Format::Tiff => write_tiff(plan, mosaic, facts, wish, conversion, &tagged, file),
    }
}

fn write_tiff(
    plan: &Plan,
    mosaic: &Mosaic,
    facts: &Facts,
    wish: &Wish,
    conversion: Option<&Conversion>,
    tagged: &Tagged,
    file: &mut (impl Write + Seek),
) -> Result<f64, DeliverError> {
    let (width, height) = plan.upright_size();
    let too_large = |_| DeliverError::Size { width, height };
    let size = (
        u32::try_from(width).map_err(too_large)?,
        u32::try_from(height).map_err(too_large)?,
    );
    let xmp = xmp::packet(facts, wish, tagged.code);
    let metadata = Metadata {
        facts,
        wish,
        colour_space: tagged.code,
        xmp: &xmp,
        profile: &tagged.profile,
    };
    let mut outside = 0.0;
    tiff::write(file, size, &metadata, |take| {
        let mut proof = Proof::new(width);
        let mut pixels = Vec::new();
        let share = plan.run_in_order(mosaic, &Threads::one(), |rows: &[u16]| {
            pixels.clear();
            interleave_rows(width, rows, &mut pixels);
            if let Some(conversion) = conversion {
                proof.take(conversion, &pixels);
                conversion.convert(&mut pixels);
            }
            take(&pixels)
        })?;
        outside = proof.share().unwrap_or(share);
        Ok(())
    })?;
    Ok(outside)
}

fn write_jpeg(
    plan: &Plan,
    mosaic: &Mosaic,
    facts: &Facts,
    wish: &Wish,
    conversion: Option<&Conversion>,
    tagged: &Tagged,
    file: &mut impl Write,
) -> Result<f64, DeliverError> {
    let size = plan.upright_size();
    let mut writer = jpeg::Writer::begin(file, size, tagged, facts, wish)?;
    let share = match conversion {
        None => plan.run_in_order(mosaic, &Threads::one(), |rows: &[u8]| writer.take(rows))?,
        Some(conversion) => {
            let (width, _) = size;
            let mut proof = Proof::new(width);
            let (mut pixels, mut codes) = (Vec::new(), Vec::new());
            let share = plan.run_in_order(mosaic, &Threads::one(), |rows: &[u16]| {
                pixels.clear();
                interleave_rows(width, rows, &mut pixels);
                proof.take(conversion, &pixels);
                conversion.convert(&mut pixels);
                codes.clear();
                codes.extend(pixels.iter().map(|&signal| eight_bits(signal)));
                writer.take_pixels(&codes)
            })?;
            proof.share().unwrap_or(share)
        }
    };
    writer.finish()?;
    Ok(share)
}

/// The nearest code of 8 bits.
fn eight_bits(signal: u16) -> u8 {
    let nearest = (u32::from(signal) * 255 + 32_767) / 65_535;
    u8::try_from(nearest).unwrap_or(u8::MAX)
}

/// The soft proof of a picture that is converted: counts on a lattice of its pixels.
struct Proof {
    width: usize,
    next_row: usize,
    asked: usize,
    lost: usize,
    lattice: Vec<[u16; 3]>,
}

impl Proof {
    fn new(width: usize) -> Self {
        Self {
            width,
            next_row: 0,
            asked: 0,
            lost: 0,
            lattice: Vec::new(),
        }
    }

    /// Takes the pixels of the picture's next rows, not converted.
    fn take(&mut self, conversion: &Conversion, pixels: &[u16]) {
        self.lattice.clear();
        for row in pixels.chunks_exact(3 * self.width) {
            if self.next_row.is_multiple_of(PROOF_STEP) {
                let pixels = row.as_chunks::<3>().0.iter();
                self.lattice.extend(pixels.step_by(PROOF_STEP));
            }
            self.next_row += 1;
        }
        self.asked += self.lattice.len();
        self.lost += conversion.count_lost(&self.lattice);
    }

    /// The share of lost colours; `None` when nothing was asked.
    fn share(&self) -> Option<f64> {
        (self.asked > 0).then(|| self.lost as f64 / self.asked as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::eight_bits;

    #[test]
    fn codes_of_8_bits_are_the_nearest() {
        for code in 0..=255_u8 {
            let exact = u16::from(code) * 257;
            assert_eq!(eight_bits(exact), code);
            assert_eq!(eight_bits(exact.saturating_add(128)), code);
            assert_eq!(eight_bits(exact.saturating_sub(128)), code);
        }
    }
}
