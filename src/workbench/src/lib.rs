//! The engine of Twinwedge without a window: the session that window, verbs and tests all hold; files in and out.
#![deny(missing_docs)]

pub mod beginning;
pub mod cells;
pub mod disk;
pub mod edits;
pub mod engine;
pub mod export;
pub mod finding;
pub mod folder;
pub mod fonts;
pub mod import;
pub mod intake;
pub mod load;
pub mod sample;
pub mod session;
pub mod store;
pub mod typed;
pub mod words;

pub use twinwedge_core as core;
