//! What a scan is: by its pixels and by its name. Where both say the same, that is sure.

use twinwedge_core::found::Found;
use twinwedge_core::recognise::ScanContent;
use twinwedge_core::words::Sentence;

use super::names::Name;

/// What a file is taken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Scan of a film's exposed strip.
    Strip,
    /// Scan of a film's print of the target.
    Print,
    /// Scan of a uniform area of a film, for its grain.
    Grain,
    /// Scan of a slanted edge on a film, for its sharpness.
    Edge,
    /// Scan of a frame of a film's bracket; its name, a list or a person says at which exposure index.
    Frame,
    /// A film's readings.
    Readings,
    /// Shadow densities of a film's frames by their exposure indices: told, not taken in.
    Bracket,
    /// How one film or several were developed: told, not taken in.
    Record,
    /// For how long the tablet was exposed onto films: told, not taken in.
    Exposures,
    /// Scan of a tablet of known densities, seen through.
    CalibrationFilm,
    /// Scan of a tablet of known densities, seen by reflection.
    CalibrationPrint,
    /// Known densities of a tablet.
    Tablet,
    /// Scan of the print of a tablet, which tests the paper.
    Paper,
    /// Scan of unexposed film or of nothing: no part of a series.
    Blank,
    /// A list of the folder's files.
    List,
    /// A file of no kind that is taken in.
    Other,
}

impl Kind {
    /// What a person may choose for a scan.
    pub const OF_SCANS: [Self; 9] = [
        Self::Strip,
        Self::Print,
        Self::Grain,
        Self::Edge,
        Self::Frame,
        Self::CalibrationFilm,
        Self::CalibrationPrint,
        Self::Paper,
        Self::Other,
    ];
    /// What a person may choose for a table.
    pub const OF_TABLES: [Self; 6] =
        [Self::Readings, Self::Tablet, Self::Bracket, Self::Record, Self::Exposures, Self::Other];

    /// The kind as plans and lists write it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Strip => "exposed strip",
            Self::Print => "print of the target",
            Self::Grain => "uniform area for grain",
            Self::Edge => "slanted edge for sharpness",
            Self::Frame => "frame of a bracket",
            Self::Readings => "readings of a strip",
            Self::Bracket => "readings of a bracket",
            Self::Record => "record of development",
            Self::Exposures => "exposure times",
            Self::CalibrationFilm => "tablet scanned as film",
            Self::CalibrationPrint => "tablet scanned as print",
            Self::Tablet => "densities of a tablet",
            Self::Paper => "print of a tablet, for the paper",
            Self::Blank => "blank, left out",
            Self::List => "list of files",
            Self::Other => "left out",
        }
    }

    /// The same of several files.
    #[must_use]
    pub fn several(self) -> &'static str {
        match self {
            Self::Strip => "exposed strips",
            Self::Print => "prints of the target",
            Self::Grain => "uniform areas for grain",
            Self::Edge => "slanted edges for sharpness",
            Self::Frame => "frames of brackets",
            Self::CalibrationFilm => "tablets scanned as film",
            Self::CalibrationPrint => "tablets scanned as prints",
            Self::Tablet => "tables of a tablet's densities",
            Self::Paper => "prints of a tablet, for the paper",
            Self::Record => "records of development",
            Self::Readings | Self::Bracket => "tables of readings",
            Self::Exposures => "tables of exposure times",
            Self::Blank | Self::List | Self::Other => "files left out",
        }
    }

    /// Whether it is a film's.
    #[must_use]
    pub fn of_film(self) -> bool {
        matches!(
            self,
            Self::Strip
                | Self::Print
                | Self::Grain
                | Self::Edge
                | Self::Frame
                | Self::Readings
                | Self::Bracket
        )
    }

    /// Whether steps are measured in a scan of it.
    #[must_use]
    pub fn stepped(self) -> bool {
        matches!(self, Self::Strip | Self::CalibrationFilm | Self::CalibrationPrint | Self::Paper)
    }

    /// Whether it becomes part of the series.
    #[must_use]
    pub fn taken(self) -> bool {
        !matches!(
            self,
            Self::Blank | Self::List | Self::Other | Self::Bracket | Self::Record | Self::Exposures
        )
    }
}

/// A sure answer.
pub(super) fn sure<T>(value: T) -> Found<T> {
    Found { value, support: 1.0, doubts: Vec::new() }
}

