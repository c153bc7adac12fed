//! Where the tester is: which page is shown, what is selected on whichever page shows it, and how both curves are laid over each
//! other.

use serde::{Deserialize, Serialize};
use twinwedge_workbench::core::drawing::Alignment;
use twinwedge_workbench::core::figures::FigureId;

/// What is selected; kept when the candidate changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Selected {
    /// No step, spot, patch or figure.
    #[default]
    Nothing,
    /// A step of the tablet, from 1.
    Step(u32),
    /// A spot, by its index in the series.
    Spot(usize),
    /// A patch, by its index in the layout.
    Patch(usize),
    /// A figure of merit: its construction is drawn on the curves.
    Figure(FigureId),
}

/// Which points of two curves lie over each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Align {
    /// As the light put them.
    #[default]
    AsExposed,
    /// Their speed points.
    SpeedPoint,
    /// Points of one density above base+fog.
    Density,
}

/// How both curves are laid over each other, with the density for [`Align::Density`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aligned {
    /// Which points of both lie over each other.
    pub at: Align,
    /// Density above base+fog.
    pub net_density: f64,
}

impl Default for Aligned {
    fn default() -> Self {
        Self { at: Align::default(), net_density: 0.6 }
    }
}

impl Aligned {
    /// For the drawings.
    #[must_use]
    pub fn alignment(self) -> Alignment {
        match self.at {
            Align::AsExposed => Alignment::AsExposed,
            Align::SpeedPoint => Alignment::SpeedPoint,
            Align::Density => Alignment::NetDensity(self.net_density),
        }
    }
}

/// Names a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum PageId {
    /// The series as a table.
    Films,
    /// Step tablets and scanner calibration.
    Tablets,
    /// Characteristic curves over each other.
    #[default]
    Curves,
    /// Rolls over development time, and predicted curves.
    Times,
    /// Zones, paper and the way of a tone.
    Tones,
    /// Brackets and the shadow match.
    Frames,
    /// Prints registered to each other.
    Prints,
    /// Colour patches as greys.
    Greys,
    /// Granularity and crops.
    Grain,
    /// Findings, verdict, export.
    Report,
}

impl PageId {
    /// All pages, in the order of the stations.
    pub const ALL: [Self; 10] = [
        Self::Films,
        Self::Tablets,
        Self::Curves,
        Self::Times,
        Self::Tones,
        Self::Frames,
        Self::Prints,
        Self::Greys,
        Self::Grain,
        Self::Report,
    ];

    /// What its station is called.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Films => "Films",
            Self::Tablets => "Tablets",
            Self::Curves => "Curves",
            Self::Times => "Times",
            Self::Tones => "Tones",
            Self::Frames => "Frames",
            Self::Prints => "Prints",
            Self::Greys => "Greys",
            Self::Grain => "Grain",
            Self::Report => "Report",
        }
    }

    /// What is done there, for its hover text.
    #[must_use]
    pub fn hover(self) -> &'static str {
        match self {
            Self::Films => "The series as a table: records, measured figures, what is missing",
            Self::Tablets => "Step densities of both films, and the calibration of the scanner",
            Self::Curves => "Both characteristic curves over each other",
            Self::Times => {
                "Gradient over development time: the time for a wanted contrast, and predicted curves"
            }
            Self::Tones => "Zones on both films rated alike, the paper, and a tone from subject to print",
            Self::Frames => "Brackets: shadow match, exposure index, print exposure",
            Self::Prints => "Both prints registered to each other; a click samples the same spot in both",
            Self::Greys => "The colour patches of both prints as greys",
            Self::Grain => "Granularity of both films, and crops at one scale",
            Self::Report => "Findings with their evidence, verdict, export",
        }
    }
}
