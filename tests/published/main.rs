//! Values that are published elsewhere, or follow from a published definition; `check-values.json` gives the source of
//! each and says what kind of evidence it is.
#![allow(clippy::unwrap_used, reason = "a check that cannot be read has failed")]

mod check_values;
mod coherence;
mod curve;
mod densities;
mod development;
mod edges;
mod grain;
mod greys;
mod handbook;
mod models;
mod register;
mod scan;
mod sharpness;
mod strips;
mod tone;
mod units;
mod viewer;
mod wedges;
