//! A fence around code that panics on damaged input.
//!
//! Both raw decoders index and unwrap where a damaged file can reach, and print a page for each panic, from threads of
//! their own. The fence catches the unwinding and keeps the noise away. It cannot catch an abort or a hang: that is what
//! worker processes are for.

use std::cell::Cell;
use std::panic::{self, AssertUnwindSafe};
use std::sync::Once;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Calls behind the fence now, in all threads.
static BEHIND: AtomicUsize = AtomicUsize::new(0);

thread_local! {
    static INSIDE: Cell<bool> = const { Cell::new(false) };
}

/// Panics are quiet in a thread that is behind the fence, and, while any is, in threads without a name: the decoders' own
/// pool has none, while the program's threads and those of tests have one.
fn install_hook() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        let before = panic::take_hook();
        panic::set_hook(Box::new(move |about| {
            let nameless =
                BEHIND.load(Ordering::SeqCst) > 0 && std::thread::current().name().is_none();
            if !(INSIDE.get() || nameless) {
                before(about);
            }
        }));
    });
}

/// What `work` returns, or the text of its panic.
pub(super) fn fenced<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    install_hook();
    BEHIND.fetch_add(1, Ordering::SeqCst);
    let was_inside = INSIDE.replace(true);
    let outcome = panic::catch_unwind(AssertUnwindSafe(work));
    INSIDE.set(was_inside);
    BEHIND.fetch_sub(1, Ordering::SeqCst);
    outcome.map_err(|payload| {
        payload
            .downcast_ref::<String>()
            .cloned()
            .or_else(|| {
                payload
                    .downcast_ref::<&str>()
                    .map(|text| (*text).to_owned())
            })
            .unwrap_or_else(|| "a panic without words".to_owned())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_becomes_its_text() {
        assert_eq!(fenced(|| 5), Ok(5));
        let index = std::hint::black_box(7);
        let caught = fenced(|| [1, 2, 3][index]).expect_err("a panic");
        assert!(caught.contains("out of bounds"), "{caught}");
    }
}
