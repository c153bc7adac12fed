//! Invented series, and a look at folders.

use std::fs;
use std::path::Path;

use twinwedge_core::document::{
    Exposure, Film, FilmId, ReadingsSource, Series, Tablet, TabletExposure, TabletId, TypedReading,
};
use twinwedge_workbench::session::{Edit, Session};
use twinwedge_workbench::store;

/// A film with typed readings: a straight line of slope 0.6 between 0.2 and 1.8.
fn film(label: &str) -> Film {
    let tablet = Tablet::nominal(21).unwrap();
    let reading = |density: f64| {
        let density = ((1.8 - 0.6 * density).clamp(0.2, 1.8) * 100.0).round() / 100.0;
        TypedReading::new(density)
    };
    let readings = tablet.steps.iter().map(|step| reading(step.density)).collect();
    let mut film = Film::named(FilmId::from(label), label);
    film.strips.push(ReadingsSource::Typed(readings).into());
    film.tablet_exposure =
        Some(TabletExposure::new(TabletId::from("tablet"), Exposure::Relative { stops_less: 0.0 }));
    film
}

/// A series of typed films; the first is the reference.
pub(crate) fn series(title: &str, films: usize) -> Series {
    let mut series = Series { title: title.to_owned(), ..Series::default() };
    series.settings.resamplings = 50;
    series.tablets.insert(TabletId::from("tablet"), Tablet::nominal(21).unwrap());
    series.films = (0..films).map(|number| film(&format!("Tern {number}"))).collect();
    series.reference = series.films.first().map(|film| film.id.clone());
    series
}

/// A saved series, opened, that keeps recovery files in `recoveries`.
pub(crate) fn opened(path: &Path, recoveries: &Path) -> Session {
    let mut session = Session::open(path).unwrap();
    session.set_recovery_folder(Some(recoveries.to_owned()));
    session
}

/// Saves a series as it is, whatever is there.
pub(crate) fn put(path: &Path, series: &Series) {
    store::save(path, store::write(series).as_bytes()).unwrap();
}

pub(crate) fn retitle(session: &mut Session, title: &str) {
    let title = title.to_owned();
    session.apply(Edit::new("title", move |series| series.title = title)).unwrap();
}

/// The title of the series at a path.
pub(crate) fn title(path: &Path) -> String {
    store::parse(&fs::read_to_string(path).unwrap(), "").unwrap().title
}

/// Names in a folder, sorted; none where it is not there.
pub(crate) fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).into_iter().flatten();
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort_unstable();
    names
}
