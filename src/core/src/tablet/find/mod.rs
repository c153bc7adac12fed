//! A step tablet or exposed strip found anywhere in a scan, by its steps: equal in length, alike across the strip, rising
//! from one to the next.
//!
//! 1. A smaller copy of the scan, and the two directions at right angles in which most of its edges run (`turn`).
//! 2. On lines along either direction, the longest row of edges of one sign that lie a step's length apart (`chain`), and
//!    the rows and sides that share it (`rough`).
//! 3. In the scan's own pixels, each border at several places across the strip and each step's two sides (`observe`), and
//!    the corners of a row of equal steps in perspective by robust least squares on all of them (`fit`).
//! 4. The row's two ends, each firm or in doubt (`ends`), and all that speaks against the result (`judge`).

mod chain;
mod ends;
mod fit;
mod judge;
mod observe;
mod profile;
mod rough;
mod sheet;
mod turn;

use serde::{Deserialize, Serialize};

use crate::document::StripShape;
use crate::found::Found;
use crate::geometry::{Point, Quad};
use crate::numeric::math;
use crate::problem::{Problem, Subject};
use crate::scan::{Plane, ToneTable};
use crate::words::{self, Sentence};
use fit::Fitted;
use observe::{Frame, Observed, Reader};
use rough::Rough;

/// How density goes with the number of the step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Order {
    /// It rises: the step tablet itself.
    Rising,
    /// It falls: film or paper exposed through a tablet, which had most light behind step 1.
    Falling,
}

/// What is looked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Wanted {
    /// Number of steps where the tablet is known.
    pub steps: Option<u32>,
    /// Which end is step 1.
    pub order: Order,
}

/// A strip that was found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FoundStrip {
    /// Where it lies.
    pub shape: StripShape,
    /// Standard uncertainty of its corners, in pixels.
    pub corner_u: f64,
    /// Steps that were counted, before a known number was taken into account.
    pub counted: u32,
    /// Borders from the outer edge of step 1 to the outer edge of the last.
    pub borders: Vec<Border>,
    /// What is to be known of each step, from step 1.
    pub steps: Vec<StepNote>,
    /// How well the evidence supports each part of it, 0 to 1.
    pub supports: Supports,
}

/// How well each part of a result is supported, 0 to 1 by the finder's own measure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Supports {
    /// That the corners lie where they were found.
    pub corners: f64,
    /// The number of steps.
    pub count: f64,
    /// Which end is step 1.
    pub order: f64,
}

/// The border between two steps, or an outer edge.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Border {
    /// Number of the step before it; 0 is the outer edge of step 1.
    pub after: u32,
    /// Where it crosses the two long sides, in the scan's pixels: as seen, or as the steps have it where it is not seen.
    pub ends: [Point; 2],
    /// Distance from where equal steps have it, in pixels; positive towards the last step. `None` where it is not seen.
    pub off: Option<f64>,
    /// Standard uncertainty of its place along the strip, in pixels.
    pub u: f64,
}

/// What is to be known of a step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct StepNote {
    /// Its number, from 1.
    pub step: u32,
    /// Empty for a sound step.
    pub reasons: Vec<StepReason>,
}

/// Why a step is not sound.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum StepReason {
    /// It touches this neighbour, and no border is seen between them.
    NoBorder(u32),
    /// It reaches the lowest or highest code of the scan.
    Saturated,
    /// Dust or scratches cover this share of it.
    Scratched(f64),
    /// It is uneven by this much density: a finger mark, or uneven exposure or development.
    Uneven(f64),
}

impl StepReason {
    /// In words, after 'step 4'.
    #[must_use]
    pub fn words(&self) -> Sentence {
        match self {
            Self::NoBorder(other) => words::Find::NoBorder { other: *other },
            Self::Saturated => words::Find::Saturated,
            Self::Scratched(share) => words::Find::Scratched { percent: share * 100.0 },
            Self::Uneven(density) => words::Find::Uneven { density: *density },
        }
        .into()
    }
}

