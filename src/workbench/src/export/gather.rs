//! Everything a report needs, asked of the session once, so that its writers are plain functions of values.

use std::collections::BTreeMap;
use std::sync::Arc;

use twinwedge_core::compare::Comparison;
use twinwedge_core::development::family::Development;
use twinwedge_core::document::{Film, FilmId, ScanEntry, ScanId, Series};
use twinwedge_core::grain::spectrum::Spectrum;
use twinwedge_core::grain::viewer::Viewed;
use twinwedge_core::grain::{ApertureLaw, Granularity, GranularityCurve, PairRow};
use twinwedge_core::greys::lighting::Lighting;
use twinwedge_core::greys::pair::{BandsPair, GreysPair};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::ranking::Conclusion;
use twinwedge_core::register::Registration;
use twinwedge_core::scan::{FlatField, Judged};
use twinwedge_core::sharpness::Sharpness;
use twinwedge_core::tone::Tones;

use super::picture::{GrainCrop, PrintPictures, grain_crops, reference_print};
use crate::engine::ask::{
    ApertureLawOf, BandsOf, ComparisonOf, ConclusionsOf, DetailOf, DevelopmentOf, Drift, DriftOf, EncodingOf,
    Examined, ExaminedOf, FilmCurve, FilterAdvice, FiltersOf, FlatOf, GrainOf, GrainPairOf,
    GranularityCurveOf, LightingOf, PaperCurve, PaperOf, RegistrationOf, RenderingOf, ScanSize, ScanSizeOf,
    SharpnessOf, SpectrumOf, SurvivingDetail, TonesOf, ViewedOf,
};
use crate::session::{Check, Session};

/// One film with what was derived from it.
#[derive(Debug)]
pub(super) struct FilmPart {
    pub(super) film: Film,
    pub(super) curve: Result<Arc<FilmCurve>, Problem>,
    pub(super) development: Result<Arc<Development>, Problem>,
    /// `None` where the film has no grain area.
    pub(super) grain: Option<Result<Arc<Granularity>, Problem>>,
    pub(super) crop: Option<Result<GrainCrop, Problem>>,
    /// `None` where the film has no grain area.
    pub(super) spectrum: Option<Result<Arc<Spectrum>, Problem>>,
    /// `None` where no edge is marked.
    pub(super) sharpness: Option<Result<Arc<Sharpness>, Problem>>,
    pub(super) granularity: GrainPart,
}

/// Granularity of a film over density and over the aperture; nothing where no uniform area is marked.
#[derive(Debug, Default)]
pub(super) struct GrainPart {
    pub(super) curve: Option<Arc<GranularityCurve>>,
    pub(super) law: Option<Result<Arc<ApertureLaw>, Problem>>,
}

/// A scan that something is measured on, and what was found about it.
#[derive(Debug)]
pub(super) struct ScanPart {
    pub(super) name: String,
    pub(super) entry: ScanEntry,
    /// What its codes were read as, where it has no calibration.
    pub(super) encoding: Option<Arc<Judged>>,
    pub(super) size: Option<ScanSize>,
    pub(super) examined: Option<Arc<Examined>>,
    pub(super) flat: Option<Arc<FlatField>>,
    pub(super) drift: Option<Arc<Drift>>,
}

/// A candidate, its comparison with the reference and its print.
#[derive(Debug)]
pub(super) struct CandidatePart {
    pub(super) part: FilmPart,
    pub(super) comparison: Result<Arc<Comparison>, Problem>,
    pub(super) tones: Result<Arc<Tones>, Problem>,
    /// Its granularity beside the reference's.
    pub(super) grain: Option<Arc<Vec<PairRow>>>,
    /// Grain of both as it is seen in a print.
    pub(super) viewed: Result<Arc<Viewed>, Problem>,
    /// Reference frame and candidate registered to it; `None` where one of the two has no print.
    pub(super) print: Option<Result<String, Problem>>,
    /// What detail survived; `None` where one of the two has no print.
    pub(super) detail: Option<Result<Arc<SurvivingDetail>, Problem>>,
    /// Its colours as greys; `None` where one of the two has no print.
    pub(super) greys: Option<GreysPart>,
    /// How it lies on the reference's; `None` where one of the two has no print.
    pub(super) registration: Option<Result<Arc<Registration>, Problem>>,
}

