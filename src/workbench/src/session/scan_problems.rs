//! What speaks against a scan: what its pixels show, and how its settings differ from its calibration's.

use twinwedge_core::document::ScanId;
use twinwedge_core::measured::Z95;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::examine::Fault;
use twinwedge_core::sharpness::Cause;

use super::problems::Finder;
use crate::engine::ask::{DriftOf, EdgeOf, ExaminedOf, FlatOf};

impl Finder<'_> {
    /// A scan that something is measured on.
    pub(super) fn examined(&mut self, id: &ScanId) {
        let subject = || Subject::Scan(id.clone());
        let Some(examined) = self.ask(&ExaminedOf { scan: id.clone() }) else { return };
        if examined.other_kind {
            self.tell(Problem::error(
                subject(),
                "It is read through a calibration of the other kind: film is seen through, a print by reflection, and one \
                 says nothing of the other.",
                "Choose a calibration made from a tablet of the same kind, or none.",
            ));
        }
        for test in examined.pixels.found() {
            if test.fault == Fault::Sharpened && self.overshoot_of_film(id) {
                let cause = "Its edges overshoot as if it were sharpened, but by its grain the film did it: adjacency effect.";
                self.tell(Problem::note(subject(), cause, "Look at the edge on the Grain page."));
                continue;
            }
            let cause = format!("{} This spoils {}.", test.sentence, test.fault.spoils());
            self.tell(Problem::doubt(subject(), cause, test.fault.remedy()));
        }
        self.flat_and_drift(id);
        for difference in &examined.settings {
            let remedy = "Scan the calibration tablet again with the settings of the scan.";
            let problem = if difference.doubt { Problem::doubt } else { Problem::note };
            self.tell(problem(subject(), difference.sentence.clone(), remedy));
        }
    }

    /// Whether an edge that is measured on a scan overshoots by the film's doing.
    fn overshoot_of_film(&mut self, id: &ScanId) -> bool {
        let series = std::sync::Arc::clone(self.series());
        series.films.iter().any(|film| {
            let numbers = (0..film.edges.len()).filter(|edge| film.edges[*edge].scan == *id);
            let causes = numbers.filter_map(|edge| {
                Some(self.ask(&EdgeOf { film: film.id.clone(), edge, quick: false })?.overshoot.cause)
            });
            causes.collect::<Vec<Cause>>().contains(&Cause::Adjacency)
        })
    }

    fn flat_and_drift(&mut self, id: &ScanId) {
        let series = std::sync::Arc::clone(self.series());
        let Some(entry) = series.scans.get(id) else { return };
        if !entry.flat.is_nothing() {
            self.ask(&FlatOf { scan: id.clone() });
        }
        let Some(patch) = &entry.known else { return };
        let Some(drift) = self.ask(&DriftOf { scan: id.clone() }) else { return };
        if drift.difference.excludes_zero() {
            let cause = format!(
                "Its known patch of density {:.3} reads {:.3}: off by {:+.3} ± {:.3}{}.",
                patch.density,
                drift.measured.number(),
                drift.difference.number(),
                drift.difference.u * Z95,
                if patch.applied { ", and all its densities are shifted by that" } else { "" }
            );
            let remedy = "Let the scanner warm up and scan again, calibrate anew, or shift the scan by its known patch.";
            let problem = if patch.applied { Problem::note } else { Problem::doubt };
            self.tell(problem(Subject::Scan(id.clone()), cause, remedy));
        }
    }
}
