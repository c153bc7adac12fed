//! Numerical methods under the measurements: elementary functions, roots, splines, robust statistics.

pub mod math;
