//! What a dropped file plainly is, by its name and by what is in sight; and what it may be where that cannot be told.

use std::path::Path;

use twinwedge_core::document::{Film, FilmId};

use super::{Home, Purpose};

/// What the page in sight is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shown {
    /// Strips and their tablets.
    Strips,
    /// Prints of the target.
    Prints,
    /// Grain, edges and detail.
    Grain,
    /// None of these.
    Other,
}

/// What a dropped file plainly is; `None` where it must be asked.
#[must_use]
pub fn guess(path: &Path, shown: Shown, home: Home<'_>) -> Option<Purpose> {
    if path.is_dir() {
        return Some(Purpose::Folder);
    }
    if Purpose::Series.endings().contains(&ending(path).as_str()) {
        return Some(Purpose::Series);
    }
    let Home { series, folder } = home;
    let file = path.file_name()?.to_string_lossy().into_owned();
    let name = plain(&file);
    let film = named(&name, &series.films);
    // Of a film that has readings it may be an additional strip.
    let first = |film: FilmId| series.film(&film).is_none_or(|film| film.strips.is_empty()).then_some(film);
    if is_table(path) {
        return match film {
            _ if name.contains("reflectance") => Some(Purpose::Reflectances),
            _ if name.contains("tablet") => Some(Purpose::Tablet),
            Some(film) => Some(Purpose::Readings(first(film)?, 0)),
            None => None,
        };
    }
    let missing = series.scans.iter().find(|(_, entry)| {
        entry.path.rsplit('/').next() == Some(file.as_str()) && !folder.join(&entry.path).exists()
    });
    if let Some((scan, _)) = missing {
        return Some(Purpose::Missing(scan.clone()));
    }
    if name.contains("calibration") {
        return Some(Purpose::Calibration);
    }
    let film = film?;
    Some(match shown {
        _ if name.contains("print") => Purpose::Print(film),
        _ if name.contains("strip") => Purpose::Strip(first(film)?, 0),
        _ if name.contains("grain") => Purpose::Grain(film),
        _ if name.contains("edge") => Purpose::Edge(film),
        Shown::Strips => Purpose::Strip(first(film)?, 0),
        Shown::Prints => Purpose::Print(film),
        Shown::Grain => Purpose::Grain(film),
        Shown::Other => return None,
    })
}

/// What a file may be, in words: to `film` where there is one, else to the series.
#[must_use]
pub fn choices(path: &Path, film: Option<&Film>) -> Vec<(&'static str, Purpose)> {
    let mut choices = Vec::new();
    // An additional strip can be told from a first one only where there is a first.
    let begun = film.filter(|film| !film.strips.is_empty());
    if is_table(path) {
        if let Some(Film { id, .. }) = film {
            choices.push(("Densitometer readings of the film", Purpose::Readings(id.clone(), 0)));
        }
        if let Some(film) = begun {
            let purpose = Purpose::Readings(film.id.clone(), film.strips.len());
            choices.push(("Readings of an additional strip of the same roll", purpose));
        }
        choices.push(("Known densities of a step tablet", Purpose::Tablet));
        choices.push(("Spectral reflectances of the target's patches", Purpose::Reflectances));
        choices.push(("The spectrum of the light on the target", Purpose::SubjectLight));
        choices.push(("A list of files that makes a new series", Purpose::List));
    } else {
        if let Some(Film { id, .. }) = film {
            choices.push(("The film's exposed strip", Purpose::Strip(id.clone(), 0)));
            if let Some(film) = begun {
                let purpose = Purpose::Strip(film.id.clone(), film.strips.len());
                choices.push(("An additional strip of the same roll", purpose));
            }
            choices.push(("The film's print of the target", Purpose::Print(id.clone())));
            choices.push(("A uniform area of the film, for grain", Purpose::Grain(id.clone())));
            choices.push(("A slanted edge on the film, for sharpness", Purpose::Edge(id.clone())));
        }
        choices.push(("A step tablet of known densities, for calibration", Purpose::Calibration));
    }
    choices
}

