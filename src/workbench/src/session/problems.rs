//! Everything that is missing or doubtful, each beside what it is about.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::sync::Arc;

use twinwedge_core::compare::format;
use twinwedge_core::curve::Standing;
use twinwedge_core::document::{
    CalibrationId, Exposure, Film, FilmId, ReadingsSource, ScanId, ScanKind, Series, Strip, TabletId,
};
use twinwedge_core::measured::Flags;
use twinwedge_core::patch::out_of_order;
use twinwedge_core::problem::{Problem, Severity, Subject};
use twinwedge_core::words::{self, Sentence};

use super::{Session, Told};
use crate::engine::ask::{
    CalibrationOf, CurveOf, EdgeOf, FitQualityOf, GrainOf, PaperOf, PatchesOf, RegistrationOf, StripOf,
};
use crate::engine::{Known, Query, missing};
use crate::store::{self, paths};

/// Root mean square of a calibration's residuals beyond which it is in doubt, in density. Common practice, no source: a
/// densitometer reads to about 0.02.
const CALIBRATION_RMS: f64 = 0.02;
/// Misfit of a curve beyond which its readings are in doubt: residuals three times what their uncertainties say.
const MISFIT: f64 = 3.0;

/// What to do about readings of fewer steps than the tablet has.
pub const FEWER_STEPS: &str =
    "Give the readings the numbers of their steps where others than the last were left out.";

/// For each typed strip with fewer steps than its tablet a sentence with both numbers.
#[must_use]
pub fn fewer_steps(series: &Series, film: &Film) -> Vec<String> {
    let sentence = |strip: usize| {
        let Some(ReadingsSource::Typed(typed)) = film.strip_readings(strip) else { return None };
        let tablet = series.tablets.get(film.strip_tablet(strip)?)?;
        let (read, steps) = (typed.len(), tablet.steps.len());
        let which =
            if film.strips.len() > 1 { format!(" on {}", film.strip_name(strip)) } else { String::new() };
        (read < steps).then(|| {
            format!(
                "{} has densities of {read} steps{which}, but its tablet {} has {steps} steps: they are taken as steps 1 to \
                 {read}.",
                film.label, tablet.label
            )
        })
    };
    (0..film.strips.len()).filter_map(sentence).collect()
}

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
        let entry = self.series().scans.get(scan);
        // Without either nothing is read of it that its encoding would change.
        if entry.is_some_and(|entry| entry.known.is_some() || !entry.flat.is_nothing()) {
            finder.encoding(scan);
        }
        finder.found(|_| true)
    }

    /// Everything that is missing or doubtful, the gravest first, after computing all of it and reading every scan file
    /// once more.
    #[must_use]
    pub fn check(&self) -> Vec<Problem> {
        self.begin_check().finish()
    }

    /// Begins a check that goes film by film, for whoever asks other things of each film, too: what its scans are read for is
    /// then asked while they are in memory.
    #[must_use]
    pub fn begin_check(&self) -> Check<'_> {
        self.shared.forget_failures();
        let mut finder = Finder::new(self, true);
        finder.series_itself();
        for calibration in self.series().calibrations.values() {
            finder.file(&calibration.scan);
        }
        Check { finder, left: vec![true; self.series().films.len()] }
    }

    /// Begins what goes film by film as a check does and looks for nothing that is missing or doubtful.
    #[must_use]
    pub fn begin_unchecked(&self) -> Check<'_> {
        Check { finder: Finder::new(self, false), left: vec![false; self.series().films.len()] }
    }
}

/// A check under way: everything that is missing or doubtful in a series, found film by film.
#[derive(Debug)]
pub struct Check<'a> {
    finder: Finder<'a>,
    /// For each film whether it is still to be looked at.
    left: Vec<bool>,
}

