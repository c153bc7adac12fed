//! A simulated series: two films exposed through one tablet by one light, read, rounded, bracketed.

use twinwedge_core::document::{
    Bracket, BracketFrame, Exposure, Film, FilmId, PaperTest, ReadingsSource, Series, ShadowDensity, Strip,
    Tablet, TabletExposure, TabletId, TabletStep, TypedReading,
};

use super::chance::Chance;
use super::films;
use super::truth;

/// Standard deviation of a densitometer's readings.
const INSTRUMENT: f64 = 0.01;
/// Unit of the last digit that is written down.
const DIGIT: f64 = 0.01;
/// Standard uncertainty of each step of the tablet's certificate ...
const STEP_U: f64 = 0.008;
/// ... and of the error that all its steps share.
const TABLET_U: f64 = 0.01;
/// Standard uncertainty of the light, lg H.
const LIGHT_U: f64 = 0.02;
/// The tablet of every series.
const TABLET: &str = "tablet";
/// Steps of the tablet, 0.15 apart ...
const STEPS: u32 = 21;
/// ... and of one that reaches toe and shoulder of most films.
const WIDE_STEPS: u32 = 31;
/// How far above the speed point a strip must reach.
const REACH: f64 = 1.85;

/// What a series is simulated for.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Wanted {
    /// Both films have one curve: whatever differs between them is chance.
    pub(super) alike: bool,
    /// A tablet that reaches toe and shoulder of most films.
    pub(super) wide: bool,
    /// A third film that passes for the reference pushed, and a paper on which all are printed.
    pub(super) printed: bool,
}

/// A film of a simulated series.
#[derive(Debug)]
pub(super) struct Simulated {
    /// Its name in the series.
    pub(super) id: FilmId,
    /// The film as it truly is.
    pub(super) film: films::Film,
    /// Base+fog was read on an unexposed area; else the tablet reaches down to it.
    pub(super) base_read: bool,
    /// Stated log exposures of its first and last step, lowest first.
    pub(super) tested: (f64, f64),
    /// Density of its densest step.
    densest: f64,
    /// Stops less that an additional strip had, to be found from the overlap.
    pub(super) stops_less: Option<f64>,
}

impl Simulated {
    /// Its true figures by the keys of the registry.
    pub(super) fn truths(&self) -> Vec<(&'static str, f64)> {
        let mut known = truth::figures(&self.film, self.tested.0, self.tested.1);
        known.push(("d_max", self.densest));
        known
    }
}

/// A simulated series and what is true of it.
#[derive(Debug)]
pub(super) struct Simulation {
    /// As the tester entered it.
    pub(super) series: Series,
    /// Reference and candidate.
    pub(super) films: [Simulated; 2],
    /// The film that passes for the reference pushed, where one was wanted. Where the two films are alike it is like them.
    pub(super) pushed: Option<films::Film>,
    /// The exposure index at which the candidate's shadow has the reference's density ...
    pub(super) matched_index: f64,
    /// ... and at which it is as far above base+fog.
    pub(super) matched_net: f64,
    /// By how much the light was brighter than stated, lg H.
    pub(super) light_error: f64,
}

fn rounded(value: f64) -> f64 {
    (value / DIGIT).round() * DIGIT
}

/// The tablet as it is and as its certificate says.
#[derive(Debug)]
pub(super) struct Wedge {
    pub(super) truth: Vec<f64>,
    pub(super) certificate: Tablet,
}

impl Wedge {
    /// So many steps, `apart` from each other.
    pub(super) fn draw(steps: u32, apart: f64, chance: &mut Chance) -> Self {
        let shared = chance.normal(TABLET_U);
        // Rounding is part of what the certificate states.
        let own = (STEP_U * STEP_U - DIGIT * DIGIT / 12.0).sqrt();
        let truth: Vec<f64> =
            (0..steps).map(|i| 0.05 + apart * f64::from(i) + chance.between(-0.02, 0.02)).collect();
        let steps = truth.iter().map(|density| TabletStep {
            density: rounded(density + shared + chance.normal(own)),
            u: Some(STEP_U),
        });
        let steps = steps.collect();
        let label = format!("{} steps, invented", truth.len());
        Self { truth, certificate: Tablet { label, nominal: false, shared_u: TABLET_U, steps } }
    }
}

