//! How films turn colours into greys: each print's patches back to exposures, two films beside each other, what light they see,
//! filters between them, and whether the light on both frames was the same.

use std::sync::Arc;

use serde::Serialize;
use twinwedge_core::curve::{Curve, ErrorKey, FitSettings};
use twinwedge_core::document::{EnteredSpectrum, Film, FilmId, PatchLayout, PatchName, Series, SubjectLight};
use twinwedge_core::greys::colour::{Family, lab};
use twinwedge_core::greys::filters::{self, Choices, Filter, Numbered};
use twinwedge_core::greys::light::{Light, Standard};
use twinwedge_core::greys::lighting::{self, GreyAt, Lighting, NoLighting};
use twinwedge_core::greys::pair::{BandsPair, GreysPair};
use twinwedge_core::greys::rendering::{Incomparable, rendering};
use twinwedge_core::greys::sensitivity::{self, EDGES, NoSensitivity, Seen, Sensitivity};
use twinwedge_core::greys::spectrum::{Carries, Spectrum};
use twinwedge_core::greys::stops::{
    self, Curves, End, Found, Frame, Grey, Medium, Neutral, NoRoute, Patch, Target, by_curves,
};
use twinwedge_core::measured::Flags;
use twinwedge_core::numeric::math;
use twinwedge_core::patch::PatchSample;
use twinwedge_core::problem::{Problem, Subject};
use twinwedge_core::tone::Veil;
use twinwedge_core::units::STOP;

use super::{called, film, reference};
use crate::engine::ask::{
    BandsOf, CurveOf, FilterAdvice, FiltersOf, GreysOf, LightingOf, PaperCurve, PaperOf, PatchesOf,
    RenderingOf, SensitivityOf,
};
use crate::engine::names::stand_in;
use crate::engine::{Computation, Handle, NoAnswer, Query, Tried, View};
use crate::words::{Remedy, Rule};

/// Standard uncertainty of a print's exposure against the paper test's, in lg: of the darkroom's clock and lamp (common practice, no
/// source).
const PRINT_EXPOSURE_U: f64 = 0.01;

/// What the greys of a film's print are read from.
#[derive(Debug, Serialize)]
pub struct Printed {
    film: FilmId,
    patches: Handle<PatchesOf>,
    card: usize,
    /// Known densities of the neutral patches, by their numbers, and the standard uncertainty of all.
    neutrals: Vec<(usize, f64)>,
    known_u: f64,
    curve: Tried<CurveOf>,
    paper: Tried<PaperOf>,
    /// lg of the print's exposure over that of the paper test, where that is known.
    exposure: Option<f64>,
    resamplings: u32,
    seed: u64,
}

fn layout_of(series: &Series) -> Result<&PatchLayout, Problem> {
    series.layout.as_ref().ok_or_else(|| Problem::note(Subject::Series, Rule::NoLayout, Remedy::ChooseLayout))
}

fn card_of(layout: &PatchLayout) -> Result<usize, Problem> {
    layout.grey_card().ok_or_else(|| Problem::note(Subject::Series, Rule::NoGreyCard, Remedy::SayGreyCard))
}

impl Printed {
    fn of(view: &View<'_>, id: &FilmId) -> Result<Self, NoAnswer> {
        let series = view.series();
        let film = film(view, id)?;
        // Whether there is a print at all is said first.
        let patches = view.handle(PatchesOf { film: id.clone() })?;
        let layout = layout_of(series)?;
        let known = |(number, patch): (usize, &PatchName)| {
            Some((number, patch.density.filter(|_| patch.role.is_neutral())?))
        };
        Ok(Self {
            film: id.clone(),
            patches,
            card: card_of(layout)?,
            neutrals: layout.patches.iter().enumerate().filter_map(known).collect(),
            known_u: series.target.known_u,
            curve: view.try_handle(CurveOf { film: id.clone() })?,
            paper: view.try_handle(PaperOf)?,
            exposure: exposure(series, film),
            resamplings: series.settings.resamplings,
            seed: series.settings.seed,
        })
    }

