//! Figures as data: what is drawn, in data coordinates, for every painter (screen, SVG, later PDF and picture).

mod axis;
mod construction;
mod curves;
mod detail;
mod development;
mod edges;
mod granularity;
mod greys;
mod ladder;
mod map;
mod models;
mod paper;
mod quadrants;
mod spectrum;

pub use construction::{construction, has_construction};
pub use curves::{Alignment, CurvePlots, ExposureAxis, FilmCurve, LowerPlot, Readout, curve_plots, readout};
pub use detail::{coherence_plot, signal_to_grain_plot};
pub use development::{DevelopmentPlots, development_plots};
pub use edges::{EdgePlots, FilmEdge, edge_plots};
pub use granularity::{FilmGrain, GranularityPlots, granularity_plots};
pub use greys::{GreyRow, GreysPicture, greys_picture};
pub use ladder::{LADDER_NOTE, LadderStep, grey_ladder, screen_grey};
pub use map::{MapAxis, Mapped, map_plot};
pub use models::{add_models, mark_word};
pub use paper::paper_plot;
pub use quadrants::{FourQuadrants, Quadrant, four_quadrants, zone_marks};
pub use spectrum::{SpectrumOf, autocorrelation_plot, spectrum_plot};

/// Which film a mark belongs to; painters choose line, mark and tone by it, never by hue alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// Solid line in ink, filled round marks.
    Reference,
    /// Dashed line in the one accent, open square marks.
    Candidate,
    /// Thin pale line, labelled at the line.
    Other,
    /// Neutral helper: zero lines, limits.
    Guide,
}

/// One thing drawn on a plot.
#[derive(Debug, Clone, PartialEq)]
pub enum Layer {
    /// A line through points.
    Line {
        /// What the film is to the comparison.
        role: Role,
        /// Name for legends and readers.
        name: String,
        /// Points x, y in data coordinates.
        points: Vec<[f64; 2]>,
    },
    /// An uncertainty band: x, low, high.
    Band {
        /// What the film is to the comparison.
        role: Role,
        /// x, low, high.
        points: Vec<[f64; 3]>,
    },
    /// Points as they were measured.
    Marks {
        /// What the film is to the comparison.
        role: Role,
        /// Name for legends and readers.
        name: String,
        /// Points x, y in data coordinates.
        points: Vec<[f64; 2]>,
        /// Drawn crossed out: set aside.
        set_aside: bool,
        /// Strip that they were read on, 0 the first: each has a shape of its own.
        strip: usize,
    },
    /// A single point with a text: a speed point.
    Note {
        /// What the film is to the comparison.
        role: Role,
        /// Where it is, x and y.
        at: [f64; 2],
        /// What is written there.
        text: String,
    },
    /// A straight piece with its ends marked: a straight-line range.
    Segment {
        /// What the film is to the comparison.
        role: Role,
        /// Where it begins, x and y.
        from: [f64; 2],
        /// Where it ends, x and y.
        to: [f64; 2],
        /// What is written there.
        text: String,
    },
    /// A line across the plot at an x.
    Upright {
        /// What the film is to the comparison.
        role: Role,
        /// Where it stands along x.
        x: f64,
        /// What is written there.
        text: String,
    },
    /// A line across the plot at a y.
    Level {
        /// What the film is to the comparison.
        role: Role,
        /// Where it stands along y.
        y: f64,
        /// What is written there.
        text: String,
    },
}

impl Layer {
    /// Which film it belongs to.
    #[must_use]
    pub fn role(&self) -> Role {
        match self {
            Self::Line { role, .. }
            | Self::Band { role, .. }
            | Self::Marks { role, .. }
            | Self::Note { role, .. }
            | Self::Segment { role, .. }
            | Self::Upright { role, .. }
            | Self::Level { role, .. } => *role,
        }
    }
}

/// An axis: what it says, from where to where it goes, and where it is ruled.
#[derive(Debug, Clone, PartialEq)]
pub struct Axis {
    /// Label with unit.
    pub label: String,
    /// Lowest and highest value shown.
    pub range: (f64, f64),
    /// Distance of heavy grid lines.
    pub major: f64,
    /// Distance of fine grid lines.
    pub minor: f64,
}

/// A plot as data, for any painter.
#[derive(Debug, Clone, PartialEq)]
pub struct Plot {
    /// What it shows, for readers and captions.
    pub title: String,
    /// The axis from left to right.
    pub x: Axis,
    /// The axis from below upwards.
    pub y: Axis,
    /// Length of one x unit on paper over that of one y unit; `None` leaves the axes free. Density over log H at one
    /// scale (a gradient of 1 rises at 45 degrees) is 1 in log H and lg 2 in stops.
    pub x_per_y: Option<f64>,
    /// What is drawn, back to front.
    pub layers: Vec<Layer>,
}

#[cfg(test)]
mod tests;
