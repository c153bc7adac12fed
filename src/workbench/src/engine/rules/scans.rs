//! Scans, their smaller copies, their tone tables and calibrations.

use std::path::Path;

use twinwedge_core::document::{
    Aperture, Calibration, CalibrationId, Channel, FlatSource, ScanId, Series, Tablet,
};
use twinwedge_core::found::Found;
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::{
    CalibrationFit, CalibrationPoint, FlatField, Pyramid, Scan, ToneTable, calibrate,
};
use twinwedge_core::tablet::find::FoundStrip;
use twinwedge_core::tablet::{StepSample, noise_model, sample_strip, steps_seen};

use super::grain::resolution;
use super::measurable;
use super::readings::tablet_u;
use crate::engine::ask::{
    CalibrationIn, CalibrationOf, DriftOf, FoundStripOf, PyramidOf, ScanOf, ScanSettings, ScanSettingsOf,
    ScanSize, ScanSizeOf, ToneOf,
};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};
use crate::{finding, load};

/// The name of a scan's file, for the status line and for problems.
pub(super) fn file_name(series: &Series, scan: &ScanId) -> String {
    let path = series.scans.get(scan).map(|entry| Path::new(&entry.path));
    path.and_then(Path::file_name).map_or_else(|| scan.0.clone(), |name| name.to_string_lossy().into_owned())
}

impl Ask for ScanOf {
    type Output = Scan;
    const KIND: Kind = Kind::ScanOf;
    const BY_RECIPE: bool = true;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.scan
    }

    fn label(&self, series: &Series) -> String {
        format!("Reading {}", file_name(series, &self.scan))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let path = view.path_of(view.scan_entry(&self.scan)?);
        let Some(stamp) = view.stamp(&path)? else {
            return Err(missing(&self.scan, &path).into());
        };
        Ok(Recipe::new("scan", 1).with(&*path.to_string_lossy()).with(&stamp).done())
    }

    fn make(&self, view: &View<'_>) -> Result<Scan, Halt> {
        let path = view.path_of(view.scan_entry(&self.scan)?);
        let read =
            load::scan(&path, load::Limits::of_machine(view.scan_limit()), &|done| view.progress(done));
        Ok(read.map_err(|problem| of_file(problem, &self.scan))?)
    }

    fn digest(_: &Scan, key: Key) -> Key {
        key
    }

    fn bytes(scan: &Scan) -> usize {
        scan.bytes() + scan.meta.profile_curve.as_ref().map_or(0, |curve| curve.len() * 4)
    }
}

impl Ask for ScanSizeOf {
    type Output = ScanSize;
    const KIND: Kind = Kind::ScanSizeOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.scan_size
    }

    fn label(&self, series: &Series) -> String {
        format!("Size of {}", file_name(series, &self.scan))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        Ok(Recipe::new("scan size", 1).key(view.digest(&ScanOf { scan: self.scan.clone() })?).done())
    }

    fn make(&self, view: &View<'_>) -> Result<ScanSize, Halt> {
        let scan = view.get(&ScanOf { scan: self.scan.clone() })?;
        Ok(ScanSize {
            width: scan.width,
            height: scan.height,
            bits: if scan.levels() == 256 { 8 } else { 16 },
            dpi: scan.meta.dpi.map(|(across, _)| across),
            grey: scan.channels == 1,
        })
    }

    fn digest(size: &ScanSize, _: Key) -> Key {
        Recipe::new("scan size value", 1).with(size).done()
    }

    fn bytes(_: &ScanSize) -> usize {
        size_of::<ScanSize>()
    }
}

impl Ask for ScanSettingsOf {
    type Output = ScanSettings;
    const KIND: Kind = Kind::ScanSettingsOf;
    const BY_RECIPE: bool = true;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.scan_settings
    }

    fn label(&self, series: &Series) -> String {
        format!("Settings of {}", file_name(series, &self.scan))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        Ok(Recipe::new("scan settings", 1).key(view.digest(&ScanOf { scan: self.scan.clone() })?).done())
    }

    fn make(&self, view: &View<'_>) -> Result<ScanSettings, Halt> {
        let scan = view.get(&ScanOf { scan: self.scan.clone() })?;
        Ok(ScanSettings { meta: scan.meta.clone(), levels: scan.levels(), channels: scan.channels })
    }

    fn digest(_: &ScanSettings, key: Key) -> Key {
        key
    }

    fn bytes(settings: &ScanSettings) -> usize {
        settings.meta.profile_curve.as_ref().map_or(0, |curve| size_of_val(&**curve)) + 1024
    }
}

