//! Examination of scans.

use twinwedge_core::document::{ScanId, Series};
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::examine::{Examination, Known, examine};
use twinwedge_core::scan::{Difference, Settings, differences};

use super::scans::file_name;
use crate::engine::ask::{CalibrationOf, ExaminedOf, ScanOf, ScanSettingsOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// What was found about one scan.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Examined {
    /// From its pixels.
    pub pixels: Examination,
    /// Where its settings differ from its calibration's.
    pub settings: Vec<Difference>,
    /// It is read through a calibration of the other kind: film for a print, or a print for film.
    pub other_kind: bool,
}

impl Examined {
    /// In a line.
    #[must_use]
    pub fn line(&self) -> String {
        let mut words = Vec::new();
        if self.other_kind {
            words.push("calibrated as the other kind".to_owned());
        }
        let pixels = self.pixels.line();
        if self.pixels.found().next().is_some() || (words.is_empty() && !self.doubtful_settings()) {
            words.push(pixels);
        }
        if self.doubtful_settings() {
            words.push("other settings than its calibration".to_owned());
        }
        words.join(", ")
    }

    /// Whether its settings put it in doubt.
    #[must_use]
    pub fn doubtful_settings(&self) -> bool {
        self.settings.iter().any(|difference| difference.doubt)
    }

    /// Whether anything speaks against it.
    #[must_use]
    pub fn doubtful(&self) -> bool {
        self.other_kind || self.doubtful_settings() || self.pixels.found().next().is_some()
    }
}

/// The calibration of a scan that is there and fits, and the scan it was made from.
fn calibration(view: &View<'_>, scan: &ScanId) -> Result<Option<(CalibrationOf, ScanId)>, Problem> {
    let Some(id) = &view.scan_entry(scan)?.calibration else { return Ok(None) };
    let made = view.series().calibrations.get(id);
    Ok(made.map(|made| (CalibrationOf { calibration: id.clone() }, made.scan.clone())))
}

/// Whether a scan and the scan of its calibration are of different kinds.
pub(super) fn other_kind(view: &View<'_>, scan: &ScanId) -> Result<bool, Problem> {
    let kind = |scan: &ScanId| view.scan_entry(scan).map(|entry| entry.kind);
    let Some((_, of)) = calibration(view, scan)? else { return Ok(false) };
    Ok(kind(&of).is_ok_and(|other| kind(scan).is_ok_and(|kind| kind != other)))
}

impl Ask for ExaminedOf {
    type Output = Examined;
    const KIND: Kind = Kind::ExaminedOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.examined
    }

    fn label(&self, series: &Series) -> String {
        format!("Examining {}", file_name(series, &self.scan))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let recipe = Recipe::new("examined", 1).key(view.digest(&ScanOf { scan: self.scan.clone() })?);
        let recipe = recipe.with(&view.scan_entry(&self.scan)?.channel).with(&other_kind(view, &self.scan)?);
        let Some((ask, of)) = calibration(view, &self.scan)? else { return Ok(recipe.done()) };
        let with = |recipe: Recipe, digest: Result<Key, Problem>| match digest {
            Ok(key) => recipe.key(key),
            Err(_) => recipe.with("none"),
        };
        let recipe = with(recipe, view.try_digest(&ask)?);
        Ok(with(recipe, view.try_digest(&ScanOf { scan: of })?).done())
    }

    fn make(&self, view: &View<'_>) -> Result<Examined, Halt> {
        let entry = view.scan_entry(&self.scan)?;
        let scan = view.get(&ScanOf { scan: self.scan.clone() })?;
        let (mut fit, mut settings) = (None, Vec::new());
        if let Some((ask, of)) = calibration(view, &self.scan)? {
            if of != self.scan
                && let Ok(other) = view.try_get(&ScanSettingsOf { scan: of })?
            {
                // Not the calibration's pixels: they would be read again for each of many scans.
                settings = differences(other.compared(), Settings::of(&scan));
            }
            fit = view.try_get(&ask)?.ok();
        }
        let fit = fit.as_ref().filter(|fit| fit.table.light.len() == scan.levels());
        let noise = fit.and_then(|fit| Some((fit.noise.as_ref()?, &fit.table)));
        let plane = scan.plane(entry.channel);
        let pixels = examine(plane, Known { noise }, &|| view.stop()).ok_or(Halt::Dropped)?;
        Ok(Examined { pixels, settings, other_kind: other_kind(view, &self.scan)? })
    }

    fn digest(examined: &Examined, _: Key) -> Key {
        Recipe::new("examined value", 1).with(examined).done()
    }

    fn bytes(_: &Examined) -> usize {
        4096
    }

    fn slow(&self) -> bool {
        true
    }
}
