//! Everything that is missing or doubtful, each beside what it is about.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::sync::Arc;

use twinwedge_core::document::{
    CalibrationId, Film, ReadingsSource, ScanEntry, ScanId, ScanKind, Series, TabletId,
};
use twinwedge_core::measured::Flags;
use twinwedge_core::patch::out_of_order;
use twinwedge_core::problem::{Problem, Severity, Subject};
use twinwedge_core::sharpness::WITH_SCANNER;

use super::{Session, Told};
use crate::engine::ask::{CalibrationOf, CurveOf, EdgeOf, GrainOf, PatchesOf, RegistrationOf, StripOf};
use crate::engine::{Ask, Look, missing};
use crate::store::{self, paths};

/// Root mean square of a calibration's residuals beyond which it is in doubt, in density. Common practice, no source: a
/// densitometer reads to about 0.02.
const CALIBRATION_RMS: f64 = 0.02;
/// Misfit of a curve beyond which its readings are in doubt: residuals three times what their uncertainties say.
const MISFIT: f64 = 3.0;

impl Session {
    /// All problems of the series: missing scans, doubtful calibrations, curves that cannot be fitted ... as far as they
    /// are known now, the gravest first. [`Session::check`] waits for all of it.
    #[must_use]
    pub fn problems(&self) -> Vec<Problem> {
        let state = self.shared.state();
        let mut cache = self.problems.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        match &*cache {
            Some(told) if told.state == state => told.problems.clone(),
            _ => {
                let problems = Finder::new(self, false).all();
                *cache = Some(Told { state, problems: problems.clone() });
                problems
            }
        }
    }

    /// What speaks against one scan, after examining it.
    #[must_use]
    pub fn problems_of_scan(&self, scan: &ScanId) -> Vec<Problem> {
        let mut finder = Finder::new(self, true);
        finder.examined(scan);
        finder.found
    }

    /// Everything that is missing or doubtful, the gravest first, after computing all of it and reading every scan file
    /// once more.
    #[must_use]
    pub fn check(&self) -> Vec<Problem> {
        self.shared.forget_failures();
        Finder::new(self, true).all()
    }
}

/// Collects problems; each stands once.
pub(super) struct Finder<'a> {
    session: &'a Session,
    /// Compute what is not known.
    wait: bool,
    found: Vec<Problem>,
    told: HashSet<String>,
}

impl<'a> Finder<'a> {
    fn new(session: &'a Session, wait: bool) -> Self {
        Self { session, wait, found: Vec::new(), told: HashSet::new() }
    }

    fn all(mut self) -> Vec<Problem> {
        let series = Arc::clone(self.session.series());
        if series.films.is_empty() {
            self.tell(Problem::note(
                Subject::Series,
                "The series has no film.",
                "Add the reference film first.",
            ));
        } else if series.reference_film().is_none() {
            self.tell(Problem::error(
                Subject::Series,
                "No film of the series is its reference.",
                "Choose the film that all others are compared with.",
            ));
        }
        for (id, entry) in &series.scans {
            self.file(id, entry);
        }
        for id in series.calibrations.keys() {
            self.calibration(id);
        }
        for film in &series.films {
            self.records(film);
            self.readings(film);
            self.frames(film);
            self.print(film);
            self.grain(film);
            self.edges(film);
        }
        self.found.sort_by_key(|problem| std::cmp::Reverse(problem.severity));
        self.found
    }

    pub(super) fn series(&self) -> &Arc<Series> {
        self.session.series()
    }

    pub(super) fn tell(&mut self, problem: Problem) {
        if self.told.insert(problem.to_string()) {
            self.found.push(problem);
        }
    }

    /// The answer, where it is known; its problem is told.
    pub(super) fn ask<A: Ask>(&mut self, ask: &A) -> Option<Arc<A::Output>> {
        let answer = if self.wait {
            self.session.wait(ask)
        } else {
            match self.session.look(ask) {
                Ok(Look::Ready(answer)) => Ok(answer),
                Ok(Look::Failed(problem)) | Err(problem) => Err(problem),
                Ok(Look::NotYet) => return None,
            }
        };
        answer.map_err(|problem| self.tell(problem)).ok()
    }

    /// The file of a scan: there, and as it was taken in.
    fn file(&mut self, id: &ScanId, entry: &ScanEntry) {
        let path = paths::absolute(self.session.folder(), &entry.path);
        match self.session.shared.stamp_of(&path, self.wait) {
            None => return,
            Some(None) => return self.tell(missing(id, &path)),
            Some(Some((bytes, _))) => {
                let Some(held) = &entry.digest else { return };
                let changed = bytes != held.bytes
                    || self.wait && store::digest(&path).is_ok_and(|digest| digest != *held);
                if !changed {
                    return;
                }
            }
        }
        self.tell(Problem::doubt(
            Subject::Scan(id.clone()),
            format!("The file {} has changed since it was taken in.", path.display()),
            "Bring the old file back, or take it in again as changed.",
        ));
    }

