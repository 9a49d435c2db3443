//! Whole shows, drawn by lot and carried, against what is known of them. `--nocapture` prints the figures.

#![allow(
    clippy::expect_used,
    clippy::print_stderr,
    reason = "a test that meets the unexpected should stop there, and says what it found"
)]

#[expect(dead_code, reason = "the figures' printer reads shows from folders")]
mod show_support;

use houselights::look::presets::preset;
use show_support::{Cutting, KnownShow};
use stage_simulator::{Show, ShowPlan, Wishes};

#[test]
fn a_drawn_show_is_carried() {
    let show = Show::new(ShowPlan::drawn(31, &Wishes::default())).expect("a show");
    let known = KnownShow::drawn(&show);
    let outcome = known.carried(
        &preset("faithful").expect("a preset"),
        known.card(),
        Cutting::Read,
    );
    let figures = known.figures(&outcome.corrected());
    eprintln!("{figures:?} against {:?}", known.figures(&known.perfect()));
    assert!(figures.mcdm.is_finite());
}
