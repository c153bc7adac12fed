//! Whole series, end to end, through the session that window and verbs hold.

mod history;
mod saving;
mod support;
