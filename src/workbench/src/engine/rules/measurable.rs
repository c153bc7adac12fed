//! A scan as it is measured: the codes of the chosen channel or mix, their table, and what its light is corrected by.

use std::sync::Arc;

use twinwedge_core::document::{CalibrationId, Channel, FlatSource, KnownPatch, ScanId, Series};
use twinwedge_core::geometry::Quad;
use twinwedge_core::measured::Measured;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::{FlatField, Plane, Scan, ToneTable, mixed, mixed_table};
use twinwedge_core::tablet::sample_quad;
use twinwedge_core::units::Density;

use super::grain::resolution;
use super::scans::file_name;
use crate::engine::ask::{CalibrationIn, CalibrationOf, DriftOf, EncodingOf, FlatOf, MixOf, ScanOf, ToneOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// A scan that is ready to be measured.
pub(super) struct Measurable {
    pub(super) scan: Arc<Scan>,
    pub(super) table: Arc<ToneTable>,
    flat: Option<Arc<FlatField>>,
    channel: Channel,
    per_mm: Option<f64>,
}

impl Measurable {
    /// With its table and corrections.
    pub(super) fn of(view: &View<'_>, scan: &ScanId) -> Result<Self, Halt> {
        let entry = view.scan_entry(scan)?;
        let flat = match entry.flat {
            FlatSource::Nothing => None,
            FlatSource::Blank(_) | FlatSource::Border(_) => Some(view.get(&FlatOf { scan: scan.clone() })?),
        };
        let table = view.get(&ToneOf { scan: scan.clone() })?;
        let codes = codes(view, scan)?;
        let per_mm = resolution(entry, &codes.meta).ok().map(|(dpi, _)| dpi / 25.4);
        Ok(Self { scan: codes, table, flat, channel: entry.channel, per_mm })
    }

    /// The plane to sample.
    pub(super) fn plane(&self) -> Plane<'_> {
        self.scan.plane(self.channel).corrected(self.flat.as_deref()).resolved(self.per_mm)
    }
}

/// The codes that are measured: the scan's own, or those of its mix.
pub(super) fn codes(view: &View<'_>, scan: &ScanId) -> Result<Arc<Scan>, Halt> {
    let full = view.get(&ScanOf { scan: scan.clone() })?;
    let mix = matches!(view.scan_entry(scan)?.channel, Channel::Mix { .. });
    if mix && full.channels == 3 { view.get(&MixOf { scan: scan.clone() }) } else { Ok(full) }
}

/// What a scan is shown by: its codes, its table, and the channel that is measured.
pub(super) fn key_of_sight(recipe: Recipe, view: &View<'_>, scan: &ScanId) -> Result<Recipe, Halt> {
    let codes = view.digest(&ScanOf { scan: scan.clone() })?;
    let table = view.digest(&ToneOf { scan: scan.clone() })?;
    Ok(recipe.key(codes).key(table).with(&view.scan_entry(scan)?.channel))
}

/// What a measurement through a scan is keyed by: all of that, and corrections.
pub(super) fn key_of_scan(recipe: Recipe, view: &View<'_>, scan: &ScanId) -> Result<Recipe, Halt> {
    let recipe = key_of_sight(recipe, view, scan)?;
    Ok(match view.scan_entry(scan)?.flat {
        FlatSource::Nothing => recipe,
        FlatSource::Blank(_) | FlatSource::Border(_) => {
            recipe.key(view.digest(&FlatOf { scan: scan.clone() })?)
        }
    })
}

/// A calibration in one of its channels.
fn calibration_in(id: &CalibrationId, channel: Channel) -> CalibrationIn {
    CalibrationIn { calibration: id.clone(), channel }
}

