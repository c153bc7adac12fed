//! Registration: which point of one print is which point of another.
//!
//! Thumbnails give a first guess over all turns within 21 degrees, sizes within a factor of 1.3 and shifts that leave a
//! fifth of the smaller print in the other. Windows then refine it from layer to layer of the halved pictures, and the
//! layer on which the windows agree best gives the result: where grain is coarse, that is not the finest.

mod coarse;
mod layer;
mod similarity;
mod windows;

pub use similarity::from_pairs;

use serde::Serialize;

use crate::geometry::Similarity;
use crate::measured::Flags;
use crate::problem::{Problem, Subject};
use coarse::guesses;
use layer::{Layer, layers};
use windows::{Effort, Stage, refine};

/// A grey picture to register, any tone scale, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// Tones, e.g. densities.
    pub tones: Vec<f32>,
    /// Side of one of these pixels in pixels of the scan it was made from (1, 2, 4 ...).
    pub scale: f64,
}

/// A found registration.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Registration {
    /// From the first print's full-resolution pixels to the second's.
    pub transform: Similarity,
    /// Root mean square of what remains between small windows of both prints, in pixels of the second.
    pub residual_px: f64,
    /// Standard uncertainty of a mapped point near the middle, in pixels of the second.
    pub u_px: f64,
    /// Correlation of the two prints after registration, -1..=1.
    pub correlation: f64,
    /// Set by hand from two pairs of points.
    pub by_hand: bool,
    /// What must be known about it.
    pub flags: Flags,
}

/// Finds the similarity transform from `a` to `b` from the pictures alone: coarse by correlation over turn and size, then
/// refined to a fraction of a pixel by windows over the whole overlap. Tone curves, grain, crop and exposure may differ.
///
/// Both pictures should show the print at about the same size in their own pixels: within a factor of 1.3, and turned by
/// at most 21 degrees. A longer side of 1500 to 3000 pixels is best. More costs time and adds nothing where grain or
/// the scanner's blur already hides a pixel; each halving below that about doubles the uncertainty. Densities register
/// better than light, for shadows then count as much as highlights.
///
/// # Errors
/// The pictures do not match (too little correlation), one is empty, flat, smaller than 80 pixels or holds a tone that
/// is no number, or `stop` said so.
pub fn register(a: &Picture, b: &Picture, stop: &(dyn Fn() -> bool + Sync)) -> Result<Registration, Problem> {
    usable(a, "first")?;
    usable(b, "second")?;
    let (layers_a, layers_b) = (layers(a, THUMBNAIL), layers(b, THUMBNAIL));
    let guesses = guesses(&layers_a, &layers_b, stop);
    let mut found: Option<Stage> = None;
    for guess in guesses {
        let Some(stage) = descend(&layers_a, &layers_b, &guess.transform, stop) else { continue };
        if found.is_none_or(|best| support(&stage) > support(&best)) {
            found = Some(stage);
        }
        if convincing(&stage) {
            break;
        }
    }
    if stop() {
        let remedy = "Ask for it again if it is still wanted.";
        return Err(Problem::note(Subject::Series, "Registering the prints was stopped.", remedy));
    }
    let stage = found.filter(convincing).ok_or_else(|| no_match(found.as_ref()))?;
    let few = if stage.agreeing < 12 { Flags::FEW_SAMPLES } else { Flags::empty() };
    Ok(Registration {
        transform: stage.transform,
        residual_px: stage.residual,
        u_px: stage.u,
        correlation: stage.correlation,
        by_hand: false,
        flags: few,
    })
}

/// Longer side, within a factor of two, of the smallest layer.
const THUMBNAIL: usize = 80;
/// Shortest side of a picture that can be registered.
const SHORTEST: usize = 80;

