//! What speaks against a registration: as a whole, and place by place.

use serde::Serialize;

use super::settle::Stage;
use super::{ALIKE, Picture, Registration};
use crate::geometry::{Model, Point, Quad, Rect};
use crate::measured::Flags;
use crate::numeric::math;
use crate::problem::{Problem, Subject};
use crate::words::{self, Sentence};

/// One small window of the first print, and how it lies in the second.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Window {
    /// Its middle in the first print.
    pub at: Point,
    /// Where it was found minus where the map puts it, in pixels of the second print.
    pub away: Point,
    /// Of its tones with what was found there.
    pub correlation: f64,
    /// Whether it agrees with the map; else it was not found, or elsewhere.
    pub agrees: bool,
}

/// A standard uncertainty beyond which a mapped place is in doubt, in pixels of the second print: 95 % of places then lie
/// within a third of a pixel.
const DOUBTFUL_U: f64 = 0.15;
/// Places along each side at which the overlap is looked at.
const PLACES: usize = 12;
/// Least share of the overlap that lies near windows which agree.
const COVERED: f64 = 0.6;
/// Least share of the smaller print that the other shows, for no doubt.
const LEAST_OVERLAP: f64 = 0.35;

/// The result that a stage stands for, with its doubts.
///
/// # Errors
/// The map turns part of the overlap inside out: then it was no match.
pub(super) fn judged(
    stage: Stage,
    a: &Picture,
    b: &Picture,
    wanted: Option<Model>,
) -> Result<Registration, Problem> {
    let whole = |p: &Picture| Rect {
        min: Point::default(),
        max: Point::new(p.width as f64 * p.scale, p.height as f64 * p.scale),
    };
    let (first, second) = (whole(a), whole(b));
    if !stage.transform.is_regular_on(&Quad::upright(first)) {
        return Err(Problem::error(
            Subject::Series,
            words::Register::Folds,
            words::Remedy::SameTargetOrPoints,
        ));
    }
    let places: Vec<Point> = grid(first)
        .filter(|p| {
            let at = stage.transform.map(*p);
            at.x >= 0.0 && at.y >= 0.0 && at.x <= second.max.x && at.y <= second.max.y
        })
        .collect();
    let middle = Point::new(first.max.x / 2.0, first.max.y / 2.0);
    let scale = stage.transform.scale_at(middle);
    let area = |r: Rect| r.width() * r.height();
    let shared = places.len() as f64 / (PLACES * PLACES) as f64 * area(first);
    let overlap = (shared / area(first).min(area(second) / (scale * scale))).min(1.0);
    let windows: Vec<Window> = stage
        .matches
        .iter()
        .map(|(m, agrees)| {
            let at = stage.transform.map(m.from);
            let away = Point::new(m.to.x - at.x, m.to.y - at.y);
            Window { at: m.from, away, correlation: m.correlation, agrees: *agrees }
        })
        .collect();
    let u_worst = places.iter().map(|p| stage.spread.u_at(*p)).fold(0.0, f64::max);
    let few = if stage.agreeing < 12 { Flags::FEW_SAMPLES } else { Flags::empty() };
    let mut found = Registration {
        transform: stage.transform,
        model_given: wanted.is_some(),
        tried: stage.tried,
        residual_px: stage.residual,
        u_px: stage.u,
        u_worst_px: u_worst,
        correlation: stage.correlation,
        likeness: stage.likeness,
        overlap,
        by_hand: false,
        flags: few,
        windows,
        pitch_px: stage.pitch,
        spread: stage.spread,
        doubts: Vec::new(),
    };
    found.doubts = doubts(&found, stage.agreeing, &places, wanted);
    Ok(found)
}

fn grid(whole: Rect) -> impl Iterator<Item = Point> {
    let share = |k: usize| (k as f64 + 0.5) / PLACES as f64;
    (0..PLACES * PLACES)
        .map(move |k| Point::new(share(k % PLACES) * whole.max.x, share(k / PLACES) * whole.max.y))
}

fn doubts(found: &Registration, agreeing: usize, places: &[Point], wanted: Option<Model>) -> Vec<Sentence> {
    let mut doubts = Vec::new();
    let count = found.windows.len();
    if 2 * agreeing < count {
        doubts.push(words::Register::FewAgree { agreeing, count }.into());
    } else if agreeing < 12 {
        doubts.push(words::Register::FewWindows { agreeing }.into());
    }
    if found.correlation < 0.5 {
        doubts.push(words::Register::LittleAlike { correlation: found.correlation }.into());
    }
    if found.likeness < ALIKE {
        doubts.push(words::Register::LargeThingsDiffer { correlation: found.likeness }.into());
    }
    if found.overlap < LEAST_OVERLAP {
        doubts.push(words::Register::SmallOverlap { percent: 100.0 * found.overlap }.into());
    }
    if found.u_worst_px > DOUBTFUL_U {
        doubts.push(words::Register::PoorPlace { px: found.u_worst_px }.into());
    }
    let near = places.iter().filter(|p| found.agreeing_near(**p)).count();
    if (near as f64) < COVERED * places.len() as f64 {
        doubts.push(
            words::Register::WindowsInPart { percent: 100.0 * near as f64 / places.len().max(1) as f64 }
                .into(),
        );
    }
    let model = found.transform.model();
    if let Some(wanted) = wanted.filter(|wanted| *wanted != model) {
        doubts.push(words::Register::ModelNotSupported { wanted: wanted.word(), taken: model.word() }.into());
    }
    let better = found.tried.iter().filter(|tried| tried.significant && tried.model > model);
    if let Some(better) = better.max_by_key(|tried| tried.model) {
        doubts
            .push(words::Register::BetterModel { better: better.model.word(), chosen: model.word() }.into());
    }
    doubts
}

impl Registration {
    /// Whether a window that agrees lies within twice the windows' distance.
    fn agreeing_near(&self, p: Point) -> bool {
        self.near(p).any(|window| window.agrees)
    }

    fn near(&self, p: Point) -> impl Iterator<Item = &Window> {
        let reach = 2.0 * self.pitch_px;
        self.windows.iter().filter(move |w| math::hypot(w.at.x - p.x, w.at.y - p.y) <= reach)
    }

    /// What speaks against a mapped place of the first print beyond what speaks against the whole; `None` where nothing
    /// does.
    #[must_use]
    pub fn doubt_at(&self, p: Point) -> Option<Sentence> {
        if self.by_hand || self.windows.is_empty() {
            return None;
        }
        let u = self.u_at(p);
        let (near, agreeing) = self
            .near(p)
            .fold((0, 0), |(near, agreeing), window| (near + 1, agreeing + usize::from(window.agrees)));
        if near > 0 && 2 * agreeing < near {
            return Some(words::Register::FewAgreeHere { agreeing, near }.into());
        }
        if near == 0 {
            return Some(words::Register::NoDetailHere { u }.into());
        }
        (u > DOUBTFUL_U).then(|| words::Register::PoorHere { u }.into())
    }
}
