//! What went wrong or is doubtful: about what, why, and what to do.

use serde::{Deserialize, Serialize};

use crate::document::{CalibrationId, Fault, FilmId, Owner, ScanId, TabletId};
use crate::shown::Shown;
use crate::words::Sentence;

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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Problem {
    /// How much it matters.
    pub severity: Severity,
    /// What it is about.
    pub subject: Subject,
    /// What happened and why.
    pub cause: Sentence,
    /// What to do about it.
    pub remedy: Sentence,
}

impl Problem {
    /// A problem of this severity.
    pub fn new(
        severity: Severity,
        subject: Subject,
        cause: impl Into<Sentence>,
        remedy: impl Into<Sentence>,
    ) -> Self {
        let short = |said: Sentence| said.cut_to(MOST_CHARACTERS);
        Self { severity, subject, cause: short(cause.into()), remedy: short(remedy.into()) }
    }

    /// Which problem it is: severity and subject aside, and whatever its quantities are.
    #[must_use]
    pub fn code(&self) -> String {
        self.cause.code()
    }

    /// A value that a field of the series may not hold, about what it belongs to.
    #[must_use]
    pub fn of_fault(fault: Fault) -> Self {
        let Fault { owner, place, cause, remedy } = fault;
        let subject = match owner {
            Owner::Series => Subject::Series,
            Owner::Film(id) => Subject::Film(id),
            Owner::Tablet(id) => Subject::Tablet(id),
            Owner::Scan(id) => Subject::Scan(id),
            Owner::Calibration(id) => Subject::Calibration(id),
        };
        Self::error(subject, cause.at(&place), remedy)
    }

    /// A result that could not be had.
    pub fn error(subject: Subject, cause: impl Into<Sentence>, remedy: impl Into<Sentence>) -> Self {
        Self::new(Severity::Error, subject, cause, remedy)
    }

    /// A result that stands but is in doubt.
    pub fn doubt(subject: Subject, cause: impl Into<Sentence>, remedy: impl Into<Sentence>) -> Self {
        Self::new(Severity::Doubt, subject, cause, remedy)
    }

    /// Something worth knowing.
    pub fn note(subject: Subject, cause: impl Into<Sentence>, remedy: impl Into<Sentence>) -> Self {
        Self::new(Severity::Note, subject, cause, remedy)
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
