//! The colour room against published tables. Every table in `tests/data` names its publication and the tool that
//! computed it in a `source` field; each test repeats the publication beside its check.

#![allow(
    clippy::expect_used,
    clippy::unwrap_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    missing_docs,
    reason = "a test that meets the unexpected should stop there"
)]

mod camera;
mod differences;
mod gamut_laws;
mod gamut_tables;
mod profile;
mod scene;
mod spaces;
mod tables;
mod temperature;
mod transfer;
