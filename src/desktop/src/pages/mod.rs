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

use twinwedge_workbench::core::document::{Film, FilmId, Series};
use twinwedge_workbench::session::Session;

use crate::actions::{Action, Keys, Spec};
use crate::outbox::Outbox;
pub use crate::place::{Aligned, PageId, Selected};
use crate::settings::Screen;

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
    /// Keys of the figures that the table of films shows, where the tester chose them.
    pub film_figures: Option<&'a [String]>,
}

impl<'a> View<'a> {
    /// The further films that are laid over the pair.
    pub fn others(&self) -> impl Iterator<Item = &'a Film> + use<'a> {
        let pair = [self.reference, self.candidate].map(|film| film.map(|film| &film.id));
        let series = self.series;
        self.also.iter().filter(move |id| !pair.contains(&Some(*id))).filter_map(move |id| series.film(id))
    }

    /// Whether an action can be done now.
    #[must_use]
    pub fn allows(&self, action: &Spec) -> bool {
        (action.enabled)(self.session, self.selected)
    }

    /// The films on the bench, reference first.
    pub fn bench(&self) -> impl Iterator<Item = &'a Film> {
        self.reference.into_iter().chain(self.candidate)
    }
}

/// What the shell asks of a page, whichever it is.
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
    /// The page of that name, with what it keeps.
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
