//! Registration: which point of one print is which point of another.
//!
//! Thumbnails give a first guess over all turns within 21 degrees, sizes within a factor of 1.3 and shifts that leave a
//! fifth of the smaller print in the other. Windows then refine it from layer to layer of the halved pictures, and the
//! layer on which the windows agree best gives the result: where grain is coarse, that is not the finest. The map has as
//! many numbers as the windows support: a similarity, an affine map where that lowers their residual by more than chance
//! does, a homography likewise.

mod coarse;
mod doubts;
mod layer;
mod likeness;
mod model;
mod reasons;
mod settle;
mod similarity;
mod sizes;
mod windows;

pub use doubts::Window;
pub use model::Spread;
pub use similarity::from_pairs;

use serde::Serialize;

use crate::geometry::{Model, Point, Transform};
use crate::measured::Flags;
use crate::numeric::math;
use crate::problem::{Problem, Subject};
use crate::words::{self, Sentence};
use coarse::{best, search};
use layer::{Layer, layers};
use settle::Stage;
use windows::{Effort, refine};

/// A grey picture to register, any tone scale, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Its width in pixels.
    pub width: usize,
    /// Its height in pixels.
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
    pub transform: Transform,
    /// Whether the tester named the model; else the windows chose it.
    pub model_given: bool,
    /// The richer models that were put to the test on the windows.
    pub tried: Vec<Tried>,
    /// Root mean square of what remains between small windows of both prints, in pixels of the second.
    pub residual_px: f64,
    /// Standard uncertainty per axis of a mapped point amid the windows that agree, in pixels of the second.
    pub u_px: f64,
    /// The largest standard uncertainty of a mapped point in the overlap.
    pub u_worst_px: f64,
    /// Correlation of the two prints after registration, -1..=1.
    pub correlation: f64,
    /// Rank correlation of the tones over the whole overlap: low where small windows agree and large things do not.
    pub likeness: f64,
    /// Share of the smaller print that the other shows too, 0..=1.
    pub overlap: f64,
    /// Set by hand from two pairs of points.
    pub by_hand: bool,
    /// What must be known about it.
    pub flags: Flags,
    /// The small windows that were compared.
    pub windows: Vec<Window>,
    /// Distance of neighbouring windows, in pixels of the first print.
    pub pitch_px: f64,
    /// How well each place is mapped.
    pub spread: Spread,
    /// What speaks against it, each a sentence that a tester can act on. Empty for what is sure.
    pub doubts: Vec<Sentence>,
}

/// A richer model put to the test on the windows that agree.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Tried {
    /// What the map may do.
    pub model: Model,
    /// Its residual over that of the plainer model, both in units of the windows' uncertainty and per degree of freedom.
    pub ratio: f64,
    /// Whether it lowers the residual by more than chance does in one case of a thousand.
    pub significant: bool,
}

impl Registration {
    /// A print on itself.
    #[must_use]
    pub fn exact() -> Self {
        Self {
            transform: Transform::IDENTITY,
            model_given: false,
            tried: Vec::new(),
            residual_px: 0.0,
            u_px: 0.0,
            u_worst_px: 0.0,
            correlation: 1.0,
            likeness: 1.0,
            overlap: 1.0,
            by_hand: false,
            flags: Flags::empty(),
            windows: Vec::new(),
            pitch_px: 0.0,
            spread: Spread::exact(),
            doubts: Vec::new(),
        }
    }

