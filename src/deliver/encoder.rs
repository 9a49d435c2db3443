//! The JPEG encoder: one of two libraries behind one function.
//!
//! A fresh machine has cargo and a C compiler, and nothing else may be asked for. Of the libraries that build so, jpeg-encoder (Rust,
//! with AVX2 where the processor has it) is the fastest, so it is the default. mozjpeg is libjpeg-turbo's code in C: without the assembler
//! nasm it builds without its vector code and is slower, with nasm it is three times as fast. Where nasm is at hand, the cargo feature
//! `mozjpeg` takes it instead (`cargo build --release --features mozjpeg`).
//!
//! Milliseconds of processor time on one thread for 12 megapixels of a real stage frame, median of 7 runs on a busy 2-core EPYC with
//! AVX-512, 25 November 2026 (file size in brackets):
//!
//! | library | quality 92, 4:4:4 | quality 85, 4:2:0 |
//! | --- | --- | --- |
//! | jpeg-encoder 0.7.1, `simd` | 280 (6.24 MB) | 134 (2.50 MB) |
//! | jpeg-encoder, optimised Huffman tables | 455 (6.06 MB) | |
//! | mozjpeg 0.10.13, fastest settings, built without nasm | 487 (6.24 MB) | 235 (2.44 MB) |
//! | mozjpeg 0.10.13, fastest settings, built with nasm | 93 (6.24 MB) | 43 (2.44 MB) |
//! | mozjpeg-rs 0.9.2, fastest settings | 430 (7.73 MB) | 195 (2.48 MB) |
//! | image 0.25.10 | 630 (6.14 MB) | |
//!
//! Optimised tables would save 3 % of the bytes for 60 % more time, progressive files more time still; so neither.

use crate::deliver::error::DeliverError;
use crate::deliver::wish::ChromaSampling;

/// What is encoded, checked by the caller.
pub(crate) struct Job<'a> {
    /// `width * height * 3` values.
    pub(crate) rgb: &'a [u8],
    /// At least 1.
    pub(crate) width: u16,
    /// At least 1.
    pub(crate) height: u16,
    /// 1 to 100.
    pub(crate) quality: u8,
    pub(crate) sampling: ChromaSampling,
}

pub(crate) use engine::{NAME, append};

#[cfg(not(feature = "mozjpeg"))]
mod engine {
    use super::{ChromaSampling, DeliverError, Job};
    use jpeg_encoder::{ChromaSubsamplingMethod, ColorType, Encoder, SamplingFactor};

    pub(crate) const NAME: &str = "jpeg-encoder";

    /// Appends a whole baseline JPEG file.
    pub(crate) fn append(job: &Job<'_>, file: &mut Vec<u8>) -> Result<(), DeliverError> {
        let mut encoder = Encoder::new(file, job.quality);
        encoder.set_sampling_factor(match job.sampling {
            ChromaSampling::Full => SamplingFactor::R_4_4_4,
            ChromaSampling::Quarter => SamplingFactor::R_4_2_0,
        });
        // The mean of the four pixels; the library's default takes one of the four, which makes coloured edges jagged.
        encoder.set_chroma_subsampling_method(ChromaSubsamplingMethod::Average);
        encoder
            .encode(job.rgb, job.width, job.height, ColorType::Rgb)
            .map_err(|error| DeliverError::Encoder(error.to_string()))
    }
}

#[cfg(feature = "mozjpeg")]
mod engine {
    use super::{ChromaSampling, DeliverError, Job};
    use mozjpeg::qtable::{AnnexK_Chroma, AnnexK_Luma};
    use mozjpeg::{ColorSpace, Compress};
    use std::panic::{AssertUnwindSafe, catch_unwind};

    pub(crate) const NAME: &str = "mozjpeg";

    /// Appends a whole baseline JPEG file. The library reports its errors by unwinding, so they are caught here.
    pub(crate) fn append(job: &Job<'_>, file: &mut Vec<u8>) -> Result<(), DeliverError> {
        let outcome = catch_unwind(AssertUnwindSafe(|| compress(job, file)));
        match outcome {
            Ok(Ok(())) => Ok(()),
            Ok(Err(error)) => Err(DeliverError::Encoder(error.to_string())),
            Err(_) => Err(DeliverError::Encoder("it stopped in the middle".into())),
        }
    }

    fn compress(job: &Job<'_>, file: &mut Vec<u8>) -> std::io::Result<()> {
        let mut settings = Compress::new(ColorSpace::JCS_RGB);
        settings.set_fastest_defaults();
        settings.set_size(usize::from(job.width), usize::from(job.height));
        // The same tables as the other engine's. The library's own setter goes above 255 at low quality, which is no baseline file.
        let quality = f32::from(job.quality);
        settings.set_luma_qtable(&AnnexK_Luma.scaled(quality, quality));
        settings.set_chroma_qtable(&AnnexK_Chroma.scaled(quality, quality));
        settings.set_optimize_coding(false);
        settings.set_optimize_scans(false);
        let pixels = match job.sampling {
            ChromaSampling::Full => (1, 1),
            ChromaSampling::Quarter => (2, 2),
        };
        settings.set_chroma_sampling_pixel_sizes(pixels, pixels);
        let mut compress = settings.start_compress(file)?;
        compress.write_scanlines(job.rgb)?;
        compress.finish()?;
        Ok(())
    }
}
