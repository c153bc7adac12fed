//! Band sensitivities of five simulated films, whose sensitivities are closed forms that the estimate's straight pieces do not
//! fit, from patches read with errors.

use std::time::Instant;

use twinwedge_core::curve::ErrorKey;
use twinwedge_core::greys::sensitivity::{
    Asked, Class, EDGES, NoSensitivity, Seen, Sensitivity, sensitivity,
};
use twinwedge_core::greys::spectrum::{Carries, Spectrum};
use twinwedge_core::greys::stops::by_neutrals;

use super::curve::Chance;
use super::greys_scene::{
    COLOURS, FILMS, NEUTRALS, SETTINGS, Scene, Way, frame, light, reflectance, spectrum, stops,
};

const CLASSES: [Class; 5] = [
    Class::Unsensitised,
    Class::Orthochromatic,
    Class::Panchromatic,
    Class::Panchromatic,
    Class::ExtendedRed,
];
/// Films of each kind and uncertainty.
const EACH: u64 = 40;

/// Reflectances of the 24-patch chart of `tests/published`.
pub(crate) fn chart() -> Vec<Spectrum> {
    let text = include_str!("../published/chart-reflectances.csv");
    let rows: Vec<Vec<f64>> = text
        .lines()
        .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()))
        .map(|line| line.split(',').map(|cell| cell.parse().unwrap()).collect())
        .collect();
    let nm: Vec<f64> = rows.iter().map(|row| row[0]).collect();
    (1..=24)
        .map(|patch| {
            let values = rows.iter().map(|row| row[patch]).collect();
            Spectrum::new(Carries::Reflectance, nm.clone(), values).unwrap()
        })
        .collect()
}

/// Shares of a white's exposure below 500 nm, to 600 nm and beyond, by a sum over every nanometre.
pub(crate) fn shares(film: fn(f64) -> f64) -> [f64; 3] {
    let mut sums = [0.0; 3];
    for nm in 380..=760 {
        let at = f64::from(nm);
        let seen = light(at) * film(at);
        match nm {
            ..500 => sums[0] += seen,
            500 | 600 => {
                sums[usize::from(nm == 600)] += 0.5 * seen;
                sums[1 + usize::from(nm == 600)] += 0.5 * seen;
            }
            501..600 => sums[1] += seen,
            _ => sums[2] += seen,
        }
    }
    let all: f64 = sums.iter().sum();
    sums.map(|sum| sum / all)
}

pub(crate) struct Study {
    spectra: Vec<Spectrum>,
    light: Spectrum,
}

impl Study {
    pub(crate) fn new() -> Self {
        Self { spectra: chart(), light: spectrum(Carries::Light, light) }
    }

    /// Errors of the 18 known reflectances: 0.005 in lg, as stops.
    pub(crate) fn target(chance: &mut Chance) -> Vec<f64> {
        (0..18).map(|_| 0.005 / 2.0_f64.log10() * chance.normal()).collect()
    }

    /// The estimate of a film from the 18 coloured patches of the chart, read to `u` stops.
    pub(crate) fn estimate(
        &self,
        film: fn(f64) -> f64,
        u: f64,
        known: &[f64],
        chance: &mut Chance,
    ) -> Sensitivity {
        self.bands(film, u, known, &EDGES, chance)
    }

    fn bands(
        &self,
        film: fn(f64) -> f64,
        u: f64,
        known: &[f64],
        edges: &[f64],
        chance: &mut Chance,
    ) -> Sensitivity {
        let card = &self.spectra[21];
        let truth = |patch: usize| {
            let reflects = |spectrum: &Spectrum| stops(film, |nm| spectrum.nearest(nm), 0.0);
            reflects(&self.spectra[patch]) - reflects(card)
        };
        let seen: Vec<Seen<'_>> = (0..18)
            .map(|patch| Seen {
                patch,
                reflectance: &self.spectra[patch],
                stops: truth(patch) + known[patch] + u * chance.normal(),
                u,
                draws: &[],
            })
            .collect();
        sensitivity(&Asked {
            light: &self.light,
            card,
            patches: &seen,
            edges,
            reflectance_u: 0.005,
            target: ErrorKey::of("target", "chart"),
            film: ErrorKey::of("film", &chance.0.to_string()),
            settings: SETTINGS,
        })
        .unwrap()
    }
}