impl<'a> Check<'a> {
    /// Whose series is checked.
    #[must_use]
    pub fn session(&self) -> &'a Session {
        self.finder.session
    }

    /// Looks at a film and at the files of its scans, after computing what is needed for it.
    pub fn film(&mut self, id: &FilmId) {
        if let Some(place) = self.finder.session.snapshot.place(id) {
            self.place(place);
        }
    }

    fn place(&mut self, place: usize) {
        if std::mem::take(&mut self.left[place]) {
            let series = Arc::clone(self.finder.series());
            let film = &series.films[place];
            for scan in film.scans() {
                self.finder.file(scan);
            }
            self.finder.film(place, film);
        }
    }

    /// What is missing or doubtful in these films, which were looked at, and in what all films share.
    #[must_use]
    pub fn of_films(&self, films: &[&Film]) -> Vec<Problem> {
        let session = self.finder.session;
        let place = |film: &&Film| session.snapshot.place(&film.id);
        let places: BTreeSet<usize> = films.iter().filter_map(place).collect();
        let calibrations = session.series().calibrations.values().map(|calibration| &calibration.scan);
        let scans: BTreeSet<&ScanId> =
            films.iter().flat_map(|film| film.scans()).chain(calibrations).collect();
        self.finder.found(|place| match place {
            Place::Series | Place::Calibrations => true,
            Place::File(scan) => scans.contains(scan),
            Place::Film(place) => places.contains(place),
        })
    }

    /// Looks at all that is left, and gives every problem, the gravest first.
    #[must_use]
    pub fn finish(mut self) -> Vec<Problem> {
        for place in 0..self.left.len() {
            self.place(place);
        }
        self.finder.all_files();
        self.finder.found(|_| true)
    }
}

/// What a problem was found in. Problems of one severity are told in this order.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Place {
    Series,
    File(ScanId),
    Calibrations,
    Film(usize),
}

/// Collects problems; each stands once in a place.
#[derive(Debug)]
pub(super) struct Finder<'a> {
    session: &'a Session,
    /// Compute what is not known.
    wait: bool,
    /// Where it is looking, and what was told there, in words.
    place: Place,
    told: HashSet<String>,
    found: BTreeMap<Place, Vec<Problem>>,
    /// Scans whose files were looked at.
    files: BTreeSet<ScanId>,
}

impl<'a> Finder<'a> {
    pub(super) fn new(session: &'a Session, wait: bool) -> Self {
        Self {
            session,
            wait,
            place: Place::Series,
            told: HashSet::new(),
            found: BTreeMap::new(),
            files: BTreeSet::new(),
        }
    }

    fn enter(&mut self, place: Place) {
        self.place = place;
        self.told.clear();
    }

    fn all(mut self) -> Vec<Problem> {
        self.series_itself();
        self.all_files();
        let series = Arc::clone(self.series());
        for (place, film) in series.films.iter().enumerate() {
            self.film(place, film);
        }
        self.found(|_| true)
    }

    /// What was found in these places, each problem once, the gravest first.
    pub(super) fn found(&self, wanted: impl Fn(&Place) -> bool) -> Vec<Problem> {
        let places = self.found.iter().filter(|(place, _)| wanted(place));
        let mut told = HashSet::new();
        let mut found: Vec<Problem> = places
            .flat_map(|(_, problems)| problems)
            .filter(|problem| told.insert(problem.to_string()))
            .cloned()
            .collect();
        found.sort_by_key(|problem| std::cmp::Reverse(problem.severity));
        found
    }

    /// What all films share.
    fn series_itself(&mut self) {
        self.enter(Place::Series);
        let series = Arc::clone(self.session.series());
        if series.films.is_empty() {
            self.tell(Problem::note(Subject::Series, words::Series::NoFilm, words::Remedy::AddReference));
        } else if series.reference_film().is_none() {
            self.tell(Problem::error(
                Subject::Series,
                words::Series::NoReference,
                words::Remedy::ChooseReference,
            ));
        }
        if series.paper.as_ref().is_some_and(|test| test.readings.is_some())
            && let Some(paper) = self.ask(&PaperOf)
        {
            for outlier in &paper.curve.outliers {
                let sentence = format::outlier(&paper.curve.readings, outlier);
                let cause = words::Series::PaperTest { sentence };
                self.tell(Problem::doubt(Subject::Series, cause, words::Remedy::ReadStepAgain));
            }
        }
        self.enter(Place::Calibrations);
        for id in series.calibrations.keys() {
            self.calibration(id);
        }
    }

    fn all_files(&mut self) {
        let series = Arc::clone(self.session.series());
        for id in series.scans.keys() {
            self.file(id);
        }
    }

    fn film(&mut self, place: usize, film: &Film) {
        self.enter(Place::Film(place));
        self.records(film);
        self.readings(film);
        self.frames(film);
        self.print(film);
        self.grain(film);
        self.edges(film);
    }

    pub(super) fn series(&self) -> &Arc<Series> {
        self.session.series()
    }

    pub(super) fn tell(&mut self, problem: Problem) {
        if self.told.insert(problem.to_string()) {
            self.found.entry(self.place.clone()).or_default().push(problem);
        }
    }

