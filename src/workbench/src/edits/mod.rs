//! What can be done to a series, by name. An [`Operation`] is plain data: what is to change. It knows what it is called in
//! the menu, and it does the change or refuses it with a problem. Window, lists, folders and verbs send the same ones.
//!
//! Each file holds the operations on one part of the series. A new one is a variant there, its words in `label`, what it does
//! in `apply`, and a test beside it. [`Session::carry_out`](crate::session::Session::carry_out) makes one step of the history
//! of it, [`Session::preview`](crate::session::Session::preview) shows it while something is dragged.

mod areas;
mod brackets;
mod calibrations;
mod development;
mod edges;
mod films;
mod findings;
mod layouts;
mod papers;
mod prints;
mod record;
mod scans;
mod spots;
mod strips;
mod tablets;
mod taking;
mod target;
mod together;
mod tones;
mod viewing;

use std::sync::Arc;

use twinwedge_core::document::{Film, FilmId, Series};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::words::Sentence;

pub use areas::{AreaChange, resting_place};
pub use brackets::{BracketChange, FrameChange};
pub use calibrations::{CalibrationChange, CalibrationEdit};
pub use development::DevelopmentEdit;
pub use edges::{EdgeChange, ScannerEdgeEdit};
pub use films::{FilmChange, FilmEdit, FilmNumber, FilmText};
pub use findings::FindingEdit;
pub use layouts::{LayoutEdit, PatchChange, role_words};
pub use papers::PaperEdit;
pub use prints::PrintChange;
pub use record::{Condition, RecordEdit, Setting};
pub use scans::{KnownChange, ScanChange, ScanEdit};
pub use spots::SpotEdit;
pub use strips::{StripChange, StripEdit, named, removable};
pub use tablets::{TabletChoice, TabletEdit, TabletOf};
pub use taking::{NewScan, Part, Place, Taking};
pub use target::TargetEdit;
pub use together::Together;
pub use tones::{ToneEdit, ToneNumber};
pub use viewing::ViewingEdit;

pub(crate) use films::add as add_film;
pub(crate) use papers::put_test;
pub(crate) use tablets::put as put_tablet;
pub(crate) use taking::{add_strip, put_calibration, put_first_strip};

impl<C: Change> Change for Box<C> {
    fn label(&self, series: &Series) -> String {
        C::label(self, series)
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        C::apply(*self, series)
    }
}

/// What every kind of operation can do.
pub(crate) trait Change {
    /// What it is called after 'Undo', told of the series before it.
    fn label(&self, series: &Series) -> String;

    /// Does it. What a problem leaves behind is dropped by the caller, and values out of range are refused there.
    fn apply(self, series: &mut Series) -> Result<(), Problem>;
}

/// A change that another room has made ready: files that were read before, so that none is read while it is done.
pub trait MadeReady: std::fmt::Debug + Send + Sync {
    /// What it is called after 'Undo'.
    fn label(&self) -> &str;

    /// Does it to a series, which may have changed since it was made ready.
    ///
    /// # Errors
    /// What was made ready does not fit the series any more; what this leaves behind is dropped by the caller.
    fn apply(&self, series: &mut Series) -> Result<(), Problem>;
}

impl Change for Arc<dyn MadeReady> {
    fn label(&self, _: &Series) -> String {
        MadeReady::label(&**self).to_owned()
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        MadeReady::apply(&*self, series)
    }
}

/// What can be done to one film, wherever it stands.
pub(crate) trait OnFilm {
    /// As [`Change::label`], told of the film before it.
    fn label(&self, film: &Film) -> String;

    /// As [`Change::apply`], done to the film alone.
    fn apply(self, film: &mut Film) -> Result<(), Problem>;
}

/// A change of one film of the series.
#[derive(Debug, Clone, PartialEq)]
pub struct OfFilm<C> {
    /// The film that is changed.
    pub film: FilmId,
    /// What is done to it.
    pub change: C,
}

impl<C: OnFilm> Change for OfFilm<C> {
    fn label(&self, series: &Series) -> String {
        let stands_in;
        let film = if let Some(film) = series.film(&self.film) {
            film
        } else {
            stands_in = Film::named(self.film.clone(), self.film.0.clone());
            &stands_in
        };
        self.change.label(film)
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        self.change.apply(film_of(series, &self.film)?)
    }
}

