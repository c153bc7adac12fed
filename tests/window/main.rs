//! The window driven through its accessibility tree.

mod curves;
mod films;
mod frames;
mod greys;
mod report;
mod typed;
