//! Spectra with their checks, and lights: what documents may hold and greys are computed from.
//!
//! - [`spectrum`]: values over wavelength.
//! - [`light`]: lights by formula and by standard.

pub mod light;
pub mod spectrum;
pub(crate) mod tables;
