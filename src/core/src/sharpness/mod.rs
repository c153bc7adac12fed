//! Sharpness apart from grain: the modulation transfer function of a slanted edge (ISO 12233 practice), its edge-spread function
//! and its overshoot.
//!
//! 1. The edge is located from all its rows together (`locate`), and all pixels are projected onto its normal into bins of a
//!    quarter pixel (`spread`): grain averages out over the length of the edge. Light is averaged, as a densitometer does.
//! 2. Where the film's characteristic curve is known the averaged light is taken back to exposure, so that the curve's bend does
//!    not mix with the transfer.
//! 3. Difference, window, Fourier transform, modulus over its value at zero (`transfer`), divided by the response of difference
//!    and bins. The scanner's pixel and optics stay in, unless its own edge is given.
//! 4. Grain raises the modulus on average; its power is estimated from how blocks of rows differ, and taken off (`resample`).
//!    Intervals come from the same blocks, and from the draws of the film's curve where exposure is taken back through it.

mod average;
mod field;
mod figures;
mod judge;
mod locate;
mod overshoot;
mod resample;
mod response;
mod scanner;
mod spread;
mod texture;
mod transfer;

pub use average::{EdgeOutcome, Sharpness, average};
pub use overshoot::{Cause, Lobe, Overshoot};
pub use response::Response;
pub use scanner::ScannerEdge;
pub use transfer::{box_response, difference_response};

use serde::Serialize;

pub use crate::document::EdgeSpace;
use crate::geometry::{Point as Place, Rect};
use crate::measured::{Flags, Value};
use crate::numeric::math;
use crate::problem::{Problem, Subject};
use crate::scan::{Plane, ToneTable};
use crate::units::Micrometres;
use crate::words::{self, Sentence};
use locate::{Located, RISE, locate};
use resample::{Blocks, Curve, window};
use spread::Spread;

/// Rows that a first answer is taken from.
const QUICK_ROWS: usize = 240;

/// How an edge is measured.
#[derive(Debug, Clone, Copy)]
pub struct EdgeSettings<'a> {
    /// Distance between samples on the film (on a print of known enlargement, brought back to the film).
    pub pitch: Micrometres,
    /// The film's characteristic curve: given, the transfer function is that of exposure.
    pub response: Option<&'a Response>,
    /// The scanner's own edge, to be divided out.
    pub scanner: Option<&'a ScannerEdge>,
    /// A target that is a knife edge, not film: its step may be as high as it likes.
    pub knife_edge: bool,
    /// A first answer from fewer rows.
    pub quick: bool,
}

/// The modulation transfer at one spatial frequency.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MtfPoint {
    /// Cycles per millimetre.
    pub frequency: f64,
    /// The modulus over that at frequency zero.
    pub value: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
}

/// The edge-spread function at one distance from the edge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SpreadPoint {
    /// Micrometres from the edge, the dense side positive.
    pub distance: f64,
    /// Density of the mean light along the edge.
    pub density: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
}

/// Where the edge lies.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EdgeLine {
    /// The box that was measured, whole pixels.
    pub area: Rect,
    /// Places along the edge, in pixels of the scan.
    pub places: Vec<Place>,
    /// Angle to the rows or columns of the scan, whichever is nearer, degrees.
    pub angle: f64,
    /// Rows (or columns) of pixels that the edge crosses.
    pub rows: usize,
    /// Pixels by which the edge bends away from the chord of its ends; zero where it is straight.
    pub bend: f64,
}

/// How it was measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct EdgeMethod {
    /// What the transfer function is one of.
    pub space: EdgeSpace,
    /// Distance between samples, micrometres on the film.
    pub pitch: f64,
    /// Distance from the edge up to which the window is flat, and from which on it is zero, micrometres.
    pub window: (f64, f64),
    /// The scanner's own transfer function was divided out.
    pub scanner_removed: bool,
    /// A first answer from fewer rows.
    pub quick: bool,
}

