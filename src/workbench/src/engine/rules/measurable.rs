//! A scan as it is measured: the codes of the chosen channel or mix, their table, and what its light is corrected by.

use std::sync::Arc;

use serde::Serialize;
use twinwedge_core::document::{CalibrationId, Channel, FlatSource, KnownPatch, ScanId};
use twinwedge_core::geometry::Quad;
use twinwedge_core::measured::{Flags, Measured};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::{FlatField, Plane, Scan, ToneTable, mixed, mixed_table};
use twinwedge_core::tablet::sample_quad;
use twinwedge_core::units::Density;

use super::grain::resolution;
use crate::engine::ask::{CalibrationIn, CalibrationOf, DriftOf, EncodingOf, FlatOf, MixOf, ScanOf, ToneOf};
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};

/// The codes that are measured: the scan's own, or those of its mix.
#[derive(Debug, Clone, Serialize)]
pub struct Codes {
    scan: Handle<ScanOf>,
    mix: Option<Handle<MixOf>>,
}

impl Codes {
    pub(super) fn of(view: &View<'_>, scan: &ScanId) -> Result<Self, NoAnswer> {
        let mix = match view.scan_entry(scan)?.channel {
            Channel::Mix { .. } => Some(view.handle(MixOf { scan: scan.clone() })?),
            Channel::Red | Channel::Green | Channel::Blue => None,
        };
        Ok(Self { scan: view.handle(ScanOf { scan: scan.clone() })?, mix })
    }

    pub(super) fn get(&self, work: &Computation<'_>) -> Result<Arc<Scan>, NoAnswer> {
        let scan = work.get(&self.scan)?;
        match &self.mix {
            Some(mix) if scan.channels == 3 => work.get(mix),
            Some(_) | None => Ok(scan),
        }
    }
}

/// What a scan is shown by: its codes, its table, and the channel that is measured.
#[derive(Debug, Clone, Serialize)]
pub(super) struct ScanInputs {
    pub(super) codes: Codes,
    pub(super) table: Handle<ToneOf>,
    pub(super) channel: Channel,
}

impl ScanInputs {
    pub(super) fn of(view: &View<'_>, scan: &ScanId) -> Result<Self, NoAnswer> {
        Ok(Self {
            codes: Codes::of(view, scan)?,
            table: view.handle(ToneOf { scan: scan.clone() })?,
            channel: view.scan_entry(scan)?.channel,
        })
    }

    pub(super) fn read(&self, work: &Computation<'_>) -> Result<Read, NoAnswer> {
        Ok(Read { codes: self.codes.get(work)?, table: work.get(&self.table)?, channel: self.channel })
    }
}

/// A scan as it is read.
pub(super) struct Read {
    pub(super) codes: Arc<Scan>,
    pub(super) table: Arc<ToneTable>,
    channel: Channel,
}

impl Read {
    pub(super) fn plane(&self) -> Plane<'_> {
        self.codes.plane(self.channel)
    }

    /// Its plane and its table.
    pub(super) fn side(&self) -> (Plane<'_>, &ToneTable) {
        (self.plane(), &self.table)
    }
}

/// What a measurement through a scan is made from: all that it is seen by, and what it is corrected by.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Measurable {
    sight: ScanInputs,
    flat: Option<Handle<FlatOf>>,
    /// Resolution as typed, where what is measured has a size.
    dpi: Option<Option<f64>>,
}

impl Measurable {
    /// To be measured by shares of what is seen, whatever the resolution.
    pub(super) fn of(view: &View<'_>, scan: &ScanId) -> Result<Self, NoAnswer> {
        Ok(Self { sight: ScanInputs::of(view, scan)?, flat: flat_of(view, scan)?, dpi: None })
    }

    /// To be measured through an aperture, of a size on the film.
    pub(super) fn in_size(view: &View<'_>, scan: &ScanId) -> Result<Self, NoAnswer> {
        Ok(Self { dpi: Some(view.scan_entry(scan)?.dpi), ..Self::of(view, scan)? })
    }

    pub(super) fn read(&self, work: &Computation<'_>) -> Result<Corrected, NoAnswer> {
        let flat = self.flat.as_ref().map(|flat| work.get(flat)).transpose()?;
        let read = self.sight.read(work)?;
        let per_mm = self.dpi.and_then(|typed| resolution(typed, &read.codes.meta).ok());
        Ok(Corrected { read, flat, per_mm: per_mm.map(|(dpi, _)| dpi / 25.4) })
    }
}

/// A scan as it is read, and corrected.
pub(super) struct Corrected {
    read: Read,
    flat: Option<Arc<FlatField>>,
    per_mm: Option<f64>,
}

