//! What a file is: by its pixels or lines, and by its name. Where both say the same, that is sure.

use std::path::Path;

use twinwedge_core::found::Found;
use twinwedge_core::problem::Problem;
use twinwedge_core::recognise::Look;
use twinwedge_core::words::Sentence;

use super::names::Name;
use crate::load;

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
    pub const OF_TABLES: [Self; 3] = [Self::Readings, Self::Tablet, Self::Other];

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
            Self::CalibrationFilm => "tablet scanned as film",
            Self::CalibrationPrint => "tablet scanned as print",
            Self::Tablet => "densities of a tablet",
            Self::Paper => "print of a tablet, for the paper",
            Self::Blank => "blank, left out",
            Self::List => "list of files",
            Self::Other => "left out",
        }
    }

    /// Whether it is a film's.
    #[must_use]
    pub fn of_film(self) -> bool {
        matches!(self, Self::Strip | Self::Print | Self::Grain | Self::Edge | Self::Frame | Self::Readings)
    }

    /// Whether steps are measured in a scan of it.
    #[must_use]
    pub fn stepped(self) -> bool {
        matches!(self, Self::Strip | Self::CalibrationFilm | Self::CalibrationPrint | Self::Paper)
    }

    /// Whether it becomes part of the series.
    #[must_use]
    pub fn taken(self) -> bool {
        !matches!(self, Self::Blank | Self::List | Self::Other)
    }
}

/// A sure answer.
pub(super) fn sure<T>(value: T) -> Found<T> {
    Found { value, support: 1.0, doubts: Vec::new() }
}

fn doubtful<T>(value: T, support: f64, doubt: impl Into<Sentence>) -> Found<T> {
    Found { value, support, doubts: vec![doubt.into()] }
}

/// What a scan is, by what it shows and what its name says.
pub(super) fn of_scan(look: &Found<Look>, name: &Name) -> Found<Kind> {
    let said = name.kinds.first().copied().map(|kind| match kind {
        Kind::CalibrationFilm if name.printed => Kind::CalibrationPrint,
        other => other,
    });
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

/// A scan whose name speaks of a frame or of an exposure index, and of nothing else that it could be.
fn of_frame(look: &Found<Look>, shows: &str) -> Found<Kind> {
    if !matches!(look.value, Look::Picture) {
        let doubt = format!("Its name says '{}', but it shows {shows}.", Kind::Frame.words());
        return doubtful(if look.is_sure() { Kind::Other } else { Kind::Frame }, 0.2, doubt);
    }
    Found { value: Kind::Frame, support: look.support, doubts: look.doubts.clone() }
}

fn shown(look: Look) -> String {
    match look {
        Look::Steps(stairs) => format!("a row of some {} steps", stairs.steps),
        Look::Picture => "a picture of many tones".to_owned(),
        Look::Plain { .. } => "one even tone".to_owned(),
        Look::Empty => "nothing at all".to_owned(),
    }
}

fn unnamed(look: Look) -> &'static str {
    match look {
        Look::Steps(_) => {
            "It shows a row of steps, and its name does not say whether it is a film's strip or a tablet."
        }
        Look::Picture => "It shows a picture, and its name does not say that it is the print of the target.",
        Look::Plain { .. } => {
            "It shows one even tone, and its name does not say that it is there for the grain."
        }
        Look::Empty => "It shows nothing at all.",
    }
}

fn guess(look: Look) -> Kind {
    match look {
        Look::Steps(_) => Kind::Strip,
        Look::Picture => Kind::Print,
        Look::Plain { .. } => Kind::Grain,
        Look::Empty => Kind::Blank,
    }
}

fn agrees(kind: Kind, look: Look) -> bool {
    match kind {
        Kind::Strip | Kind::CalibrationFilm | Kind::CalibrationPrint | Kind::Paper => {
            matches!(look, Look::Steps(_))
        }
        // Two uniform areas may pass for steps or for a picture.
        Kind::Edge => matches!(look, Look::Steps(_) | Look::Picture),
        Kind::Print | Kind::Frame => matches!(look, Look::Picture),
        Kind::Grain => matches!(look, Look::Plain { .. }),
        Kind::Blank => matches!(look, Look::Plain { .. } | Look::Empty),
        Kind::Readings | Kind::Tablet | Kind::List | Kind::Other => false,
    }
}

/// What a text file is, by what stands in it and what its name says; the problem of a table that cannot be read; how many
/// densities it holds.
pub(super) fn of_text(path: &Path, name: &Name) -> (Found<Kind>, Option<Problem>, Option<usize>) {
    let shown = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    let text = match load::text(path) {
        Ok(text) => text,
        Err(problem) => return (doubtful(Kind::Other, 0.0, problem.cause.to_string()), Some(problem), None),
    };
    if is_list(&text) {
        return (sure(Kind::List), None, None);
    }
    let says_tablet = name.kinds.contains(&Kind::CalibrationFilm);
    let says_readings = name.kinds.iter().any(|kind| matches!(kind, Kind::Readings | Kind::Strip));
    let (tablet, readings) = match (load::tablet(&text, &shown), load::readings(&text, &shown)) {
        (tablet, Ok(readings)) => (tablet, readings),
        (_, Err(problem)) => {
            // A text that does not claim to be a table may be anything.
            let table = says_tablet || says_readings || !shown.to_lowercase().ends_with(".txt");
            let kind =
                if table { doubtful(Kind::Other, 0.0, problem.cause.to_string()) } else { sure(Kind::Other) };
            return (kind, table.then_some(problem), None);
        }
    };
    let steps = readings.len();
    let kind = match tablet {
        Ok(_) if says_tablet => sure(Kind::Tablet),
        Err(problem) if says_tablet => {
            let cause = format!("Its name says that it holds a tablet's densities, but: {}", problem.cause);
            return (doubtful(Kind::Other, 0.0, cause), Some(problem), None);
        }
        _ if steps < 5 => doubtful(Kind::Other, 0.2, format!("It holds {steps} numbers only.")),
        _ if says_readings => sure(Kind::Readings),
        Ok(tablet) if even(tablet.steps.iter().map(|step| step.density)) => {
            let doubt = "Its densities rise evenly like a tablet's, and its name does not say what it is.";
            doubtful(Kind::Tablet, 0.6, doubt)
        }
        Ok(_) => doubtful(
            Kind::Readings,
            0.5,
            "It may hold readings of a strip or a tablet's densities: its name does not say.",
        ),
        Err(_) => {
            let doubt = "Its densities are no tablet's, and its name does not say that they are readings.";
            doubtful(Kind::Readings, 0.7, doubt)
        }
    };
    (kind, None, Some(steps))
}

/// Whether the first line names the two columns that every list has.
fn is_list(text: &str) -> bool {
    let first = text.trim_start_matches('\u{feff}').lines().next().unwrap_or_default().to_lowercase();
    let columns: Vec<&str> =
        first.split([',', ';', '\t']).map(|cell| cell.trim().trim_matches('"')).collect();
    columns.contains(&"file") && columns.contains(&"kind")
}

/// Whether densities rise by nearly the same from step to step.
fn even(densities: impl Iterator<Item = f64>) -> bool {
    let densities: Vec<f64> = densities.collect();
    let steps: Vec<f64> = densities.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mean = steps.iter().sum::<f64>() / steps.len().max(1) as f64;
    steps.len() >= 4 && steps.iter().all(|step| (step - mean).abs() < 0.35 * mean)
}