    /// Through two pairs of points set by hand, each taken to be good to a pixel (common practice, no source). Nothing was
    /// correlated: residual, correlation and overlap are not numbers.
    ///
    /// # Errors
    /// As [`from_pairs`].
    pub fn by_hand(pairs: &[(Point, Point); 2]) -> Result<Self, Problem> {
        let similarity = from_pairs(pairs)?;
        let information = 1.0 / (1.0 + similarity.scale * similarity.scale);
        let pair = |(from, to): (Point, Point)| model::Pair {
            from,
            to,
            information: [information, 0.0, information],
            weight: 1.0,
        };
        let spread = model::fit(&pairs.map(pair), Model::Similarity).map(|fit| fit.spread);
        let spread = spread.unwrap_or_else(Spread::exact);
        let u = spread.u_at(pairs[0].0);
        Ok(Self {
            transform: similarity.into(),
            model_given: true,
            residual_px: f64::NAN,
            u_px: u,
            u_worst_px: u,
            correlation: f64::NAN,
            likeness: f64::NAN,
            overlap: f64::NAN,
            by_hand: true,
            flags: Flags::ASSUMED,
            spread,
            ..Self::exact()
        })
    }

    /// Share of the windows that agree, 0..=1: how well the evidence supports it. 1 where nothing was to be found.
    #[must_use]
    pub fn support(&self) -> f64 {
        if self.windows.is_empty() {
            return 1.0;
        }
        self.windows.iter().filter(|window| window.agrees).count() as f64 / self.windows.len() as f64
    }

    /// The middle of the windows that were compared; the origin where none were.
    #[must_use]
    pub fn middle(&self) -> Point {
        let count = self.windows.len().max(1) as f64;
        let sum = self.windows.iter().fold((0.0, 0.0), |sum, w| (sum.0 + w.at.x, sum.1 + w.at.y));
        Point::new(sum.0 / count, sum.1 / count)
    }

    /// Whether nothing speaks against it.
    #[must_use]
    pub fn is_sure(&self) -> bool {
        self.doubts.is_empty()
    }

    /// Standard uncertainty per axis of a place of the first print mapped to the second, in pixels of the second.
    #[must_use]
    pub fn u_at(&self, p: Point) -> f64 {
        self.spread.u_at(p)
    }
}