    fn settings(&self) -> FitSettings {
        FitSettings { resamplings: self.resamplings, seed: self.seed }
    }

    fn read(&self, work: &Computation<'_>) -> Result<Read, NoAnswer> {
        let patch = |sample: &PatchSample| {
            let density = &sample.sample.density;
            Some(Patch { density: density.number(), u: density.u, flags: density.flags })
        };
        let patches: Vec<Option<Patch>> = work.get(&self.patches)?.iter().map(patch).collect();
        let numbers = patches.iter().flatten().flat_map(|patch| [patch.density, patch.u]);
        let key = ErrorKey::by("patches", numbers);
        let curve = work.try_get(&self.curve)?.ok();
        let paper = work.try_get(&self.paper)?.ok();
        Ok(Read { key, patches, film: curve.map(|curve| Arc::new(curve.curve.clone())), paper })
    }
}

/// lg of a print's exposure over that of the paper test: by the seconds on record, or as entered for the reference.
fn exposure(series: &Series, film: &Film) -> Option<f64> {
    let own = film.print.as_ref()?.exposure_s;
    let test = series.paper.as_ref()?.seconds;
    let by_clock = own.zip(test).map(|(own, test)| math::log10(own / test));
    let is_reference = series.reference.as_ref() == Some(&film.id);
    by_clock.or_else(|| series.tones.print_stops.filter(|_| is_reference).map(|stops| stops * STOP))
}

/// A print as it was read, and the curves that it went through.
struct Read {
    key: ErrorKey,
    patches: Vec<Option<Patch>>,
    film: Option<Arc<Curve>>,
    paper: Option<Arc<PaperCurve>>,
}

impl Read {
    fn frame(&self, card: usize) -> Frame<'_> {
        Frame { key: self.key, medium: Medium::Print, patches: &self.patches, card }
    }

    fn curves(&self, exposure: Option<f64>) -> Option<Curves<'_>> {
        let (film, paper) = (self.film.as_deref()?, self.paper.as_deref()?);
        let print = (&paper.curve, paper.light + exposure?, PRINT_EXPOSURE_U);
        Some(Curves { film, print: Some(print), veil: Veil::default() })
    }
}

impl Query for GreysOf {
    type Inputs = Printed;

    fn inputs(&self, view: &View<'_>) -> Result<Printed, NoAnswer> {
        Printed::of(view, &self.film)
    }

    fn compute(print: &Printed, work: &Computation<'_>) -> Result<Found, NoAnswer> {
        let read = print.read(work)?;
        let neutrals: Vec<Neutral> = print
            .neutrals
            .iter()
            .map(|(patch, density)| Neutral { patch: *patch, density: *density, u: print.known_u })
            .collect();
        let key = ErrorKey::by("target", neutrals.iter().flat_map(|neutral| [neutral.density, neutral.u]));
        let target = (!neutrals.is_empty()).then_some(Target { key, neutrals: &neutrals });
        let curves = read.curves(print.exposure);
        let found = stops::greys(&read.frame(print.card), target.as_ref(), curves.as_ref(), print.settings());
        Ok(found.map_err(|why| closed(&print.film, why))?)
    }

    fn uncounted_bytes(found: &Found) -> usize {
        found.bytes_of_draws()
    }
}