/// Draws series `number` of a study.
pub(super) fn simulate(seed: u64, number: u64, wanted: Wanted) -> Simulation {
    let mut chance = Chance::new(seed, number);
    let wedge = Wedge::draw(if wanted.wide { WIDE_STEPS } else { STEPS }, 0.15, &mut chance);
    let light_error = chance.normal(LIGHT_U);
    let mut series = Series { title: format!("Simulated series {number}, invented"), ..Series::default() };
    series.settings.seed = number;
    series.settings.shadow_match = ShadowDensity::Gross;
    let mut add = |label: &str, curve: Option<films::Film>| {
        let curve = curve.unwrap_or_else(|| films::Film::draw(&mut chance));
        let (document, simulated) = film(label, curve, &wedge, light_error, &mut chance);
        series.films.push(document);
        simulated
    };
    let reference = add("Tern 160", None);
    let candidate = add("Plover 640", wanted.alike.then(|| reference.film.clone()));
    let films = [reference, candidate];
    series.reference = series.films.first().map(|film| film.id.clone());
    let (matched_index, matched_net) = brackets(&mut series, &films, &mut chance);
    let pushed = wanted.printed.then(|| {
        let curve = if wanted.alike { films[1].film.clone() } else { films::Film::draw(&mut chance) };
        pushed(&mut series, curve, &wedge, light_error, &mut chance)
    });
    if wanted.printed {
        paper(&mut series, &mut chance);
    }
    series.tablets.insert(TabletId::from(TABLET), wedge.certificate);
    Simulation { series, films, pushed, matched_index, matched_net, light_error }
}

/// Adds a film as the reference pushed.
fn pushed(
    series: &mut Series,
    curve: films::Film,
    wedge: &Wedge,
    light_error: f64,
    chance: &mut Chance,
) -> films::Film {
    let (mut document, simulated) = film("Tern 160, pushed", curve, wedge, light_error, chance);
    document.roll_of = Some(series.films[0].id.clone());
    document.process.minutes = Some(12.0);
    series.films[0].process.minutes = Some(6.0);
    series.tones.third = Some(document.id.clone());
    series.films.push(document);
    simulated.film
}

/// Density of the paper's white, how much denser its black is, where its curve has its middle, and how steep that is: a logistic.
const PAPER: (f64, f64, f64, f64) = (0.06, 2.0, -1.5, 2.5);

/// The exposure at which a print has 0.04 above the paper's white, on the axis of its test.
pub(super) fn paper_white() -> f64 {
    let (_, range, middle, slope) = PAPER;
    middle - (range / 0.04 - 1.0).log10() / slope
}

/// Tests the paper by a print of a tablet whose densities are known exactly.
fn paper(series: &mut Series, chance: &mut Chance) {
    let (white, range, middle, slope) = PAPER;
    let steps: Vec<f64> = (0..STEPS).map(|step| 0.05 + 0.15 * f64::from(step)).collect();
    let mut read = |density: f64| TypedReading {
        density: rounded(density + chance.normal(INSTRUMENT)),
        u: None,
        set_aside: false,
        missing: false,
    };
    let tone = |step: &f64| white + range / (1.0 + 10.0_f64.powf(-slope * (-step - middle)));
    let tablet = TabletId::from("paper");
    let mut test = PaperTest::through(tablet.clone());
    test.readings = Some(ReadingsSource::Typed(steps.iter().map(|step| read(tone(step))).collect()));
    test.white = Some(read(white));
    series.paper = Some(test);
    let steps = steps.iter().map(|density| TabletStep { density: *density, u: Some(0.0) }).collect();
    let label = "Tablet of the paper test, invented".to_owned();
    series.tablets.insert(tablet, Tablet { label, nominal: false, shared_u: 0.0, steps });
}

