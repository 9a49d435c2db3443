//! Ctrl-C and the system's wish that the program end: the first raises the wish to stop, the second ends it at once.

use super::exit::Exit;
use crate::base::progress::StopWish;
use signal_hook::consts::TERM_SIGNALS;
use signal_hook::flag;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// Lets the ending signals raise `stop`. Where that is refused they end the program as they always do, which loses
/// nothing: pictures are whole or absent.
pub(super) fn raise_on_signal(stop: &StopWish) {
    for &signal in TERM_SIGNALS {
        // In this order: the second signal finds the flag raised by the first.
        let code = i32::from(Exit::Interrupted.code());
        let _ = flag::register_conditional_shutdown(signal, code, stop.flag());
        let _ = flag::register(signal, stop.flag());
    }
}

/// Lets the work go on when its terminal is closed: who sleeps next to a night has often closed its window.
pub(super) fn outlive_terminal() {
    // A flag that nobody reads is a handler, so that the signal does not end the program.
    #[cfg(unix)]
    let _ = flag::register(
        signal_hook::consts::SIGHUP,
        Arc::new(AtomicBool::new(false)),
    );
}
