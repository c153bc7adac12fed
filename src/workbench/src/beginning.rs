//! A series of one's own begins: two films and the tablet behind them, read from three files and put together as one step.

use std::path::{Path, PathBuf};

use twinwedge_core::document::{Exposure, FilmId, Series, TabletId};
use twinwedge_core::problem::{Problem, Subject};

use crate::edits::{
    FilmChange, FilmEdit, FilmNumber, FilmText, Operation, RecordEdit, StripChange, TabletChoice, TabletEdit,
    TabletOf, Together,
};
use crate::intake::{self, GoOn, Home, Purpose, Taken};
use crate::{folder, load};

/// One of the two films as it begins.
#[derive(Debug, Clone, PartialEq)]
pub struct FirstFilm {
    /// What it is called.
    pub label: String,
    /// The speed on its box, where that is known.
    pub box_speed: Option<f64>,
    /// Its readings as a table, or a scan of its strip.
    pub file: PathBuf,
}

/// The tablet that both films were exposed through.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FirstTablet {
    /// The trade's, of so many steps.
    Nominal(u32),
    /// A table of its measured densities.
    File(PathBuf),
}

/// The light that both films had.
#[derive(Debug, Clone, PartialEq)]
pub struct FirstLight {
    /// What is known of it, for the reference and for the candidate.
    pub exposures: [Exposure; 2],
    /// The lamp, in words.
    pub source: String,
    /// How long it shone, in seconds.
    pub seconds: Option<f64>,
}

/// All that a series begins with.
#[derive(Debug, Clone, PartialEq)]
pub struct Beginning {
    /// The film that all are compared with.
    pub reference: FirstFilm,
    /// The film under test.
    pub candidate: FirstFilm,
    /// The tablet behind both.
    pub tablet: FirstTablet,
    /// The light on both.
    pub light: FirstLight,
}

/// What a file offers by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposed {
    /// The film that its name speaks of; empty where it speaks of none.
    pub label: String,
    /// The speed that stands in its name.
    pub box_speed: Option<f64>,
    /// Steps of its table; none where it is a scan.
    pub steps: Option<usize>,
}

/// Whether a file is a table and no scan, by its ending.
#[must_use]
pub fn is_table(path: &Path) -> bool {
    let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    Purpose::Tablet.endings().contains(&ending.as_str())
}

/// What a film's file offers: its name, and what is in it. Reads a table whole, of a scan its size.
///
/// # Errors
/// The file is neither.
pub fn propose(path: &Path) -> Result<Proposed, Problem> {
    let (label, box_speed) = folder::film_of(&stem(path));
    let steps = if is_table(path) {
        Some(load::table(&load::text(path)?, &shown(path))?.readings.len())
    } else {
        load::size(path)?;
        None
    };
    Ok(Proposed { label, box_speed, steps })
}

/// How many steps a table of a tablet's densities has.
///
/// # Errors
/// It is no such table.
pub fn steps_of_tablet(path: &Path) -> Result<usize, Problem> {
    Ok(load::tablet(&load::text(path)?, &shown(path))?.steps.len())
}

/// Reads all files and says what they come to: one step that begins the series, and what is worth knowing about the files.
///
/// # Errors
/// A file cannot be read as what it is, names are not free, or `go_on` said no.
pub fn begin(of: Beginning, home: Home<'_>, go_on: GoOn<'_>) -> Result<(Operation, Vec<Problem>), Problem> {
    let label = format!("begin with {} and {}", of.reference.label, of.candidate.label);
    let mut making = Making::of(home);
    if home.series.title.is_empty() {
        let title = format!("{} and {}", of.reference.label, of.candidate.label);
        making.then(RecordEdit::Title(title))?;
    }
    let first = home.series.reference.is_none();
    let reference = making.film(&of.reference, first)?;
    let candidate = making.film(&of.candidate, false)?;
    let choice = match of.tablet {
        FirstTablet::Nominal(steps) => TabletChoice::Nominal(steps),
        FirstTablet::File(path) => {
            making.read(Purpose::Tablet, &path, go_on)?;
            TabletChoice::InSeries(TabletId(stem(&path)))
        }
    };
    let films = [(&reference, of.reference.file), (&candidate, of.candidate.file)];
    for (place, ((id, file), exposure)) in films.into_iter().zip(of.light.exposures).enumerate() {
        making.then(TabletEdit::Choose(TabletOf::Film(id.clone()), choice.clone()))?;
        let purpose = if is_table(&file) { Purpose::Readings } else { Purpose::Strip };
        let told = |share: f32| go_on((place as f32 + share) / 2.0);
        making.read(purpose(id.clone(), 0), &file, &told)?;
        if exposure != Exposure::NotSaid {
            making.then(StripChange::Light(exposure).of(id, 0))?;
        }
        if !of.light.source.trim().is_empty() {
            let source = of.light.source.trim().to_owned();
            making.then(FilmChange::Text(FilmText::LightSource, source).of(id))?;
        }
        if of.light.seconds.is_some() {
            making.then(FilmChange::Number(FilmNumber::TabletSeconds, of.light.seconds).of(id))?;
        }
    }
    Ok((Together { label, steps: making.steps }.into(), making.notes))
}

/// The series as it comes to be: each step is made on what the steps before it left.
struct Making<'a> {
    series: Series,
    folder: &'a Path,
    steps: Vec<Operation>,
    notes: Vec<Problem>,
}

impl<'a> Making<'a> {
    fn of(home: Home<'a>) -> Self {
        Self { series: home.series.clone(), folder: home.folder, steps: Vec::new(), notes: Vec::new() }
    }

