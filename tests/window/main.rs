//! The window driven through its accessibility tree.

mod bench;
mod curves;
mod films;
mod frames;
mod greys;
mod own_series;
mod pictures;
mod report;
mod tour;
mod typed;