/// What the table of a scan is made from before it is shifted or cleared of stray light.
pub(super) fn key_of_base(recipe: Recipe, view: &View<'_>, scan: &ScanId) -> Result<Recipe, Halt> {
    let entry = view.scan_entry(scan)?;
    let recipe = recipe.key(view.digest(&ScanOf { scan: scan.clone() })?);
    let Some(calibration) = &entry.calibration else {
        let recipe = recipe.key(view.digest(&EncodingOf { scan: scan.clone() })?);
        return Ok(match entry.channel {
            Channel::Mix { .. } => recipe.with(&entry.channel),
            _ => recipe,
        });
    };
    let recipe = recipe.key(view.digest(&CalibrationOf { calibration: calibration.clone() })?);
    let recipe = recipe.with(&super::examined::other_kind(view, scan)?);
    match entry.channel {
        Channel::Mix { .. } => {
            let mut recipe = recipe.with(&entry.channel);
            for channel in [Channel::Red, Channel::Green, Channel::Blue] {
                recipe = recipe.key(view.digest(&calibration_in(calibration, channel))?);
            }
            Ok(recipe)
        }
        channel if channel != calibrated_channel(view, calibration) => {
            Ok(recipe.key(view.digest(&calibration_in(calibration, channel))?))
        }
        _ => Ok(recipe),
    }
}

/// The channel that a calibration was made in.
fn calibrated_channel(view: &View<'_>, id: &CalibrationId) -> Channel {
    let made = view.series().calibrations.get(id);
    let entry = made.and_then(|made| view.scan_entry(&made.scan).ok());
    entry.map_or(Channel::default(), |entry| entry.channel.heaviest())
}

/// The table of one channel of a scan.
fn table_in(view: &View<'_>, id: &ScanId, channel: Channel) -> Result<ToneTable, Halt> {
    let scan = view.get(&ScanOf { scan: id.clone() })?;
    let Some(calibration) = &view.scan_entry(id)?.calibration else {
        let judged = view.get(&EncodingOf { scan: id.clone() })?;
        return Ok(ToneTable::encoded(&scan, judged.encoding, judged.certainty));
    };
    let own = scan.channels == 1 || channel == calibrated_channel(view, calibration);
    let fit = if own {
        view.get(&CalibrationOf { calibration: calibration.clone() })?
    } else {
        view.get(&calibration_in(calibration, channel))?
    };
    if fit.table.density.len() != scan.levels() {
        let problem = Problem::error(
            Subject::Scan(id.clone()),
            format!(
                "The calibration {} was made from a scan of {} codes, and this scan has {}.",
                calibration.0,
                fit.table.density.len(),
                scan.levels()
            ),
            "Scan tablet and film with the same bits per sample, or choose another calibration.",
        );
        return Err(problem.into());
    }
    Ok(fit.table.clone())
}

/// The table of a scan before it is shifted or cleared of stray light. Through a calibration of the other kind densities
/// are none: they are flagged as uncalibrated.
pub(super) fn base_table(view: &View<'_>, id: &ScanId) -> Result<ToneTable, Halt> {
    let entry = view.scan_entry(id)?;
    let scan = view.get(&ScanOf { scan: id.clone() })?;
    let mut table = match (entry.channel, entry.channel.weights()) {
        (Channel::Mix { .. }, None) => {
            let problem = Problem::error(
                Subject::Scan(id.clone()),
                "The mix of its channels has no weight at all.",
                "Give red, green or blue a weight above zero.",
            );
            return Err(problem.into());
        }
        (Channel::Mix { .. }, Some(weights)) if scan.channels == 3 => {
            let tables = all_tables(view, id)?;
            let name = entry.calibration.as_ref().map_or_else(String::new, |made| made.0.clone());
            mixed_table(tables.each_ref(), weights, &format!("{name}, {}", entry.channel.words()))
        }
        (channel, _) => table_in(view, id, channel.heaviest())?,
    };
    if super::examined::other_kind(view, id)? {
        table.flags |= twinwedge_core::measured::Flags::UNCALIBRATED;
    }
    Ok(table)
}

fn all_tables(view: &View<'_>, id: &ScanId) -> Result<[ToneTable; 3], Halt> {
    let of = |channel| table_in(view, id, channel);
    Ok([of(Channel::Red)?, of(Channel::Green)?, of(Channel::Blue)?])
}

