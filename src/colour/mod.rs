//! What the standards say about colour: spaces, transfer curves, adaptation, white points, camera colour, colour
//! difference, gamut mapping, profiles.

pub mod camera;