impl Corrected {
    /// The plane to sample, and its table.
    pub(super) fn side(&self) -> (Plane<'_>, &ToneTable) {
        let (plane, table) = self.read.side();
        (plane.corrected(self.flat.as_deref()).resolved(self.per_mm), table)
    }
}

/// The falloff that a scan is corrected by.
fn flat_of(view: &View<'_>, scan: &ScanId) -> Result<Option<Handle<FlatOf>>, NoAnswer> {
    match view.scan_entry(scan)?.flat {
        FlatSource::Nothing => Ok(None),
        FlatSource::Blank(_) | FlatSource::Border(_) => view.handle(FlatOf { scan: scan.clone() }).map(Some),
    }
}

/// What the table of a scan is made from before it is shifted or cleared of stray light.
#[derive(Debug, Clone, Serialize)]
pub struct Base {
    scan: ScanId,
    codes: Handle<ScanOf>,
    channel: Channel,
    by: By,
}

/// What tells the densities of codes.
#[derive(Debug, Clone, Serialize)]
enum By {
    Calibration(Calibrated),
    /// What the codes stand for.
    Encoding(Handle<EncodingOf>),
}

/// The calibration of a scan.
#[derive(Debug, Clone, Serialize)]
struct Calibrated {
    id: CalibrationId,
    fit: Handle<CalibrationOf>,
    /// The channel that it was made in.
    channel: Channel,
    /// The same in the other channels that the scan is measured in.
    others: Vec<(Channel, Handle<CalibrationIn>)>,
    /// It was made for film and this is a print, or the other way round.
    other_kind: bool,
}

impl Calibrated {
    fn of(view: &View<'_>, id: &CalibrationId, scan: &ScanId) -> Result<Self, NoAnswer> {
        let made = view.series().calibrations.get(id);
        let entry = made.and_then(|made| view.scan_entry(&made.scan).ok());
        let own = entry.map_or(Channel::default(), |entry| entry.channel.heaviest());
        let wanted = match view.scan_entry(scan)?.channel {
            Channel::Mix { .. } => vec![Channel::Red, Channel::Green, Channel::Blue],
            channel if channel == own => Vec::new(),
            channel => vec![channel],
        };
        let fit = view.handle(CalibrationOf { calibration: id.clone() })?;
        let other = |channel| -> Result<_, NoAnswer> {
            Ok((channel, view.handle(CalibrationIn { calibration: id.clone(), channel })?))
        };
        let others = wanted.into_iter().map(other).collect::<Result<_, _>>()?;
        let other_kind = super::examined::other_kind(view, scan)?;
        Ok(Self { id: id.clone(), fit, channel: own, others, other_kind })
    }
}

impl Base {
    pub(super) fn of(view: &View<'_>, scan: &ScanId) -> Result<Self, NoAnswer> {
        let entry = view.scan_entry(scan)?;
        let codes = view.handle(ScanOf { scan: scan.clone() })?;
        let by = match &entry.calibration {
            Some(id) => By::Calibration(Calibrated::of(view, id, scan)?),
            None => By::Encoding(view.handle(EncodingOf { scan: scan.clone() })?),
        };
        Ok(Self { scan: scan.clone(), codes, channel: entry.channel, by })
    }

    fn calibration(&self) -> Option<&Calibrated> {
        match &self.by {
            By::Calibration(calibration) => Some(calibration),
            By::Encoding(_) => None,
        }
    }

    /// The table of one channel.
    fn table_in(&self, work: &Computation<'_>, channel: Channel) -> Result<ToneTable, NoAnswer> {
        let scan = work.get(&self.codes)?;
        let calibration = match &self.by {
            By::Calibration(calibration) => calibration,
            By::Encoding(encoding) => {
                let judged = work.get(encoding)?;
                return Ok(ToneTable::encoded(&scan, judged.encoding, judged.certainty));
            }
        };
        let other = calibration.others.iter().find(|(other, _)| *other == channel);
        let fit = match other {
            Some((_, other)) if scan.channels != 1 && channel != calibration.channel => work.get(other)?,
            Some(_) | None => work.get(&calibration.fit)?,
        };
        if fit.table.density.len() != scan.levels() {
            let problem = Problem::error(
                Subject::Scan(self.scan.clone()),
                Rule::OtherCodes {
                    calibration: calibration.id.0.clone(),
                    codes: fit.table.density.len(),
                    scan: scan.levels(),
                },
                Remedy::SameBits,
            );
            return Err(problem.into());
        }
        Ok(fit.table.clone())
    }