impl Ask for MixOf {
    type Output = Scan;
    const KIND: Kind = Kind::MixOf;
    const BY_RECIPE: bool = true;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.mix
    }

    fn label(&self, series: &Series) -> String {
        format!("Mixing the channels of {}", file_name(series, &self.scan))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        Ok(key_of_base(Recipe::new("mix", 1), view, &self.scan)?.done())
    }

    fn make(&self, view: &View<'_>) -> Result<Scan, Halt> {
        let weights = view.scan_entry(&self.scan)?.channel.weights().unwrap_or([0.0, 1.0, 0.0]);
        let tables = all_tables(view, &self.scan)?;
        let scan = view.get(&ScanOf { scan: self.scan.clone() })?;
        mixed(&scan, tables.each_ref(), weights, &|| view.stop()).ok_or(Halt::Dropped)
    }

    fn digest(_: &Scan, key: Key) -> Key {
        key
    }

    fn bytes(scan: &Scan) -> usize {
        scan.bytes()
    }
}

impl Ask for FlatOf {
    type Output = FlatField;
    const KIND: Kind = Kind::FlatOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.flat
    }

    fn label(&self, series: &Series) -> String {
        format!("Measuring the falloff of {}", file_name(series, &self.scan))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let entry = view.scan_entry(&self.scan)?;
        let recipe =
            key_of_base(Recipe::new("flat", 1), view, &self.scan)?.with(&entry.flat).with(&entry.channel);
        Ok(match &entry.flat {
            FlatSource::Blank(blank) => recipe.key(view.digest(&ScanOf { scan: blank.clone() })?).done(),
            FlatSource::Border(_) | FlatSource::Nothing => recipe.done(),
        })
    }

    fn make(&self, view: &View<'_>) -> Result<FlatField, Halt> {
        let entry = view.scan_entry(&self.scan)?;
        let channel = entry.channel.heaviest();
        let own = view.get(&ScanOf { scan: self.scan.clone() })?;
        let table = table_in(view, &self.scan, channel)?;
        let found = match &entry.flat {
            FlatSource::Nothing => Err(Problem::note(
                Subject::Scan(self.scan.clone()),
                "Nothing says where the falloff of its light is to be taken from.",
                "Choose a blank scan, or the border of the paper.",
            )),
            FlatSource::Border(width) => FlatField::of_border(own.plane(channel), &table, *width),
            FlatSource::Blank(blank) => {
                let blank = view.get(&ScanOf { scan: blank.clone() })?;
                same_frame(&own, &blank)?;
                FlatField::of_blank(blank.plane(channel), &table)
            }
        };
        Ok(found.map_err(|problem| problem.about(Subject::Scan(self.scan.clone())))?)
    }

    fn digest(flat: &FlatField, _: Key) -> Key {
        Recipe::new("flat value", 1).with(flat).done()
    }

    fn bytes(_: &FlatField) -> usize {
        4096
    }

    fn slow(&self) -> bool {
        true
    }
}

/// A blank scan must show the same frame with the same codes.
pub(super) fn same_frame(scan: &Scan, blank: &Scan) -> Result<(), Problem> {
    let ratio = |scan: &Scan| scan.width as f64 / scan.height.max(1) as f64;
    if scan.levels() != blank.levels() || (ratio(scan) / ratio(blank) - 1.0).abs() > 0.02 {
        return Err(Problem::error(
            Subject::Series,
            format!(
                "The blank scan ({} x {} pixels, {} codes) does not show the frame of this one ({} x {}, {}).",
                blank.width,
                blank.height,
                blank.levels(),
                scan.width,
                scan.height,
                scan.levels()
            ),
            "Scan the blank with the frame and the settings of the scan.",
        ));
    }
    Ok(())
}

/// What a known patch says of the drift of a scanner.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Drift {
    /// As measured, before any shift.
    pub measured: Measured<Density>,
    /// As known.
    pub known: Measured<Density>,
    /// Measured minus known.
    pub difference: Measured<Density>,
    /// Whether all densities of the scan are shifted by it.
    pub applied: bool,
}