/// A measured edge.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EdgeMeasure {
    /// Where it lies.
    pub line: EdgeLine,
    /// How it was measured.
    pub method: EdgeMethod,
    /// Density of the thin and of the dense field.
    pub densities: [f64; 2],
    /// Frequency at which the modulation has come down to 50 %, cycles per millimetre.
    pub mtf50: Value,
    /// The same for 10 %.
    pub mtf10: Value,
    /// Distance from 10 to 90 % of the edge, micrometres.
    pub width: Value,
    /// The transfer function.
    pub mtf: Vec<MtfPoint>,
    /// The edge-spread function.
    pub spread: Vec<SpreadPoint>,
    /// Overshoot on both sides.
    pub overshoot: Overshoot,
    /// Share of pixels left out as dust.
    pub left_out: f64,
    /// What must be known about all of it.
    pub flags: Flags,
    /// The same in sentences.
    pub notes: Vec<Sentence>,
}

impl EdgeMeasure {
    /// By which edition's steps it was measured, and which fit of the edge and which window stand in for that edition's: others
    /// answer up to 3 % otherwise.
    #[must_use]
    pub fn steps(&self) -> String {
        let fit = if self.line.bend > 0.0 { "a parabola" } else { "a straight line" };
        format!(
            "ISO 12233:2014, edge fitted by {fit}, four bins a pixel, window flat over the edge with ends of half a cosine"
        )
    }

    /// Adds what its caller knows of it.
    pub fn add(&mut self, flags: Flags, notes: Vec<Sentence>) {
        self.flags |= flags;
        for value in [&mut self.mtf50, &mut self.mtf10, &mut self.width] {
            if let Value::Known(measured) = value {
                *measured = measured.flagged(flags);
            }
        }
        self.notes.extend(notes);
    }
}

/// Why an edge cannot be measured.
#[derive(Debug)]
struct Refusal {
    cause: Sentence,
    remedy: Sentence,
}

impl Refusal {
    fn new(cause: impl Into<Sentence>, remedy: impl Into<Sentence>) -> Self {
        Self { cause: cause.into(), remedy: remedy.into() }
    }

    fn plain() -> Self {
        Self::new(words::Edge::Plain, words::Remedy::BoxAroundEdge)
    }

    fn stopped() -> Self {
        Self::new(words::Stopped::Edge, words::Remedy::AskAgainIfWanted)
    }

    fn lost() -> Self {
        Self::new(words::Edge::Lost, words::Remedy::BoxAcross)
    }
}

