//! Scanned frames of a bracket: the shadow patch found in each, and the bracket as it was measured.

use twinwedge_core::bracket::{Frame, frame_u};
use twinwedge_core::document::{Bracket, BracketFrame, Film, FilmId, ScanId, Series};
use twinwedge_core::found::Found;
use twinwedge_core::geometry::{Point, Quad};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::tablet::sample_quad;

use super::measurable::{Measurable, key_of_scan};
use super::prints::laid;
use super::{film, label_of};
use crate::engine::ask::{BracketOf, FrameShadow, ShadowOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// Where a frame's shadow patch comes from.
enum Patch<'a> {
    /// Laid by hand on this frame.
    Own(&'a Quad),
    /// Laid on another frame, whose film and name stand in words.
    Carried { from: &'a ScanId, quad: &'a Quad, words: String },
}

/// A scanned frame, its scan, and its patch.
struct Parts<'a> {
    scan: &'a ScanId,
    patch: Patch<'a>,
}

/// Frames of a film that have been scanned and on which a patch was laid.
fn with_patch(film: &Film) -> impl Iterator<Item = (&BracketFrame, &ScanId, &Quad)> {
    let frames = film.bracket.iter().flat_map(|bracket| &bracket.frames);
    frames.filter_map(|frame| Some((frame, frame.scan.as_ref()?, frame.patch.as_ref()?)))
}

impl ShadowOf {
    fn parts<'a>(&self, view: &'a View<'_>) -> Result<Parts<'a>, Problem> {
        let series = view.series();
        let film = film(view, &self.film)?;
        let about = || Subject::Film(self.film.clone());
        let frame = film.bracket.as_ref().and_then(|bracket| bracket.frames.get(self.frame));
        let frame = frame.ok_or_else(|| {
            Problem::error(about(), "The bracket has no such frame.", "Choose another frame.")
        })?;
        let scan = frame.scan.as_ref().ok_or_else(|| {
            let cause = format!("Frame {} was typed, not scanned.", frame.name);
            Problem::note(about(), cause, "Add a scan of the frame to have it read.")
        })?;
        if let Some(own) = &frame.patch {
            return Ok(Parts { scan, patch: Patch::Own(own) });
        }
        // The frame that was exposed most alike shows most of the same.
        let stops = |other: &BracketFrame| match (other.exposure_index, frame.exposure_index) {
            (Some(other), Some(own)) => (other / own).log2().abs(),
            _ => f64::INFINITY,
        };
        let of_reference = series.reference_film().filter(|reference| reference.id != film.id);
        let nearest = [Some(film), of_reference].into_iter().flatten().find_map(|film| {
            let nearest = with_patch(film).min_by(|a, b| stops(a.0).total_cmp(&stops(b.0)));
            nearest.map(|(frame, from, quad)| {
                let words = format!("frame {} of {}", frame.name, film.label);
                Patch::Carried { from, quad, words }
            })
        });
        let patch = nearest.ok_or_else(|| {
            let cause = format!(
                "The shadow patch is not laid on frame {} nor on one that it could be found by.",
                frame.name
            );
            Problem::note(
                about(),
                cause,
                "Lay it on one frame of the reference; it is then found on all others.",
            )
        })?;
        Ok(Parts { scan, patch })
    }

    /// The patch in this frame's scan, with what speaks against it.
    fn find(&self, view: &View<'_>, parts: &Parts<'_>) -> Result<Found<Quad>, Halt> {
        let (from, quad, words) = match &parts.patch {
            Patch::Own(quad) => {
                return Ok(Found { value: **quad, support: 1.0, doubts: Vec::new() });
            }
            Patch::Carried { from, quad, words } => (from, quad, words),
        };
        let about = |problem: Problem| {
            let cause = format!("The shadow patch could not be found by {words}: {}", problem.cause);
            let remedy = "Lay it on this frame by hand.";
            Problem { cause, remedy: remedy.to_owned(), ..problem }.about(Subject::Film(self.film.clone()))
        };
        let found = laid(view, from, parts.scan, None)?.map_err(about)?;
        let value = Quad { corners: quad.corners.map(|corner| found.transform.map(corner)) };
        let mut doubts = found.doubts.clone();
        let bounds = quad.bounds();
        let middle = Point::new((bounds.min.x + bounds.max.x) / 2.0, (bounds.min.y + bounds.max.y) / 2.0);
        doubts.extend(found.doubt_at(middle));
        // An error of a tenth of the patch would bring in what lies around it.
        let side = value.bounds().width().min(value.bounds().height());
        if found.u_at(middle) > 0.05 * side {
            let u = found.u_at(middle);
            doubts.push(format!("It is in place to {u:.0} pixels only, on a patch of {side:.0}."));
        }
        Ok(Found { value, support: found.support(), doubts })
    }
}

