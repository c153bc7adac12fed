//! The workbench's room of sentences: rows like those of the core's [`words`](twinwedge_core::words), of what the core knows
//! nothing of: files, tables of text, the engine's questions to a series.

mod load;
mod remedy;
mod rules;
mod store;

pub use load::{File, Spectra, Table, Typed};
pub use remedy::Remedy;
pub use rules::{Rule, Work};
pub use store::Store;