/// The problem of a scan whose file is not there.
pub(crate) fn missing(scan: &ScanId, path: &Path) -> Problem {
    Problem::error(
        Subject::Scan(scan.clone()),
        format!("The file {} is not there.", path.display()),
        "Find it again, or put it back where it was; everything else stays as it is.",
    )
}

/// A problem of a file as the problem of the scan that it is.
fn of_file(problem: Problem, scan: &ScanId) -> Problem {
    let cause = match &problem.subject {
        Subject::File { path, place: Some(place) } => format!("{path}, {place}: {}", problem.cause),
        Subject::File { path, place: None } => format!("{path}: {}", problem.cause),
        _ => problem.cause.clone(),
    };
    Problem { cause, ..problem }.about(Subject::Scan(scan.clone()))
}

impl Ask for PyramidOf {
    type Output = Pyramid;
    const KIND: Kind = Kind::PyramidOf;
    const BY_RECIPE: bool = true;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.pyramid
    }

    fn label(&self, series: &Series) -> String {
        format!("Preparing {} for the screen", file_name(series, &self.scan))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let recipe = Recipe::new("pyramid", 1).key(view.digest(&ScanOf { scan: self.scan.clone() })?);
        Ok(match view.scan_entry(&self.scan)?.channel {
            Channel::Mix { .. } => measurable::key_of_base(recipe, view, &self.scan)?.done(),
            _ => recipe.done(),
        })
    }

    /// Averages light by the file's own tone curve, not by its calibration: calibrating anew touches no pixel.
    fn make(&self, view: &View<'_>) -> Result<Pyramid, Halt> {
        let scan = measurable::codes(view, &self.scan)?;
        let table = ToneTable::uncalibrated(&scan);
        Pyramid::build(&scan, Some(&table.light), &|| view.stop()).ok_or(Halt::Dropped)
    }

    fn digest(_: &Pyramid, key: Key) -> Key {
        key
    }

    fn bytes(pyramid: &Pyramid) -> usize {
        use twinwedge_core::scan::Samples;
        let of = |samples: &Samples| match samples {
            Samples::U8(samples) => samples.len(),
            Samples::U16(samples) => samples.len() * 2,
        };
        pyramid.levels.iter().map(|level| of(&level.samples)).sum()
    }
}

impl Ask for FoundStripOf {
    type Output = Found<FoundStrip>;
    const KIND: Kind = Kind::FoundStripOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.found_strip
    }

    fn label(&self, series: &Series) -> String {
        format!("Looking for the strip in {}", file_name(series, &self.scan))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let channel = view.scan_entry(&self.scan)?.channel;
        let scan = ScanOf { scan: self.scan.clone() };
        Ok(Recipe::new("found strip", 1).key(view.digest(&scan)?).with(&channel).with(&self.wanted).done())
    }

    fn make(&self, view: &View<'_>) -> Result<Found<FoundStrip>, Halt> {
        let channel = view.scan_entry(&self.scan)?.channel;
        let scan = view.get(&ScanOf { scan: self.scan.clone() })?;
        let found = finding::strip_of(&scan, channel, &self.wanted, &|| view.stop());
        Ok(found.map_err(|problem| problem.about(Subject::Scan(self.scan.clone())))?)
    }

    fn digest(_: &Found<FoundStrip>, key: Key) -> Key {
        key
    }

    fn bytes(found: &Found<FoundStrip>) -> usize {
        found.value.borders.len() * 128
    }
}

impl Ask for ToneOf {
    type Output = ToneTable;
    const KIND: Kind = Kind::ToneOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.tone
    }

    fn label(&self, series: &Series) -> String {
        format!("Densities of {}", file_name(series, &self.scan))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let entry = view.scan_entry(&self.scan)?;
        let mut recipe = measurable::key_of_base(Recipe::new("tone", 1), view, &self.scan)?;
        if entry.flare_corrected {
            recipe = recipe.with("without stray light");
        }
        if entry.known.is_some_and(|patch| patch.applied) {
            recipe = recipe.key(view.digest(&DriftOf { scan: self.scan.clone() })?);
        }
        Ok(recipe.done())
    }

    fn make(&self, view: &View<'_>) -> Result<ToneTable, Halt> {
        let entry = view.scan_entry(&self.scan)?;
        let mut table = measurable::base_table(view, &self.scan)?;
        if entry.flare_corrected
            && let Some((light, u)) = measurable::stray(view, &self.scan, &table)?
        {
            table = table.without_stray(light, u);
        }
        if let Some(patch) = entry.known.filter(|patch| patch.applied) {
            let drift = measurable::drift(view, &self.scan, &table, &patch)?.difference;
            table = table.shifted(-drift.number(), drift.u);
        }
        Ok(table)
    }

    fn digest(table: &ToneTable, _: Key) -> Key {
        digest_of_table(Recipe::new("tone value", 1), table).done()
    }

    fn bytes(table: &ToneTable) -> usize {
        table.light.len() * 24
    }
}

