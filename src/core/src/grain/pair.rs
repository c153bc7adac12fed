//! Two films' granularities where they are alike in another respect: in density, in net density, in the print, in the
//! subject.

use serde::Serialize;

use super::density::{GrainAt, GranularityCurve, grain_ratio};
use crate::measured::{Measured, Value};
use crate::scan::SharedError;
use crate::tone::{Tones, zone_name};
use crate::words::{self, Sentence};

/// Print densities at which grain is compared: a light tone, the grey card's (reflectance 0.18), a dark one.
const PRINTS: [f64; 3] = [0.35, 0.75, 1.30];
/// Zones at which grain is compared.
const ZONES: [u32; 3] = [3, 5, 7];

/// In what both are alike.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Alike {
    /// The areas that the tester marked first, as measured.
    AsMeasured,
    /// Density above base+fog.
    NetDensity(f64),
    /// A density as it would be read.
    Density(f64),
    /// Density in the print, both printed on the tested paper.
    PrintDensity(f64),
    /// The subject's tone: a zone.
    Zone(u32),
}

impl Alike {
    /// Where the films are compared, as a reader is told it.
    #[must_use]
    pub fn words(self) -> Sentence {
        match self {
            Self::AsMeasured => words::At::AsMeasured,
            Self::NetDensity(density) => words::At::NetDensity { density },
            Self::Density(density) => words::At::Density { density },
            Self::PrintDensity(density) => words::At::PrintDensity { density },
            Self::Zone(zone) => words::At::Zone { zone: zone_name(zone) },
        }
        .into()
    }
}

/// One film at that.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairSide {
    /// The density on the film, where it is known.
    pub density: Option<f64>,
    /// Granularity, or why there is none.
    pub rms: Value,
    /// How it was had, in words; empty where it was not.
    pub how: Sentence,
    /// The calibration's part in its error.
    #[serde(skip)]
    pub gradient: SharedError,
}

/// Both films at that.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairRow {
    /// In what they are alike.
    pub alike: Alike,
    /// What the reference has there.
    pub reference: PairSide,
    /// What the candidate has there.
    pub candidate: PairSide,
    /// Candidate's granularity over the reference's.
    pub ratio: Value,
    /// By how many per cent the candidate's is higher.
    pub percent: Value,
}

impl PairRow {
    /// Whether the two differ by more than their uncertainty; `None` where one is not known.
    #[must_use]
    pub fn distinguishable(&self) -> Option<bool> {
        self.percent.known().map(Measured::excludes_zero)
    }
}

/// Compares two films' curves; `tones` holds the reference first and the candidate second.
#[must_use]
pub fn pair_rows(
    reference: &GranularityCurve,
    candidate: &GranularityCurve,
    tones: Result<&Tones, &Sentence>,
) -> Vec<PairRow> {
    let curves = [reference, candidate];
    let mut rows = vec![row(Alike::AsMeasured, curves.map(first))];
    rows.push(row(
        Alike::NetDensity(1.0),
        curves.map(|curve| {
            let density = curve.base.as_ref().ok().map(|base| base.value + 1.0);
            side(density, curve.at_net_one())
        }),
    ));
    if let Some(density) = shared(curves) {
        rows.push(row(Alike::Density(density), curves.map(|curve| side(Some(density), curve.at(density)))));
    }
    for print in PRINTS {
        let sides = [0, 1].map(|film| match tones.map(|tones| printed(tones, film, print)) {
            Ok(Some(density)) => side(Some(density), curves[film].at(density)),
            Ok(None) => unknown(words::Grain::PrintLacksDensity.into()),
            Err(why) => unknown(why.clone()),
        });
        rows.push(row(Alike::PrintDensity(print), sides));
    }
    for zone in ZONES {
        let sides = [0, 1].map(|film| match tones.map(|tones| placed(tones, film, zone)) {
            Ok(Some(density)) => side(Some(density), curves[film].at(density)),
            Ok(None) => unknown(words::Grain::ZoneNotTested.into()),
            Err(why) => unknown(why.clone()),
        });
        rows.push(row(Alike::Zone(zone), sides));
    }
    rows
}

fn row(alike: Alike, [reference, candidate]: [PairSide; 2]) -> PairRow {
    let ratio = match (&reference.rms, &candidate.rms) {
        (Value::Known(of_reference), Value::Known(of_candidate)) => {
            grain_ratio((of_reference, &reference.gradient), (of_candidate, &candidate.gradient))
        }
        (Value::Undefined(why), _) | (_, Value::Undefined(why)) => Value::Undefined(why.clone()),
    };
    let percent = match &ratio {
        Value::Known(ratio) => {
            let of = |value: f64| 100.0 * (value - 1.0);
            let (low, high) = (of(ratio.low), of(ratio.high));
            let percent = Measured::with_interval(of(ratio.value), 100.0 * ratio.u, low, high);
            Value::Known(percent.flagged(ratio.flags))
        }
        Value::Undefined(why) => Value::Undefined(why.clone()),
    };
    PairRow { alike, reference, candidate, ratio, percent }
}

fn side(density: Option<f64>, found: Result<GrainAt, Sentence>) -> PairSide {
    match found {
        Ok(at) => {
            let how = at.how.words();
            PairSide { density, rms: Value::Known(at.rms), how, gradient: at.gradient }
        }
        Err(why) => PairSide { density, ..unknown(why) },
    }
}

fn unknown(why: Sentence) -> PairSide {
    let rms = Value::Undefined(why);
    PairSide { density: None, rms, how: Sentence::default(), gradient: SharedError::default() }
}

/// The first area as measured.
fn first(curve: &GranularityCurve) -> PairSide {
    match curve.points.iter().find(|point| point.area == 0) {
        Some(point) => side(Some(point.density), curve.at(point.density)),
        None => side(None, curve.at(1.0)),
    }
}

/// A density that both films' areas hold between them: the middle of what they share.
fn shared(curves: [&GranularityCurve; 2]) -> Option<f64> {
    let ends = curves.map(|curve| Some((curve.points.first()?.density, curve.points.last()?.density)));
    let [Some(a), Some(b)] = ends else { return None };
    let (low, high) = (a.0.max(b.0), a.1.min(b.1));
    (low < high).then(|| ((low + high) * 5.0).round() / 10.0).filter(|at| (low..=high).contains(at))
}

/// The density of a film at which a zone lies.
fn placed(tones: &Tones, film: usize, zone: u32) -> Option<f64> {
    let row = tones.rows.iter().find(|row| row.zone == zone)?;
    Some(row.films.get(film)?.density.known()?.value)
}

/// The density of a film that prints to a density: along the zones, which print in their order.
fn printed(tones: &Tones, film: usize, print: f64) -> Option<f64> {
    let at = |row: &crate::tone::ZoneRow| {
        let reading = row.films.get(film)?;
        Some((reading.density.known()?.value, reading.print.as_ref()?.known()?.value))
    };
    let known: Vec<(f64, f64)> = tones.rows.iter().filter_map(at).collect();
    known.windows(2).find_map(|pair| {
        let ((low, from), (high, to)) = (pair[0], pair[1]);
        let inside = (to..=from).contains(&print) && from - to > 1e-6;
        inside.then(|| low + (high - low) * (from - print) / (from - to))
    })
}