macro_rules! operations {
    ($($(#[$doc:meta])* $kind:ident($edit:ty),)*) => {
        /// One change of a series.
        #[derive(Debug, Clone)]
        pub enum Operation {
            $($(#[$doc])* $kind($edit),)*
        }

        impl Operation {
            /// What it is called after 'Undo' and 'Done:', told of the series before it.
            #[must_use]
            pub fn label(&self, series: &Series) -> String {
                match self {
                    $(Self::$kind(edit) => edit.label(series),)*
                }
            }

            pub(crate) fn apply(self, series: &mut Series) -> Result<(), Problem> {
                match self {
                    $(Self::$kind(edit) => edit.apply(series),)*
                }
            }
        }

        $(impl From<$edit> for Operation {
            fn from(edit: $edit) -> Self {
                Self::$kind(edit)
            }
        })*
    };
}

operations! {
    /// Title, conditions, settings, who signs.
    Record(RecordEdit),
    /// Films come, go, and are ordered into families.
    Films(FilmEdit),
    /// The record of a film.
    Film(OfFilm<FilmChange>),
    /// A strip of a film: its light, its readings, its place in its scan.
    Strip(StripEdit),
    /// A film's print: its registration and its grid.
    Print(OfFilm<PrintChange>),
    /// A film's bracket.
    Bracket(OfFilm<BracketChange>),
    /// A film's uniform areas.
    Area(OfFilm<AreaChange>),
    /// A film's edges.
    Edge(OfFilm<EdgeChange>),
    /// How sharpness is measured, and the scanner's own edge.
    ScannerEdge(ScannerEdgeEdit),
    /// The layout of the printed target.
    Layout(LayoutEdit),
    /// What is known of its colours.
    Target(TargetEdit),
    /// Places that are sampled in all prints.
    Spot(SpotEdit),
    /// How a scan is read.
    Scan(ScanEdit),
    /// A scanner calibration.
    Calibration(CalibrationEdit),
    /// Tablets, and which one is behind what.
    Tablet(TabletEdit),
    /// The paper test.
    Paper(PaperEdit),
    /// How tones are placed and followed.
    Tone(ToneEdit),
    /// What was chosen about development.
    Development(DevelopmentEdit),
    /// How a print is looked at, and where detail is.
    Viewing(ViewingEdit),
    /// What the report says beyond the numbers.
    Finding(FindingEdit),
    /// A file becomes part of the series.
    Taking(Box<Taking>),
    /// What a folder holds does, read and ready.
    Ready(Arc<dyn MadeReady>),
    /// Several of these as one step.
    Together(Together),
}

impl From<Taking> for Operation {
    fn from(taking: Taking) -> Self {
        Self::Taking(Box::new(taking))
    }
}

/// The film of that name, to change it; refused where it has gone.
fn film_of<'a>(series: &'a mut Series, id: &FilmId) -> Result<&'a mut Film, Problem> {
    series.film_mut(id).ok_or_else(|| gone(Subject::Film(id.clone()), "It is no longer in the series."))
}

/// What a film is called; its name where it has gone.
fn label_of<'a>(series: &'a Series, id: &'a FilmId) -> &'a str {
    series.film(id).map_or(id.0.as_str(), |film| film.label.as_str())
}

/// An operation on something that is not there.
fn gone(subject: Subject, cause: impl Into<Sentence>) -> Problem {
    Problem::error(subject, cause, "Choose another; nothing was changed.")
}

/// The same of a part of a film.
fn lacks(film: &Film, cause: impl Into<Sentence>) -> Problem {
    gone(Subject::Film(film.id.clone()), cause)
}

/// An entry that cannot stand.
fn refused(subject: Subject, cause: impl Into<Sentence>, remedy: impl Into<Sentence>) -> Problem {
    Problem::error(subject, cause, remedy)
}

#[cfg(test)]
mod tests {
    pub(super) use twinwedge_core::document::Tablet;

    use super::*;

    /// Two films, the first the reference.
    pub(super) fn two_films() -> Series {
        let film = |label: &str| Film::named(FilmId::from(label), label);
        Series {
            films: vec![film("Tern 160"), film("Plover 640")],
            reference: Some("Tern 160".into()),
            ..Series::default()
        }
    }

    /// The series after an operation, as a session would leave it, and what the step is called.
    pub(super) fn done(
        series: &Series,
        operation: impl Into<Operation>,
    ) -> Result<(Series, String), Problem> {
        let operation = operation.into();
        let label = operation.label(series);
        let mut after = series.clone();
        operation.apply(&mut after)?;
        after.check().map_err(|fault| Problem::of_fault(*fault))?;
        Ok((after, label))
    }

    /// What an operation is refused for.
    pub(super) fn cause(series: &Series, operation: impl Into<Operation>) -> String {
        done(series, operation).expect_err("it is refused").cause.to_string()
    }

    #[test]
    fn a_film_that_has_gone_is_named_and_nothing_changes() {
        let mut series = two_films();
        let before = series.clone();
        let problem = Operation::from(FilmChange::Rename("Dunlin 40".to_owned()).of(&"Dunlin".into()))
            .apply(&mut series)
            .unwrap_err();
        assert_eq!((problem.subject, series), (Subject::Film("Dunlin".into()), before));
    }
}