    /// Through a calibration of the other kind densities are none: they are flagged as uncalibrated.
    pub(super) fn table(&self, work: &Computation<'_>) -> Result<ToneTable, NoAnswer> {
        let scan = work.get(&self.codes)?;
        let mut table = match (self.channel, self.channel.weights()) {
            (Channel::Mix { .. }, None) => {
                let problem =
                    Problem::error(Subject::Scan(self.scan.clone()), Rule::NoWeight, Remedy::GiveWeight);
                return Err(problem.into());
            }
            (Channel::Mix { .. }, Some(weights)) if scan.channels == 3 => {
                let tables = self.all_tables(work)?;
                let name = self.calibration().map_or("", |calibration| &calibration.id.0);
                mixed_table(tables.each_ref(), weights, &format!("{name}, {}", self.channel.words()))
            }
            (channel, _) => self.table_in(work, channel.heaviest())?,
        };
        if self.calibration().is_some_and(|calibration| calibration.other_kind) {
            table.flags |= Flags::UNCALIBRATED;
        }
        Ok(table)
    }

    fn all_tables(&self, work: &Computation<'_>) -> Result<[ToneTable; 3], NoAnswer> {
        let of = |channel| self.table_in(work, channel);
        Ok([of(Channel::Red)?, of(Channel::Green)?, of(Channel::Blue)?])
    }
}

impl Query for MixOf {
    type Inputs = Base;

    fn inputs(&self, view: &View<'_>) -> Result<Base, NoAnswer> {
        Base::of(view, &self.scan)
    }

    fn compute(base: &Base, work: &Computation<'_>) -> Result<Scan, NoAnswer> {
        let weights = base.channel.weights().unwrap_or([0.0, 1.0, 0.0]);
        let tables = base.all_tables(work)?;
        let scan = work.get(&base.codes)?;
        mixed(&scan, tables.each_ref(), weights, &|| work.stop()).ok_or(NoAnswer::Dropped)
    }
}

/// Where a falloff is taken from.
#[derive(Debug, Clone, Serialize)]
pub enum Falloff {
    Border(f64),
    Blank(Handle<ScanOf>),
}

impl Falloff {
    /// Where that of a scan is taken from; `None` where nothing says that.
    pub(super) fn of(view: &View<'_>, scan: &ScanId) -> Result<Option<Self>, NoAnswer> {
        Ok(match &view.scan_entry(scan)?.flat {
            FlatSource::Nothing => None,
            FlatSource::Border(width) => Some(Self::Border(*width)),
            FlatSource::Blank(blank) => Some(Self::Blank(view.handle(ScanOf { scan: blank.clone() })?)),
        })
    }

    /// The falloff over a scan, by a table of that channel.
    pub(super) fn measure(
        &self,
        work: &Computation<'_>,
        scan: &Scan,
        channel: Channel,
        table: &ToneTable,
    ) -> Result<Result<FlatField, Problem>, NoAnswer> {
        Ok(match self {
            Self::Border(width) => FlatField::of_border(scan.plane(channel), table, *width),
            Self::Blank(blank) => {
                let blank = work.get(blank)?;
                same_frame(scan, &blank).and_then(|()| FlatField::of_blank(blank.plane(channel), table))
            }
        })
    }
}

impl Query for FlatOf {
    type Inputs = (Base, Falloff);

    fn inputs(&self, view: &View<'_>) -> Result<(Base, Falloff), NoAnswer> {
        let falloff = Falloff::of(view, &self.scan)?.ok_or_else(|| {
            Problem::note(Subject::Scan(self.scan.clone()), Rule::NoFalloff, Remedy::ChooseFalloff)
        })?;
        Ok((Base::of(view, &self.scan)?, falloff))
    }

    fn compute((base, falloff): &(Base, Falloff), work: &Computation<'_>) -> Result<FlatField, NoAnswer> {
        let channel = base.channel.heaviest();
        let own = work.get(&base.codes)?;
        let table = base.table_in(work, channel)?;
        let found = falloff.measure(work, &own, channel, &table)?;
        Ok(found.map_err(|problem| problem.about(Subject::Scan(base.scan.clone())))?)
    }
}

/// A blank scan must show the same frame with the same codes.
fn same_frame(scan: &Scan, blank: &Scan) -> Result<(), Problem> {
    let ratio = |scan: &Scan| scan.width as f64 / scan.height.max(1) as f64;
    if scan.levels() != blank.levels() || (ratio(scan) / ratio(blank) - 1.0).abs() > 0.02 {
        return Err(Problem::error(
            Subject::Series,
            Rule::BlankDiffers {
                blank: (blank.width, blank.height),
                blank_codes: blank.levels(),
                scan: (scan.width, scan.height),
                codes: scan.levels(),
            },
            Remedy::BlankOfFrame,
        ));
    }
    Ok(())
}