/// Why no way leads back to stops.
fn closed(film: &FilmId, why: NoRoute) -> Problem {
    let called = stand_in(film);
    let (cause, remedy) = match why {
        NoRoute::CardNotSampled => (Rule::CardNotRead { called }, Remedy::LayOverCard),
        NoRoute::CardBeyond(End::Light) => (Rule::CardTooLight { called }, Remedy::PrintDarker),
        NoRoute::CardBeyond(End::Dark) => (Rule::CardTooDark { called }, Remedy::PrintLighter),
        NoRoute::TooFewNeutrals(count) => (Rule::FewNeutrals { count }, Remedy::FourNeutrals),
        NoRoute::OutOfOrder => (Rule::NeutralsOutOfOrder { called }, Remedy::LookAtGridAndDensities),
        NoRoute::NoPaper => (Rule::PaperNotKnown, Remedy::TestPaperAndSeconds),
        NoRoute::NotFinite => (Rule::PatchWithoutDensity { called }, Remedy::LookAtGrid),
    };
    Problem::note(Subject::Film(film.clone()), cause, remedy)
}

/// What two films' greys are put beside each other from.
#[derive(Debug, Serialize)]
pub struct Besides {
    film: FilmId,
    names: Vec<String>,
    families: Vec<Option<Family>>,
    reference: Handle<GreysOf>,
    candidate: Handle<GreysOf>,
}

/// The reference, where `film` is not itself it.
fn other<'a>(view: &'a View<'_>, film: &FilmId) -> Result<&'a FilmId, NoAnswer> {
    let reference = reference(view)?;
    if reference.id == *film {
        let problem = Problem::note(
            Subject::Film(film.clone()),
            Rule::IsReference { called: called(reference) },
            Remedy::ChooseCandidate,
        );
        return Err(problem.into());
    }
    Ok(&reference.id)
}

fn reflectance(patch: &PatchName) -> Option<Spectrum> {
    patch.reflectance.as_ref()?.spectrum(Carries::Reflectance).ok()
}

fn family(patch: &PatchName) -> Option<Family> {
    Family::of(patch.role.shows(), reflectance(patch).as_ref().and_then(lab))
}

impl Query for RenderingOf {
    type Inputs = Besides;

    fn inputs(&self, view: &View<'_>) -> Result<Besides, NoAnswer> {
        let reference = other(view, &self.film)?.clone();
        let (reference, candidate) =
            (view.handle(GreysOf { film: reference })?, view.handle(GreysOf { film: self.film.clone() })?);
        let layout = layout_of(view.series())?;
        Ok(Besides {
            film: self.film.clone(),
            names: layout.patches.iter().map(|patch| patch.name.clone()).collect(),
            families: layout.patches.iter().map(family).collect(),
            reference,
            candidate,
        })
    }

    fn compute(besides: &Besides, work: &Computation<'_>) -> Result<GreysPair, NoAnswer> {
        let (reference, candidate) = (work.get(&besides.reference)?, work.get(&besides.candidate)?);
        let rendered = rendering(&reference.greys, &candidate.greys, &besides.families);
        Ok(GreysPair {
            names: besides.names.clone(),
            rendering: rendered.map_err(|why| apart(&besides.film, why))?.without_draws(),
            reference: reference.without_draws(),
            candidate: candidate.without_draws(),
        })
    }
}

/// Why two films are not put beside each other.
fn apart(film: &FilmId, why: Incomparable) -> Problem {
    let (cause, remedy) = match why {
        Incomparable::Routes(..) => (Rule::RoutesDiffer, Remedy::LookAtNeutrals),
        Incomparable::Patches | Incomparable::Card => (Rule::PatchesDiffer, Remedy::LookAtGrid),
        Incomparable::Draws => (Rule::DrawsDiffer, Remedy::OtherResamplings),
    };
    Problem::note(Subject::Film(film.clone()), cause, remedy)
}

/// What a sensitivity is found from.
#[derive(Debug, Serialize)]
pub struct Rendered {
    film: FilmId,
    greys: Handle<GreysOf>,
    reflectances: Vec<Option<EnteredSpectrum>>,
    card: EnteredSpectrum,
    light: SubjectLight,
    known_u: f64,
    resamplings: u32,
    seed: u64,
}

