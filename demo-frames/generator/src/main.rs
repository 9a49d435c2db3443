//! Writes the demo show: `cargo run --release -p stage-simulator -- demo-frames`.

use stage_simulator::demo_files;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

fn main() -> ExitCode {
    match run() {
        Ok(words) => {
            let _ = writeln!(std::io::stdout(), "{words}");
            ExitCode::SUCCESS
        }
        Err(words) => {
            let _ = writeln!(std::io::stderr(), "{words}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<String, String> {
    let mut arguments = std::env::args_os().skip(1);
    let (Some(folder), None) = (arguments.next(), arguments.next()) else {
        return Err(
            "usage: stage-simulator FOLDER: writes the demo show's frames and truth.json there"
                .to_owned(),
        );
    };
    let folder = PathBuf::from(folder);
    let files = demo_files().map_err(|error| error.to_string())?;
    let mut bytes = 0;
    for (name, content) in &files {
        let path = folder.join(name);
        std::fs::write(&path, content)
            .map_err(|error| format!("{} cannot be written: {error}", path.display()))?;
        bytes += content.len();
    }
    Ok(format!(
        "{} files, {:.1} MB",
        files.len(),
        bytes as f64 / 1e6
    ))
}
