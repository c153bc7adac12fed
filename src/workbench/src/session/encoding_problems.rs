//! Scans whose codes are read by a guess: nothing that rests on one is told without saying so.

use twinwedge_core::document::{Encoding, ScanId};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::scan::encoding::density;
use twinwedge_core::scan::{Certainty, Judged};
use twinwedge_core::words;

use super::Session;
use super::problems::Finder;
use crate::engine::ask::{EncodingOf, StepsSeenOf, StripOf};
use crate::words::{Remedy, Rule};

impl Finder<'_> {
    /// What a scan is read as, where that is a guess.
    pub(super) fn encoding(&mut self, id: &ScanId) {
        let series = std::sync::Arc::clone(self.series());
        // What is stated for a scan is no guess, and neither is a calibration.
        let stated = |entry: &twinwedge_core::document::ScanEntry| {
            entry.calibration.is_some()
                || entry.encoding.is_some_and(|encoding| encoding != Encoding::Profile)
        };
        if series.scans.get(id).is_none_or(stated) {
            return;
        }
        let Some(judged) = self.ask(&EncodingOf { scan: id.clone() }) else { return };
        if let Some(problem) = of_guess(id, &judged) {
            self.tell(problem);
        }
    }

    /// Whether as many steps are seen between the corners of a strip as it is said to have.
    pub(super) fn steps_seen(&mut self, film: &twinwedge_core::document::Film, strip: usize) {
        if self.ask(&StripOf { film: film.id.clone(), strip }).is_none() {
            return;
        }
        let Some(seen) = self.ask(&StepsSeenOf { film: film.id.clone(), strip }) else { return };
        let Some(problem) = film.strip_readings(strip).and_then(|readings| match readings {
            twinwedge_core::document::ReadingsSource::Strip { shape, .. } => (*seen)
                .filter(|seen| *seen != shape.steps)
                .map(|seen| other_number(Subject::Film(film.id.clone()), shape.steps, seen)),
            twinwedge_core::document::ReadingsSource::Typed(_) => None,
        }) else {
            return;
        };
        self.tell(problem);
    }
}

/// A strip of another number of steps than is seen.
#[must_use]
pub fn other_number(subject: Subject, named: u32, seen: u32) -> Problem {
    Problem::doubt(subject, words::Series::OtherSteps { named, seen }, words::Remedy::GiveStepsBetween)
}

impl Session {
    /// The scans of films whose codes are read by a guess, as problems; computes what is not known.
    #[must_use]
    pub fn guessed_encodings(&self) -> Vec<Problem> {
        let mut finder = Finder::new(self, true);
        for scan in self.series().measured_scans() {
            finder.encoding(scan);
        }
        let mut found = finder.found(|_| true);
        // What hinders is told where it hinders.
        found.retain(|problem| problem.severity == twinwedge_core::problem::Severity::Doubt);
        found
    }
}

/// How sure a guess is, in a sentence about a scan.
#[must_use]
pub fn guess_in_words(judged: &Judged) -> String {
    let words = judged.encoding.words();
    match judged.certainty {
        Certainty::Likely => format!(
            "Nothing states what its codes stand for. By its pixels and its format they likely are {words}."
        ),
        _ => format!(
            "Nothing states what its codes stand for, and its pixels do not settle it; they are read as {words}."
        ),
    }
}

/// The encodings that are possible, each with what is said under it: '1.58 as linear light (40 %)'.
#[must_use]
pub fn under_each(judged: &Judged, say: impl Fn(Encoding) -> Option<String>) -> String {
    let each = judged.possible.iter().map(|possible| {
        let share = (100.0 * possible.likelihood).round();
        let share = if share < 1.0 { "below 1 %".to_owned() } else { format!("{share:.0} %") };
        let read = say(possible.encoding).unwrap_or_else(|| "cannot be told".to_owned());
        format!("{read} as {} ({share})", possible.encoding.words())
    });
    each.collect::<Vec<String>>().join(", ")
}

fn of_guess(id: &ScanId, judged: &Judged) -> Option<Problem> {
    if !judged.certainty.is_guess() {
        return None;
    }
    let darkest = judged.darkest.filter(|code| *code > 0.0).map_or_else(String::new, |code| {
        let each = under_each(judged, |encoding| Some(format!("{:.2}", density(encoding, code))));
        format!(" Its darkest tones have a density of {each}.")
    });
    Some(Problem::doubt(
        Subject::Scan(id.clone()),
        Rule::CodesGuessed { guess: guess_in_words(judged), under: darkest },
        Remedy::SayEncoding,
    ))
}