fn digest_of_table(recipe: Recipe, table: &ToneTable) -> Recipe {
    let recipe = recipe.numbers(&table.light).numbers(&table.density).numbers(&table.density_u);
    recipe.with(&table.gradient).with(&table.trusted).with(&table.flags).with(&format!("{:?}", table.source))
}

/// What a calibration is made from.
struct Parts<'a> {
    calibration: &'a Calibration,
    tablet: &'a Tablet,
    channel: Channel,
}

impl CalibrationOf {
    fn parts<'a>(&self, view: &'a View<'_>) -> Result<Parts<'a>, Problem> {
        let subject = || Subject::Calibration(self.calibration.clone());
        let series = view.series();
        let calibration = series.calibrations.get(&self.calibration).ok_or_else(|| {
            Problem::error(
                subject(),
                "The series refers to a calibration that is not in it.",
                "Choose another calibration, or none.",
            )
        })?;
        let tablet = series.tablets.get(&calibration.tablet).ok_or_else(|| {
            Problem::error(
                subject(),
                format!("Its tablet {} is not in the series.", calibration.tablet.0),
                "Choose the tablet that was scanned, or enter its densities.",
            )
        })?;
        Ok(Parts { calibration, tablet, channel: view.scan_entry(&calibration.scan)?.channel.heaviest() })
    }
}

impl Ask for CalibrationOf {
    type Output = CalibrationFit;
    const KIND: Kind = Kind::CalibrationOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.calibration
    }

    fn label(&self, series: &Series) -> String {
        let label = series.calibrations.get(&self.calibration).map(|calibration| calibration.label.as_str());
        format!("Calibrating {}", label.unwrap_or(&self.calibration.0))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let parts = self.parts(view)?;
        Ok(key_in(Recipe::new("calibration", 1), view, &parts, parts.channel)?.done())
    }

    fn make(&self, view: &View<'_>) -> Result<CalibrationFit, Halt> {
        let parts = self.parts(view)?;
        fit_in(view, &self.calibration, &parts, parts.channel)
    }

    fn digest(fit: &CalibrationFit, _: Key) -> Key {
        let recipe = digest_of_table(Recipe::new("calibration value", 1), &fit.table);
        recipe
            .with(&fit.residuals)
            .with(&fit.rms)
            .with(&fit.notes)
            .with(&format!("{:?}", fit.points))
            .with(&fit.flare)
            .with(&fit.noise)
            .done()
    }

    fn bytes(fit: &CalibrationFit) -> usize {
        fit.table.light.len() * 24 + fit.points.len() * 64
    }
}

impl Ask for CalibrationIn {
    type Output = CalibrationFit;
    const KIND: Kind = Kind::CalibrationIn;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.calibration_in
    }

    fn label(&self, series: &Series) -> String {
        let label = series.calibrations.get(&self.calibration).map(|calibration| calibration.label.as_str());
        format!("Calibrating {} in {}", label.unwrap_or(&self.calibration.0), self.channel.words())
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let ask = CalibrationOf { calibration: self.calibration.clone() };
        Ok(key_in(Recipe::new("calibration in", 1), view, &ask.parts(view)?, self.channel)?.done())
    }

    fn make(&self, view: &View<'_>) -> Result<CalibrationFit, Halt> {
        let ask = CalibrationOf { calibration: self.calibration.clone() };
        fit_in(view, &self.calibration, &ask.parts(view)?, self.channel)
    }

    fn digest(fit: &CalibrationFit, key: Key) -> Key {
        CalibrationOf::digest(fit, key)
    }

    fn bytes(fit: &CalibrationFit) -> usize {
        CalibrationOf::bytes(fit)
    }
}

fn key_in(recipe: Recipe, view: &View<'_>, parts: &Parts<'_>, channel: Channel) -> Result<Recipe, Halt> {
    let calibration = parts.calibration;
    let scan = view.digest(&ScanOf { scan: calibration.scan.clone() })?;
    let recipe =
        recipe.key(scan).with(&calibration.label).with(&calibration.shape).with(parts.tablet).with(&channel);
    let entry = view.scan_entry(&calibration.scan)?;
    let mut recipe = recipe.with(&entry.flat);
    if calibration.shape.aperture != Aperture::Share {
        recipe = recipe.with(&entry.dpi);
    }
    let blank = match &entry.flat {
        FlatSource::Blank(blank) => Some(blank),
        FlatSource::Border(_) | FlatSource::Nothing => None,
    };
    for other in calibration.repeat.iter().chain(blank) {
        recipe = recipe.key(view.digest(&ScanOf { scan: other.clone() })?);
    }
    Ok(recipe.with(&view.series().settings.reading_u))
}

