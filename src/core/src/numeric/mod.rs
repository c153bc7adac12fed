//! Numerical methods under the measurements: elementary functions, roots, splines, least squares, robust statistics.
//!
//! Every function is pure; chance comes from [`random::Stream`] and the seed that its caller gives.

pub mod banded;
pub mod interpolate;
pub mod isotonic;
pub mod math;
pub mod monotone;
pub mod nonnegative;
pub mod polynomial;
pub mod quantiles;
pub mod random;
pub mod robust;
pub mod roots;
pub mod tilt;
pub mod wide;
