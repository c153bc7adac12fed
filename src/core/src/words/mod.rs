//! Sentences for what results say by type: reasons with their quantities. Nothing in the core reads these sentences; window,
//! report and verbs take them from here, so that one reason has the same words everywhere.

mod scan;

pub use scan::no_flare;
