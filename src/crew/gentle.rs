//! Working only where nobody else wants to: for a night that runs while its owner works.

/// Gives this thread, and every thread and process that it starts from now on, the lowest class of scheduling. On Linux that
/// is `SCHED_IDLE` (sched(7)), whose threads are also served last by the drive: the kernel counts them as its idle class of
/// reading and writing as long as no other class was set (ioprio_set(2)). Elsewhere it is the lowest priority.
///
/// # Errors
/// When the system refuses, in its own words.
pub fn be_gentle() -> Result<(), String> {
    #[cfg(target_os = "linux")]
    {
        use thread_priority::{
            NormalThreadSchedulePolicy, ThreadPriority, ThreadSchedulePolicy,
            set_thread_priority_and_policy, thread_native_id,
        };
        let policy = ThreadSchedulePolicy::Normal(NormalThreadSchedulePolicy::Idle);
        set_thread_priority_and_policy(thread_native_id(), ThreadPriority::Min, policy)
            .map_err(|error| error.to_string())
    }
    #[cfg(all(unix, not(target_os = "linux")))]
    {
        /// The lowest (POSIX, nice).
        const NICEST: i32 = 19;
        rustix::process::setpriority_process(None, NICEST).map_err(|error| error.to_string())
    }
    #[cfg(not(unix))]
    {
        thread_priority::set_current_thread_priority(thread_priority::ThreadPriority::Min)
            .map_err(|error| error.to_string())
    }
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::be_gentle;
    use std::fs;

    /// The scheduling policy of a thread: field 41 of proc(5), `stat`.
    fn policy(stat: &str) -> Option<u32> {
        let stat = fs::read_to_string(stat).ok()?;
        let after_name = stat.rsplit(')').next()?;
        after_name.split_whitespace().nth(38)?.parse().ok()
    }

    #[test]
    fn threads_and_processes_that_are_started_inherit_it() {
        /// sched(7).
        const SCHED_IDLE: u32 = 5;
        // In a thread of its own: the other tests shall not be slow.
        let seen = std::thread::spawn(|| {
            be_gentle().expect("allowed to everybody");
            let here = policy("/proc/thread-self/stat");
            let thread = std::thread::spawn(|| policy("/proc/thread-self/stat"));
            let output = std::process::Command::new("cat")
                .arg("/proc/self/stat")
                .output()
                .expect("started");
            let text = String::from_utf8_lossy(&output.stdout).into_owned();
            let after_name = text.rsplit(')').next().expect("fields").to_owned();
            let child = after_name
                .split_whitespace()
                .nth(38)
                .and_then(|field| field.parse().ok());
            [here, thread.join().expect("ended"), child]
        });
        assert_eq!(seen.join().expect("ended"), [Some(SCHED_IDLE); 3]);
    }
}
