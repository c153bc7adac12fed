//! The pages and what they are given.
//!
//! A page is a struct that owns what it shows and nothing else (zoom, which plot, text being typed). It reads a [`View`],
//! asks the session with `peek` (which never blocks), and puts what it wants into the [`Outbox`]. It never changes the
//! session.

mod aperture;
pub mod curves;
pub mod films;
pub mod frames;
pub mod grain;
pub mod greys;
mod left_out;
mod missing;
pub mod prints;
pub mod report;
mod sampling;
mod scan_choices;
mod scan_encoding;
mod scan_trust;
pub mod tablets;
pub mod times;
pub mod tones;

use serde::{Deserialize, Serialize};
use twinwedge_workbench::core::document::{Film, FilmId, Series};
use twinwedge_workbench::core::drawing::Alignment;
use twinwedge_workbench::core::figures::FigureId;
use twinwedge_workbench::session::Session;

use crate::actions::{Action, Keys};
use crate::outbox::Outbox;
use crate::shell::settings::Screen;

/// Most films beside the pair that are laid over it.
pub const ALSO: usize = 2;

/// What a page may read.
#[derive(Debug, Clone, Copy)]
pub struct View<'a> {
    /// To `peek` into; its document is [`View::series`].
    pub session: &'a Session,
    /// The document as it stands, gesture included.
    pub series: &'a Series,
    /// The film that all are compared with.
    pub reference: Option<&'a Film>,
    /// The film that lies beside it.
    pub candidate: Option<&'a Film>,
    /// Further films that are laid over the pair, at most [`ALSO`].
    pub also: &'a [FilmId],
    /// The step, spot or patch that is selected, whichever film lies on the bench.
    pub selected: Selected,
    /// How both curves are laid over each other.
    pub aligned: Aligned,
    /// Which key does what, for hover texts.
    pub keys: &'a Keys,
    /// The screen, for pictures of true size.
    pub screen: Screen,
}

impl<'a> View<'a> {
    /// The further films that are laid over the pair.
    pub fn others(&self) -> impl Iterator<Item = &'a Film> + use<'a> {
        let pair = [self.reference, self.candidate].map(|film| film.map(|film| &film.id));
        let series = self.series;
        self.also.iter().filter(move |id| !pair.contains(&Some(*id))).filter_map(move |id| series.film(id))
    }

    /// The films on the bench, reference first.
    pub fn bench(&self) -> impl Iterator<Item = &'a Film> {
        self.reference.into_iter().chain(self.candidate)
    }
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
    /// Which points.
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

/// What is selected; kept when the candidate changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Selected {
    /// Nothing.
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

/// One page.
pub trait Page {
    /// Draws the page in the middle of the window.
    fn ui(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox);

    /// Draws the readout on the right, already in a scroll area: reference, candidate, difference, uncertainty, what it is
    /// made of, cautions.
    fn readout(&mut self, ui: &mut egui::Ui, view: &View<'_>, outbox: &mut Outbox);

    /// Lets go of the textures of its pictures: they are made anew when it is drawn next.
    fn forget_pictures(&mut self) {}

    /// Does an action of this page; `false` if it does not know it.
    fn act(&mut self, action: Action, view: &View<'_>, outbox: &mut Outbox) -> bool {
        let _ = (action, view, outbox);
        false
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

    /// Its word.
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

/// All pages with what each keeps.
#[derive(Debug, Default)]
pub struct Pages {
    films: films::Films,
    tablets: tablets::Tablets,
    curves: curves::Curves,
    times: times::Times,
    tones: tones::Tones,
    frames: frames::Frames,
    prints: prints::Prints,
    greys: greys::Greys,
    grain: grain::Grain,
    report: report::Report,
}

impl Pages {
    /// One page.
    pub fn page(&mut self, id: PageId) -> &mut dyn Page {
        match id {
            PageId::Films => &mut self.films,
            PageId::Tablets => &mut self.tablets,
            PageId::Curves => &mut self.curves,
            PageId::Times => &mut self.times,
            PageId::Tones => &mut self.tones,
            PageId::Frames => &mut self.frames,
            PageId::Prints => &mut self.prints,
            PageId::Greys => &mut self.greys,
            PageId::Grain => &mut self.grain,
            PageId::Report => &mut self.report,
        }
    }
}
