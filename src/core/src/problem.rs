//! What went wrong or is doubtful: about what, why, and what to do.

use serde::{Deserialize, Serialize};

use crate::document::{CalibrationId, FilmId, ScanId, TabletId};

/// How much a problem matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Severity {
    /// Worth knowing.
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
    /// One film.
    Film(FilmId),
    /// One scan.
    Scan(ScanId),
    /// One tablet.
    Tablet(TabletId),
    /// One calibration.
    Calibration(CalibrationId),
    /// A file that is not part of the series (yet), and the place in it.
    File {
        /// Its path as the person gave it.
        path: String,
        /// Line, page or byte where known.
        place: Option<String>,
    },
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
    /// A result that could not be had.
    pub fn error(subject: Subject, cause: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { severity: Severity::Error, subject, cause: cause.into(), remedy: remedy.into() }
    }

    /// A result that stands but is in doubt.
    pub fn doubt(subject: Subject, cause: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { severity: Severity::Doubt, subject, cause: cause.into(), remedy: remedy.into() }
    }

    /// Something worth knowing.
    pub fn note(subject: Subject, cause: impl Into<String>, remedy: impl Into<String>) -> Self {
        Self { severity: Severity::Note, subject, cause: cause.into(), remedy: remedy.into() }
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
            Subject::Film(id) => write!(f, "film {}: ", id.0)?,
            Subject::Scan(id) => write!(f, "scan {}: ", id.0)?,
            Subject::Tablet(id) => write!(f, "tablet {}: ", id.0)?,
            Subject::Calibration(id) => write!(f, "calibration {}: ", id.0)?,
            Subject::File { path, place: None } => write!(f, "{path}: ")?,
            Subject::File { path, place: Some(place) } => write!(f, "{path}, {place}: ")?,
        }
        write!(f, "{} {}", self.cause, self.remedy)
    }
}

impl core::error::Error for Problem {}
