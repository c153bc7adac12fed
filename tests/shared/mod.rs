//! What several test crates need: chance that the program does not draw, and scans that are written here.

pub(crate) mod chance;
pub(crate) mod scans;

/// How many cases a study takes: as many as every change is tried on, or with `TWINWEDGE_THOROUGH` set all of them.
pub(crate) fn cases(usual: u64, thorough: u64) -> u64 {
    if std::env::var_os("TWINWEDGE_THOROUGH").is_some() { thorough } else { usual }
}
