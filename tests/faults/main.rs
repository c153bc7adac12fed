//! What the disk, the power and other processes can do to files, done on purpose: every operation fails in turn, operations
//! are lost and reordered as a power cut may lose them, processes are killed at any moment, and two of them work on one series.
//!
//! `TWINWEDGE_KILLS=2000,500` kills so often while saving and while a session works; without it, a few.
#![allow(clippy::print_stdout, reason = "tables of what was tried are printed")]
#![allow(clippy::unwrap_used, reason = "helpers of tests fail as tests do")]

mod child;
mod failing;
mod kills;
mod paths;
mod power;
mod reading;
mod recovered;
mod support;
mod two;
