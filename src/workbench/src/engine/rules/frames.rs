//! Scanned frames of a bracket: the shadow patch found in each, and the bracket as it was measured.

use serde::Serialize;
use twinwedge_core::bracket::{Frame, frame_u};
use twinwedge_core::document::{BracketFrame, Film, FilmId, ScanId, Series};
use twinwedge_core::found::Found;
use twinwedge_core::geometry::{Point, Quad};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::tablet::sample_quad;

use super::measurable::Measurable;
use super::prints::{Sheet, laid};
use super::{called, film};
use crate::engine::ask::{BracketOf, FrameShadow, ShadowOf};
use crate::engine::names::stand_in;
use crate::engine::{Computation, NoAnswer, Query, Tried, View};
use crate::words::{Remedy, Rule};

/// What the shadow patch of a scanned frame is read from.
#[derive(Debug, Serialize)]
pub struct Shadow {
    film: FilmId,
    /// The frame's name.
    name: String,
    scan: Measurable,
    patch: Patch,
}

/// Where a frame's shadow patch comes from.
#[derive(Debug, Serialize)]
enum Patch {
    /// Laid by hand on this frame.
    Own(Quad),
    /// Laid on another frame, whose film and name stand in words.
    Carried {
        /// That frame and this one.
        both: Box<[Sheet; 2]>,
        quad: Quad,
        words: String,
    },
}

/// Frames of a film that have been scanned and on which a patch was laid.
fn with_patch(film: &Film) -> impl Iterator<Item = (&BracketFrame, &ScanId, &Quad)> {
    let frames = film.bracket.iter().flat_map(|bracket| &bracket.frames);
    frames.filter_map(|frame| Some((frame, frame.scan.as_ref()?, frame.patch.as_ref()?)))
}

impl Patch {
    fn of(view: &View<'_>, film: &Film, frame: &BracketFrame, scan: &ScanId) -> Result<Self, NoAnswer> {
        if let Some(own) = frame.patch {
            return Ok(Self::Own(own));
        }
        // The frame that was exposed most alike shows most of the same.
        let stops = |other: &BracketFrame| match (other.exposure_index, frame.exposure_index) {
            (Some(other), Some(own)) => (other / own).log2().abs(),
            _ => f64::INFINITY,
        };
        let of_reference = view.reference_film().filter(|reference| reference.id != film.id);
        let nearest = [Some(film), of_reference].into_iter().flatten().find_map(|film| {
            let nearest = with_patch(film).min_by(|a, b| stops(a.0).total_cmp(&stops(b.0)));
            nearest
                .map(|(frame, from, quad)| (from, *quad, format!("frame {} of {}", frame.name, called(film))))
        });
        let (from, quad, words) = nearest.ok_or_else(|| {
            let cause = Rule::PatchNotLaid { frame: frame.name.clone() };
            Problem::note(Subject::Film(film.id.clone()), cause, Remedy::LayOnReference)
        })?;
        let own = Sheet::of(view, scan)?;
        Ok(Self::Carried { both: Box::new([Sheet::of(view, from)?, own]), quad, words })
    }

    /// The patch in the frame's scan, with what speaks against it.
    fn find(&self, work: &Computation<'_>, subject: &Subject) -> Result<Found<Quad>, NoAnswer> {
        let (both, quad, words) = match self {
            Self::Own(quad) => return Ok(Found { value: *quad, support: 1.0, doubts: Vec::new() }),
            Self::Carried { both, quad, words } => (both, quad, words),
        };
        let about = |problem: Problem| {
            let cause = Rule::PatchNotFound { by: words.clone(), why: problem.cause };
            let remedy = Remedy::LayByHand;
            Problem::new(problem.severity, problem.subject, cause, remedy).about(subject.clone())
        };
        let found = laid(work, both, None)?.map_err(about)?;
        let value = Quad { corners: quad.corners.map(|corner| found.transform.map(corner)) };
        let mut doubts = found.doubts.clone();
        let bounds = quad.bounds();
        let middle = Point::new((bounds.min.x + bounds.max.x) / 2.0, (bounds.min.y + bounds.max.y) / 2.0);
        doubts.extend(found.doubt_at(middle));
        // An error of a tenth of the patch would bring in what lies around it.
        let side = value.bounds().width().min(value.bounds().height());
        if found.u_at(middle) > 0.05 * side {
            let u = found.u_at(middle);
            doubts.push(Rule::PatchLoose { u, side }.into());
        }
        Ok(Found { value, support: found.support(), doubts })
    }
}

impl Query for ShadowOf {
    type Inputs = Shadow;

    fn label(&self, series: &Series) -> String {
        let film = series.film(&self.film).and_then(|film| film.bracket.as_ref());
        let name = film.and_then(|bracket| bracket.frames.get(self.frame)).map(|frame| frame.name.as_str());
        format!("Reading frame {} of {}", name.unwrap_or_default(), stand_in(&self.film))
    }