impl Ask for ShadowOf {
    type Output = FrameShadow;
    const KIND: Kind = Kind::ShadowOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.shadow
    }

    fn label(&self, series: &Series) -> String {
        let film = series.film(&self.film).and_then(|film| film.bracket.as_ref());
        let name = film.and_then(|bracket| bracket.frames.get(self.frame)).map(|frame| frame.name.as_str());
        format!("Reading frame {} of {}", name.unwrap_or_default(), label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let parts = self.parts(view)?;
        let recipe = key_of_scan(Recipe::new("shadow", 1).with(&self.film), view, parts.scan)?;
        Ok(match &parts.patch {
            Patch::Own(quad) => recipe.with(quad).done(),
            Patch::Carried { from, quad, words } => {
                let dpi = |scan| view.scan_entry(scan).map(|entry| entry.dpi);
                let recipe = recipe.with(&dpi(from)?).with(&dpi(parts.scan)?);
                key_of_scan(recipe, view, from)?.with(quad).with(words).done()
            }
        })
    }

    fn make(&self, view: &View<'_>) -> Result<FrameShadow, Halt> {
        let parts = self.parts(view)?;
        let mut patch = self.find(view, &parts)?;
        let scan = Measurable::of(view, parts.scan)?;
        let name = film(view, &self.film)?
            .bracket
            .as_ref()
            .and_then(|bracket| bracket.frames.get(self.frame).map(|frame| frame.name.as_str()));
        let about = |problem: Problem| {
            let name = name.unwrap_or_default();
            let cause = format!("The shadow patch of frame {name} could not be read: {}", problem.cause);
            Problem { cause, ..problem }.about(Subject::Film(self.film.clone()))
        };
        // Its rim may be flare or the neighbour's: the inner six tenths, as of a step.
        let inner = patch.value.part((0.2, 0.8), (0.2, 0.8)).unwrap_or(patch.value);
        let sample = sample_quad(scan.plane(), &scan.table, &inner).map_err(about)?;
        for (flag, words) in [
            (Flags::CLIPPED, "The scan is clipped there."),
            (Flags::UNEVEN, "It is uneven there: look whether the patch is in place."),
        ] {
            if sample.flags().contains(flag) {
                patch.doubts.push(words.to_owned());
            }
        }
        let by = match parts.patch {
            Patch::Own(_) => None,
            Patch::Carried { words, .. } => Some(words),
        };
        Ok(FrameShadow { patch, sample, by })
    }

    fn digest(shadow: &FrameShadow, _: Key) -> Key {
        Recipe::new("shadow value", 1).with(shadow).done()
    }

    fn bytes(_: &FrameShadow) -> usize {
        size_of::<FrameShadow>() + 256
    }

    fn slow(&self) -> bool {
        true
    }
}

/// A frame that takes part in nothing until it is filled in.
fn lacking(film: &Film, frame: &BracketFrame, what: &str) -> Problem {
    Problem::note(
        Subject::Film(film.id.clone()),
        format!("Frame {} has no {what} yet.", frame.name),
        "Enter it on the Frames page, or take the frame out.",
    )
}

/// The frames of a bracket that are to be read in scans, by their number.
fn scanned<'a>(id: &'a FilmId, bracket: Option<&'a Bracket>) -> impl Iterator<Item = (usize, ShadowOf)> + 'a {
    let frames = bracket.into_iter().flat_map(|bracket| &bracket.frames).enumerate();
    frames
        .filter(|(_, frame)| frame.scan.is_some())
        .map(|(frame, _)| (frame, ShadowOf { film: id.clone(), frame }))
}

impl Ask for BracketOf {
    type Output = Vec<Result<Frame, Problem>>;
    const KIND: Kind = Kind::BracketOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.bracket
    }

    fn label(&self, series: &Series) -> String {
        format!("Bracket of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let film = film(view, &self.film)?;
        let mut recipe =
            Recipe::new("bracket", 1).with(&film.bracket).with(&view.series().settings.reading_u);
        for (_, ask) in scanned(&self.film, film.bracket.as_ref()) {
            recipe = match view.try_digest(&ask)? {
                Ok(digest) => recipe.key(digest),
                Err(problem) => recipe.with(&problem),
            };
        }
        Ok(recipe.done())
    }

    fn make(&self, view: &View<'_>) -> Result<Vec<Result<Frame, Problem>>, Halt> {
        let film = film(view, &self.film)?;
        let Some(bracket) = &film.bracket else { return Ok(Vec::new()) };
        let u = frame_u(bracket, view.series().settings.reading_u);
        let index =
            |frame: &BracketFrame| frame.exposure_index.ok_or_else(|| lacking(film, frame, "exposure index"));
        let typed = |frame: &BracketFrame| {
            let density = frame.shadow_density.ok_or_else(|| lacking(film, frame, "shadow density"))?;
            Ok(Frame { exposure_index: index(frame)?, density, u })
        };
        let mut frames: Vec<Result<Frame, Problem>> = bracket.frames.iter().map(typed).collect();
        for (at, ask) in scanned(&self.film, Some(bracket)) {
            let shadow = view.try_get(&ask)?;
            frames[at] = index(&bracket.frames[at]).and_then(|exposure_index| {
                let density = &shadow?.sample.density;
                Ok(Frame { exposure_index, density: density.number(), u: density.u })
            });
        }
        Ok(frames)
    }

    fn digest(frames: &Vec<Result<Frame, Problem>>, _: Key) -> Key {
        Recipe::new("bracket value", 1).with(frames).done()
    }

    fn bytes(frames: &Vec<Result<Frame, Problem>>) -> usize {
        frames.len() * 64
    }
}
