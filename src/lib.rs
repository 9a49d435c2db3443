//! Post-show batch image toolkit with consistent look matching: the raws of a show become sRGB pictures in one
//! consistent colour.
//!
//! A frame walks through the house once: [`raw`] decodes it, [`light`] reads its light, [`look`] decides its correction,
//! [`render`] makes pixels, [`deliver`] writes the file. [`base`] and [`colour`] are the ground; [`crew`] runs workers,
//! [`show`] runs a whole show, [`cli`] talks to the person. DEVELOPERS.md draws the house.

#![cfg_attr(
    test,
    allow(
        clippy::expect_used,
        clippy::unwrap_used,
        clippy::panic,
        reason = "a test that meets the unexpected should stop there"
    )
)]

pub mod base;
pub mod cli;
pub mod colour;
pub mod crew;
pub mod deliver;
pub mod light;
pub mod look;
pub mod night;
pub mod raw;
pub mod render;
pub mod show;