/// The drift that a known patch shows through a table.
pub(super) fn drift(
    view: &View<'_>,
    id: &ScanId,
    table: &ToneTable,
    patch: &KnownPatch,
) -> Result<Drift, Halt> {
    let entry = view.scan_entry(id)?;
    let flat = match entry.flat {
        FlatSource::Nothing => None,
        FlatSource::Blank(_) | FlatSource::Border(_) => Some(view.get(&FlatOf { scan: id.clone() })?),
    };
    let scan = codes(view, id)?;
    let plane = scan.plane(entry.channel).corrected(flat.as_deref());
    let about = |problem: Problem| problem.about(Subject::Scan(id.clone()));
    let measured = sample_quad(plane, table, &Quad::upright(patch.area)).map_err(about)?.density;
    let known = Measured::normal(Density(patch.density), patch.u);
    Ok(Drift { measured, known, difference: measured.minus(&known), applied: patch.applied })
}

impl Ask for DriftOf {
    type Output = Drift;
    const KIND: Kind = Kind::DriftOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.drift
    }

    fn label(&self, series: &Series) -> String {
        format!("Reading the known patch of {}", file_name(series, &self.scan))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let entry = view.scan_entry(&self.scan)?;
        let recipe =
            key_of_base(Recipe::new("drift", 1), view, &self.scan)?.with(&entry.known).with(&entry.flat);
        let recipe = recipe.with(&entry.channel);
        Ok(match entry.flat {
            FlatSource::Nothing => recipe.done(),
            _ => recipe.key(view.digest(&FlatOf { scan: self.scan.clone() })?).done(),
        })
    }

    fn make(&self, view: &View<'_>) -> Result<Drift, Halt> {
        let patch = view.scan_entry(&self.scan)?.known.ok_or_else(|| {
            Problem::note(
                Subject::Scan(self.scan.clone()),
                "No patch of known density is named in it.",
                "Name one that every scan shows, and drift of the scanner will be told.",
            )
        })?;
        drift(view, &self.scan, &base_table(view, &self.scan)?, &patch)
    }

    fn digest(drift: &Drift, _: Key) -> Key {
        Recipe::new("drift value", 1).with(drift).done()
    }

    fn bytes(_: &Drift) -> usize {
        size_of::<Drift>()
    }
}

/// Light that strays over a scan beyond what its calibration holds already, and its standard uncertainty: in proportion to the
/// mean light of both frames. `None` where the calibration does not tell its own.
pub(super) fn stray(view: &View<'_>, id: &ScanId, table: &ToneTable) -> Result<Option<(f64, f64)>, Halt> {
    let entry = view.scan_entry(id)?;
    let Some(calibration) = &entry.calibration else { return Ok(None) };
    let fit = view.get(&CalibrationOf { calibration: calibration.clone() })?;
    let Some(flare) = fit.flare.as_ref().ok().filter(|flare| flare.separated) else { return Ok(None) };
    let Some(made) = view.series().calibrations.get(calibration) else { return Ok(None) };
    let other = view.get(&ScanOf { scan: made.scan.clone() })?;
    let own = codes(view, id)?;
    let mean_other = mean_light(other.plane(view.scan_entry(&made.scan)?.channel), &fit.table);
    let ratio = mean_light(own.plane(entry.channel), table) / mean_other - 1.0;
    Ok(ratio.is_finite().then(|| (flare.veil * ratio, (flare.u() * ratio).abs())))
}

/// Mean light over a frame, of every eighth pixel along both sides.
fn mean_light(plane: Plane<'_>, table: &ToneTable) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for y in (0..plane.height()).step_by(8) {
        for code in plane.row(y, 0, plane.width()).step_by(8) {
            sum += table.light.get(usize::from(code)).copied().unwrap_or(0.0);
            count += 1.0;
        }
    }
    sum / f64::max(count, 1.0)
}
