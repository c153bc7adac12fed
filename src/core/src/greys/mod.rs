//! How does a film turn colours into greys?
//!
//! A print's densities do not tell: contrast of film and paper parts the same greys more or less. So each density is first taken
//! back to the exposure that the film received, and films are compared by that.
//!
//! - [`stops`]: print or negative density of each patch, back to stops from the grey card.
//! - [`rendering`]: two films, patch by patch and by families of colour: lighter, darker, or not distinguishable.
//! - [`sensitivity`]: which share of its exposure a film takes from blue, green and red light, and what the patches do not tell.
//! - [`filters`]: filter factors, greys through a filter, and the filter that brings one film nearest to another.
//! - [`lighting`]: whether the light of two frames was the same, from greys at two places, and what a change would fake.
//! - [`spectrum`], [`light`], [`colour`]: spectra with their checks, lights, and the colour of a reflectance.
//! - [`pair`]: two films as they are shown.
//! - [`ends`]: areas of a print that are as white as its paper, or as black as it gets. [`munsell`]: the ladder of greys.
//!
//! Everything here is numbers, reasons and flags; sentences are made where they are shown. Stops are positive where a patch is
//! lighter than what it is compared with.

pub mod colour;
pub mod ends;
pub mod filters;
pub mod holm;
pub mod lighting;
pub mod munsell;
pub mod pair;
pub mod rendering;
pub mod sensitivity;
pub mod stops;
mod tables;

pub use crate::spectra::{light, spectrum};