/// The reflectance of the grey card: as entered, or the same at all wavelengths by its density.
fn card_reflectance(patch: &PatchName) -> Result<EnteredSpectrum, Problem> {
    let flat = |density: f64| EnteredSpectrum {
        from_nm: 350.0,
        step_nm: 10.0,
        values: vec![math::pow(10.0, -density).min(1.0); 44],
    };
    patch
        .reflectance
        .clone()
        .or_else(|| patch.density.map(flat))
        .ok_or_else(|| Problem::note(Subject::Series, Rule::CardNotKnown, Remedy::EnterKnownDensity))
}

fn light_of(series: &Series) -> Result<&SubjectLight, Problem> {
    series
        .target
        .light
        .as_ref()
        .ok_or_else(|| Problem::note(Subject::Series, Rule::LightNotSaid, Remedy::ChooseLight))
}

impl Query for SensitivityOf {
    type Inputs = Rendered;

    fn inputs(&self, view: &View<'_>) -> Result<Rendered, NoAnswer> {
        let series = view.series();
        let greys = view.handle(GreysOf { film: self.film.clone() })?;
        let layout = layout_of(series)?;
        let card = &layout.patches[card_of(layout)?];
        Ok(Rendered {
            film: self.film.clone(),
            greys,
            // Neutrals tell nothing of colour.
            reflectances: layout
                .patches
                .iter()
                .map(|patch| patch.reflectance.clone().filter(|_| !patch.role.is_neutral()))
                .collect(),
            card: card_reflectance(card)?,
            light: light_of(series)?.clone(),
            known_u: series.target.known_u,
            resamplings: series.settings.resamplings,
            seed: series.settings.seed,
        })
    }

    fn compute(rendered: &Rendered, work: &Computation<'_>) -> Result<Sensitivity, NoAnswer> {
        let greys = work.get(&rendered.greys)?;
        let no = |why| untold(&rendered.film, why);
        let spectrum = |entered: &EnteredSpectrum| entered.spectrum(Carries::Reflectance).ok();
        let reflectances: Vec<Option<Spectrum>> =
            rendered.reflectances.iter().map(|entered| spectrum(entered.as_ref()?)).collect();
        let (Some(card), Some(light)) = (spectrum(&rendered.card), rendered.light.spectrum()) else {
            return Err(no(NoSensitivity::NotFinite).into());
        };
        let seen = |(patch, (reflectance, grey)): (usize, (&'_ Option<Spectrum>, &'_ Grey))| {
            let read = grey.in_stops()?;
            Some((patch, reflectance.clone()?, read.clone()))
        };
        let seen: Vec<_> =
            reflectances.iter().zip(&greys.greys.patches).enumerate().filter_map(seen).collect();
        let patches: Vec<Seen<'_>> = seen
            .iter()
            .map(|(patch, reflectance, read)| Seen {
                patch: *patch,
                reflectance,
                stops: read.stops.number(),
                u: read.stops.u,
                draws: &read.draws,
            })
            .collect();
        let numbers = seen.iter().flat_map(|(_, _, read)| [read.stops.number(), read.stops.u]);
        let known = rendered.reflectances.iter().flatten().flat_map(|entered| entered.values.iter().copied());
        let asked = sensitivity::Asked {
            light: &light,
            card: &card,
            patches: &patches,
            edges: &EDGES,
            reflectance_u: rendered.known_u,
            target: ErrorKey::by("reflectances", known),
            film: ErrorKey::by("sensitivity", numbers),
            settings: FitSettings { resamplings: rendered.resamplings, seed: rendered.seed },
        };
        Ok(sensitivity::sensitivity(&asked).map_err(no)?)
    }

    fn uncounted_bytes(sensitivity: &Sensitivity) -> usize {
        sensitivity.bytes_of_draws()
    }
}

