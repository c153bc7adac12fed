//! What speaks against the scanned frames of brackets.

use twinwedge_core::document::{BracketFrame, Film, ScanId};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::words;

use super::problems::Finder;
use crate::engine::ask::ShadowOf;

impl Finder<'_> {
    /// Frames of which something is still to be entered.
    fn unfilled_frames(&mut self, film: &Film) {
        for frame in film.bracket.iter().flat_map(|bracket| &bracket.frames) {
            if let Some(what) = lacks(frame) {
                self.tell(Problem::note(
                    Subject::Film(film.id.clone()),
                    words::Series::FrameLacks { frame: frame.name.clone(), what },
                    words::Remedy::EnterFrame,
                ));
            }
        }
    }

    /// Scanned frames: each shadow patch that could not be read, and what speaks against those that were.
    pub(super) fn frames(&mut self, film: &Film) {
        self.unfilled_frames(film);
        let scanned = scanned(film);
        if scanned.is_empty() {
            return;
        }
        let series = std::sync::Arc::clone(self.series());
        let of_reference = series.reference_film().filter(|reference| reference.id != film.id);
        if ![Some(film), of_reference].into_iter().flatten().any(has_patch) {
            // One sentence for all frames: none of them can be read before a patch lies somewhere.
            let whose = if of_reference.is_some() { "its own or the reference's" } else { "its" };
            return self.tell(Problem::note(
                Subject::Film(film.id.clone()),
                words::Series::NoShadowPatch { whose, frames: scanned.len() },
                words::Remedy::LayPatch,
            ));
        }
        for (number, name, scan) in scanned {
            self.measured_scan(scan, "Shadow densities");
            let Some(shadow) = self.ask(&ShadowOf { film: film.id.clone(), frame: number }) else { continue };
            for doubt in &shadow.patch.doubts {
                self.tell(Problem::doubt(
                    Subject::Film(film.id.clone()),
                    words::Series::ShadowInDoubt { name: name.to_owned(), doubt: doubt.clone() },
                    words::Remedy::LookAtFrame,
                ));
            }
        }
    }
}

/// What a frame lacks to take part in anything.
fn lacks(frame: &BracketFrame) -> Option<&'static str> {
    match (frame.exposure_index, frame.shadow_density, &frame.scan) {
        (None, None, None) => Some("exposure index and no shadow density"),
        (None, ..) => Some("exposure index"),
        (Some(_), None, None) => Some("shadow density"),
        _ => None,
    }
}

/// Number, name and scan of each scanned frame.
fn scanned(film: &Film) -> Vec<(usize, &str, &ScanId)> {
    let frames = film.bracket.iter().flat_map(|bracket| &bracket.frames).enumerate();
    frames.filter_map(|(number, frame)| Some((number, &*frame.name, frame.scan.as_ref()?))).collect()
}

/// Whether a patch was laid on a scanned frame of it.
fn has_patch(film: &Film) -> bool {
    let mut frames = film.bracket.iter().flat_map(|bracket| &bracket.frames);
    frames.any(|frame| frame.scan.is_some() && frame.patch.is_some())
}
