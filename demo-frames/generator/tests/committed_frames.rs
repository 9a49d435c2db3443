//! The demo frames in the repository are what the generator makes, byte for byte.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use stage_simulator::demo_files;
use std::collections::BTreeSet;
use std::path::Path;

/// All frames and the truth together, so that a clone stays small.
const LARGEST_TOGETHER: usize = 12_000_000;

#[test]
fn committed_frames_equal_what_the_generator_makes() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let made = demo_files().unwrap();
    let mut wrong = Vec::new();
    for (name, bytes) in &made {
        match std::fs::read(folder.join(name)) {
            Ok(committed) if committed == *bytes => {}
            Ok(committed) => {
                let differs = committed.iter().zip(bytes).position(|(a, b)| a != b);
                wrong.push(format!(
                    "{name} differs from byte {:?} ({} and {} bytes)",
                    differs.unwrap_or(committed.len().min(bytes.len())),
                    committed.len(),
                    bytes.len()
                ));
            }
            Err(error) => wrong.push(format!("{name} cannot be read: {error}")),
        }
    }
    assert!(
        wrong.is_empty(),
        "make them anew with `cargo run --release -p stage-simulator -- demo-frames` if the change is meant:\n{}",
        wrong.join("\n")
    );

    let made_names: BTreeSet<&str> = made.iter().map(|(name, _)| name.as_str()).collect();
    for entry in std::fs::read_dir(&folder).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            !name.ends_with(".dng") || made_names.contains(name.as_str()),
            "{name} is no longer made"
        );
    }
    let together: usize = made.iter().map(|(_, bytes)| bytes.len()).sum();
    assert!(together <= LARGEST_TOGETHER, "{together} bytes");
}
