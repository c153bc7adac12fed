//! What happens when the disk fails, operation by operation.
#![allow(clippy::unwrap_used, reason = "what a test prepares itself is there")]

mod reading;
