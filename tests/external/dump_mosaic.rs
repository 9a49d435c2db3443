//! Writes what the raw room decoded, for comparisons with other libraries: the counts of the active area as a 16-bit PGM
//! (mosaic) or PPM (linear RGB) on standard output, levels, pattern, crop and facts as one line of JSON on standard error.
//!
//! `cargo run --example dump-mosaic -- FILE > mosaic.pgm 2> levels.json`

use houselights::raw::frame::Layout;
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

#[expect(
    clippy::print_stderr,
    reason = "a development tool: its second output is standard error"
)]
fn main() -> ExitCode {
    let Some(path) = std::env::args_os().nth(1).map(PathBuf::from) else {
        eprintln!("usage: dump-mosaic FILE");
        return ExitCode::from(2);
    };
    let frame = match houselights::raw::read_frame(&path) {
        Ok(frame) => frame,
        Err(error) => {
            eprintln!("{error}");
            return ExitCode::FAILURE;
        }
    };
    let mosaic = &frame.mosaic;
    let pattern: Vec<Vec<u8>> = match &mosaic.layout {
        Layout::Bayer(pattern) => pattern.iter().map(|row| row.to_vec()).collect(),
        Layout::XTrans(pattern) => pattern.iter().map(|row| row.to_vec()).collect(),
        Layout::Linear => Vec::new(),
    };
    let about = serde_json::json!({
        "width": mosaic.width(),
        "height": mosaic.height(),
        "pattern": pattern,
        "black": mosaic.black.pattern,
        "black_rows": mosaic.black.rows,
        "black_columns": mosaic.black.columns,
        "white": mosaic.white,
        "crop": mosaic.crop,
        "colour": frame.colour,
        "facts": frame.facts,
        "notes": frame.notes,
    });
    eprintln!("{about}");
    let kind = if mosaic.values_per_pixel() == 3 { 6 } else { 5 };
    let mut bytes = format!("P{kind} {} {} 65535\n", mosaic.width(), mosaic.height()).into_bytes();
    bytes.extend(
        mosaic
            .counts
            .values()
            .iter()
            .flat_map(|count| count.to_be_bytes()),
    );
    match std::io::stdout().write_all(&bytes) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("standard output: {error}");
            ExitCode::FAILURE
        }
    }
}