    /// A scan that densities are measured on.
    pub(super) fn measured_scan(&mut self, id: &ScanId, what: &str) {
        let series = Arc::clone(self.session.series());
        let Some(entry) = series.scans.get(id) else { return };
        self.examined(id);
        if entry.calibration.is_none() {
            self.tell(Problem::doubt(
                Subject::Scan(id.clone()),
                format!(
                    "{what} are measured on it without a calibration: its densities are only approximate."
                ),
                "Scan a tablet of known densities with the same settings and choose it as calibration.",
            ));
        }
    }

    fn calibration(&mut self, id: &CalibrationId) {
        let series = Arc::clone(self.session.series());
        let subject = Subject::Calibration(id.clone());
        if let Some(calibration) = series.calibrations.get(id) {
            self.tablet(&calibration.tablet);
        }
        let Some(fit) = self.ask(&CalibrationOf { calibration: id.clone() }) else { return };
        for note in &fit.notes {
            self.tell(Problem::note(subject.clone(), note.clone(), "Look at the steps on the Tablets page."));
        }
        if fit.rms > CALIBRATION_RMS {
            self.tell(Problem::doubt(
                subject,
                format!("Its table misses the known densities by {:.3} (root mean square).", fit.rms),
                "Check the corners, the tablet's densities, and whether the scanner changed tones by itself.",
            ));
        }
    }

    fn tablet(&mut self, id: &TabletId) {
        let series = Arc::clone(self.session.series());
        if series.tablets.get(id).is_some_and(|tablet| tablet.nominal) {
            self.tell(Problem::note(
                Subject::Tablet(id.clone()),
                "Its densities are nominal, not measured on this tablet.",
                "Have it measured: its errors go straight into log exposure and calibration.",
            ));
        }
    }

    /// Records that cannot be as they stand.
    fn records(&mut self, film: &Film) {
        let beyond =
            |value: Option<f64>, least: f64, most: f64| value.filter(|value| !(least..=most).contains(value));
        let seconds = film.tablet_exposure.as_ref().and_then(|exposed| exposed.seconds);
        let found = [
            (beyond(film.process.minutes, 0.1, 240.0), "development time", "min", "Enter minutes."),
            (
                beyond(film.process.temperature_c, 5.0, 50.0),
                "temperature",
                "°C",
                "Enter degrees Celsius: 68 degrees Fahrenheit are 20.",
            ),
            (beyond(seconds, 1e-6, 100_000.0), "exposure time", "s", "Enter seconds above zero."),
        ];
        for (value, what, unit, remedy) in found {
            if let Some(value) = value {
                let cause = format!("A {what} of {value} {unit} is not plausible.");
                self.tell(Problem::doubt(Subject::Film(film.id.clone()), cause, remedy));
            }
        }
    }

    fn readings(&mut self, film: &Film) {
        if let Some(exposed) = &film.tablet_exposure {
            self.tablet(&exposed.tablet);
        }
        for strip in 0..film.strips() {
            let further = film.further_strip(strip).and_then(|strip| strip.tablet.as_ref());
            if let Some(tablet) = further {
                self.tablet(tablet);
            }
            if let Some(ReadingsSource::Strip { scan, .. }) = film.strip_readings(strip) {
                self.measured_scan(scan, "Step densities");
                self.steps_beyond(film, strip);
            }
        }
        let Some(curve) = self.ask(&CurveOf { film: film.id.clone() }) else { return };
        let curve = &curve.curve;
        if curve.misfit > MISFIT {
            self.tell(Problem::doubt(
                Subject::Film(film.id.clone()),
                format!(
                    "Its readings scatter about the curve {:.1} times as much as their uncertainties say.",
                    curve.misfit
                ),
                "Look for steps that are off, and check the stated uncertainties and the tablet's densities.",
            ));
        }
        for level in curve.levels.iter().filter(|level| level.contradicted) {
            if let (Some(stated), Some(found)) = (level.stated, level.by_overlap) {
                self.tell(Problem::doubt(
                    Subject::Film(film.id.clone()),
                    format!(
                        "{} is said to have had {:.2} ± {:.2} stops less light; what it shares with the other strips says \
                         {:.2} ± {:.2} (standard uncertainties).",
                        film.strip_name(level.strip), stated.0, stated.1, found.0, found.1
                    ),
                    "Check the neutral density or the time, or let the level follow from the overlap.",
                ));
            }
        }
        for outlier in &curve.outliers {
            self.tell(Problem::doubt(
                Subject::Film(film.id.clone()),
                format!(
                    "Its {} departs from the curve of the others by {:+.3} in density, {:.1} times what its error allows.",
                    curve.readings.name_at(outlier.strip, outlier.step),
                    outlier.departure,
                    outlier.sigmas.abs()
                ),
                "Read the step again, or set it aside on the Curves page.",
            ));
        }
    }

