//! Writes a show: `cargo run --release -p stage-simulator -- demo-frames` the demo show's frames, and with a seed and a size
//! a show drawn by lot.

use stage_simulator::{Show, ShowPlan, Wishes, demo_files, show_files};
use std::io::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

const USAGE: &str = "usage: stage-simulator FOLDER                writes the demo show's frames and truth.json there
       stage-simulator FOLDER SEED WIDTH CUES [REACH]   writes a show drawn by lot: pictures 3:2 of this width; REACH is a
                                                        factor on how much of the washes reaches the performers";

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
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let (folder, files) = match arguments.as_slice() {
        [folder] => (folder, demo_files()),
        [folder, seed, width, cues, reach @ ..] if reach.len() < 2 => {
            let number = |text: &String| text.parse::<usize>().map_err(|_| USAGE.to_owned());
            let width = number(width)?;
            let reach = match reach.first() {
                None => 1.0,
                Some(text) => text.parse::<f64>().map_err(|_| USAGE.to_owned())?,
            };
            let usual = Wishes::default();
            let wishes = Wishes {
                on_performers: usual.on_performers.map(|share| share * reach),
                size: [width, width * 2 / 3],
                cues: number(cues)?,
                ..usual
            };
            let plan = ShowPlan::drawn(number(seed)? as u64, &wishes);
            // A drawn show's first frame is its reference.
            (
                folder,
                Show::new(plan).and_then(|show| show_files(&show, 0)),
            )
        }
        _ => return Err(USAGE.to_owned()),
    };
    let files = files.map_err(|error| error.to_string())?;
    let folder = PathBuf::from(folder);
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
