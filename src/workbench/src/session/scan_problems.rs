//! What speaks against a scan: what its pixels show, and how its settings differ from its calibration's.

use twinwedge_core::document::ScanId;
use twinwedge_core::problem::{Problem, Subject};

use super::problems::Finder;
use crate::engine::ask::ExaminedOf;

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
            let cause = format!("{} This spoils {}.", test.sentence, test.fault.spoils());
            self.tell(Problem::doubt(subject(), cause, test.fault.remedy()));
        }
        for difference in &examined.settings {
            let remedy = "Scan the calibration tablet again with the settings of the scan.";
            let problem = if difference.doubt { Problem::doubt } else { Problem::note };
            self.tell(problem(subject(), difference.sentence.clone(), remedy));
        }
    }
}