pub(super) fn doubtful<T>(value: T, support: f64, doubt: impl Into<Sentence>) -> Found<T> {
    Found { value, support, doubts: vec![doubt.into()] }
}

/// What a scan is, by what it shows and what its name says.
pub(super) fn of_scan(look: &Found<ScanContent>, name: &Name) -> Found<Kind> {
    let said = said_of_scan(name);
    let shows = shown(look.value);
    if said.is_none() && (name.frame || name.exposure_index.is_some()) {
        return of_frame(look, &shows);
    }
    let Some(said) = said else {
        return Found {
            value: guess(look.value),
            ..doubtful(Kind::Other, 0.5 * look.support, unnamed(look.value))
        };
    };
    if !agrees(said, look.value) {
        let doubt = format!("Its name says '{}', but it shows {shows}.", said.words());
        return doubtful(if look.is_sure() { Kind::Other } else { said }, 0.2, doubt);
    }
    let mut found = Found { value: said, support: look.support, doubts: look.doubts.clone() };
    match said {
        Kind::Paper => {
            found.doubts.push("Only a print made through a step tablet tests the paper.".into());
        }
        Kind::CalibrationFilm if !name.filmed => {
            found.support *= 0.8;
            found.doubts.extend(name.kinds.contains(&Kind::Print).then(|| {
                "Its name speaks of a tablet and of a print: was the tablet seen through or by reflection?".into()
            }));
        }
        _ => {}
    }
    found
}

/// What its name says that a scan is.
pub(super) fn said_of_scan(name: &Name) -> Option<Kind> {
    let of_scans = |kind: &&Kind| **kind == Kind::Blank || Kind::OF_SCANS.contains(kind);
    name.kinds.iter().find(of_scans).map(|kind| match kind {
        Kind::CalibrationFilm if name.printed => Kind::CalibrationPrint,
        other => *other,
    })
}

/// A scan whose name speaks of a frame or of an exposure index, and of nothing else that it could be.
fn of_frame(look: &Found<ScanContent>, shows: &str) -> Found<Kind> {
    if !matches!(look.value, ScanContent::Picture) {
        let doubt = format!("Its name says '{}', but it shows {shows}.", Kind::Frame.words());
        return doubtful(if look.is_sure() { Kind::Other } else { Kind::Frame }, 0.2, doubt);
    }
    Found { value: Kind::Frame, support: look.support, doubts: look.doubts.clone() }
}

fn shown(look: ScanContent) -> String {
    match look {
        ScanContent::Steps(stairs) => format!("a row of some {} steps", stairs.steps),
        ScanContent::Picture => "a picture of many tones".to_owned(),
        ScanContent::Plain { .. } => "one even tone".to_owned(),
        ScanContent::Empty => "nothing at all".to_owned(),
    }
}

fn unnamed(look: ScanContent) -> &'static str {
    match look {
        ScanContent::Steps(_) => {
            "It shows a row of steps, and its name does not say whether it is a film's strip or a tablet."
        }
        ScanContent::Picture => {
            "It shows a picture, and its name does not say that it is the print of the target."
        }
        ScanContent::Plain { .. } => {
            "It shows one even tone, and its name does not say that it is there for the grain."
        }
        ScanContent::Empty => "It shows nothing at all.",
    }
}

fn guess(look: ScanContent) -> Kind {
    match look {
        ScanContent::Steps(_) => Kind::Strip,
        ScanContent::Picture => Kind::Print,
        ScanContent::Plain { .. } => Kind::Grain,
        ScanContent::Empty => Kind::Blank,
    }
}

fn agrees(kind: Kind, look: ScanContent) -> bool {
    match kind {
        Kind::Strip | Kind::CalibrationFilm | Kind::CalibrationPrint | Kind::Paper => {
            matches!(look, ScanContent::Steps(_))
        }
        // Two uniform areas may pass for steps or for a picture.
        Kind::Edge => matches!(look, ScanContent::Steps(_) | ScanContent::Picture),
        Kind::Print | Kind::Frame => matches!(look, ScanContent::Picture),
        Kind::Grain => matches!(look, ScanContent::Plain { .. }),
        Kind::Blank => matches!(look, ScanContent::Plain { .. } | ScanContent::Empty),
        Kind::Readings
        | Kind::Bracket
        | Kind::Record
        | Kind::Exposures
        | Kind::Tablet
        | Kind::List
        | Kind::Other => false,
    }
}