    fn steps_beyond(&mut self, film: &Film, strip: usize) {
        let Some(steps) = self.ask(&StripOf { film: film.id.clone(), strip }) else { return };
        let bound = Flags::CLIPPED | Flags::OUTSIDE_CALIBRATION;
        let beyond = steps.iter().filter(|step| step.flags().intersects(bound)).count();
        if beyond > 0 {
            let of =
                if film.strips() > 1 { format!("of {} ", film.strip_name(strip)) } else { String::new() };
            self.tell(Problem::doubt(
                Subject::Film(film.id.clone()),
                format!(
                    "{beyond} of its steps {of}are clipped or beyond the calibration and are not fitted."
                ),
                "Scan with another exposure, or calibrate with a tablet of a wider range.",
            ));
        }
    }

    fn print(&mut self, film: &Film) {
        let series = Arc::clone(self.session.series());
        let Some(print) = &film.print else {
            // A further roll is there for its curve.
            if film.roll_of.is_some() {
                return;
            }
            self.tell(Problem::note(
                Subject::Film(film.id.clone()),
                format!("{} has no print.", film.label),
                "Add a scan of its print.",
            ));
            return;
        };
        self.measured_scan(&print.scan, "Print densities");
        if let Some(layout) = &series.layout
            && let Some(patches) = self.ask(&PatchesOf { film: film.id.clone() })
        {
            let subject = || Subject::Film(film.id.clone());
            let remedy = "Look at the patch grid on the Prints page.";
            if let Some(why) = out_of_order(layout, &patches) {
                self.tell(Problem::doubt(subject(), why, remedy));
            }
            // One sentence for all patches with the same doubt.
            let mut doubts: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
            for patch in patches.iter() {
                if let Some(doubt) = &patch.doubt {
                    doubts.entry(doubt).or_default().push(&patch.name);
                }
            }
            for (doubt, names) in doubts {
                let cause = format!("The place of {} on its print is in doubt: {doubt}", listed(&names));
                self.tell(Problem::doubt(subject(), cause, remedy));
            }
        }
        let reference = series.reference_film();
        if reference.is_none_or(|reference| reference.id == film.id || reference.print.is_none()) {
            return;
        }
        let Some(registration) = self.ask(&RegistrationOf { film: film.id.clone() }) else { return };
        for doubt in &registration.doubts {
            self.tell(Problem::doubt(
                Subject::Film(film.id.clone()),
                format!("The registration of its print is in doubt: {doubt}"),
                "Compare both prints by eye, and set two pairs of points by hand if they do not lie on each other.",
            ));
        }
    }

    fn grain(&mut self, film: &Film) {
        let series = Arc::clone(self.session.series());
        if let Some(grain) = &film.grain {
            self.measured_scan(&grain.scan, "Grain and its density");
            if series.scans.get(&grain.scan).is_some_and(|entry| entry.kind == ScanKind::Print) {
                self.tell(Problem::note(
                    Subject::Film(film.id.clone()),
                    format!(
                        "The grain of {} is measured on a print: paper and enlarger are in it.",
                        film.label
                    ),
                    "Mark a plain area on a scan of the film itself where you have one.",
                ));
            }
        }
        if film.grain.is_none() && film.roll_of.is_some() {
            return;
        }
        if let Some(grain) = self.ask(&GrainOf { film: film.id.clone(), area: 0 }) {
            let notes: BTreeSet<&String> = grain.notes.iter().collect();
            for note in notes {
                let subject = Subject::Film(film.id.clone());
                self.tell(Problem::note(subject, note.clone(), "Look at the area on the Grain page."));
            }
        }
    }
}

/// Patches by their names, as far as a sentence bears.
fn listed(names: &[&str]) -> String {
    match names {
        [one] => format!("the patch '{one}'"),
        [some @ .., last] if some.len() < 4 => {
            let some: Vec<String> = some.iter().map(|name| format!("'{name}'")).collect();
            format!("the patches {} and '{last}'", some.join(", "))
        }
        many => format!("{} patches", many.len()),
    }
}

impl Finder<'_> {
    /// What its edges say of themselves.
    fn edges(&mut self, film: &Film) {
        for edge in &film.edges {
            self.measured_scan(&edge.scan, "Sharpness");
        }
        for edge in 0..film.edges.len() {
            let Some(edge) = self.ask(&EdgeOf { film: film.id.clone(), edge, quick: false }) else {
                continue;
            };
            // That a scanner is part of every scan is no news.
            for note in edge.notes.iter().filter(|note| *note != WITH_SCANNER) {
                let subject = Subject::Film(film.id.clone());
                self.tell(Problem::note(subject, note.clone(), "Look at the edge on the Grain page."));
            }
        }
    }
}

/// How many problems of each severity, for a status line: errors, doubts, notes.
#[must_use]
pub fn count(problems: &[Problem]) -> (usize, usize, usize) {
    let of = |severity| problems.iter().filter(|problem| problem.severity == severity).count();
    (of(Severity::Error), of(Severity::Doubt), of(Severity::Note))
}