/// Colours of both films as greys.
#[derive(Debug)]
pub(super) struct GreysPart {
    pub(super) rendering: Result<Arc<GreysPair>, Problem>,
    pub(super) bands: Result<Arc<BandsPair>, Problem>,
    pub(super) filters: Result<Arc<FilterAdvice>, Problem>,
    pub(super) light: Result<Arc<Lighting>, Problem>,
}

/// All that a report shows.
#[derive(Debug)]
pub(super) struct Gathered {
    pub(super) series: Arc<Series>,
    pub(super) reference: FilmPart,
    pub(super) candidates: Vec<CandidatePart>,
    /// The reference's print as data, in whose frame all prints are shown.
    pub(super) prints: Option<PrintPictures>,
    /// The third film of the tone tables.
    pub(super) third: Option<FilmPart>,
    /// The paper, where it was tested.
    pub(super) paper: Option<Arc<PaperCurve>>,
    /// What is said of all films of the series together; nothing where a report is of one film.
    pub(super) conclusions: Arc<Vec<Conclusion>>,
    /// The scans of the films shown and of their calibrations.
    pub(super) scans: Vec<ScanPart>,
    pub(super) problems: Vec<Problem>,
}

/// The reference and the films that a report compares with it: one candidate, or all.
///
/// # Errors
/// There is no reference or no candidate.
pub(super) fn shown<'a>(
    series: &'a Series,
    candidate: Option<&FilmId>,
) -> Result<(&'a Film, Vec<&'a Film>), Problem> {
    let Some(reference) = series.reference_film() else {
        return Err(Problem::error(
            Subject::Series,
            "There is no reference film to compare with.",
            "Choose one film of the series as the reference.",
        ));
    };
    let films: Vec<&Film> = match candidate {
        Some(id) => series.candidates().filter(|film| film.id == *id).collect(),
        None => series.candidates().collect(),
    };
    if films.is_empty() {
        let cause = match candidate {
            Some(id) => format!("The series has no candidate film called '{}'.", id.0),
            None => "The series has no candidate film.".to_owned(),
        };
        let remedy = "Add a film beside the reference, or name one of the series.";
        return Err(Problem::error(Subject::Series, cause, remedy));
    }
    Ok((reference, films))
}

/// Asks the session for these films, film by film: all that is asked of one is asked before the next one's scans are read.
pub(super) fn gather(check: &mut Check<'_>, reference: &Film, films: &[&Film]) -> Gathered {
    let session = check.session();
    let series = Arc::clone(session.series());
    let prints = reference_print(session, reference);
    let mut of_reference = film_part(session, reference);
    check.film(&reference.id);
    let mut scans = ScanParts::default();
    scans.add(session, reference);
    let mut candidates: Vec<CandidatePart> = Vec::new();
    for film in films {
        candidates.push(candidate_part(session, reference, film, prints.as_ref()));
        check.film(&film.id);
        scans.add(session, film);
    }
    let parts = candidates.iter_mut().map(|candidate| &mut candidate.part);
    grain_crops(session, std::iter::once(&mut of_reference).chain(parts).collect());
    let scans: Vec<ScanPart> = scans.0.into_values().collect();
    // Of other films of the series nothing is shown.
    let shown: Vec<&Film> = films.iter().copied().chain([reference]).collect();
    let mut problems = check.of_films(&shown);
    problems.retain(|problem| match &problem.subject {
        Subject::Film(id) => shown.iter().any(|film| film.id == *id),
        Subject::Scan(id) => scans.iter().any(|part| part.name == id.0),
        _ => true,
    });
    let third = series.tones.third.as_ref().and_then(|id| series.film(id));
    let third = third.map(|film| film_part(session, film));
    let paper = series.paper.as_ref().and_then(|_| session.wait(&PaperOf).ok());
    let together = (films.len() != 1).then(|| session.wait(&ConclusionsOf).ok()).flatten();
    let conclusions = together.unwrap_or_default();
    Gathered {
        conclusions,
        scans,
        third,
        paper,
        candidates,
        prints,
        problems,
        reference: of_reference,
        series,
    }
}

