//! Whole series, end to end, through the session that window and verbs hold.
#![allow(clippy::unwrap_used, reason = "helpers of tests fail as tests do")]

mod afresh;
mod development;
mod edits;
mod files;
mod folders;
mod formats;
mod frames;
mod grain_seen;
mod growth;
mod history;
mod memory;
mod names;
mod report;
mod report_pages;
mod rules;
mod saving;
mod scans;
#[path = "../shared/mod.rs"]
#[allow(dead_code, reason = "shared by several test crates, of which none needs all of it")]
mod shared;
mod slides;
mod support;
