//! What speaks against a scan: what its pixels show, and how its settings differ from its calibration's.

use twinwedge_core::document::ScanId;
use twinwedge_core::measured::Z95;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::examine::Fault;
use twinwedge_core::sharpness::Cause;
use twinwedge_core::words;

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
                words::Series::OtherKindOfCalibration,
                words::Remedy::ChooseCalibrationOfKind,
            ));
        }
        for test in examined.pixels.found() {
            if test.fault == Fault::Sharpened && self.overshoot_of_film(id) {
                let cause = words::Series::EdgesByFilm;
                self.tell(Problem::note(subject(), cause, words::Remedy::LookAtEdge));
                continue;
            }
            let cause = words::Series::Spoiled { found: test.sentence.clone(), what: test.fault.spoils() };
            self.tell(Problem::doubt(subject(), cause, test.fault.remedy()));
        }
        self.flat_and_drift(id);
        for difference in &examined.settings {
            let remedy = words::Remedy::ScanTabletAlike;
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
            let cause = words::Series::Drifted {
                density: patch.density,
                reads: drift.measured.number(),
                off: drift.difference.number(),
                half: drift.difference.u * Z95,
                applied: patch.applied,
            };
            let remedy = words::Remedy::WarmUp;
            let problem = if patch.applied { Problem::note } else { Problem::doubt };
            self.tell(problem(Subject::Scan(id.clone()), cause, remedy));
        }
    }
}
