//! Processes as the system shows them, and signals to them.

use std::fs;
use std::process::Command;

/// Living children of a process (proc(5): /proc/PID/stat, the fourth field is the parent).
pub(crate) fn children(parent: u32) -> Vec<u32> {
    let entries = fs::read_dir("/proc").expect("proc").flatten();
    let processes = entries.filter_map(|entry| entry.file_name().to_str()?.parse::<u32>().ok());
    processes
        .filter(|process| {
            let stat = fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
            let fields: Vec<&str> = stat
                .rsplit(')')
                .next()
                .unwrap_or_default()
                .split_whitespace()
                .collect();
            fields.first() != Some(&"Z") && fields.get(1) == Some(&parent.to_string().as_str())
        })
        .collect()
}

#[allow(dead_code, reason = "the tests of one command or another use it")]
pub(crate) fn is_gone(process: u32) -> bool {
    let stat = fs::read_to_string(format!("/proc/{process}/stat")).unwrap_or_default();
    stat.is_empty() || stat.contains(") Z ")
}

pub(crate) fn signal(process: u32, name: &str) {
    signal_all(&[process], name);
}

/// Signals to several processes, by one program: none of them does much between the first signal and the last.
pub(crate) fn signal_all(processes: &[u32], name: &str) {
    let _ = Command::new("kill")
        .arg(format!("-{name}"))
        .args(processes.iter().map(ToString::to_string))
        .output();
}