/// Finds a strip.
///
/// # Errors
/// No strip is seen in the scan, or `stop` said so.
pub fn find_strip(
    plane: Plane<'_>,
    table: &ToneTable,
    wanted: &Wanted,
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<Found<FoundStrip>, Problem> {
    if table.light.len() != plane.levels() || table.density.len() != plane.levels() {
        return Err(Problem::error(
            Subject::Series,
            words::Scan::CalibrationCodes { codes: table.light.len(), scan: plane.levels() },
            words::Remedy::CalibrationOfBits,
        ));
    }
    let tones = sheet::tones(table);
    let reader = Reader { plane, light: &table.light, tones: &tones };
    let sheet = sheet::Sheet::of(plane, &tones, stop).ok_or_else(stopped)?;
    let mut refused = none(words::Find::NoRow.into());
    let mut best: Option<Found<FoundStrip>> = None;
    // Turns are tried until one gives what nothing speaks against; else the best supported is told with its doubts.
    for turns in [turn::by_gradients, turn::by_lines] {
        for turn in turns(&sheet) {
            for rough in rows(&sheet, turn) {
                if stop() {
                    return Err(stopped());
                }
                match settle(&reader, &rough, wanted)
                    .and_then(|row| judge::judge(&reader, table, wanted, row))
                {
                    Ok(found) if is_settled(&found, wanted) => return Ok(found),
                    Ok(found) if best.as_ref().is_none_or(|best| found.support > best.support) => {
                        best = Some(found);
                    }
                    Ok(_) => {}
                    Err(problem) => refused = problem,
                }
            }
        }
        if stop() {
            return Err(stopped());
        }
    }
    best.ok_or(refused)
}

/// Whether another turn could not show more: nothing speaks against it, or only what no other view of it would change.
fn is_settled(found: &Found<FoundStrip>, wanted: &Wanted) -> bool {
    let strip = &found.value;
    let as_wanted = wanted.steps.is_none_or(|steps| steps == strip.shape.steps);
    found.is_sure() || (as_wanted && strip.supports.corners > 0.75 && strip.supports.count > 0.3)
}

/// Rows of steps along either direction of a turn, best first.
fn rows(sheet: &sheet::Sheet, turn: f64) -> Vec<Rough> {
    let mut found: Vec<Rough> = Vec::new();
    for quarter in [0.0, core::f64::consts::FRAC_PI_2] {
        let angle = turn + quarter;
        let Some(rough) = rough::look(&sheet::Turned::of(sheet, angle)) else { continue };
        if rough.askew.abs() > ASKEW {
            found.extend(rough::look(&sheet::Turned::of(sheet, angle + math::atan(rough.askew))));
        }
        found.push(rough);
    }
    let rank = |rough: &Rough| rough.score * (1.0 - (4.0 * rough.askew.abs()).min(0.6));
    found.sort_by(|a, b| rank(b).total_cmp(&rank(a)));
    found
}

/// Sides that slope more than this in the turned copy are looked at again, turned better.
const ASKEW: f64 = 0.03;

/// A row with its ends, in the scan's own pixels, numbered along u of the rough one.
struct Row {
    fitted: Fitted,
    places: Vec<Observed>,
    ends: ends::Ends,
    another: bool,
    /// Steps that were counted, and that the row has with a known number taken into account.
    counted: u32,
    steps: u32,
}

fn settle(reader: &Reader<'_>, rough: &Rough, wanted: &Wanted) -> Result<Row, Problem> {
    let lost = || none(words::Find::RowLost.into());
    let (fitted, _) = converge(reader, rough.quad, rough.steps).ok_or_else(lost)?;
    let ends = ends::find(reader, &fitted.frame, wanted.steps).ok_or_else(lost)?;
    let counted = (ends.to - ends.from) as u32;
    let (from, to) = with_known(&ends, wanted.steps);
    let steps = (to - from) as u32;
    let place = |number: i32, v: f64| fitted.frame.place(f64::from(number), v);
    let quad = Quad { corners: [place(from, 0.0), place(to, 0.0), place(to, 1.0), place(from, 1.0)] };
    let (fitted, places) = converge(reader, quad, steps).ok_or_else(lost)?;
    Ok(Row { fitted, places, ends, another: rough.another, counted, steps })
}

/// Looks at the scan and fits in turn until the corners stay: borders that lean are recognised on more of their length the
/// better their lean is known.
fn converge(reader: &Reader<'_>, quad: Quad, steps: u32) -> Option<(Fitted, Vec<Observed>)> {
    let mut quad = quad;
    let mut last = None;
    for _ in 0..5 {
        let places = places(reader, &frame(&quad, steps)?, 0.42);
        let fitted = fit::fit(quad, steps, &places)?;
        let pairs = quad.corners.iter().zip(&fitted.quad.corners);
        let moved = pairs.map(|(a, b)| observe::distance(*a, *b)).fold(0.0, f64::max);
        quad = fitted.quad;
        last = Some((fitted, places));
        if moved < 0.1 {
            break;
        }
    }
    last
}

/// The ends once the number of steps is known: the end that is not firm gives way.
fn with_known(ends: &ends::Ends, steps: Option<u32>) -> (i32, i32) {
    let counted = ends.to - ends.from;
    let Some(missing) = steps.and_then(|steps| i32::try_from(steps).ok()).map(|steps| steps - counted) else {
        return (ends.from, ends.to);
    };
    match (ends.first.firm, ends.last.firm) {
        (true, false) => (ends.from, ends.to + missing),
        (false, true) => (ends.from - missing, ends.to),
        _ => (ends.from, ends.to),
    }
}

fn frame(quad: &Quad, steps: u32) -> Option<Frame> {
    Some(Frame { map: crate::geometry::Homography::of(quad)?, steps: f64::from(steps) })
}

fn places(reader: &Reader<'_>, frame: &Frame, window: f64) -> Vec<Observed> {
    let steps = frame.steps as i32;
    let mut places: Vec<Observed> =
        (1..steps).flat_map(|number| observe::border(reader, frame, number, window)).collect();
    places.extend(observe::edge(reader, frame, 0, -1.0));
    places.extend(observe::edge(reader, frame, steps, 1.0));
    for which in [0, 1] {
        places.extend((0..steps).filter_map(|step| observe::side(reader, frame, step, which)));
    }
    places
}

fn none(cause: Sentence) -> Problem {
    Problem::error(Subject::Series, cause, words::Remedy::DragCorners)
}

fn stopped() -> Problem {
    Problem::note(Subject::Series, words::Stopped::Finding, words::Remedy::StartAgain)
}
