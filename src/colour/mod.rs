//! What the standards say about colour: spaces, transfer curves, adaptation, white points, camera colour, colour
//! difference, gamut mapping, profiles.
//!
//! Everything here is a pure function of numbers: no files, no clock, no threads. Matrices and white points are worked
//! out in double precision once a frame; what runs per pixel is in single precision, comes as a function of one pixel
//! and as a function of a row of three planes, and keeps neutral pixels neutral to the last bit.

#![expect(
    clippy::manual_clamp,
    reason = "clamp lets NaN through; max and min turn it into the lower bound"
)]

pub mod adaptation;
pub mod angle;
pub mod camera;
pub mod codes;
pub mod difference;
pub mod gamut;
pub mod ictcp;
pub mod lab;
pub mod observer;
pub mod oklab;
pub mod output_space;
pub mod printer;
pub mod profile;
pub mod spaces;
pub mod temperature;
pub mod tint;
pub mod transfer;
