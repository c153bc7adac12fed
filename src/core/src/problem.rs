//! What went wrong or is doubtful: about what, why, and what to do.

use serde::{Deserialize, Serialize};

use crate::document::{CalibrationId, Fault, FilmId, Owner, ScanId, TabletId};
use crate::shown::{Shown, sentence};

/// Most characters of a cause or a remedy: more is a quotation that nobody reads.
const MOST_CHARACTERS: usize = 1_000;

/// How much a problem matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Severity {
    /// It is worth knowing, and nothing is in doubt by it.
    Note,
    /// A result stands but is in doubt.
    Doubt,
    /// A result could not be had.
    Error,
}

/// What a problem is about, so that it can be shown beside it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum Subject {
    /// The series as a whole.
    Series,
    /// A film of the series.
    Film(FilmId),
    /// A scan of the series.
    Scan(ScanId),
    /// A tablet of the series.
    Tablet(TabletId),
    /// A calibration of the series.
    Calibration(CalibrationId),
    /// A file that is not part of the series (yet), and the place in it.
    File {
        /// Its path as the person gave it.
        path: String,
        /// Line, page or byte where known.
        place: Option<String>,
    },
}

impl core::fmt::Display for Subject {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Series => f.write_str("series"),
            Self::Film(id) => write!(f, "film {}", Shown(&id.0)),
            Self::Scan(id) => write!(f, "scan {}", Shown(&id.0)),
            Self::Tablet(id) => write!(f, "tablet {}", Shown(&id.0)),
            Self::Calibration(id) => write!(f, "calibration {}", Shown(&id.0)),
            Self::File { path, place: None } => write!(f, "{}", Shown(path)),
            Self::File { path, place: Some(place) } => write!(f, "{}, {}", Shown(path), Shown(place)),
        }
    }
}

/// One problem: subject, cause and remedy, each a plain sentence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Problem {
    /// How much it matters.
    pub severity: Severity,
    /// What it is about.
    pub subject: Subject,
    /// What happened and why.
    pub cause: String,
    /// What to do about it.
    pub remedy: String,
}

impl Problem {
    fn new(severity: Severity, subject: Subject, cause: String, remedy: String) -> Self {
        Self {
            severity,
            subject,
            cause: sentence(cause, MOST_CHARACTERS),
            remedy: sentence(remedy, MOST_CHARACTERS),
        }
    }

    /// A value that a field of the series may not hold, about what it belongs to.
    #[must_use]
    pub fn of(fault: Fault) -> Self {
        let Fault { owner, place, cause, remedy } = fault;
        let subject = match owner {
            Owner::Series => Subject::Series,
            Owner::Film(id) => Subject::Film(id),
            Owner::Tablet(id) => Subject::Tablet(id),
            Owner::Scan(id) => Subject::Scan(id),
            Owner::Calibration(id) => Subject::Calibration(id),
        };
        let cause = if place.is_empty() { cause } else { format!("{place}: {cause}") };
        Self::error(subject, cause, remedy)
    }

    /// A result that could not be had.
    pub fn error(subject: Subject, cause: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(Severity::Error, subject, cause.into(), remedy.into())
    }

    /// A result that stands but is in doubt.
    pub fn doubt(subject: Subject, cause: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(Severity::Doubt, subject, cause.into(), remedy.into())
    }

    /// Something worth knowing.
    pub fn note(subject: Subject, cause: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self::new(Severity::Note, subject, cause.into(), remedy.into())
    }

    /// The same problem about another subject: a room that knows only pixels says 'series', its caller knows which film.
    #[must_use]
    pub fn about(mut self, subject: Subject) -> Self {
        self.subject = subject;
        self
    }
}

impl core::fmt::Display for Problem {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match &self.subject {
            Subject::Series => {}
            subject => write!(f, "{subject}: ")?,
        }
        write!(f, "{} {}", self.cause, self.remedy)
    }
}

impl core::error::Error for Problem {}
