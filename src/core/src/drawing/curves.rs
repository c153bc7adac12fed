//! The overlay of characteristic curves, and the plot below it.

use super::{Plot, Role};
use crate::curve::Curve;
use crate::figures::{Figures, StraightLine};

/// How two curves are laid over each other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Alignment {
    /// As exposed: the common log H.
    AsExposed,
    /// Speed points over each other.
    SpeedPoint,
    /// Points of this density above base+fog over each other.
    NetDensity(f64),
}

/// What runs along the exposure axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExposureAxis {
    /// lg H.
    LogH,
    /// Stops.
    Stops,
}

/// What the lower plot shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LowerPlot {
    /// Local gradient.
    Gradient,
    /// Departure from the straight line.
    Departure,
}

/// One film's curve to be drawn.
#[derive(Debug, Clone, Copy)]
pub struct FilmCurve<'a> {
    /// Label.
    pub label: &'a str,
    /// Reference, candidate or another.
    pub role: Role,
    /// The curve.
    pub curve: &'a Curve,
    /// Its figures.
    pub figures: &'a Figures,
    /// Its straight line, if it has one.
    pub straight: Option<&'a StraightLine>,
}

/// The two plots, and by how much each film was moved.
#[derive(Debug, Clone, PartialEq)]
pub struct CurvePlots {
    /// Density over exposure.
    pub upper: Plot,
    /// Gradient or departure over exposure.
    pub lower: Plot,
    /// For each film, in order: x of the plot = (log H + shift) in log H, before any change to stops.
    pub shifts: Vec<f64>,
    /// What could not be done: a film without a speed point stays as exposed.
    pub notes: Vec<String>,
}

/// Draws films over each other.
#[must_use]
pub fn curve_plots(
    films: &[FilmCurve<'_>],
    alignment: Alignment,
    axis: ExposureAxis,
    lower: LowerPlot,
) -> CurvePlots {
    todo!("{} {alignment:?} {axis:?} {lower:?}", films.len())
}
