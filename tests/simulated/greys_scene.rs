//! A darkroom of its own for colours as greys: patches, films, papers and prints in closed forms that are none of the program's
//! models, with the errors of known densities, exposures and readings.

use twinwedge_core::curve::{Curve, ErrorKey, FitSettings, Reading, Readings, Sources, Strip, fit};
use twinwedge_core::greys::spectrum::{Carries, Spectrum};
use twinwedge_core::greys::stops::{Frame, Medium, Neutral, Patch, Target};
use twinwedge_core::measured::Flags;

use super::curve::Chance;

/// Densities of the neutral patches; the fourth is the grey card.
pub(crate) const NEUTRALS: [f64; 8] = [0.05, 0.23, 0.45, 0.74, 0.95, 1.15, 1.40, 1.62];
pub(crate) const CARD: usize = 3;
pub(crate) const COLOURS: usize = 16;
pub(crate) const SETTINGS: FitSettings = FitSettings { resamplings: 400, seed: 17 };

/// Reflectance of colour `number`: a floor, an edge towards red or blue, and a bump.
pub(crate) fn reflectance(number: usize, nm: f64) -> f64 {
    let edge = |at: f64, width: f64| 1.0 / (1.0 + (-(nm - at) / width).exp());
    let bump = |at: f64, width: f64| (-0.5 * ((nm - at) / width).powi(2)).exp();
    let at = 410.0 + 16.0 * (number / 4) as f64;
    match number % 4 {
        0 => 0.06 + 0.55 * edge(480.0 + 14.0 * number as f64, 14.0),
        1 => 0.05 + 0.45 * bump(at + 60.0, 38.0) + 0.10 * edge(660.0, 12.0),
        2 => 0.08 + 0.40 * (1.0 - edge(470.0 + 11.0 * number as f64, 18.0)),
        _ => 0.10 + 0.28 * bump(430.0, 30.0) + 0.38 * edge(590.0 + 4.0 * number as f64, 10.0),
    }
}

pub(crate) fn spectrum(carries: Carries, of: impl Fn(f64) -> f64) -> Spectrum {
    Spectrum::regular(carries, 380.0, 10.0, (0..39).map(|i| of(380.0 + 10.0 * f64::from(i))).collect())
        .unwrap()
}

/// Light like that of noon, in a closed form.
pub(crate) fn light(nm: f64) -> f64 {
    60.0 + 40.0 * (-0.5 * ((nm - 500.0) / 90.0_f64).powi(2)).exp()
        - 8.0 * (-0.5 * ((nm - 430.0) / 12.0_f64).powi(2)).exp()
}

/// A spectral sensitivity.
pub(crate) type Sees = fn(f64) -> f64;

/// Sensitivities of five films.
pub(crate) const FILMS: [(&str, Sees); 5] = [
    ("unsensitised", |nm| fall(nm, 490.0, 9.0)),
    ("orthochromatic", |nm| 0.9 * fall(nm, 480.0, 12.0) + peak(nm, 550.0, 22.0)),
    ("panchromatic, even", |nm| fall(nm, 650.0, 7.0) * (1.0 - 0.3 * peak(nm, 500.0, 20.0))),
    ("panchromatic, of three", |nm| {
        0.9 * peak(nm, 430.0, 35.0) + 0.6 * peak(nm, 550.0, 30.0) + 0.8 * peak(nm, 625.0, 22.0)
    }),
    ("extended red", |nm| fall(nm, 720.0, 8.0) * (0.8 + 0.4 * peak(nm, 690.0, 30.0))),
];

fn fall(nm: f64, at: f64, width: f64) -> f64 {
    1.0 / (1.0 + ((nm - at) / width).exp())
}

fn peak(nm: f64, at: f64, width: f64) -> f64 {
    (-0.5 * ((nm - at) / width).powi(2)).exp()
}

/// Stops of a reflectance from the true grey card, by a sum over every nanometre.
pub(crate) fn stops(sensitivity: impl Fn(f64) -> f64, reflects: impl Fn(f64) -> f64, card: f64) -> f64 {
    let (mut with, mut without) = (0.0, 0.0);
    for nm in 380..=760 {
        let nm = f64::from(nm);
        let seen = light(nm) * sensitivity(nm);
        with += seen * reflects(nm);
        without += seen;
    }
    (with / without / 10.0_f64.powf(-card)).log2()
}

/// Hurter and Driffield's film: toe, straight line and a shoulder high up.
pub(crate) fn film_density(log_h: f64, gamma: f64) -> f64 {
    0.22 + gamma * (3_000.0 - 2_999.0 * (-(10.0_f64.powf(log_h + 2.3)) / 300.0).exp()).log10()
}

/// A paper: a cumulated law of Gompertz, steeper at its toe than at its shoulder.
pub(crate) fn paper_density(log_h: f64, contrast: f64) -> f64 {
    0.06 + 2.0 * (-(-(contrast * (log_h + 0.25))).exp()).exp()
}

