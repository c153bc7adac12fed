//! What several test crates need: chance that the program does not draw, and scans that are written here.

pub(crate) mod chance;
pub(crate) mod scans;