fn usable(picture: &Picture, which: &str) -> Result<(), Problem> {
    let refuse = |cause: &str, remedy: &str| {
        Err(Problem::error(
            Subject::Series,
            format!("The {which} print cannot be registered: {cause}"),
            remedy,
        ))
    };
    let (width, height) = (picture.width, picture.height);
    if picture.tones.is_empty() || width.min(height) < SHORTEST {
        return refuse(
            &format!("it has only {width} x {height} pixels."),
            &format!("Use a picture of at least {SHORTEST} pixels a side, better 1500."),
        );
    }
    let scale = picture.scale > 0.0 && picture.scale.is_finite();
    if picture.tones.len() != width * height || !scale {
        return refuse("its pixels do not fit its size.", "Make the picture anew from the scan.");
    }
    let lanes = picture
        .tones
        .chunks(4096)
        .map(|c| c.iter().copied().fold((f32::INFINITY, f32::NEG_INFINITY, 0.0), ends));
    let (low, high, sum) = lanes.fold((f32::INFINITY, f32::NEG_INFINITY, 0.0), |(low, high, sum), part| {
        (low.min(part.0), high.max(part.1), sum + part.2)
    });
    if !sum.is_finite() {
        return refuse("some of its tones are no numbers.", "Check the scan and its calibration.");
    }
    if high - low <= 1e-6 * high.abs().max(low.abs()) {
        return refuse(
            "it is flat, without any detail.",
            "Choose the scan of a print that shows the target.",
        );
    }
    Ok(())
}

fn ends((low, high, sum): (f32, f32, f32), tone: f32) -> (f32, f32, f32) {
    (low.min(tone), high.max(tone), sum + tone)
}

/// Refines a guess from the smallest layer to the largest, and gives the stage that is surest of itself.
fn descend(
    a: &[Layer<'_>],
    b: &[Layer<'_>],
    guess: &Similarity,
    stop: &(dyn Fn() -> bool + Sync),
) -> Option<Stage> {
    let mut transform = *guess;
    let mut best: Option<Stage> = None;
    let depth = a.len().min(b.len());
    for level in (0..depth).rev() {
        if stop() {
            return None;
        }
        let (a, b) = (&a[level], &b[level]);
        let smallest = level + 1 == depth;
        let shorter = a.width.min(a.height).min(b.width).min(b.height);
        let effort = match shorter {
            0..200 => Effort { side: 20, most: 12, search: if smallest { 4 } else { 2 } },
            200..400 => Effort { side: 32, most: 12, search: 1 },
            400..900 => Effort { side: 48, most: 14, search: 0 },
            _ => Effort { side: 64, most: 18, search: 0 },
        };
        // The smallest layer is gone through again: its first round may end on the edge of what it searched.
        for _ in 0..if smallest { 3 } else { 1 } {
            match refine(a, b, &transform, effort) {
                Some(stage) if convincing(&stage) => {
                    transform = stage.transform;
                    if best.is_none_or(|best| stage.u <= best.u || !convincing(&best)) {
                        best = Some(stage);
                    }
                }
                Some(stage) if smallest => {
                    // Not yet convincing, but it may be on its way.
                    transform = stage.transform;
                    best = best.or(Some(stage));
                }
                // A layer that is all grain: what the layers before found stands.
                _ => break,
            }
        }
        if smallest && best.is_none_or(|best| support(&best) < 0.15) {
            return best;
        }
    }
    best
}

/// Share of windows that agree.
fn support(stage: &Stage) -> f64 {
    stage.agreeing as f64 / stage.windows.max(1) as f64
}

/// Whether a stage can be no accident. A window without its match agrees by accident in about one of fifteen cases, so
/// a third of at least a dozen does not happen.
fn convincing(stage: &Stage) -> bool {
    stage.agreeing >= 6 && support(stage) >= 0.35 && stage.correlation >= 0.25
}

fn no_match(best: Option<&Stage>) -> Problem {
    let cause = match best {
        Some(stage) => format!(
            "The two prints do not match: at the best place {} of {} small windows agree, with a correlation of {:.2}.",
            stage.agreeing, stage.windows, stage.correlation
        ),
        None => "The two prints do not match: no place was found where they show the same.".to_owned(),
    };
    let remedy = "Check that both show the same target, turned by less than 20 degrees and at about the same size; or mark \
                  two points in both prints by hand.";
    Problem::error(Subject::Series, cause, remedy)
}