#[test]
fn shares_of_simulated_films_lie_within_their_intervals_and_no_class_is_wrong() {
    let study = Study::new();
    let (mut all_held, mut all) = (0, 0);
    for ((name, film), class) in FILMS.into_iter().zip(CLASSES) {
        let truth = shares(film);
        for (step, u) in [0.03, 0.06, 0.12].into_iter().enumerate() {
            let (mut held, mut possible, mut decided, mut widths) = ([0; 3], 0, 0, [0.0; 3]);
            for number in 0..EACH {
                let mut chance = Chance(50_000 + 100 * step as u64 + number);
                let known = Study::target(&mut chance);
                let found = study.estimate(film, u, &known, &mut chance);
                for (place, (band, truth)) in found.bands.iter().zip(truth).enumerate() {
                    held[place] +=
                        u32::from((band.share.low - 1e-3..=band.share.high + 1e-3).contains(&truth));
                    possible += u32::from((band.possible.0 - 1e-3..=band.possible.1 + 1e-3).contains(&truth));
                    widths[place] += (band.share.high - band.share.low) / EACH as f64;
                }
                assert!(found.classes.left.contains(&class), "{name}, u {u}: called {:?}", found.classes);
                decided += u32::from(found.classes.decided() == Some(class));
            }
            println!(
                "{name:<24} u {u:.2}: shares {truth:.3?}, intervals {widths:.3?} wide hold {held:?} of {EACH}, possible holds \
                 {possible} of {}, class decided in {decided}",
                3 * EACH
            );
            all_held += held.iter().sum::<u32>();
            all += 3 * EACH as u32;
            let least = held.into_iter().min().unwrap();
            assert!(f64::from(least) >= 0.85 * EACH as f64, "{name}, u {u}: {held:?}");
            assert!(f64::from(possible) >= 0.95 * 3.0 * EACH as f64, "{name}, u {u}: possible {possible}");
        }
    }
    let share = f64::from(all_held) / f64::from(all);
    println!("intervals of shares hold {share:.3} of {all}");
    assert!(share >= 0.93, "{share}");
}

/// Kinds of film that differ within what the chart tells are settled; whether a film sees beyond 670 nm is more than the chart
/// tells of a panchromatic one from readings good to a sixteenth of a stop, and that is said.
#[test]
fn what_the_patches_do_not_tell_is_left_open() {
    let study = Study::new();
    let known = Study::target(&mut Chance(5));
    let of = |film: usize| study.estimate(FILMS[film].1, 0.06, &known, &mut Chance(6));
    assert_eq!(of(0).classes.decided(), Some(Class::Unsensitised));
    assert_eq!(of(1).classes.decided(), Some(Class::Orthochromatic));
    assert_eq!(of(2).classes.left, [Class::Panchromatic, Class::ExtendedRed]);
    let pan = of(2);
    for (row, line) in pan.resolution.iter().enumerate() {
        for (column, value) in line.iter().enumerate() {
            let unit = f64::from(u8::from(row == column));
            assert!((value - unit).abs() < 0.35, "three bands are told apart: {:?}", pan.resolution);
        }
    }
    assert!((4.0..14.0).contains(&pan.told), "{}", pan.told);
    assert_eq!(pan.told_apart(), [true; 3]);
    // Ten bands are more than the readings tell.
    let edges = [420.0, 450.0, 480.0, 510.0, 540.0, 570.0, 600.0, 640.0, 680.0];
    let fine = study.bands(FILMS[2].1, 0.025, &known, &edges, &mut Chance(6));
    println!("bands told of ten: {:?}; traded {:?}", fine.told_apart(), fine.traded);
    assert!(fine.told_apart().iter().any(|told| !told));
}