fn ending(path: &Path) -> String {
    path.extension().unwrap_or_default().to_string_lossy().to_lowercase()
}

fn is_table(path: &Path) -> bool {
    Purpose::Tablet.endings().contains(&ending(path).as_str())
}

/// Lower case without blanks and signs, so that 'plover-640_print' holds 'Plover 640'.
fn plain(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// The film whose label or name stands in a file name; the longest where several do.
fn named(name: &str, films: &[Film]) -> Option<FilmId> {
    films
        .iter()
        .flat_map(|film| [(plain(&film.label), film), (plain(&film.id.0), film)])
        .filter(|(word, _)| !word.is_empty() && name.contains(word.as_str()))
        .max_by_key(|(word, _)| word.len())
        .map(|(_, film)| film.id.clone())
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{ReadingsSource, ScanEntry, ScanKind, Series};

    use super::*;

    fn series() -> Series {
        let films = vec![Film::named("Tern".into(), "Tern 160"), Film::named("Tern II".into(), "Tern 16")];
        Series { films, ..Series::default() }
    }

    fn plainly(series: &Series, file: &str, shown: Shown) -> Option<Purpose> {
        guess(Path::new(file), shown, Home { series, folder: Path::new("/nowhere") })
    }

    #[test]
    fn a_file_name_tells_its_film() {
        let films = series().films;
        assert_eq!(named(&plain("tern-160_print.tif"), &films), Some("Tern".into()));
        assert_eq!(named(&plain("Tern 16 strip.tif"), &films), Some("Tern II".into()));
        assert_eq!(named(&plain("scan0001.tif"), &films), None);
    }

    #[test]
    fn a_file_is_what_its_name_says_else_what_the_page_shows() {
        let mut series = series();
        let of = |series: &Series, file, shown| plainly(series, file, shown);
        assert_eq!(of(&series, "a.twinwedge", Shown::Other), Some(Purpose::Series));
        assert_eq!(of(&series, "tablet.csv", Shown::Other), Some(Purpose::Tablet));
        assert_eq!(of(&series, "tern 160.csv", Shown::Other), Some(Purpose::Readings("Tern".into(), 0)));
        assert_eq!(of(&series, "tern 160 print.tif", Shown::Grain), Some(Purpose::Print("Tern".into())));
        assert_eq!(of(&series, "tern 160.tif", Shown::Grain), Some(Purpose::Grain("Tern".into())));
        assert_eq!(of(&series, "tern 160.tif", Shown::Strips), Some(Purpose::Strip("Tern".into(), 0)));
        assert_eq!(of(&series, "tern 160.tif", Shown::Other), None);
        assert_eq!(of(&series, "scan0001.tif", Shown::Strips), None, "of which film is not told");
        let entry = ScanEntry::new("scans/scan0001.tif".to_owned(), None, ScanKind::Film);
        series.scans.insert("lost".into(), entry);
        assert_eq!(of(&series, "scan0001.tif", Shown::Strips), Some(Purpose::Missing("lost".into())));
    }

    #[test]
    fn beside_a_first_strip_a_second_is_asked_about() {
        let mut series = series();
        series.films[0].strips.push(ReadingsSource::Typed(Vec::new()).into());
        assert_eq!(plainly(&series, "tern 160 strip.tif", Shown::Strips), None);
        assert_eq!(plainly(&series, "tern 160.csv", Shown::Other), None);
        let offered = choices(Path::new("a.tif"), series.films.first());
        assert!(offered.iter().any(|(_, purpose)| *purpose == Purpose::Strip("Tern".into(), 1)));
        let offered = choices(Path::new("a.csv"), series.films.get(1));
        assert!(!offered.iter().any(|(_, purpose)| *purpose == Purpose::Readings("Tern II".into(), 1)));
        assert_eq!(
            choices(Path::new("a.tif"), None).len(),
            1,
            "without a film it can be a calibration alone"
        );
    }
}