fn candidate_part(
    session: &Session,
    reference: &Film,
    film: &Film,
    prints: Option<&PrintPictures>,
) -> CandidatePart {
    let id = || film.id.clone();
    let printed = film.print.is_some() && reference.print.is_some();
    // As the tester tells it.
    let comparison = session.wait(&ComparisonOf { film: id() }).map(|mut comparison| {
        if session.series().report.order.contains_key(&film.id) {
            let findings = &mut Arc::make_mut(&mut comparison).findings;
            session.series().report.put_in_order(&film.id, findings, |finding| &finding.key);
        }
        comparison
    });
    CandidatePart {
        part: film_part(session, film),
        greys: printed.then(|| GreysPart {
            rendering: session.wait(&RenderingOf { film: id() }),
            bands: session.wait(&BandsOf { film: id() }),
            filters: session.wait(&FiltersOf { film: id() }),
            light: session.wait(&LightingOf { film: id() }),
        }),
        registration: printed.then(|| session.wait(&RegistrationOf { film: id() })),
        comparison,
        tones: session.wait(&TonesOf { film: id() }),
        grain: session.wait(&GrainPairOf { film: id() }).ok(),
        viewed: session.wait(&ViewedOf { film: id() }),
        print: prints.and_then(|prints| prints.candidate(session, film)),
        detail: printed.then(|| session.wait(&DetailOf { film: id(), quick: false })),
    }
}

pub(super) fn film_part(session: &Session, film: &Film) -> FilmPart {
    FilmPart {
        curve: session.wait_compared(&film.id),
        development: session.wait(&DevelopmentOf { film: film.id.clone() }),
        grain: film.uniform_areas.first().map(|_| session.wait(&GrainOf { film: film.id.clone(), area: 0 })),
        spectrum: film
            .uniform_areas
            .first()
            .map(|_| session.wait(&SpectrumOf { film: film.id.clone(), area: 0, quick: false })),
        crop: None,
        sharpness: (!film.edges.is_empty()).then(|| session.wait(&SharpnessOf { film: film.id.clone() })),
        granularity: grain_part(session, film),
        film: film.clone(),
    }
}

fn grain_part(session: &Session, film: &Film) -> GrainPart {
    let law = |area: usize| session.wait(&ApertureLawOf { film: film.id.clone(), area });
    GrainPart {
        curve: session.wait(&GranularityCurveOf { film: film.id.clone() }).ok(),
        law: film.uniform_areas.first().map(|_| law(0)),
    }
}

/// The scans of films and of the calibrations they are read through, by their names.
#[derive(Debug, Default)]
struct ScanParts(BTreeMap<ScanId, ScanPart>);

impl ScanParts {
    /// With the scans that the calibrations were made from, while they are still in memory.
    fn add(&mut self, session: &Session, film: &Film) {
        let series = session.series();
        for scan in film.scans() {
            self.scan(session, scan, true);
            let through = series.scans.get(scan).and_then(|entry| entry.calibration.as_ref());
            if let Some(calibration) = through.and_then(|id| series.calibrations.get(id)) {
                self.scan(session, &calibration.scan, false);
            }
        }
    }

    fn scan(&mut self, session: &Session, id: &ScanId, measured: bool) {
        let series = session.series();
        let Some(entry) = series.scans.get(id).filter(|_| !self.0.contains_key(id)) else { return };
        let flat = !entry.flat.is_nothing();
        let part = ScanPart {
            name: id.0.clone(),
            size: session.wait(&ScanSizeOf { scan: id.clone() }).ok().map(|size| *size),
            examined: session.wait(&ExaminedOf { scan: id.clone() }).ok(),
            flat: flat.then(|| session.wait(&FlatOf { scan: id.clone() }).ok()).flatten(),
            drift: entry.known.and_then(|_| session.wait(&DriftOf { scan: id.clone() }).ok()),
            encoding: (entry.calibration.is_none() && measured)
                .then(|| session.wait(&EncodingOf { scan: id.clone() }).ok())
                .flatten(),
            entry: entry.clone(),
        };
        self.0.insert(id.clone(), part);
    }
}