/// Finds the map from `a` to `b` from the pictures alone: coarse by correlation over turn and size, then refined to a
/// fraction of a pixel by windows over the whole overlap. Tone curves, grain, crop and exposure may differ. `wanted` is the
/// model that the tester chose; none leaves the choice to the windows.
///
/// Both pictures should show the print at about the same size in their own pixels, within a factor of 1.3, and turned by
/// at most 21 degrees. Prints that do not match so are tried at other sizes, from a fifth to five times, before they are
/// refused; one of them is then shrunk to the size of the other. A longer side of 1500 to 3000 pixels is best. More costs
/// time and adds nothing where grain or the scanner's blur already hides a pixel; each halving below that about doubles the
/// uncertainty. Densities register better than light, for shadows then count as much as highlights.
///
/// # Errors
/// The pictures do not match (the problem says whether one is mirrored or turned too far), one is empty, flat, smaller
/// than 80 pixels or holds a tone that is no number, or `stop` said so.
pub fn register(
    a: &Picture,
    b: &Picture,
    wanted: Option<Model>,
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<Registration, Problem> {
    usable(a, "first")?;
    usable(b, "second")?;
    let stopped = || {
        let remedy = words::Remedy::AskAgainIfWanted;
        Problem::note(Subject::Series, words::Stopped::Registering, remedy)
    };
    let (layers_a, layers_b) = (layers(a, THUMBNAIL), layers(b, THUMBNAIL));
    let best = matched(&layers_a, &layers_b, wanted, stop);
    if stop() {
        return Err(stopped());
    }
    let best = match best {
        Some(stage) if convincing(&stage) => return doubts::judged(stage, a, b, wanted),
        best => best,
    };
    if let Some(ratio) = sizes::other_size(&layers_a, &layers_b, stop) {
        let (shrunk_a, shrunk_b) = (a.clone().shrunk(1.0 / ratio), b.clone().shrunk(ratio));
        let stage = matched(&layers(&shrunk_a, THUMBNAIL), &layers(&shrunk_b, THUMBNAIL), wanted, stop);
        // More was tried, so that more is asked.
        let sure = |stage: &Stage| convincing(stage) && support(stage) > 0.5 && stage.likeness > 0.8;
        if let Some(stage) = stage.filter(sure) {
            return doubts::judged(stage, &shrunk_a, &shrunk_b, wanted);
        }
    }
    let problem = reasons::no_match(best.as_ref(), &layers_a, &layers_b, stop);
    Err(if stop() { stopped() } else { problem })
}

/// The best match of two pictures that show the print at about one size, convincing or not.
fn matched(
    a: &[Layer<'_>],
    b: &[Layer<'_>],
    wanted: Option<Model>,
    stop: &(dyn Fn() -> bool + Sync),
) -> Option<Stage> {
    let quick = search(a, b, 0.0, None, stop);
    let mut begun = likeliest(None, &best(&quick), a, b, stop);
    if !begun.as_ref().is_some_and(Begun::plain_to_see) {
        let thorough = search(a, b, 0.0, Some(&quick), stop);
        begun = likeliest(begun, &best(&thorough), a, b, stop);
    }
    begun.and_then(|begun| descend(a, b, begun, wanted, stop))
}

/// Longer side, within a factor of two, of the smallest layer.
const THUMBNAIL: usize = 110;
/// Rank correlation of two prints of one subject, laid on each other, is above this.
const ALIKE: f64 = 0.9;
/// Shortest side of a picture that can be registered.
const SHORTEST: usize = 80;

fn usable(picture: &Picture, which: &'static str) -> Result<(), Problem> {
    let refuse = |cause: Sentence, remedy: Sentence| {
        Err(Problem::error(Subject::Series, words::Register::PrintRefused { which, cause }, remedy))
    };
    let (width, height) = (picture.width, picture.height);
    if picture.tones.is_empty() || width.min(height) < SHORTEST {
        return refuse(
            words::Register::TooFewPixels { width, height }.into(),
            words::Remedy::LargerPicture { shortest: SHORTEST }.into(),
        );
    }
    let scale = picture.scale > 0.0 && picture.scale.is_finite();
    if picture.tones.len() != width * height || !scale {
        return refuse(words::Register::PixelsDoNotFit.into(), words::Remedy::MakePictureAnew.into());
    }
    let lanes = picture
        .tones
        .chunks(4096)
        .map(|c| c.iter().copied().fold((f32::INFINITY, f32::NEG_INFINITY, 0.0), ends));
    let (low, high, sum) = lanes.fold((f32::INFINITY, f32::NEG_INFINITY, 0.0), |(low, high, sum), part| {
        (low.min(part.0), high.max(part.1), sum + part.2)
    });
    if !sum.is_finite() {
        return refuse(words::Register::NoNumbers.into(), words::Remedy::CheckScanAndCalibration.into());
    }
    if high - low <= 1e-6 * high.abs().max(low.abs()) {
        return refuse(words::Register::Flat.into(), words::Remedy::ChoosePrintOfTarget.into());
    }
    Ok(())
}

fn ends((low, high, sum): (f32, f32, f32), tone: f32) -> (f32, f32, f32) {
    (low.min(tone), high.max(tone), sum + tone)
}

/// A guess refined on the smallest layers.
#[derive(Debug, Clone)]
struct Begun {
    stage: Stage,
    /// Rank correlation of the whole overlap.
    likeness: f64,
}

impl Begun {
    /// Likeness, windows that agree among all, and how many there are: a small overlap agrees more easily.
    fn merit(&self) -> f64 {
        let count = self.stage.matches.len() as f64;
        support(&self.stage) * math::sqrt(count) * self.likeness.max(0.0) * self.likeness.abs()
    }

    /// Whether a more thorough search would hardly find better.
    fn plain_to_see(&self) -> bool {
        convincing(&self.stage) && support(&self.stage) > 0.6 && self.likeness > ALIKE
    }
}

/// Refines guesses on the smallest layers until one is plain to see; gives the best of them and `known`.
fn likeliest(
    known: Option<Begun>,
    guesses: &[coarse::Guess],
    a: &[Layer<'_>],
    b: &[Layer<'_>],
    stop: &(dyn Fn() -> bool + Sync),
) -> Option<Begun> {
    let mut best = known;
    for guess in guesses {
        let Some(begun) = begin(a, b, &guess.transform, stop) else { continue };
        if best.as_ref().is_none_or(|best| begun.merit() > best.merit()) {
            best = Some(begun);
        }
        if best.as_ref().is_some_and(Begun::plain_to_see) {
            break;
        }
    }
    best
}

/// The layers that are gone down to.
fn depth(a: &[Layer<'_>], b: &[Layer<'_>]) -> usize {
    a.len().min(b.len())
}

/// Refines a guess on the smallest layers.
fn begin(
    a: &[Layer<'_>],
    b: &[Layer<'_>],
    guess: &Transform,
    stop: &(dyn Fn() -> bool + Sync),
) -> Option<Begun> {
    let level = depth(a, b).checked_sub(1)?;
    let (a, b) = (&a[level], &b[level]);
    let mut transform = *guess;
    let mut best: Option<Stage> = None;
    // Gone through again: the first round may end on the edge of what it searched.
    for _ in 0..3 {
        if stop() {
            return None;
        }
        let Some(stage) = refine(a, b, &transform, effort(a, b, true), None) else { break };
        transform = stage.transform;
        let settled = support(&stage) > 0.7;
        if best.as_ref().is_none_or(|best| support(&stage) >= support(best)) {
            best = Some(stage);
        }
        if settled {
            break;
        }
    }
    let stage = best?;
    let likeness = likeness::likeness(a, b, &stage.transform)?;
    Some(Begun { stage, likeness })
}

fn effort(a: &Layer<'_>, b: &Layer<'_>, smallest: bool) -> Effort {
    let shorter = a.width.min(a.height).min(b.width).min(b.height);
    match shorter {
        0..200 => Effort { side: 20, most: 12, search: if smallest { 5 } else { 2 } },
        200..400 => Effort { side: 32, most: 12, search: 1 },
        400..900 => Effort { side: 48, most: 14, search: 0 },
        _ => Effort { side: 64, most: 18, search: 0 },
    }
}

/// Refines what was begun up to the largest layer, and gives the stage that is surest of itself.
fn descend(
    a: &[Layer<'_>],
    b: &[Layer<'_>],
    begun: Begun,
    wanted: Option<Model>,
    stop: &(dyn Fn() -> bool + Sync),
) -> Option<Stage> {
    let mut best = begun.stage;
    if support(&best) < 0.15 {
        return Some(best);
    }
    let mut transform = best.transform;
    for level in (0..depth(a, b) - 1).rev() {
        if stop() {
            return None;
        }
        let (a, b) = (&a[level], &b[level]);
        match refine(a, b, &transform, effort(a, b, false), wanted) {
            Some(stage) if convincing(&stage) => {
                transform = stage.transform;
                if stage.u <= best.u || !convincing(&best) {
                    best = stage;
                }
            }
            // A layer that is all grain: what the layers before found stands.
            _ => break,
        }
    }
    let smallest = depth(a, b) - 1;
    best.likeness = likeness::likeness(&a[smallest], &b[smallest], &best.transform).unwrap_or(0.0);
    Some(best)
}

/// Share of windows that agree.
fn support(stage: &Stage) -> f64 {
    stage.agreeing as f64 / stage.matches.len().max(1) as f64
}

/// Whether a stage can be no accident. A window without its match agrees by accident in about one of fifteen cases, so
/// a third of at least a dozen does not happen.
fn convincing(stage: &Stage) -> bool {
    stage.agreeing >= 6 && support(stage) >= 0.35 && stage.correlation >= 0.25
}