fn film(
    label: &str,
    film: films::Film,
    wedge: &Wedge,
    light_error: f64,
    chance: &mut Chance,
) -> (Film, Simulated) {
    let foot = foot(&film).filter(|_| chance.happens(0.5));
    let base_read = foot.is_none();
    let lowest = foot.unwrap_or_else(|| film.speed_point - chance.between(0.2, 0.8));
    let stated_light = rounded(lowest + 0.05 + 0.15 * (wedge.truth.len() as f64 - 1.0));
    let light = stated_light + light_error;
    let read = |density: f64, chance: &mut Chance| TypedReading {
        density: rounded(density + chance.normal(INSTRUMENT)),
        u: None,
        set_aside: false,
        missing: false,
    };
    let strip = |light: f64, chance: &mut Chance| {
        let read = |step: &f64| read(film.density(light - step), chance);
        ReadingsSource::Typed(wedge.truth.iter().map(read).collect())
    };
    let mut document = Film::named(FilmId::from(label), label);
    document.strips.push(strip(light, chance).into());
    // Every fourth film has a second strip, whose light is for the program to find.
    let stops_less = chance.happens(0.25).then(|| chance.between(1.0, 4.0));
    if let Some(stops) = stops_less {
        document.strips.push(Strip::additional("", strip(light - stops * 2.0_f64.log10(), chance)));
    }
    document.tablet_exposure = Some(TabletExposure::new(
        TabletId::from(TABLET),
        Exposure::Absolute { log_h: stated_light, u: LIGHT_U },
    ));
    document.base_fog = base_read.then(|| read(film.base, chance));
    let stated = |step: Option<&TabletStep>| stated_light - step.map_or(0.0, |step| step.density);
    let steps = &wedge.certificate.steps;
    let tested = (stated(steps.last()), stated(steps.first()));
    let densest = film.density(light - wedge.truth.first().copied().unwrap_or_default());
    (document, Simulated { id: FilmId::from(label), film, base_read, tested, densest, stops_less })
}

/// The exposure at which a tablet must begin to reach a level foot: its lowest stop gains no more than 0.012. `None` where the
/// tablet would then end too early.
pub(super) fn foot(film: &films::Film) -> Option<f64> {
    let gains = |x: f64| film.density(x + 0.30) - film.density(x) - 0.012;
    truth::bisect(gains, film.speed_point - 4.0, film.speed_point)
        .filter(|x| film.speed_point + REACH < x + 3.0)
}

/// Exposure indices of the meter, a third of a stop apart.
fn index(thirds: i32) -> f64 {
    100.0 * 2.0_f64.powf(f64::from(thirds) / 3.0)
}

/// Brackets both films about the index that gives the reference's shadow, eleven frames a third of a stop apart. Gives the
/// indices at which the candidate's shadow has the reference's density, gross and net.
fn brackets(series: &mut Series, films: &[Simulated; 2], chance: &mut Chance) -> (f64, f64) {
    let [reference, candidate] = films;
    let box_speed = index(chance.between(-6.0, 12.0) as i32);
    // Above both films' base+fog, so that either has it.
    let shadow = reference.film.base.max(candidate.film.base) + chance.between(0.12, 0.40);
    // The shadow's lg H is a constant less the logarithm of the index.
    let exposure = truth::log_h_at(&reference.film, shadow).unwrap_or_default();
    let constant = exposure + box_speed.log10();
    let matched = |density: f64| {
        10.0_f64.powf(constant - truth::log_h_at(&candidate.film, density).unwrap_or_default())
    };
    let (matched_index, matched_net) =
        (matched(shadow), matched(shadow - reference.film.base + candidate.film.base));
    let nearest = |index: f64| (3.0 * (index / 100.0).log2()).round() as i32;
    for (document, (film, centre)) in series
        .films
        .iter_mut()
        .zip([(reference, nearest(box_speed)), (candidate, nearest((matched_index * matched_net).sqrt()))])
    {
        let frame = |thirds: i32| {
            let density = film.film.density(constant - index(thirds).log10());
            let read = rounded(density + chance.normal(INSTRUMENT));
            BracketFrame::typed(format!("{thirds:+} thirds"), index(thirds), read)
        };
        let frames = (centre - 5..=centre + 5).map(frame).collect();
        document.bracket = Some(Bracket { frames, u: None });
    }
    series.films[0].box_speed = Some(box_speed);
    (matched_index, matched_net)
}
