//! One film: its box, its process, and where its readings, print and grain come from.

use serde::{Deserialize, Serialize};

use super::{EdgeArea, FilmId, GrainArea, GridShape, ScanId, Strip, StripShape, TabletId};
use crate::geometry::{Model, Point, Quad};

/// One film of the series.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Film {
    /// Its name within the series; never changes.
    pub id: FilmId,
    /// The label as it is shown.
    pub label: String,
    /// The film of which this is another roll, developed or exposed otherwise: its family.
    #[serde(default)]
    pub roll_of: Option<FilmId>,
    /// The emulsion batch that is printed on the box.
    #[serde(default)]
    pub batch: String,
    /// Format, e.g. '135', '120'.
    #[serde(default)]
    pub format: String,
    /// Speed printed on the box, arithmetic.
    #[serde(default)]
    pub box_speed: Option<f64>,
    /// Price of a roll, with its currency, as typed.
    #[serde(default)]
    pub price: String,
    /// How it was developed.
    #[serde(default)]
    pub process: Process,
    /// How the tablet was exposed onto it.
    #[serde(default)]
    pub tablet_exposure: Option<TabletExposure>,
    /// Its strips, exposed to the same light at several levels: one curve from all of them. The levels are told against the
    /// first.
    #[serde(default)]
    pub strips: Vec<Strip>,
    /// Its base+fog, when an unexposed area was read: density and standard uncertainty.
    #[serde(default)]
    pub base_fog: Option<TypedReading>,
    /// Its print of the target.
    #[serde(default)]
    pub print: Option<PrintChoice>,
    /// The uniform areas in which its grain is measured; several densities make a curve of granularity over density.
    #[serde(default)]
    pub uniform_areas: Vec<GrainArea>,
    /// The edges by which its sharpness is measured.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub edges: Vec<EdgeArea>,
    /// Its bracket of the target.
    #[serde(default)]
    pub bracket: Option<Bracket>,
    /// What else the tester wrote down about it.
    #[serde(default)]
    pub notes: String,
}

impl Film {
    /// A film of which only the label is known.
    #[must_use]
    pub fn named(id: FilmId, label: impl Into<String>) -> Self {
        Self {
            id,
            label: label.into(),
            roll_of: None,
            batch: String::new(),
            format: String::new(),
            box_speed: None,
            price: String::new(),
            process: Process::default(),
            tablet_exposure: None,
            strips: Vec::new(),
            base_fog: None,
            print: None,
            uniform_areas: Vec::new(),
            edges: Vec::new(),
            bracket: None,
            notes: String::new(),
        }
    }
}

impl Film {
    /// The scans that it is measured on; one that serves for several things comes several times.
    pub fn scans(&self) -> impl Iterator<Item = &ScanId> {
        let frames = self.bracket.iter().flat_map(|bracket| &bracket.frames);
        self.strips
            .iter()
            .filter_map(|strip| match &strip.readings {
                ReadingsSource::Strip { scan, .. } => Some(scan),
                ReadingsSource::Typed(_) => None,
            })
            .chain(frames.filter_map(|frame| frame.scan.as_ref()))
            .chain(self.print.iter().map(|print| &print.scan))
            .chain(self.edges.iter().map(|edge| &edge.scan))
            .chain(self.uniform_areas.iter().map(|grain| &grain.scan))
    }
}

/// How a film was developed.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Process {
    /// The developer, by its name.
    pub developer: String,
    /// Dilution, e.g. '1+9'.
    pub dilution: String,
    /// Temperature in degrees Celsius.
    pub temperature_c: Option<f64>,
    /// Time in minutes.
    pub minutes: Option<f64>,
    /// Agitation in words.
    pub agitation: String,
}

impl Process {
    /// What is on record of it, on one line; empty where nothing is.
    ///
    /// ```
    /// # use twinwedge_core::document::Process;
    /// let process = Process { dilution: "1+9".into(), minutes: Some(8.5), ..Process::default() };
    /// assert_eq!(process.in_words(), "1+9, 8.5 min");
    /// ```
    #[must_use]
    pub fn in_words(&self) -> String {
        let name = format!("{} {}", self.developer, self.dilution);
        let parts = [
            Some(name.trim().to_owned()).filter(|name| !name.is_empty()),
            self.temperature_c.map(|degrees| format!("{degrees} °C")),
            self.minutes.map(|minutes| format!("{minutes} min")),
            Some(self.agitation.trim().to_owned()).filter(|words| !words.is_empty()),
        ];
        parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
    }
}

