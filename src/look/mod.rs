//! A look is what a person decided, in a file; a [`correction::Correction`] is what one frame gets, in plain numbers.
//!
//! Solving a look from a reference frame and carrying it over a show are done here, from readings alone, without a pixel.

pub mod correction;