    fn then(&mut self, operation: impl Into<Operation>) -> Result<(), Problem> {
        let operation = operation.into();
        operation.clone().apply(&mut self.series)?;
        self.steps.push(operation);
        Ok(())
    }

    fn film(&mut self, film: &FirstFilm, reference: bool) -> Result<FilmId, Problem> {
        let label = film.label.trim();
        if self.series.films.iter().any(|other| other.label == label) {
            let cause = format!("Two films would be called {label}.");
            return Err(Problem::error(Subject::Series, cause, "Give one of them another name."));
        }
        let id = self.series.free_film_id(label);
        self.then(FilmEdit::Add { id: id.clone(), label: label.to_owned(), reference })?;
        if film.box_speed.is_some() {
            self.then(FilmChange::Number(FilmNumber::BoxSpeed, film.box_speed).of(&id))?;
        }
        Ok(id)
    }

    fn read(&mut self, purpose: Purpose, path: &Path, go_on: GoOn<'_>) -> Result<(), Problem> {
        let home = Home { series: &self.series, folder: self.folder };
        if let Taken::Operation(operation, notes) = intake::take(purpose, path, home, go_on)? {
            self.notes.extend(notes);
            self.then(operation)?;
        }
        Ok(())
    }
}

fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

fn shown(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::ReadingsSource;

    use super::*;

    fn written(folder: &Path, name: &str, lines: impl Iterator<Item = String>) -> PathBuf {
        let path = folder.join(name);
        std::fs::write(&path, lines.collect::<String>()).unwrap();
        path
    }

    fn readings(folder: &Path, name: &str, steps: usize) -> PathBuf {
        written(
            folder,
            name,
            (0..steps).map(|step| format!("{}\t{:.2}\n", step + 1, 2.0 - 0.08 * step as f64)),
        )
    }

    fn film(label: &str, file: PathBuf) -> FirstFilm {
        FirstFilm { label: label.to_owned(), box_speed: Some(160.0), file }
    }

    fn begun(of: Beginning) -> Result<(Series, String), Problem> {
        let series = Series::default();
        let home = Home { series: &series, folder: Path::new("/") };
        let (operation, _) = begin(of, home, &|_| true)?;
        let label = operation.label(&series);
        let mut after = series.clone();
        operation.apply(&mut after)?;
        after.check().map_err(|fault| Problem::of_fault(*fault))?;
        Ok((after, label))
    }

    #[test]
    fn a_file_name_offers_the_film_and_its_speed() {
        let folder = tempfile::tempdir().unwrap();
        for (name, label, speed) in [
            ("Tern 160 readings.csv", "Tern 160", Some(160.0)),
            ("plover-640_densities.csv", "Plover 640", Some(640.0)),
            // 162 is no speed of the standard's series (ISO 6:1993, table 1).
            ("Heron 162.csv", "Heron 162", None),
        ] {
            let proposed = propose(&readings(folder.path(), name, 21)).unwrap();
            assert_eq!(proposed, Proposed { label: label.to_owned(), box_speed: speed, steps: Some(21) });
        }
        assert!(propose(&written(folder.path(), "Tern 160.png", std::iter::empty())).is_err());
    }

    #[test]
    fn three_files_begin_a_series_as_one_step() {
        let folder = tempfile::tempdir().unwrap();
        // A tablet of densities of its own, 0.14 a step.
        let tablet = (0..21).map(|step| format!("{}\t{:.2}\n", step + 1, 0.05 + 0.14 * f64::from(step)));
        let of = Beginning {
            reference: film("Tern 160", readings(folder.path(), "a.csv", 21)),
            candidate: film("Plover 640", readings(folder.path(), "b.csv", 21)),
            tablet: FirstTablet::File(written(folder.path(), "my tablet.csv", tablet)),
            light: FirstLight {
                exposures: [0.0, 2.0].map(|stops_less| Exposure::Relative { stops_less }),
                source: "tungsten".to_owned(),
                seconds: Some(0.5),
            },
        };
        let (series, label) = begun(of.clone()).unwrap();
        assert_eq!(label, "begin with Tern 160 and Plover 640");
        assert_eq!(series.reference_film().map(|film| film.label.as_str()), Some("Tern 160"));
        for (film, stops_less) in series.films.iter().zip([0.0, 2.0]) {
            let exposed = film.tablet_exposure.as_ref().unwrap();
            assert_eq!(exposed.tablet, TabletId("my tablet".to_owned()));
            assert_eq!(exposed.exposure, Exposure::Relative { stops_less });
            assert_eq!((exposed.light_source.as_str(), exposed.seconds), ("tungsten", Some(0.5)));
            assert!(matches!(&film.strips[0].readings, ReadingsSource::Typed(typed) if typed.len() == 21));
            assert_eq!(film.box_speed, Some(160.0));
        }
        let alike = Beginning { candidate: film("Tern 160", of.candidate.file.clone()), ..of };
        assert_eq!(begun(alike).unwrap_err().cause, "Two films would be called Tern 160.");
    }

    #[test]
    fn the_trades_tablet_serves_and_nothing_is_said_of_the_light_that_nobody_said() {
        let folder = tempfile::tempdir().unwrap();
        let of = Beginning {
            reference: film("Tern 160", readings(folder.path(), "a.csv", 21)),
            candidate: film("Plover 640", readings(folder.path(), "b.csv", 21)),
            tablet: FirstTablet::Nominal(21),
            light: FirstLight { exposures: [Exposure::NotSaid; 2], source: String::new(), seconds: None },
        };
        let (series, _) = begun(of).unwrap();
        for film in &series.films {
            let exposed = film.tablet_exposure.as_ref().unwrap();
            assert_eq!(exposed.exposure, Exposure::NotSaid);
            assert!(series.tablets[&exposed.tablet].nominal);
        }
    }
}