/// How the tablet was exposed onto a film.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TabletExposure {
    /// The tablet between light and film.
    pub tablet: TabletId,
    /// What is known about the light.
    pub exposure: Exposure,
    /// Light source in words, where it is not that of the series.
    #[serde(default)]
    pub light_source: String,
    /// Exposure time in seconds.
    #[serde(default)]
    pub seconds: Option<f64>,
}

impl TabletExposure {
    /// An exposure of which no more is on record.
    #[must_use]
    pub fn new(tablet: TabletId, exposure: Exposure) -> Self {
        Self { tablet, exposure, light_source: String::new(), seconds: None }
    }
}

/// What is known about the exposure in front of the tablet.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Exposure {
    /// A calibrated light: lg of lux seconds without the tablet, and its standard uncertainty.
    Absolute {
        /// lg(E t), E in lux, t in seconds.
        log_h: f64,
        /// Standard uncertainty in lg H.
        u: f64,
    },
    /// The same unknown light for all films of the series, weakened for this film by so many stops (neutral density or
    /// a shorter time); 0 for the series' full exposure, positive for less light.
    Relative {
        /// Stops less than the series' full exposure.
        stops_less: f64,
    },
    /// Nothing yet: the film has a curve, and no speed against another.
    NotSaid,
}

/// Where step densities come from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum ReadingsSource {
    /// Read with a densitometer, step 1 of the tablet first.
    Typed(Vec<TypedReading>),
    /// Sampled from a scan of the strip.
    Strip {
        /// The scan that the strip lies in.
        scan: ScanId,
        /// Where the strip lies in it.
        shape: StripShape,
    },
}

/// A densitometer reading.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TypedReading {
    /// The density as it was read.
    pub density: f64,
    /// Standard uncertainty where known; else the series' setting.
    #[serde(default)]
    pub u: Option<f64>,
    /// Set aside by the tester: shown, not fitted.
    #[serde(default)]
    pub set_aside: bool,
    /// The step was not read: it only holds the place of its number, and its density says nothing.
    #[serde(default, skip_serializing_if = "is_false")]
    pub missing: bool,
}

impl TypedReading {
    /// A density of which nothing else is known.
    #[must_use]
    pub fn new(density: f64) -> Self {
        Self { density, u: None, set_aside: false, missing: false }
    }

    /// The place of a step that was not read.
    #[must_use]
    pub fn missing() -> Self {
        Self { density: 0.0, u: None, set_aside: true, missing: true }
    }
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
fn is_false(value: &bool) -> bool {
    !value
}

/// A film's print of the target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PrintChoice {
    /// The scan of the print.
    pub scan: ScanId,
    /// Print exposure in seconds.
    #[serde(default)]
    pub exposure_s: Option<f64>,
    /// The corners of the patch grid, when laid by hand on this print. The reference's grid serves the candidates
    /// through the registration where they have none of their own.
    #[serde(default)]
    pub grid: Option<GridShape>,
    /// Two pairs of points (reference print, this print) that override the found registration.
    #[serde(default)]
    pub pairs: Option<[(Point, Point); 2]>,
    /// What the map from the reference's print may do; none leaves the choice to the prints.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub model: Option<Model>,
}

impl PrintChoice {
    /// A scan of a print, nothing else chosen.
    #[must_use]
    pub fn new(scan: ScanId) -> Self {
        Self { scan, exposure_s: None, grid: None, pairs: None, model: None }
    }
}

/// Frames of one subject, exposed in steps.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bracket {
    /// The frames, in any order.
    pub frames: Vec<BracketFrame>,
    /// Standard uncertainty of their shadow densities where known; else the series' setting.
    #[serde(default)]
    pub u: Option<f64>,
}

/// An exposure of the bracket: its index, its shadow density, and where that was read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BracketFrame {
    /// Frame number or name as the tester calls it.
    pub name: String,
    /// The exposure index it was metered at; a frame of which it is not entered yet takes part in nothing.
    #[serde(default)]
    pub exposure_index: Option<f64>,
    /// Density of the shadow patch on the negative, where it was typed. Where the frame was scanned, it is read there instead.
    #[serde(default)]
    pub shadow_density: Option<f64>,
    /// A scan of the frame.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scan: Option<ScanId>,
    /// The shadow patch in it, where it was laid by hand. Other frames have it by registration: from the frame of their own
    /// bracket that was exposed most alike, else from one of the reference's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub patch: Option<Quad>,
}

impl BracketFrame {
    /// A frame whose shadow was read with a densitometer.
    #[must_use]
    pub fn typed(name: impl Into<String>, exposure_index: f64, shadow_density: f64) -> Self {
        Self {
            name: name.into(),
            exposure_index: Some(exposure_index),
            shadow_density: Some(shadow_density),
            scan: None,
            patch: None,
        }
    }
}