/// Measures the edge in a box. `stop` is asked now and then.
///
/// # Errors
/// The box holds no single straight edge between two uniform areas at an angle of 2 to 43 degrees, its step is lost in the grain or,
/// for film without a characteristic curve, so high that its light says nothing of exposure; or `stop` said so.
pub fn measure_edge(
    plane: Plane<'_>,
    table: &ToneTable,
    area: Rect,
    settings: EdgeSettings<'_>,
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<EdgeMeasure, Problem> {
    measure(plane, table, area, settings, stop)
        .map_err(|refusal| Problem::error(Subject::Series, refusal.cause, refusal.remedy))
}

fn measure(
    plane: Plane<'_>,
    table: &ToneTable,
    area: Rect,
    settings: EdgeSettings<'_>,
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<EdgeMeasure, Refusal> {
    let go_on = || if stop() { Err(Refusal::stopped()) } else { Ok(()) };
    let cut = judge::cut(plane, table, area)?;
    go_on()?;
    let across = judge::runs_across(&cut.field)?;
    let field = if across { cut.field.turned() } else { cut.field };
    let (field, skipped) = if settings.quick { field.middle(QUICK_ROWS) } else { (field, 0) };
    let edge = locate(&field)?;
    judge::check(&field, &edge)?;
    go_on()?;
    let reach = judge::reach(&field, &edge)?;
    let spread = Spread::of(&field, &edge, reach);
    let blocks = Blocks::of(&spread);
    let rise = RISE * edge.blurred.sigma;
    let window = window(&spread, &blocks, rise);
    let levels = judge::levels(&spread, window);
    judge::contrast(&spread, &edge, levels)?;
    let response = settings.response.filter(|response| response.holds(levels));
    if response.is_none() && !settings.knife_edge {
        judge::step(levels)?;
    }
    go_on()?;
    let as_light = |light: f64| light;
    let as_exposure = |light: f64| response.map_or(light, |response| response.exposure(light));
    let signal: resample::Signal<'_> = if response.is_some() { &as_exposure } else { &as_light };
    let draws = response.map_or(&[][..], Response::draws);
    let drawn: Vec<_> = draws.iter().map(|draw| |light: f64| draw.exposure(light)).collect();
    let drawn: Vec<resample::Signal<'_>> = drawn.iter().map(|draw| draw as resample::Signal<'_>).collect();
    let curve = Curve::of(&spread, &blocks, window, signal, &drawn);
    let per_mm = 1000.0 / settings.pitch.0;
    let scanner = |f: f64| settings.scanner.map_or(Some((1.0, 0.0)), |scanner| scanner.at(f * per_mm));
    let figure =
        |level: f64| figures::frequency(curve.frequency(level, &scanner), per_mm, blocks.quantile, level);
    let peak = curve.peak();
    let beside = overshoot::Beside {
        texture: texture::Texture::of(&field, &edge, window.flat),
        peak,
        scanner: settings.scanner.map(|scanner| &scanner.overshoot),
        pitch: settings.pitch.0,
        scanner_pitch: settings.scanner.map_or(1.0, |scanner| scanner.pitch),
    };
    let mut found = EdgeMeasure {
        line: edge_line(&edge, across, skipped as f64, &cut.area),
        method: EdgeMethod {
            space: if response.is_some() { EdgeSpace::Exposure } else { EdgeSpace::Light },
            pitch: settings.pitch.0,
            window: (window.flat * settings.pitch.0, window.end * settings.pitch.0),
            scanner_removed: settings.scanner.is_some(),
            quick: settings.quick,
        },
        densities: {
            let [a, b] = levels.map(|light| -math::log10(light));
            [a.min(b), a.max(b)]
        },
        mtf50: figure(0.5),
        mtf10: figure(0.1),
        width: figures::width(
            &spread,
            &blocks,
            (window, edge.blurred.sigma),
            (signal, &drawn),
            settings.pitch.0,
        ),
        mtf: figures::points(&curve, &scanner, per_mm),
        spread: figures::profile(&spread, &blocks, window, edge.blurred.sigma, settings.pitch.0),
        overshoot: overshoot::overshoot(&spread, &blocks, window, edge.blurred.sigma, &beside),
        left_out: spread.left_out,
        flags: table.flags,
        notes: Vec::new(),
    };
    judge::notes(
        &mut found,
        &judge::Known { edge: &edge, spread: &spread, table, settings, clipped: cut.clipped },
    );
    Ok(found)
}

/// Where the edge lies in the scan; `skipped` rows were left out at its beginning.
fn edge_line(edge: &Located, across: bool, skipped: f64, area: &Rect) -> EdgeLine {
    let line = &edge.line;
    let place = |y: f64| {
        let (x, y) = if across { (y + skipped, line.x(y)) } else { (line.x(y), y + skipped) };
        Place::new(area.min.x + x, area.min.y + y)
    };
    let (from, to) = (edge.rows.start as f64, edge.rows.end as f64);
    let pieces = if line.bend.abs() > 0.0 { 16 } else { 1 };
    EdgeLine {
        area: *area,
        places: (0..=pieces).map(|k| place(from + (to - from) * f64::from(k) / f64::from(pieces))).collect(),
        angle: math::atan(line.slope.abs()).to_degrees(),
        rows: edge.rows.len(),
        bend: line.bend.abs() * (to - from) * (to - from) / 4.0,
    }
}
