//! The window of Twinwedge: the only crate that names egui.
