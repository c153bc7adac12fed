//! Spectra with their checks, and lights: what documents may hold, and greys and densities are computed from.
//!
//! - [`density`]: densities of ISO 5-3 from spectra.
//! - [`spectrum`]: values over wavelength.
//! - [`light`]: lights by formula and by standard.

pub mod density;
pub mod light;
pub mod spectrum;
pub(crate) mod tables;