/// Why no sensitivity is found.
fn untold(film: &FilmId, why: NoSensitivity) -> Problem {
    let (cause, remedy) = match why {
        NoSensitivity::TooFewPatches(count) => (
            Rule::FewColours { called: stand_in(film), count, needed: sensitivity::FEWEST_PATCHES },
            Remedy::OpenReflectances,
        ),
        NoSensitivity::Range(from, to) => (Rule::SpectraTooShort { from, to }, Remedy::OpenLongerSpectra),
        NoSensitivity::Edges | NoSensitivity::NotFinite => (Rule::NoExposure, Remedy::LookAtSpectra),
    };
    Problem::note(Subject::Film(film.clone()), cause, remedy)
}

/// What the bands of two films are put beside each other from.
#[derive(Debug, Serialize)]
pub struct Sensitivities {
    reference: Handle<SensitivityOf>,
    candidate: Handle<SensitivityOf>,
    light: SubjectLight,
}

impl Sensitivities {
    fn of(view: &View<'_>, film: &FilmId) -> Result<Self, NoAnswer> {
        let reference = other(view, film)?.clone();
        Ok(Self {
            reference: view.handle(SensitivityOf { film: reference })?,
            candidate: view.handle(SensitivityOf { film: film.clone() })?,
            light: light_of(view.series())?.clone(),
        })
    }
}

impl Query for BandsOf {
    type Inputs = Sensitivities;

    fn inputs(&self, view: &View<'_>) -> Result<Sensitivities, NoAnswer> {
        Sensitivities::of(view, &self.film)
    }

    fn compute(both: &Sensitivities, work: &Computation<'_>) -> Result<BandsPair, NoAnswer> {
        let (reference, candidate) = (work.get(&both.reference)?, work.get(&both.candidate)?);
        Ok(BandsPair {
            light: both.light.words(),
            against: candidate.against(&reference),
            reference: reference.without_draws(),
            candidate: candidate.without_draws(),
        })
    }
}

/// What a filter is chosen from.
#[derive(Debug, Serialize)]
pub struct Filtering {
    both: Sensitivities,
    reference: Handle<GreysOf>,
    candidate: Handle<GreysOf>,
    reflectances: Vec<Option<EnteredSpectrum>>,
    card: EnteredSpectrum,
}

/// Lights to choose from beside the one that films were tested under.
const LIGHTS: [Standard; 2] = [Standard::PhotographicDaylight, Standard::StudioTungsten];

impl Query for FiltersOf {
    type Inputs = Filtering;

    fn inputs(&self, view: &View<'_>) -> Result<Filtering, NoAnswer> {
        let reference = other(view, &self.film)?.clone();
        let both = Sensitivities::of(view, &self.film)?;
        let layout = layout_of(view.series())?;
        let card = &layout.patches[card_of(layout)?];
        Ok(Filtering {
            both,
            reference: view.handle(GreysOf { film: reference })?,
            candidate: view.handle(GreysOf { film: self.film.clone() })?,
            reflectances: layout.patches.iter().map(|patch| patch.reflectance.clone()).collect(),
            card: card_reflectance(card)?,
        })
    }

