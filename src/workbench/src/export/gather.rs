//! Everything a report needs, asked of the session once, so that its writers are plain functions of values.

use std::collections::BTreeSet;
use std::sync::Arc;

use twinwedge_core::compare::Comparison;
use twinwedge_core::development::family::Development;
use twinwedge_core::document::{Film, FilmId, ReadingsSource, ScanEntry, ScanId, Series};
use twinwedge_core::grain::spectrum::Spectrum;
use twinwedge_core::grain::viewer::Viewed;
use twinwedge_core::grain::{ApertureLaw, Granularity, GranularityCurve, PairRow};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::register::Registration;
use twinwedge_core::scan::{FlatField, Scan};
use twinwedge_core::sharpness::Sharpness;
use twinwedge_core::tone::Tones;

use super::picture::{GrainCrop, PrintPictures, grain_crops, print_pictures};
use crate::engine::ask::{
    ApertureLawOf, ComparisonOf, DetailOf, DevelopmentOf, Drift, DriftOf, Examined, ExaminedOf, FilmCurve,
    FlatOf, GrainOf, GrainPairOf, GranularityCurveOf, PaperCurve, PaperOf, RegistrationOf, ScanOf,
    SharpnessOf, SpectrumOf, SurvivingDetail, TonesOf, ViewedOf,
};
use crate::session::Session;

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

/// Granularity of a film over density and over the aperture; nothing where no plain area is marked.
#[derive(Debug, Default)]
pub(super) struct GrainPart {
    pub(super) curve: Option<Arc<GranularityCurve>>,
    pub(super) law: Option<Result<Arc<ApertureLaw>, Problem>>,
}

/// What a table of scans tells of a file, without its pixels: a report of fifty films has hundreds.
#[derive(Debug, Clone, Copy)]
pub(super) struct ScanSize {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) bits: u8,
    /// As the file says.
    pub(super) dpi: Option<f64>,
    pub(super) grey: bool,
}

impl ScanSize {
    fn of(scan: &Scan) -> Self {
        Self {
            width: scan.width,
            height: scan.height,
            bits: if scan.levels() == 256 { 8 } else { 16 },
            dpi: scan.meta.dpi.map(|(across, _)| across),
            grey: scan.channels == 1,
        }
    }
}

/// A scan that something is measured on, and what was found about it.
#[derive(Debug)]
pub(super) struct ScanPart {
    pub(super) name: String,
    pub(super) entry: ScanEntry,
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
    /// How it lies on the reference's; `None` where one of the two has no print.
    pub(super) registration: Option<Result<Arc<Registration>, Problem>>,
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
    /// The scans of the films shown and of their calibrations.
    pub(super) scans: Vec<ScanPart>,
    pub(super) problems: Vec<Problem>,
}

/// Asks the session for one candidate, or for all.
pub(super) fn gather(session: &Session, candidate: Option<&FilmId>) -> Result<Gathered, Problem> {
    let series = Arc::clone(session.series());
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
    let (prints, mut candidate_prints) = print_pictures(session, reference, &films);
    let mut reference = film_part(session, reference);
    let mut parts: Vec<FilmPart> = films.iter().map(|film| film_part(session, film)).collect();
    grain_crops(session, std::iter::once(&mut reference).chain(&mut parts).collect());
    let printed = |film: &Film| film.print.is_some() && reference.film.print.is_some();
    let registration =
        |film: &Film| printed(film).then(|| session.wait(&RegistrationOf { film: film.id.clone() }));
    let candidates = parts
        .into_iter()
        .map(|part| CandidatePart {
            registration: registration(&part.film),
            comparison: session.wait(&ComparisonOf { film: part.film.id.clone() }),
            tones: session.wait(&TonesOf { film: part.film.id.clone() }),
            grain: session.wait(&GrainPairOf { film: part.film.id.clone() }).ok(),
            viewed: session.wait(&ViewedOf { film: part.film.id.clone() }),
            print: candidate_prints.remove(&part.film.id),
            detail: printed(&part.film)
                .then(|| session.wait(&DetailOf { film: part.film.id.clone(), quick: false })),
            part,
        })
        .collect();
    let mut problems = session.check();
    let scans = scan_parts(session, &series, &reference.film, &films);
    // Of other films of the series nothing is shown.
    problems.retain(|problem| match &problem.subject {
        Subject::Film(id) => *id == reference.film.id || films.iter().any(|film| film.id == *id),
        Subject::Scan(id) => scans.iter().any(|part| part.name == id.0),
        _ => true,
    });
    let third = series.tones.third.as_ref().and_then(|id| series.film(id));
    let third = third.map(|film| film_part(session, film));
    let paper = series.paper.as_ref().and_then(|_| session.wait(&PaperOf).ok());
    Ok(Gathered { scans, third, paper, candidates, prints, problems, reference, series: Arc::clone(&series) })
}

pub(super) fn film_part(session: &Session, film: &Film) -> FilmPart {
    FilmPart {
        curve: session.wait_compared(&film.id),
        development: session.wait(&DevelopmentOf { film: film.id.clone() }),
        grain: film.grain.as_ref().map(|_| session.wait(&GrainOf { film: film.id.clone(), area: 0 })),
        spectrum: film
            .grain
            .as_ref()
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
        law: film.plain_areas().next().map(law),
    }
}

/// The scans of these films and of the calibrations they are read through, in the order of the series.
fn scan_parts(session: &Session, series: &Series, reference: &Film, films: &[&Film]) -> Vec<ScanPart> {
    let mut used: BTreeSet<&ScanId> = BTreeSet::new();
    for film in films.iter().copied().chain([reference]) {
        for strip in 0..film.strips() {
            if let Some(ReadingsSource::Strip { scan, .. }) = film.strip_readings(strip) {
                used.insert(scan);
            }
        }
        let frames = film.bracket.iter().flat_map(|bracket| &bracket.frames);
        used.extend(frames.filter_map(|frame| frame.scan.as_ref()));
        used.extend(film.print.iter().map(|print| &print.scan));
        used.extend(film.edges.iter().map(|edge| &edge.scan));
        used.extend(film.grain.iter().chain(&film.further_grain).map(|grain| &grain.scan));
    }
    let entry = |id: &&ScanId| series.scans.get(*id);
    let calibrations: Vec<&ScanId> = used
        .iter()
        .filter_map(entry)
        .filter_map(|entry| series.calibrations.get(entry.calibration.as_ref()?))
        .map(|made| &made.scan)
        .collect();
    used.extend(calibrations);
    let part = |id: &ScanId| {
        let entry = series.scans.get(id)?.clone();
        let flat =
            (!entry.flat.is_nothing()).then(|| session.wait(&FlatOf { scan: id.clone() }).ok()).flatten();
        let drift = entry.known.and_then(|_| session.wait(&DriftOf { scan: id.clone() }).ok());
        Some(ScanPart {
            name: id.0.clone(),
            size: session.wait(&ScanOf { scan: id.clone() }).ok().map(|scan| ScanSize::of(&scan)),
            examined: session.wait(&ExaminedOf { scan: id.clone() }).ok(),
            entry,
            flat,
            drift,
        })
    };
    used.into_iter().filter_map(part).collect()
}
