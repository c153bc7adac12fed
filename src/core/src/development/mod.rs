//! Development: gradient over time and temperature, the time for a wanted gradient, and predicted curves.
//!
//! - [`kinetics`]: the first-order law, its fit to rolls of one film, and its inversion.
//! - [`temperature`]: Arrhenius' law and the coefficient per 10 °C.
//! - [`family`]: rolls of one film developed for different times; what they say together, or what one roll allows to assume.
//! - [`predicted`]: the curve of a film as if developed to another contrast.
//!
//! What one roll cannot say is offered as *assumed* and carries that flag wherever it goes.

mod advice;
pub mod family;
pub mod kinetics;
pub mod predicted;
pub mod temperature;

pub use advice::{Band, Basis, LawFound, TimeAt};
