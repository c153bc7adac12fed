//! Results on files whose truth a simulator or a formula knows that shares no code with the program.
#![allow(clippy::unwrap_used, reason = "what a test prepares itself is there")]
#![allow(clippy::print_stdout, reason = "a study prints its table")]

mod claims;
mod claims_greys;
mod conclusions;
mod coverage;
mod curve;
mod detail;
mod development;
mod edges;
mod encodings;
mod folders;
mod found_strips;
mod fraction;
mod frames;
mod grain;
mod granularity;
mod greys;
mod greys_lighting;
mod greys_scene;
mod greys_sensitivity;
mod misread;
mod patch_borders;
mod perforated;
mod prints;
mod recognise;
mod register;
mod sample;
mod sample_greys;
mod scan_trust;
mod scanner;
mod scanner_faults;
mod scanner_loss;
mod scans;
#[path = "../shared/mod.rs"]
#[allow(dead_code, reason = "shared by several test crates, of which none needs all of it")]
mod shared;
mod shared_calibration;
mod spectrum;
mod spectrum_noise;
mod strips;
/// Shared with `cargo dev study`.
#[path = "../../src/dev/src/study/mod.rs"]
mod study;
/// Shared with `cargo dev`.
#[path = "../../src/dev/src/tiff.rs"]
#[allow(dead_code, reason = "the sample packs its scans in other ways too")]
mod tiff;
mod tone;
