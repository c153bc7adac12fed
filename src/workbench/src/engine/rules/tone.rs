//! The paper, and tones followed from the subject through the films to the print.

use std::sync::Arc;

use twinwedge_core::curve::{self, FitSettings, Readings};
use twinwedge_core::document::{
    Exposure, Film, FilmId, PaperTest, ReadingsSource, Series, StripShape, Tablet, TabletExposure,
};
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::tablet::{StepSample, sample_strip};
use twinwedge_core::tone::{Chain, ChainFilm, ChainPaper, Tones, paper_figures};
use twinwedge_core::units::STOP;

use super::development::{compared, compared_digest};
use super::measurable::{Measurable, key_of_scan};
use super::readings::{bytes_of_readings, errors_of, of_samples, of_typed, readings};
use super::{film, label_of, reference};
use crate::engine::ask::{FilmCurve, PaperCurve, PaperOf, PaperStripOf, ScanOf, TonesOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

fn test(series: &Series) -> Result<&PaperTest, Problem> {
    series.paper.as_ref().ok_or_else(|| {
        Problem::note(
            Subject::Series,
            "The paper was not tested.",
            "Print a step tablet on it and enter the densities of its steps on the Tones page.",
        )
    })
}

fn no_readings() -> Problem {
    Problem::note(
        Subject::Series,
        "The paper test has no densities yet.",
        "Type or paste the reflection densities of its steps, or open a scan of the print.",
    )
}

impl Ask for PaperStripOf {
    type Output = Vec<StepSample>;
    const KIND: Kind = Kind::PaperStripOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.paper_strip
    }

    fn label(&self, _: &Series) -> String {
        "Sampling the paper test".to_owned()
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let (scan, shape) = strip(view.series())?;
        let recipe = key_of_scan(Recipe::new("paper strip", 2), view, &scan.scan)?;
        Ok(recipe.with(&view.scan_entry(&scan.scan)?.dpi).with(shape).done())
    }

    fn make(&self, view: &View<'_>) -> Result<Vec<StepSample>, Halt> {
        let (ask, shape) = strip(view.series())?;
        let scan = Measurable::of(view, &ask.scan)?;
        let samples = sample_strip(scan.plane(), &scan.table, shape);
        Ok(samples.map_err(|problem| problem.about(Subject::Scan(ask.scan)))?)
    }

    fn digest(samples: &Vec<StepSample>, _: Key) -> Key {
        Recipe::new("paper strip value", 1).with(samples).done()
    }

    fn bytes(samples: &Vec<StepSample>) -> usize {
        samples.len() * size_of::<StepSample>()
    }
}

fn strip(series: &Series) -> Result<(ScanOf, &StripShape), Problem> {
    match &test(series)?.readings {
        Some(ReadingsSource::Strip { scan, shape }) => Ok((ScanOf { scan: scan.clone() }, shape)),
        Some(ReadingsSource::Typed(_)) => Err(Problem::note(
            Subject::Series,
            "The densities of the paper test were typed, not taken from a scan.",
            "Open a scan of the print if its steps are to be measured here.",
        )),
        None => Err(no_readings()),
    }
}

impl Ask for PaperOf {
    type Output = PaperCurve;
    const KIND: Kind = Kind::PaperOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.paper
    }

    fn label(&self, _: &Series) -> String {
        "Fitting the curve of the paper".to_owned()
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let series = view.series();
        let test = test(series)?;
        let settings = &series.settings;
        let recipe = Recipe::new("paper", 3).with(&test.tablet).with(tablet(series, test)?);
        let recipe = recipe.with(&errors_of(series, &test.tablet, tablet(series, test)?));
        let recipe =
            recipe.with(&test.steps_kept).with(&test.exposure).with(&test.white).with(&settings.reading_u);
        let recipe = recipe.with(&settings.resamplings).with(&settings.seed);
        Ok(match &test.readings {
            None => return Err(no_readings().into()),
            Some(ReadingsSource::Typed(typed)) => recipe.with(typed).done(),
            Some(ReadingsSource::Strip { .. }) => {
                recipe.with(&test.steps_set_aside).key(view.digest(&PaperStripOf)?).done()
            }
        })
    }

    fn make(&self, view: &View<'_>) -> Result<PaperCurve, Halt> {
        let series = view.series();
        let test = test(series)?;
        let readings = paper_readings(view, test)?;
        let fit = FitSettings { resamplings: series.settings.resamplings, seed: series.settings.seed };
        let curve = curve::fit(readings, fit)?;
        let (light, light_u) = match test.exposure {
            Exposure::Absolute { log_h, u } => (log_h, u),
            Exposure::Relative { stops_less } => (-stops_less * STOP, 0.0),
        };
        let figures = paper_figures(&curve, light_u);
        Ok(PaperCurve { curve, figures, light, light_u })
    }

    fn digest(paper: &PaperCurve, _: Key) -> Key {
        Recipe::new("paper value", 1).with(paper).done()
    }

    fn bytes(paper: &PaperCurve) -> usize {
        let splines = paper.curve.resampled.len() + 1;
        splines * (paper.curve.best.coefficients.len() * 8 + 96) + bytes_of_readings(&paper.curve.readings)
    }
}

fn tablet<'a>(series: &'a Series, test: &PaperTest) -> Result<&'a Tablet, Problem> {
    series.tablets.get(&test.tablet).ok_or_else(|| {
        Problem::error(
            Subject::Tablet(test.tablet.clone()),
            "The paper was printed through a tablet that is not in the series.",
            "Choose another tablet for the paper test, or enter the densities of this one.",
        )
    })
}