/// Fits a calibration in one channel. Falloff of its scan is taken out by what each step lies deeper in it: the density that
/// the scanner saw there was higher by as much.
fn fit_in(
    view: &View<'_>,
    id: &CalibrationId,
    parts: &Parts<'_>,
    channel: Channel,
) -> Result<CalibrationFit, Halt> {
    let Parts { calibration, tablet, .. } = parts;
    let about = |problem: Problem| problem.about(Subject::Calibration(id.clone()));
    let scan = view.get(&ScanOf { scan: calibration.scan.clone() })?;
    let entry = view.scan_entry(&calibration.scan)?;
    // Only codes are taken from these samples; the table is there to tell light from dark when dust is left out.
    let table = ToneTable::uncalibrated(&scan);
    let per_mm = resolution(entry, &scan.meta).ok().map(|(dpi, _)| dpi / 25.4);
    let plane = scan.plane(channel).resolved(per_mm);
    let samples = sample_strip(plane, &table, &calibration.shape).map_err(about)?;
    if samples.len() != tablet.steps.len() {
        let problem = Problem::error(
            Subject::Calibration(id.clone()),
            format!(
                "{} steps are marked on the scan, and the tablet {} has {}.",
                samples.len(),
                tablet.label,
                tablet.steps.len()
            ),
            "Mark the whole tablet, or choose the tablet that was scanned.",
        );
        return Err(problem.into());
    }
    as_many_steps(id, tablet, steps_seen(plane, &table, &calibration.shape))?;
    let reading_u = view.series().settings.reading_u;
    let mut points: Vec<CalibrationPoint> = samples
        .iter()
        .zip(&tablet.steps)
        .map(|(sample, step)| CalibrationPoint {
            step: sample.step,
            code: sample.code.number(),
            code_u: sample.code.u,
            density: step.density,
            density_u: tablet_u(tablet, *step, reading_u),
            flags: flags_of_codes(sample),
        })
        .collect();
    let mut fit = calibrate(&points, scan.levels(), &calibration.label).map_err(about)?;
    let flat = match &entry.flat {
        FlatSource::Nothing => None,
        FlatSource::Border(width) => Some(FlatField::of_border(plane, &fit.table, *width).map_err(about)?),
        FlatSource::Blank(blank) => {
            let blank = view.get(&ScanOf { scan: blank.clone() })?;
            measurable::same_frame(&scan, &blank).map_err(about)?;
            Some(FlatField::of_blank(blank.plane(channel), &fit.table).map_err(about)?)
        }
    };
    if let Some(flat) = flat {
        for (point, sample) in points.iter_mut().zip(&samples) {
            let bounds = sample.area.bounds();
            let middle = (0.5 * (bounds.min.x + bounds.max.x), 0.5 * (bounds.min.y + bounds.max.y));
            point.density += flat.excess(middle, (scan.width, scan.height));
            point.density_u = point.density_u.hypot(flat.u);
        }
        fit = calibrate(&points, scan.levels(), &calibration.label).map_err(about)?;
        fit.notes.push(format!(
            "The falloff of light over its scan was taken out: {:.3} in density at the darkest corner.",
            flat.corner.0
        ));
    }
    if tablet.nominal {
        fit.table.flags |= Flags::NOMINAL_TABLET;
    }
    let second = match &calibration.repeat {
        Some(repeat) => Some(view.get(&ScanOf { scan: repeat.clone() })?),
        None => None,
    };
    let second = second.as_ref().map(|scan| scan.plane(channel));
    fit.noise = noise_model(plane, second, &fit.table, &samples);
    Ok(fit)
}

/// Whether as many steps are seen between the corners of a tablet as it has.
fn as_many_steps(id: &CalibrationId, tablet: &Tablet, seen: Option<u32>) -> Result<(), Problem> {
    let Some(seen) = seen.filter(|seen| *seen as usize != tablet.steps.len()) else { return Ok(()) };
    Err(Problem::error(
        Subject::Calibration(id.clone()),
        format!(
            "The tablet {} has {} steps, and {seen} steps are seen between its corners in the scan.",
            tablet.label,
            tablet.steps.len()
        ),
        "Give the densities of the tablet that was scanned, of every step of it, and put the corners round exactly these.",
    ))
}

/// What a sample says about its codes, without what the missing calibration says about its density.
fn flags_of_codes(sample: &StepSample) -> Flags {
    sample.flags() - Flags::OF_TABLE
}
