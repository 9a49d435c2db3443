//! What a worker may use.

use std::time::Duration;

/// Limits of one worker.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Address space in bytes.
    pub memory_bytes: u64,
    /// Time for one task.
    pub task_time: Duration,
}

/// 1 GiB in bytes.
pub const GIBIBYTE: u64 = 1 << 30;

impl Default for Limits {
    /// 3 GiB: a 61-megapixel frame renders in about half of it, while a damaged file that asks for more is wrong anyway.
    /// 60 s: some thirty times what the slowest whole frame takes on one slow core.
    fn default() -> Self {
        Self {
            memory_bytes: 3 * GIBIBYTE,
            task_time: Duration::from_secs(60),
        }
    }
}

/// Bytes for people: whole or tenth parts of GiB, or MiB below one GiB.
#[must_use]
pub fn memory_in_words(bytes: u64) -> String {
    const MEBIBYTE: u64 = 1 << 20;
    if bytes < GIBIBYTE {
        return format!("{} MiB", bytes / MEBIBYTE);
    }
    let tenths = bytes * 10 / GIBIBYTE;
    match tenths % 10 {
        0 => format!("{} GiB", tenths / 10),
        part => format!("{}.{part} GiB", tenths / 10),
    }
}

/// Sets the limits that a process keeps on itself: address space, and no core file (thousands of damaged frames would
/// fill the disk with them). Where the system has no such limits nothing happens: the time limit still holds.
///
/// # Errors
/// When the system refuses, as it does when a tighter limit is already in force.
pub fn limit_this_process(memory_bytes: u64) -> std::io::Result<()> {
    #[cfg(unix)]
    {
        use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
        let hard = getrlimit(Resource::As).maximum;
        let wanted = hard.map_or(memory_bytes, |hard| hard.min(memory_bytes));
        let both = |value| Rlimit {
            current: Some(value),
            maximum: Some(value),
        };
        setrlimit(Resource::Core, both(0))?;
        setrlimit(Resource::As, both(wanted))?;
    }
    #[cfg(not(unix))]
    let _ = memory_bytes;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::memory_in_words;

    #[test]
    fn limits_read_well() {
        assert_eq!(memory_in_words(3 << 30), "3 GiB");
        assert_eq!(memory_in_words(3 << 29), "1.5 GiB");
        assert_eq!(memory_in_words(256 << 20), "256 MiB");
    }
}
