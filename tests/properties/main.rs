//! What must hold whatever the data are.
#![allow(clippy::unwrap_used, reason = "what a test prepares itself is there")]

mod curve;
mod series;
mod strips;