#[test]
fn against_a_reference_the_targets_errors_cancel() {
    let study = Study::new();
    let mut held = 0;
    let truth: Vec<f64> =
        (0..3).map(|band| (shares(FILMS[3].1)[band] / shares(FILMS[2].1)[band]).log2()).collect();
    for number in 0..EACH {
        let mut chance = Chance(81_000 + number);
        let known = Study::target(&mut chance);
        let reference = study.estimate(FILMS[2].1, 0.03, &known, &mut chance);
        let candidate = study.estimate(FILMS[3].1, 0.03, &known, &mut chance);
        for (found, truth) in candidate.against(&reference).iter().zip(&truth) {
            let found = found.as_ref().unwrap();
            held += u32::from((found.low..=found.high).contains(truth));
        }
    }
    println!("ratios of shares hold {held} of {}", 3 * EACH);
    assert!(f64::from(held) >= 0.90 * 3.0 * EACH as f64, "{held}");
}

#[test]
fn questions_without_an_answer_say_why() {
    let study = Study::new();
    let short = Spectrum::regular(Carries::Light, 450.0, 10.0, vec![1.0; 20]).unwrap();
    let seen: Vec<Seen<'_>> = (0..18)
        .map(|patch| Seen { patch, reflectance: &study.spectra[patch], stops: 0.1, u: 0.05, draws: &[] })
        .collect();
    let asked = Asked {
        light: &study.light,
        card: &study.spectra[21],
        patches: &seen,
        edges: &EDGES,
        reflectance_u: 0.005,
        target: ErrorKey::of("target", "chart"),
        film: ErrorKey::of("film", "x"),
        settings: SETTINGS,
    };
    let why = |asked: &Asked<'_>| sensitivity(asked).unwrap_err();
    assert_eq!(why(&Asked { patches: &seen[..5], ..asked }), NoSensitivity::TooFewPatches(5));
    assert_eq!(why(&Asked { light: &short, ..asked }), NoSensitivity::Range(450.0, 640.0));
    assert_eq!(why(&Asked { edges: &[600.0, 500.0], ..asked }), NoSensitivity::Edges);
    let spoiled = [Seen { stops: f64::NAN, ..seen[0] }; 6];
    assert_eq!(why(&Asked { patches: &spoiled, ..asked }), NoSensitivity::NotFinite);
}

/// Fifty films of 24 patches in 400 draws each, from print densities to classes. What it takes is printed; on two free
/// processors it is to be under two seconds.
#[test]
fn fifty_films_of_24_patches_are_worked_in_400_draws() {
    let light = spectrum(Carries::Light, light);
    let known: Vec<Spectrum> =
        (0..COLOURS).map(|number| spectrum(Carries::Reflectance, |nm| reflectance(number, nm))).collect();
    let card = spectrum(Carries::Reflectance, |_| 0.18);
    let mut chance = Chance(3);
    let scene = Scene::new(9, &mut chance);
    let prints: Vec<_> = (0..50)
        .map(|film| {
            scene.print(&Way::by_chance(&mut chance), &scene.stops(FILMS[1 + film % 4].1), &mut chance)
        })
        .collect();
    let start = Instant::now();
    let mut parts = [0.0; 2];
    for (number, print) in prints.iter().enumerate() {
        let begun = Instant::now();
        let key = frame(&number.to_string(), print);
        let greys = by_neutrals(&key, &scene.target(), SETTINGS).unwrap();
        parts[0] += begun.elapsed().as_secs_f64();
        let seen: Vec<Seen<'_>> = greys
            .patches
            .iter()
            .enumerate()
            .filter_map(|(patch, grey)| {
                let found = grey.in_stops()?;
                let reflectance = &known[patch - NEUTRALS.len()];
                Some(Seen {
                    patch,
                    reflectance,
                    stops: found.stops.value.0,
                    u: found.stops.u,
                    draws: &found.draws,
                })
            })
            .collect();
        let found = sensitivity(&Asked {
            light: &light,
            card: &card,
            patches: &seen,
            edges: &EDGES,
            reflectance_u: 0.005,
            target: scene.key,
            film: key.key,
            settings: SETTINGS,
        })
        .unwrap();
        assert_eq!(found.draws.len(), 400);
        parts[1] += begun.elapsed().as_secs_f64();
    }
    println!(
        "50 films, 24 patches, 400 draws: {:.2} s, of which stops {:.2} s",
        start.elapsed().as_secs_f64(),
        parts[0]
    );
}
