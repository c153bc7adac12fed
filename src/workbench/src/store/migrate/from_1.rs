//! Format 1: a film had one strip and further ones beside it, one uniform area and further ones beside it. Today each are a
//! list.
//!
//! A film of which further strips were on record and the first was not keeps an empty first strip, against which their levels
//! are told.

use std::collections::BTreeMap;

use serde::Deserialize;
use twinwedge_core::document::once::each_once;
use twinwedge_core::document::{
    Bracket, Calibration, CalibrationId, Conditions, DevelopmentChoices, EdgeArea, FORMAT, Film, FilmId,
    GrainArea, PaperTest, PatchLayout, PrintChoice, Process, ReadingsSource, ReportChoices, ScanEntry,
    ScanId, Series, Settings, SharpnessChoices, Spot, Strip, StripLevel, Tablet, TabletExposure, TabletId,
    TargetChoices, ToneChoices, TypedReading, Viewing,
};
use twinwedge_core::geometry::Rect;

/// A series of format 1.
#[derive(Deserialize)]
#[serde(rename = "Series", default, deny_unknown_fields)]
pub(in crate::store) struct Series1 {
    #[serde(rename = "format")]
    _format: u32,
    title: String,
    about: String,
    conditions: Conditions,
    reference: Option<FilmId>,
    films: Vec<Film1>,
    #[serde(deserialize_with = "each_once")]
    tablets: BTreeMap<TabletId, Tablet>,
    #[serde(deserialize_with = "each_once")]
    scans: BTreeMap<ScanId, ScanEntry>,
    #[serde(deserialize_with = "each_once")]
    calibrations: BTreeMap<CalibrationId, Calibration>,
    layout: Option<PatchLayout>,
    spots: Vec<Spot>,
    paper: Option<PaperTest>,
    tones: ToneChoices,
    viewing: Viewing,
    detail_area: Option<Rect>,
    sharpness: SharpnessChoices,
    settings: Settings,
    development: DevelopmentChoices,
    report: ReportChoices,
}

impl Default for Series1 {
    fn default() -> Self {
        let now = Series::default();
        Self {
            _format: 1,
            title: now.title,
            about: now.about,
            conditions: now.conditions,
            reference: None,
            films: Vec::new(),
            tablets: now.tablets,
            scans: now.scans,
            calibrations: now.calibrations,
            layout: None,
            spots: now.spots,
            paper: None,
            tones: now.tones,
            viewing: now.viewing,
            detail_area: None,
            sharpness: now.sharpness,
            settings: now.settings,
            development: now.development,
            report: now.report,
        }
    }
}

impl From<Series1> for Series {
    fn from(old: Series1) -> Self {
        Self {
            format: FORMAT,
            title: old.title,
            about: old.about,
            conditions: old.conditions,
            reference: old.reference,
            films: old.films.into_iter().map(Film::from).collect(),
            tablets: old.tablets,
            scans: old.scans,
            calibrations: old.calibrations,
            layout: old.layout,
            target: TargetChoices::default(),
            spots: old.spots,
            paper: old.paper,
            tones: old.tones,
            viewing: old.viewing,
            detail_area: old.detail_area,
            sharpness: old.sharpness,
            settings: old.settings,
            development: old.development,
            report: old.report,
        }
    }
}

#[derive(Deserialize)]
#[serde(rename = "Film", deny_unknown_fields)]
struct Film1 {
    id: FilmId,
    label: String,
    #[serde(default)]
    roll_of: Option<FilmId>,
    #[serde(default)]
    batch: String,
    #[serde(default)]
    format: String,
    #[serde(default)]
    box_speed: Option<f64>,
    #[serde(default)]
    price: String,
    #[serde(default)]
    process: Process,
    #[serde(default)]
    tablet_exposure: Option<TabletExposure>,
    #[serde(default)]
    readings: Option<ReadingsSource>,
    #[serde(default)]
    steps_set_aside: Vec<u32>,
    #[serde(default)]
    steps_kept: Vec<u32>,
    #[serde(default)]
    further_strips: Vec<FurtherStrip1>,
    #[serde(default)]
    base_fog: Option<TypedReading>,
    #[serde(default)]
    print: Option<PrintChoice>,
    #[serde(default)]
    grain: Option<GrainArea>,
    #[serde(default)]
    further_grain: Vec<GrainArea>,
    #[serde(default)]
    edges: Vec<EdgeArea>,
    #[serde(default)]
    bracket: Option<Bracket>,
    #[serde(default)]
    notes: String,
}

impl From<Film1> for Film {
    fn from(old: Film1) -> Self {
        let first = old.readings.or_else(|| {
            let others = !old.further_strips.is_empty();
            others.then(|| ReadingsSource::Typed(Vec::new()))
        });
        let first = first.map(|readings| Strip {
            steps_set_aside: old.steps_set_aside,
            steps_kept: old.steps_kept,
            ..Strip::from(readings)
        });
        Self {
            roll_of: old.roll_of,
            batch: old.batch,
            format: old.format,
            box_speed: old.box_speed,
            price: old.price,
            process: old.process,
            tablet_exposure: old.tablet_exposure,
            strips: first.into_iter().chain(old.further_strips.into_iter().map(Strip::from)).collect(),
            base_fog: old.base_fog,
            print: old.print,
            uniform_areas: old.grain.into_iter().chain(old.further_grain).collect(),
            edges: old.edges,
            bracket: old.bracket,
            notes: old.notes,
            ..Self::named(old.id, old.label)
        }
    }
}

#[derive(Deserialize)]
#[serde(rename = "FurtherStrip", deny_unknown_fields)]
struct FurtherStrip1 {
    #[serde(default)]
    name: String,
    #[serde(default)]
    tablet: Option<TabletId>,
    level: StripLevel,
    readings: ReadingsSource,
    #[serde(default)]
    steps_set_aside: Vec<u32>,
    #[serde(default)]
    steps_kept: Vec<u32>,
}

impl From<FurtherStrip1> for Strip {
    fn from(old: FurtherStrip1) -> Self {
        let FurtherStrip1 { name, tablet, level, readings, steps_set_aside, steps_kept } = old;
        Self { name, tablet, level, steps_set_aside, steps_kept, ..Self::from(readings) }
    }
}