    fn compute(filtering: &Filtering, work: &Computation<'_>) -> Result<FilterAdvice, NoAnswer> {
        let both = &filtering.both;
        let sensitivities = (work.get(&both.reference)?, work.get(&both.candidate)?);
        let greys = (work.get(&filtering.reference)?, work.get(&filtering.candidate)?);
        let spectrum = |entered: &EnteredSpectrum| entered.spectrum(Carries::Reflectance).ok();
        let reflectances: Vec<Option<Spectrum>> =
            filtering.reflectances.iter().map(|entered| spectrum(entered.as_ref()?)).collect();
        let patches: Vec<Option<&Spectrum>> = reflectances.iter().map(Option::as_ref).collect();
        let mut lights = vec![both.light.words()];
        let mut spectra: Vec<Spectrum> = both.light.spectrum().into_iter().collect();
        for standard in LIGHTS {
            if both.light != SubjectLight::Standard(standard) {
                lights.push(standard.words().to_owned());
                spectra.extend(Light::Standard(standard).spectrum());
            }
        }
        let (Some(tested), Some(card)) = (spectra.first(), spectrum(&filtering.card)) else {
            let cause = Rule::NoExposure;
            let remedy = Remedy::LookAtSpectra;
            return Err(Problem::note(Subject::Series, cause, remedy).into());
        };
        let filters: Vec<Filter> = Numbered::ALL.into_iter().map(Filter::Numbered).collect();
        let choices = Choices { tested, lights: &spectra, filters: &filters, patches: &patches, card: &card };
        let film = |greys, sensitivity| filters::Film { greys, sensitivity };
        let choices = filters::nearest(
            film(&greys.0.greys, &sensitivities.0),
            film(&greys.1.greys, &sensitivities.1),
            &choices,
        );
        Ok(FilterAdvice { lights, filters: Numbered::ALL.to_vec(), choices })
    }
}

/// What the light on two frames is told from.
#[derive(Debug, Serialize)]
pub struct Lit {
    reference: Printed,
    candidate: Printed,
    /// Whether a patch stands in the left half of the layout.
    left: Vec<bool>,
}

impl Query for LightingOf {
    type Inputs = Lit;

    fn inputs(&self, view: &View<'_>) -> Result<Lit, NoAnswer> {
        let reference = other(view, &self.film)?.clone();
        let (reference, candidate) = (Printed::of(view, &reference)?, Printed::of(view, &self.film)?);
        let layout = layout_of(view.series())?;
        let left = |number: usize| 2 * (number % layout.columns as usize) < layout.columns as usize;
        Ok(Lit { reference, candidate, left: (0..layout.patches.len()).map(left).collect() })
    }

    fn compute(lit: &Lit, work: &Computation<'_>) -> Result<Lighting, NoAnswer> {
        let (reference, candidate) = (lit.greys(&lit.reference, work)?, lit.greys(&lit.candidate, work)?);
        let asked = lighting::Asked {
            reference: lighting::Frame { places: [&reference[0], &reference[1]] },
            candidate: lighting::Frame { places: [&candidate[0], &candidate[1]] },
            // Print exposures are not known so well that levels of two prints could be told apart.
            one_scale: false,
            colours: None,
        };
        Ok(lighting::lighting(&asked).map_err(unlit)?)
    }
}

fn unlit(why: NoLighting) -> Problem {
    let (cause, remedy) = match why {
        NoLighting::TooFewGreys => (Rule::FewNeutralsAside, Remedy::MoreNeutrals),
        NoLighting::NotFinite => (Rule::NeutralWithoutExposure, Remedy::LookAtGrid),
    };
    Problem::note(Subject::Series, cause, remedy)
}

impl Lit {
    /// The greys at both places of a frame: by curves, which know nothing of what the target is.
    fn greys(&self, print: &Printed, work: &Computation<'_>) -> Result<[Vec<GreyAt>; 2], NoAnswer> {
        let read = print.read(work)?;
        let why = |why| NoAnswer::from(closed(&print.film, why));
        let curves = read.curves(print.exposure).ok_or_else(|| why(NoRoute::NoPaper))?;
        let greys = by_curves(&read.frame(print.card), &curves, print.settings()).map_err(why)?;
        let mut places = [Vec::new(), Vec::new()];
        for (patch, density) in &print.neutrals {
            // The card has no error of its own against itself, and its error in the others drops out as their level.
            if let Some(Grey::Stops(read)) = greys.patches.get(*patch)
                && !read.stops.flags.contains(Flags::CLIPPED)
            {
                let u = math::hypot(STOP * read.stops.u, print.known_u).max(1e-4);
                let place = usize::from(!self.left[*patch]);
                places[place].push(GreyAt { density: *density, log_h: STOP * read.stops.number(), u });
            }
        }
        Ok(places)
    }
}
