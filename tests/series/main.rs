//! Whole series, end to end, through the session that window and verbs hold.

mod files;
mod history;
mod memory;
mod saving;
mod support;