/// The data of the paper's curve, made as those of a film are. Its light is one of its own: no error of it is shared with the
/// films, and print exposures told against it know nothing of it.
fn paper_readings(view: &View<'_>, test: &PaperTest) -> Result<Readings, Halt> {
    let series = view.series();
    let tablet = tablet(series, test)?;
    let reading_u = series.settings.reading_u;
    let densities = match test.readings.as_ref().ok_or_else(no_readings)? {
        ReadingsSource::Typed(typed) => of_typed(typed, &test.steps_kept, reading_u),
        ReadingsSource::Strip { .. } => {
            of_samples(&view.get(&PaperStripOf)?, &test.steps_set_aside, &test.steps_kept)
        }
    };
    let mut paper = Film::named(FilmId::from("the paper"), "The paper test");
    paper.base_fog = test.white;
    let exposed = TabletExposure::new(test.tablet.clone(), test.exposure);
    let errors = errors_of(series, &test.tablet, tablet);
    let mut readings = readings(&paper, (tablet, errors), &exposed, densities, reading_u)
        .map_err(|problem| problem.about(Subject::Series))?;
    readings.log_h_shared_u = 0.0;
    Ok(readings)
}

/// The films of a table: the reference, the one beside it, and the third, each once.
fn members<'a>(view: &'a View<'_>, beside: &FilmId) -> Result<Vec<&'a Film>, Problem> {
    let mut members = vec![reference(view)?];
    let third = view.series().tones.third.as_ref().and_then(|id| view.film(id));
    for other in std::iter::once(film(view, beside)?).chain(third) {
        if members.iter().all(|member| member.id != other.id) {
            members.push(other);
        }
    }
    Ok(members)
}

impl Ask for TonesOf {
    type Output = Tones;
    const KIND: Kind = Kind::TonesOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.tones
    }

    fn label(&self, series: &Series) -> String {
        format!("Zones of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        let series = view.series();
        let mut recipe = Recipe::new("tones", 1).with(&series.tones);
        for member in members(view, &self.film)? {
            let seconds = member.print.as_ref().and_then(|print| print.exposure_s);
            recipe = recipe.with(&member.label).with(&member.box_speed).with(&seconds);
            recipe = match compared_digest(view, &member.id)? {
                Ok(digest) => recipe.key(digest),
                Err(problem) => recipe.with(&problem),
            };
        }
        recipe = recipe.with(&series.paper.as_ref().and_then(|test| test.seconds));
        Ok(match view.try_digest(&PaperOf)? {
            Ok(digest) => recipe.key(digest).done(),
            Err(problem) => recipe.with(&problem).done(),
        })
    }

    fn make(&self, view: &View<'_>) -> Result<Tones, Halt> {
        let series = view.series();
        let members = members(view, &self.film)?;
        let curves =
            members.iter().map(|member| compared(view, &member.id)).collect::<Result<Vec<_>, Halt>>()?;
        let paper = view.try_get(&PaperOf)?.ok();
        let present = present(&members, &curves, &self.film)?;
        let chain = chain(series, &present, paper.as_deref());
        let cannot = |cause: String| {
            let remedy = "Enter what is missing on the Tones page or the Films page.";
            Problem::note(Subject::Film(self.film.clone()), cause, remedy)
        };
        Ok(chain.map_err(cannot)?.tones())
    }

    fn digest(tones: &Tones, _: Key) -> Key {
        Recipe::new("tones value", 1).with(tones).done()
    }

    fn bytes(tones: &Tones) -> usize {
        tones.rows.len() * tones.films.len() * 1024 + 4096
    }

    fn slow(&self) -> bool {
        true
    }
}

/// The films that have a curve. Reference and the film beside it must; a third without one is left out.
fn present<'a>(
    members: &[&'a Film],
    curves: &'a [Result<Arc<FilmCurve>, Problem>],
    beside: &FilmId,
) -> Result<Vec<(&'a Film, &'a FilmCurve)>, Problem> {
    let mut present = Vec::new();
    for (index, (member, curve)) in members.iter().zip(curves).enumerate() {
        match curve {
            Ok(curve) => present.push((*member, &**curve)),
            Err(problem) if index == 0 || member.id == *beside => return Err(problem.clone()),
            Err(_) => {}
        }
    }
    Ok(present)
}

/// The chain of these films, the reference first, at the choices of a series.
///
/// # Errors
/// In a sentence: no exposure index, or choices that make no sense.
pub fn chain<'a>(
    series: &'a Series,
    films: &[(&'a Film, &'a FilmCurve)],
    paper: Option<&'a PaperCurve>,
) -> Result<Chain<'a>, String> {
    let films: Vec<ChainFilm<'a>> = films
        .iter()
        .map(|(film, curve)| ChainFilm {
            label: &film.label,
            curve: &curve.curve,
            box_speed: film.box_speed,
            print_seconds: film.print.as_ref().and_then(|print| print.exposure_s),
        })
        .collect();
    let paper = paper.map(|paper| ChainPaper {
        curve: &paper.curve,
        light: paper.light,
        light_u: paper.light_u,
        seconds: series.paper.as_ref().and_then(|test| test.seconds),
    });
    Chain::new(&films, paper, &series.tones)
}
