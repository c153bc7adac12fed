//! Invented series and scans to test with.

use std::path::Path;

use twinwedge_core::document::{
    Exposure, Film, FilmId, ReadingsSource, ScanEntry, ScanKind, Series, Tablet, TabletExposure, TabletId,
    TypedReading,
};
use twinwedge_core::problem::Problem;
use twinwedge_workbench::export;
use twinwedge_workbench::session::Session;
use twinwedge_workbench::store::{self, NotWritten, Replace};

use crate::shared::scans::write_grey16;

/// Writes a report or figures, over nothing that a person would have to be asked about.
pub(crate) fn to_file(
    session: &Session,
    film: Option<&FilmId>,
    path: &Path,
) -> Result<Vec<Problem>, Problem> {
    export::to_file(session, film, path, &session.sources(), Replace::Unasked).map_err(NotWritten::problem)
}

/// Density over lg H with a toe and no shoulder (toe-and-line form): base+fog, slope, sharpness, place of the toe.
pub(crate) fn toe_and_line(log_h: f64, slope: f64, toe: f64) -> f64 {
    let sharpness = 2.0;
    0.20 + slope / sharpness * (1.0 + 10.0_f64.powf(sharpness * (log_h - toe))).log10()
}

/// A film whose readings were typed to two decimals: read through the series' 21-step tablet.
pub(crate) fn typed_film(label: &str, slope: f64, toe: f64) -> Film {
    let tablet = Tablet::nominal(21).unwrap();
    let reading = |density: f64| TypedReading {
        density: (toe_and_line(-density, slope, toe) * 100.0).round() / 100.0,
        u: None,
        set_aside: false,
        missing: false,
    };
    let mut film = Film::named(FilmId::from(label), label);
    let readings = tablet.steps.iter().map(|step| reading(step.density)).collect();
    film.strips.push(ReadingsSource::Typed(readings).into());
    film.tablet_exposure =
        Some(TabletExposure::new(TabletId::from("tablet"), Exposure::Relative { stops_less: 0.0 }));
    film
}

/// A series of typed films; the first is the reference.
pub(crate) fn typed_series(films: usize) -> Series {
    let mut series = Series { title: "Saltmarsh, invented".to_owned(), ..Series::default() };
    series.settings.resamplings = 50;
    series.tablets.insert(TabletId::from("tablet"), Tablet::nominal(21).unwrap());
    for number in 0..films {
        let label = if number == 0 { "Tern 160".to_owned() } else { format!("Plover {number}") };
        let share = number as f64 / films as f64;
        series.films.push(typed_film(&label, 0.6 + 0.2 * share, -2.2 + 0.5 * share));
    }
    series.reference = series.films.first().map(|film| film.id.clone());
    series
}

/// A session that keeps no recovery files where the person's own are.
pub(crate) fn session(series: Series, folder: &Path) -> Session {
    let mut session = Session::of(series, folder.to_owned());
    session.set_recovery_folder(None);
    session
}

/// Shows the document as a gesture under way would leave it.
pub(crate) fn preview(session: &mut Session, change: impl FnOnce(&mut Series)) {
    let change = |series: &mut Series| {
        change(series);
        Ok(())
    };
    session.preview_with(change).unwrap();
}

/// Writes a 16-bit grey TIFF.
pub(crate) fn write_tiff(path: &Path, width: u32, height: u32, code: impl Fn(u32, u32) -> u16) {
    let pixels: Vec<u16> =
        (0..height).flat_map(|y| (0..width).map(move |x| (x, y))).map(|(x, y)| code(x, y)).collect();
    write_grey16(path, width, height, &pixels);
}

/// The entry of a file in `folder`.
pub(crate) fn entry(folder: &Path, name: &str, kind: ScanKind) -> ScanEntry {
    store::scan_entry(&folder.join(name), kind, folder).unwrap()
}