    fn inputs(&self, view: &View<'_>) -> Result<Shadow, NoAnswer> {
        let film = film(view, &self.film)?;
        let about = || Subject::Film(self.film.clone());
        let frame = film.bracket.as_ref().and_then(|bracket| bracket.frames.get(self.frame));
        let frame = frame.ok_or_else(|| Problem::error(about(), Rule::NoSuchFrame, Remedy::OtherFrame))?;
        let scan = frame.scan.as_ref().ok_or_else(|| {
            let cause = Rule::FrameTyped { frame: frame.name.clone() };
            Problem::note(about(), cause, Remedy::ScanFrame)
        })?;
        Ok(Shadow {
            film: self.film.clone(),
            name: frame.name.clone(),
            patch: Patch::of(view, film, frame, scan)?,
            scan: Measurable::of(view, scan)?,
        })
    }

    fn compute(inputs: &Shadow, work: &Computation<'_>) -> Result<FrameShadow, NoAnswer> {
        let subject = Subject::Film(inputs.film.clone());
        let mut patch = inputs.patch.find(work, &subject)?;
        let scan = inputs.scan.read(work)?;
        let about = |problem: Problem| {
            let name = &inputs.name;
            let cause = Rule::PatchNotRead { frame: name.clone(), why: problem.cause };
            Problem::new(problem.severity, subject, cause, problem.remedy)
        };
        // Its rim may be flare or the neighbour's: the inner six tenths, as of a step.
        let inner = patch.value.part((0.2, 0.8), (0.2, 0.8)).unwrap_or(patch.value);
        let (plane, table) = scan.side();
        let sample = sample_quad(plane, table, &inner).map_err(about)?;
        for (flag, words) in [(Flags::CLIPPED, Rule::PatchClipped), (Flags::UNEVEN, Rule::PatchUneven)] {
            if sample.flags().contains(flag) {
                patch.doubts.push(words.into());
            }
        }
        let by = match &inputs.patch {
            Patch::Own(_) => None,
            Patch::Carried { words, .. } => Some(words.clone()),
        };
        Ok(FrameShadow { patch, sample, by })
    }
}

/// A frame that takes part in nothing until it is filled in.
fn lacking(film: &FilmId, name: &str, what: &str) -> Problem {
    Problem::note(
        Subject::Film(film.clone()),
        Rule::FrameLacks { frame: name.to_owned(), what: what.to_owned() },
        Remedy::EnterOnFrames,
    )
}

/// A frame of a bracket; what nobody entered is the problem that says so.
#[derive(Debug, Serialize)]
pub struct OneFrame {
    exposure_index: Result<f64, Problem>,
    shadow: Density,
}

/// Where the density of its shadow comes from.
#[derive(Debug, Serialize)]
enum Density {
    /// As typed, with its standard uncertainty.
    Typed(Result<f64, Problem>, f64),
    Scanned(Tried<ShadowOf>),
}

impl Query for BracketOf {
    type Inputs = Vec<OneFrame>;

    fn inputs(&self, view: &View<'_>) -> Result<Vec<OneFrame>, NoAnswer> {
        let Some(bracket) = &film(view, &self.film)?.bracket else { return Ok(Vec::new()) };
        let u = frame_u(bracket, view.series().settings.reading_u);
        let lack = |frame: &BracketFrame, what: &str| lacking(&self.film, &frame.name, what);
        let one = |(number, frame): (usize, &BracketFrame)| -> Result<OneFrame, NoAnswer> {
            let shadow = match frame.scan {
                Some(_) => {
                    Density::Scanned(view.try_handle(ShadowOf { film: self.film.clone(), frame: number })?)
                }
                None => Density::Typed(frame.shadow_density.ok_or_else(|| lack(frame, "shadow density")), u),
            };
            let exposure_index = frame.exposure_index.ok_or_else(|| lack(frame, "exposure index"));
            Ok(OneFrame { exposure_index, shadow })
        };
        bracket.frames.iter().enumerate().map(one).collect()
    }

    fn compute(
        frames: &Vec<OneFrame>,
        work: &Computation<'_>,
    ) -> Result<Vec<Result<Frame, Problem>>, NoAnswer> {
        let read = |frame: &OneFrame| -> Result<_, NoAnswer> {
            let shadow = match &frame.shadow {
                Density::Typed(density, u) => density.clone().map(|density| (density, *u)),
                Density::Scanned(scanned) => work.try_get(scanned)?.map(|shadow| {
                    let density = &shadow.sample.density;
                    (density.number(), density.u)
                }),
            };
            let index = frame.exposure_index.clone();
            Ok(shadow
                .and_then(|(density, u)| index.map(|exposure_index| Frame { exposure_index, density, u })))
        };
        frames.iter().map(read).collect()
    }
}
