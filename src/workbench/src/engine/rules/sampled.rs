//! The distance between a scan's samples, on the film.

use serde::Serialize;
use twinwedge_core::document::{ScanId, ScanKind, Series};
use twinwedge_core::measured::Flags;
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::ScanMeta;
use twinwedge_core::units::Micrometres;
use twinwedge_core::words::Sentence;

use super::grain::resolution;
use crate::engine::{NoAnswer, View};
use crate::words::Rule;

/// What the distance between samples is known from.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Spacing {
    /// Resolution as typed.
    dpi: Option<f64>,
    /// On a print: its linear enlargement, where that is known.
    print: Option<Option<f64>>,
}

/// Pixels of a scan and what they mean on the film.
pub(super) struct Sampled {
    pub(super) pitch: Micrometres,
    /// Dots per inch of the scan.
    pub(super) dpi: f64,
    pub(super) flags: Flags,
    pub(super) notes: Vec<Sentence>,
}

/// Linear enlargement of the prints, where it is known.
pub(super) fn enlargement(series: &Series) -> Option<f64> {
    series.conditions.enlargement.filter(|enlargement| *enlargement > 0.0)
}

impl Spacing {
    pub(super) fn of(view: &View<'_>, scan: &ScanId) -> Result<Self, NoAnswer> {
        let entry = view.scan_entry(scan)?;
        let print = (entry.kind == ScanKind::Print).then(|| enlargement(view.series()));
        Ok(Self { dpi: entry.dpi, print })
    }

    /// The distance is that of the scan; on a print of known enlargement it is brought back to the film. `what` is then not
    /// that of the film, in words: 'the aperture is', 'frequencies are'.
    pub(super) fn sampled(&self, meta: &ScanMeta, what: &str) -> Result<Sampled, Problem> {
        let (dpi, flags) = resolution(self.dpi, meta)?;
        let mut found = Sampled { pitch: Micrometres::per_sample(dpi), dpi, flags, notes: Vec::new() };
        if let Some(enlargement) = self.print {
            found.flags |= Flags::FROM_PRINT;
            found.notes.push(Rule::MeasuredOnPrint.into());
            match enlargement {
                Some(enlargement) => found.pitch = Micrometres(found.pitch.0 / enlargement),
                None => {
                    let note = Rule::NoEnlargement { what: what.to_owned() };
                    found.notes.push(note.into());
                }
            }
        }
        Ok(found)
    }
}
