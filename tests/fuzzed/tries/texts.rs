//! Tables, lists and the small files of the verbs.

use twinwedge_workbench::core::document::EnteredSpectrum;
use twinwedge_workbench::core::greys::spectrum::Carries;
use twinwedge_workbench::core::patch::default_layout;
use twinwedge_workbench::core::problem::Problem;
use twinwedge_workbench::{import, load, store};

use super::files::{self, CalibrationFile, LayoutFile};
use super::{Finding, as_file, plain};

/// An input as the text that its file would give, and the file's name: what is not UTF-8 may be text of another encoding, and
/// is refused where files are read otherwise.
fn text(name: &str, bytes: &[u8]) -> Result<Option<(String, String)>, Finding> {
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Ok(Some((text.trim_start_matches('\u{feff}').to_owned(), name.to_owned())));
    }
    match load::text(&as_file(name, bytes)) {
        Ok(text) => Ok(Some((text, name.to_owned()))),
        Err(problem) => plain::refusal(&problem, bytes).map(|()| None),
    }
}

fn refused<T>(read: Result<T, Problem>, bytes: &[u8]) -> Result<Option<T>, Finding> {
    match read {
        Ok(value) => Ok(Some(value)),
        Err(problem) => plain::refusal(&problem, bytes).map(|()| None),
    }
}

/// A table of readings.
pub(super) fn readings(bytes: &[u8]) -> Result<(), Finding> {
    let Some((text, name)) = text("try.csv", bytes)? else { return Ok(()) };
    let Some(readings) = refused(load::readings(&text, &name), bytes)? else { return Ok(()) };
    let sound = |density: f64, u: Option<f64>| {
        (-0.5..=6.0).contains(&density) && u.is_none_or(|u| u.is_finite() && u >= 0.0)
    };
    if readings.is_empty() || !readings.iter().all(|reading| sound(reading.density, reading.u)) {
        return Err("values: readings that are none".to_owned());
    }
    Ok(())
}

/// A table of a tablet's densities.
pub(super) fn tablet(bytes: &[u8]) -> Result<(), Finding> {
    let Some((text, name)) = text("try.csv", bytes)? else { return Ok(()) };
    let Some(tablet) = refused(load::tablet(&text, &name), bytes)? else { return Ok(()) };
    if tablet.steps.len() < 2 || tablet.steps.windows(2).any(|pair| pair[0].density >= pair[1].density) {
        return Err("values: a tablet that does not rise".to_owned());
    }
    Ok(())
}

/// Spectra in columns or rows; what is read can stand in a series.
pub(super) fn spectra(bytes: &[u8]) -> Result<(), Finding> {
    let Some((text, name)) = text("try.csv", bytes)? else { return Ok(()) };
    let read = load::spectra(&text, &name, Carries::Reflectance);
    let Some(load::Spectra { named, notes }) = refused(read, bytes)? else { return Ok(()) };
    for note in &notes {
        plain::words(note, bytes)?;
    }
    for (_, spectrum) in &named {
        let mut layout = default_layout();
        layout.patches[1].reflectance = Some(EnteredSpectrum::of(spectrum));
        if let Err(fault) = layout.check() {
            return Err(format!("values: a spectrum that no series may hold: {}", fault.cause));
        }
    }
    Ok(())
}

/// A table of patches.
pub(super) fn patches(bytes: &[u8]) -> Result<(), Finding> {
    let Some((text, name)) = text("try.csv", bytes)? else { return Ok(()) };
    let Some(patches) = refused(load::patches(&text, &name), bytes)? else { return Ok(()) };
    let numbers = |patch: &load::PatchRead| {
        let [reference, candidate] = patch.densities;
        [patch.known, reference, candidate, patch.stops, patch.u]
    };
    if patches.is_empty() || patches.iter().flat_map(numbers).flatten().any(|number| !number.is_finite()) {
        return Err("values: patches that are none".to_owned());
    }
    Ok(())
}

/// A list of what files are; a few such files stand beside it.
pub(super) fn list(bytes: &[u8]) -> Result<(), Finding> {
    let path = as_file("list.csv", bytes);
    let Some((series, notes)) = refused(import::series_from_list(&path), bytes)? else { return Ok(()) };
    for note in &notes {
        plain::words(note, bytes)?;
    }
    super::series::there_and_back(&series)
}

/// A patch layout that a series saved.
pub(super) fn layout(bytes: &[u8]) -> Result<(), Finding> {
    let Some((text, name)) = text("try.patches", bytes)? else { return Ok(()) };
    let Some(layout) = refused(store::parse_layout(&text, &name), bytes)? else { return Ok(()) };
    let written = store::write_layout(&layout);
    match store::parse_layout(&written, "written") {
        Ok(again) if again == layout => Ok(()),
        Ok(_) => Err("round trip: a layout is another one after writing and reading".to_owned()),
        Err(problem) => Err(format!("round trip: a layout that was written is refused: {problem}")),
    }
}

/// The layout file of a verb.
pub(super) fn verbs_layout(bytes: &[u8]) -> Result<(), Finding> {
    let path = as_file("try.ron", bytes);
    let Some(file) = refused(files::read::<LayoutFile>(&path), bytes)? else { return Ok(()) };
    let Some((layout, _)) = refused(file.grid(&path), bytes)? else { return Ok(()) };
    if u64::from(layout.rows) * u64::from(layout.columns) != layout.patches.len() as u64 {
        return Err("size: a layout of other patches than it says".to_owned());
    }
    Ok(())
}

/// The calibration file of a verb.
pub(super) fn verbs_calibration(bytes: &[u8]) -> Result<(), Finding> {
    let path = as_file("try.ron", bytes);
    let Some(file) = refused(files::read::<CalibrationFile>(&path), bytes)? else { return Ok(()) };
    if refused(file.quad(&path), bytes)?.is_none() || file.scan.is_empty() {
        return Ok(());
    }
    refused(import::tablet_by_name(&file.tablet, &super::folder()), bytes).map(drop)
}