/// How one film was exposed, developed, printed and read.
#[derive(Clone, Copy)]
pub(crate) struct Way {
    pub(crate) gamma: f64,
    pub(crate) contrast: f64,
    pub(crate) level: f64,
    pub(crate) flare: f64,
    /// Print density of the grey card that the printer came near to.
    pub(crate) card_prints: f64,
    pub(crate) noise: f64,
}

impl Way {
    pub(crate) fn by_chance(chance: &mut Chance) -> Self {
        Self {
            gamma: 0.62 * (1.0 + 0.3 * (2.0 * chance.even() - 1.0)),
            contrast: 2.2 * (1.0 + 0.3 * (2.0 * chance.even() - 1.0)),
            level: 0.3 * (chance.even() - 0.5),
            flare: 0.012 * chance.even(),
            card_prints: 0.75 + 0.2 * (chance.even() - 0.5),
            noise: 0.004 + 0.004 * chance.even(),
        }
    }

    /// lg H of a patch of so many stops from the card, whose density is `card`, and the negative's density of it.
    pub(crate) fn negative(&self, stops: f64, card: f64) -> f64 {
        let reflects = 10.0_f64.powf(-card) * 2.0_f64.powf(stops);
        film_density((reflects + self.flare).log10() - 0.2 + self.level, self.gamma)
    }

    /// lg of the print exposure that brings the card to its density.
    pub(crate) fn print_exposure(&self, card: f64) -> f64 {
        let (mut low, mut high) = (-3.0, 5.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            let prints = paper_density(middle - self.negative(0.0, card), self.contrast);
            if prints < self.card_prints { low = middle } else { high = middle }
        }
        low
    }

    /// Print density of a patch.
    pub(crate) fn print(&self, stops: f64, card: f64, exposure: f64) -> f64 {
        paper_density(exposure - self.negative(stops, card), self.contrast)
    }

    /// A density as it is read, with its stated uncertainty.
    pub(crate) fn read(&self, density: f64, chance: &mut Chance) -> Patch {
        let read = ((density + self.noise * chance.normal()) * 1_000.0).round() / 1_000.0;
        Patch { density: read, u: self.noise, flags: Flags::empty() }
    }
}

/// A target: what is known of its neutrals, and what they are.
pub(crate) struct Scene {
    pub(crate) neutrals: Vec<Neutral>,
    pub(crate) truth: Vec<f64>,
    pub(crate) key: ErrorKey,
}

impl Scene {
    pub(crate) fn new(number: u64, chance: &mut Chance) -> Self {
        let u = 0.006;
        let truth: Vec<f64> = NEUTRALS.iter().map(|density| density + u * chance.normal()).collect();
        let known = |(patch, density): (usize, &f64)| Neutral { patch, density: *density, u };
        let neutrals = NEUTRALS.iter().enumerate().map(known).collect();
        Self { neutrals, truth, key: ErrorKey::of("target", &number.to_string()) }
    }

    pub(crate) fn target(&self) -> Target<'_> {
        Target { key: self.key, neutrals: &self.neutrals }
    }

    /// True stops from the card of neutrals and colours on a film.
    pub(crate) fn stops(&self, sensitivity: fn(f64) -> f64) -> Vec<f64> {
        let card = self.truth[CARD];
        let greys = self.truth.iter().map(|density| (card - density) / 2.0_f64.log10());
        let colours = (0..COLOURS).map(|number| stops(sensitivity, |nm| reflectance(number, nm), card));
        greys.chain(colours).collect()
    }

    /// A print of all patches as it is read.
    pub(crate) fn print(&self, way: &Way, stops: &[f64], chance: &mut Chance) -> Vec<Option<Patch>> {
        let card = self.truth[CARD];
        let exposure = way.print_exposure(card);
        stops.iter().map(|stops| Some(way.read(way.print(*stops, card, exposure), chance))).collect()
    }
}

pub(crate) fn frame<'a>(name: &str, patches: &'a [Option<Patch>]) -> Frame<'a> {
    Frame { key: ErrorKey::of("print", name), medium: Medium::Print, patches, card: CARD }
}

/// A curve as a tablet of 31 steps shows it, from log exposure `from` upwards, read with errors.
pub(crate) fn tested(
    name: &str,
    of: impl Fn(f64) -> f64,
    from: f64,
    noise: f64,
    chance: &mut Chance,
) -> Curve {
    let point = |i: u32| {
        let log_h = from + 0.1 * f64::from(i);
        let density = ((of(log_h) + noise * chance.normal()) * 1_000.0).round() / 1_000.0;
        Reading {
            strip: 0,
            step: i + 1,
            log_h,
            log_h_u: 0.0,
            density,
            density_u: noise,
            set_aside: false,
            flags: Flags::empty(),
        }
    };
    let readings = Readings {
        points: (0..31).map(point).collect(),
        absolute: true,
        log_h_shared_u: 0.0,
        sources: Sources {
            film: ErrorKey::of("curve", name),
            strips: vec![Strip::first(ErrorKey::of("tablet", "t"))],
        },
        base_fog: None,
        flags: Flags::empty(),
    };
    fit(readings, SETTINGS).unwrap()
}
