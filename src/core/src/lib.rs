//! Sensitometry, grain and comparison of black-and-white films as pure values and functions.
//!
//! Nothing here opens a file, draws a window, starts a thread of its own, reads a clock or writes a log, and chance
//! comes only from a seed that the caller gives: the same arguments give the same bits on every platform.
//! `DEVELOPERS.md` at the top of the repository is the map.
#![deny(missing_docs)]

pub mod bracket;
pub mod citation;
pub mod compare;
pub mod curve;
pub mod detail;
pub mod development;
pub mod document;
pub mod drawing;
pub mod figures;
pub mod found;
pub mod geometry;
pub mod grain;
pub mod greys;
pub mod measured;
pub mod numeric;
pub mod patch;
pub mod problem;
pub mod ranking;
pub mod recognise;
pub mod register;
pub mod scan;
pub mod sharpness;
pub mod shown;
pub mod spectra;
pub mod tablet;
pub mod tone;
pub mod units;
pub mod words;