    /// The answer, where it is known; its problem is told.
    pub(super) fn ask<Q: Query>(&mut self, query: &Q) -> Option<Arc<Q::Output>> {
        let answer = if self.wait {
            self.session.wait(query)
        } else {
            match self.session.look(query) {
                Known::Ready(answer) => Ok(answer),
                Known::Failed(problem) | Known::Cancelled(problem) => Err(problem),
                Known::NotYet => return None,
            }
        };
        answer.map_err(|problem| self.tell(problem)).ok()
    }

    /// An answer that is made in no time from another one: where that is known, this is.
    fn ask_from<Q: Query, From: Query>(&mut self, query: &Q, from: &From) -> Option<Arc<Q::Output>> {
        if let Some(answer) = self.ask(query) {
            return Some(answer);
        }
        let known = !self.wait && matches!(self.session.look(from), Known::Ready(_));
        known.then(|| self.session.wait(query).ok()).flatten()
    }

    /// The file of a scan: there, and as it was taken in.
    fn file(&mut self, id: &ScanId) {
        let series = Arc::clone(self.session.series());
        let Some(entry) = series.scans.get(id).filter(|_| self.files.insert(id.clone())) else { return };
        self.enter(Place::File(id.clone()));
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
            words::Series::FileChanged { path: path.display().to_string() },
            words::Remedy::BringOldFile,
        ));
    }

    /// A scan that densities are measured on.
    pub(super) fn measured_scan(&mut self, id: &ScanId, what: &'static str) {
        let series = Arc::clone(self.session.series());
        let Some(entry) = series.scans.get(id) else { return };
        self.examined(id);
        self.encoding(id);
        if entry.calibration.is_none() {
            self.tell(Problem::doubt(
                Subject::Scan(id.clone()),
                words::Series::Uncalibrated { what },
                words::Remedy::ScanTablet,
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
            self.tell(Problem::note(subject.clone(), note.clone(), words::Remedy::LookAtSteps));
        }
        if fit.rms > CALIBRATION_RMS {
            self.tell(Problem::doubt(
                subject,
                words::Series::TableMisses { rms: fit.rms },
                words::Remedy::CheckCalibration,
            ));
        }
    }

    fn tablet(&mut self, id: &TabletId) {
        let series = Arc::clone(self.session.series());
        if series.tablets.get(id).is_some_and(|tablet| tablet.nominal) {
            self.tell(Problem::note(
                Subject::Tablet(id.clone()),
                words::Series::NominalTablet,
                words::Remedy::HaveTabletMeasured,
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
                let cause = words::Series::NotPlausible { what, value, unit };
                self.tell(Problem::doubt(Subject::Film(film.id.clone()), cause, remedy));
            }
        }
    }

    fn readings(&mut self, film: &Film) {
        if let Some(exposed) = &film.tablet_exposure {
            self.tablet(&exposed.tablet);
            if exposed.exposure == Exposure::NotSaid && !film.strips.is_empty() {
                self.tell(Problem::note(
                    Subject::Film(film.id.clone()),
                    words::Series::LightNotSaid,
                    words::Remedy::SayStops,
                ));
            }
        }
        for (number, strip) in film.strips.iter().enumerate() {
            if let Some(tablet) = &strip.tablet {
                self.tablet(tablet);
            }
            self.density_kind(film, strip);
            if let ReadingsSource::Strip { scan, .. } = &strip.readings {
                self.measured_scan(scan, "Step densities");
                self.steps_beyond(film, number);
                self.steps_seen(film, number);
            }
        }
        for cause in fewer_steps(&Arc::clone(self.session.series()), film) {
            self.tell(Problem::note(Subject::Film(film.id.clone()), cause, FEWER_STEPS));
        }
        let (ask, from) = (FitQualityOf { film: film.id.clone() }, CurveOf { film: film.id.clone() });
        let Some(curve) = self.ask_from(&ask, &from) else { return };
        if curve.misfit > MISFIT {
            self.tell(Problem::doubt(
                Subject::Film(film.id.clone()),
                words::Series::Scatter { times: curve.misfit },
                words::Remedy::LookForSteps,
            ));
        }
        for level in curve.levels.iter().filter(|level| level.contradicted) {
            if let (Some(stated), Some(found)) = (level.stated, level.by_overlap) {
                self.tell(Problem::doubt(
                    Subject::Film(film.id.clone()),
                    words::Series::LevelsDiffer {
                        strip: film.strip_name(level.strip),
                        stated: stated.0,
                        stated_u: stated.1,
                        found: found.0,
                        found_u: found.1,
                    },
                    words::Remedy::CheckLevel,
                ));
            }
        }
        for (sentence, outlier) in &curve.outliers {
            let remedy = match outlier.standing {
                Standing::Kept => "Read the step again.",
                Standing::SetAside => "Read the step again; if it is right, keep it on the Curves page.",
                Standing::OneOfTwo { .. } => {
                    "Read both steps again, and keep the right one on the Curves page."
                }
                Standing::Exchanged { .. } => {
                    "Compare both with what was read, and exchange them if they are."
                }
            };
            self.tell(Problem::doubt(Subject::Film(film.id.clone()), sentence.clone(), remedy));
        }
    }

    /// A strip whose readings are another density than those of the reference film, or of the film's own first strip.
    fn density_kind(&mut self, film: &Film, strip: &Strip) {
        let series = Arc::clone(self.session.series());
        let of = |film: &Film| film.strips.iter().find_map(|strip| strip.density);
        let reference = series.reference.as_ref().and_then(|id| series.film(id));
        let first = [reference, Some(film)].into_iter().flatten().find_map(|film| Some((film, of(film)?)));
        let (Some(own), Some((against, other))) = (strip.density, first) else { return };
        if own != other {
            let cause = words::Series::DensitiesDiffer {
                own: own.words(),
                other: other.words(),
                whose: against.label.clone(),
            };
            self.tell(Problem::doubt(Subject::Film(film.id.clone()), cause, words::Remedy::ReadAlike));
        }
    }

    fn steps_beyond(&mut self, film: &Film, strip: usize) {
        let Some(steps) = self.ask(&StripOf { film: film.id.clone(), strip }) else { return };
        let bound = Flags::CLIPPED | Flags::OUTSIDE_CALIBRATION;
        let beyond = steps.iter().filter(|step| step.flags().intersects(bound)).count();
        if beyond > 0 {
            let of =
                if film.strips.len() > 1 { format!("of {} ", film.strip_name(strip)) } else { String::new() };
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
                words::Series::NoPrint { label: film.label.clone() },
                words::Remedy::AddPrint,
            ));
            return;
        };
        self.measured_scan(&print.scan, "Print densities");
        if let Some(layout) = &series.layout
            && let Some(patches) = self.ask(&PatchesOf { film: film.id.clone() })
        {
            let subject = || Subject::Film(film.id.clone());
            let remedy = || words::Remedy::LookAtPatches;
            if let Some(why) = out_of_order(layout, &patches) {
                self.tell(Problem::doubt(subject(), why, remedy()));
            }
            // One sentence for all patches with the same doubt.
            let mut doubts: BTreeMap<String, Vec<&str>> = BTreeMap::new();
            for patch in patches.iter() {
                if let Some(doubt) = &patch.doubt {
                    doubts.entry(doubt.to_string()).or_default().push(&patch.name);
                }
            }
            for (doubt, names) in doubts {
                let cause = words::Series::PatchesInDoubt { patches: listed(&names), doubt };
                self.tell(Problem::doubt(subject(), cause, remedy()));
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
                words::Series::RegistrationInDoubt { doubt: doubt.clone() },
                words::Remedy::CompareByEye,
            ));
        }
    }

    fn grain(&mut self, film: &Film) {
        let series = Arc::clone(self.session.series());
        if let Some(grain) = film.uniform_areas.first() {
            self.measured_scan(&grain.scan, "Grain and its density");
            if series.scans.get(&grain.scan).is_some_and(|entry| entry.kind == ScanKind::Print) {
                self.tell(Problem::note(
                    Subject::Film(film.id.clone()),
                    words::Series::GrainOnPrint { label: film.label.clone() },
                    words::Remedy::MarkOnFilm,
                ));
            }
        }
        if film.uniform_areas.is_empty() && film.roll_of.is_some() {
            return;
        }
        if let Some(grain) = self.ask(&GrainOf { film: film.id.clone(), area: 0 }) {
            let notes: BTreeSet<String> = grain.notes.iter().map(Sentence::to_string).collect();
            for note in notes {
                let subject = Subject::Film(film.id.clone());
                self.tell(Problem::note(subject, note.clone(), words::Remedy::LookAtArea));
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
            for note in edge.notes.iter().filter(|note| **note != Sentence::from(words::Edge::WithScanner)) {
                let subject = Subject::Film(film.id.clone());
                self.tell(Problem::note(subject, note.clone(), words::Remedy::LookAtEdge));
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
