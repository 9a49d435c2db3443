//! A look is what a person decided, in a file; a [`correction::Correction`] is what one frame gets, in plain numbers.
//!
//! Solving a look from a reference frame and carrying it over a show are done here, from readings alone, without a pixel.
//! [`file::Look`] holds the decisions; [`fields`] lists every field once, and that one list reads files, writes them,
//! describes them and checks their ranges. [`solve`] turns a look and a reference reading into a look that remembers the
//! reference; [`carry`] turns such a look and the readings of a show into one correction a frame, with reasons.

#![allow(
    clippy::manual_clamp,
    clippy::neg_cmp_op_on_partial_ord,
    reason = "clamp lets NaN through where max().min() takes the lower bound; a negated comparison refuses NaN on purpose"
)]

pub mod carry;
pub mod correction;
pub mod curve;
pub mod describe;
pub mod fields;
pub mod file;
pub mod keys;
pub mod overrule;
pub mod presets;
pub mod quantity;
pub mod read;
pub mod reason;
pub mod solve;
mod write;