/// What a known patch says of the drift of a scanner.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Drift {
    /// As measured, before any shift.
    pub measured: Measured<Density>,
    /// The density that the patch is known to have.
    pub known: Measured<Density>,
    /// Measured minus known.
    pub difference: Measured<Density>,
    /// Whether all densities of the scan are shifted by it.
    pub applied: bool,
}

/// A patch of known density in a scan.
#[derive(Debug, Clone, Serialize)]
pub struct Patch {
    scan: ScanId,
    codes: Codes,
    channel: Channel,
    flat: Option<Handle<FlatOf>>,
    known: KnownPatch,
}

impl Patch {
    pub(super) fn of(view: &View<'_>, scan: &ScanId, known: KnownPatch) -> Result<Self, NoAnswer> {
        Ok(Self {
            scan: scan.clone(),
            codes: Codes::of(view, scan)?,
            channel: view.scan_entry(scan)?.channel,
            flat: flat_of(view, scan)?,
            known,
        })
    }

    /// The drift that it shows through a table.
    pub(super) fn drift(&self, work: &Computation<'_>, table: &ToneTable) -> Result<Drift, NoAnswer> {
        let flat = self.flat.as_ref().map(|flat| work.get(flat)).transpose()?;
        let scan = self.codes.get(work)?;
        let plane = scan.plane(self.channel).corrected(flat.as_deref());
        let about = |problem: Problem| problem.about(Subject::Scan(self.scan.clone()));
        let measured = sample_quad(plane, table, &Quad::upright(self.known.area)).map_err(about)?.density;
        let known = Measured::normal(Density(self.known.density), self.known.u);
        Ok(Drift { measured, known, difference: measured.minus(&known), applied: self.known.applied })
    }
}

impl Query for DriftOf {
    type Inputs = (Base, Patch);

    fn inputs(&self, view: &View<'_>) -> Result<(Base, Patch), NoAnswer> {
        let known = view.scan_entry(&self.scan)?.known.ok_or_else(|| {
            Problem::note(Subject::Scan(self.scan.clone()), Rule::NoKnownPatch, Remedy::NamePatch)
        })?;
        Ok((Base::of(view, &self.scan)?, Patch::of(view, &self.scan, known)?))
    }

    fn compute((base, patch): &(Base, Patch), work: &Computation<'_>) -> Result<Drift, NoAnswer> {
        patch.drift(work, &base.table(work)?)
    }
}

/// What the stray light over a scan is found by.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Stray {
    fit: Handle<CalibrationOf>,
    /// The scan of the tablet, and its channel.
    tablet: (Handle<ScanOf>, Channel),
    own: Codes,
    channel: Channel,
}

impl Stray {
    /// `None` for a scan without a calibration.
    pub(super) fn of(view: &View<'_>, scan: &ScanId) -> Result<Option<Self>, NoAnswer> {
        let entry = view.scan_entry(scan)?;
        let Some(id) = &entry.calibration else { return Ok(None) };
        let fit = view.handle(CalibrationOf { calibration: id.clone() })?;
        let Some(made) = view.series().calibrations.get(id) else { return Ok(None) };
        let tablet = view.handle(ScanOf { scan: made.scan.clone() })?;
        Ok(Some(Self {
            fit,
            tablet: (tablet, view.scan_entry(&made.scan)?.channel),
            own: Codes::of(view, scan)?,
            channel: entry.channel,
        }))
    }

    /// Light that strays over the scan beyond what its calibration holds already, and its standard uncertainty: in proportion
    /// to the mean light of both frames. `None` where the calibration does not tell its own.
    pub(super) fn light(
        &self,
        work: &Computation<'_>,
        table: &ToneTable,
    ) -> Result<Option<(f64, f64)>, NoAnswer> {
        let fit = work.get(&self.fit)?;
        let Some(flare) = fit.flare.as_ref().ok().filter(|flare| flare.separated) else { return Ok(None) };
        let (tablet, channel) = &self.tablet;
        let (tablet, own) = (work.get(tablet)?, self.own.get(work)?);
        let of_tablet = mean_light(tablet.plane(*channel), &fit.table);
        let ratio = mean_light(own.plane(self.channel), table) / of_tablet - 1.0;
        Ok(ratio.is_finite().then(|| (flare.veil * ratio, (flare.u() * ratio).abs())))
    }
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
