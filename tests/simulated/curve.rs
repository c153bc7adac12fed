//! Do 95 % intervals hold the truth in 95 of 100 series? Films are made here from a closed form, with errors drawn by a
//! generator of this test's own, and rounded as a densitometer shows them; the code under test sees readings alone.

use twinwedge_core::curve::{FitSettings, Reading, Readings, Sources, fit};
use twinwedge_core::document::Settings;
use twinwedge_core::figures::{FigureId, Figures, of_curve};
use twinwedge_core::measured::{Flags, Measured};

pub(crate) use crate::shared::chance::Chance;

/// Series simulated for each study. Of 400 intervals that hold the truth with probability 0.95 each, 95 % do with a
/// binomial standard deviation of 1.09 %: 90 % and 99 % lie 4.6 and 3.7 standard deviations away.
const SERIES: u64 = 400;
const LEAST: f64 = 0.90;
const MOST: f64 = 0.99;

/// Toe and straight line: the film that meets the contrast condition of ISO 6 at speed 100.
pub(crate) const BASE: f64 = 0.20;
pub(crate) const GAMMA: f64 = 0.700_513;
const M: f64 = 2.0;
const X0: f64 = -2.081_097;

pub(crate) fn density(x: f64) -> f64 {
    BASE + GAMMA / M * (1.0 + 10.0_f64.powf(M * (x - X0))).log10()
}

pub(crate) fn log_h_at(net: f64) -> f64 {
    X0 + (10.0_f64.powf(net * M / GAMMA) - 1.0).log10() / M
}

/// What is uncertain about a series.
#[derive(Clone, Copy)]
pub(crate) struct Errors {
    pub(crate) reading: f64,
    pub(crate) tablet: f64,
    pub(crate) light: f64,
    pub(crate) base_read: bool,
    pub(crate) lowest: f64,
}

/// One film through a tablet of 21 steps.
pub(crate) fn film(errors: Errors, chance: &mut Chance) -> Readings {
    let light = errors.light * chance.normal();
    let rounded = |density: f64| (density * 100.0).round() / 100.0;
    // The stated uncertainty joins noise and rounding: 0.01 / sqrt(12) = 0.0029.
    let stated = (errors.reading * errors.reading + 0.01 * 0.01 / 12.0).sqrt();
    let points = (0..21).map(|i| {
        let nominal = errors.lowest + 0.15 * f64::from(i);
        let truth = density(nominal + light + errors.tablet * chance.normal());
        Reading {
            strip: 0,
            step: 21 - i,
            log_h: nominal,
            log_h_u: errors.tablet,
            density: rounded(truth + errors.reading * chance.normal()),
            density_u: stated,
            set_aside: false,
            flags: Flags::empty(),
        }
    });
    let points = points.collect();
    let base_fog = errors.base_read.then(|| (rounded(BASE + errors.reading * chance.normal()), stated));
    Readings {
        points,
        absolute: true,
        log_h_shared_u: errors.light,
        sources: Sources::default(),
        base_fog,
        flags: Flags::empty(),
    }
}

/// A mean may miss by so much of its uncertainty.
const MOST_BIAS: f64 = 0.5;

/// How often each figure's interval holds its truth, and by how much its mean misses in units of its mean `u`.
fn study(errors: Errors, settings: &Settings, truths: &[(FigureId, f64)]) -> Vec<(FigureId, f64, f64)> {
    let mut chance = Chance(20_240_229);
    let figures: Vec<Figures> = (0..SERIES)
        .map(|series| {
            let curve =
                fit(film(errors, &mut chance), FitSettings { resamplings: 200, seed: series }).unwrap();
            of_curve(&curve, settings).figures
        })
        .collect();
    let of = |(id, truth): &(FigureId, f64)| {
        let known: Vec<&Measured> = figures.iter().filter_map(|figures| figures[id].known()).collect();
        assert!(known.len() as f64 > 0.97 * SERIES as f64, "{id:?} known in {} series", known.len());
        let n = known.len() as f64;
        let holds = known.iter().filter(|m| m.low <= *truth && *truth <= m.high).count() as f64 / n;
        let bias =
            known.iter().map(|m| m.value - truth).sum::<f64>() / known.iter().map(|m| m.u).sum::<f64>();
        let spread = (known.iter().map(|m| (m.value - truth).powi(2)).sum::<f64>() / n).sqrt();
        let stated = known.iter().map(|m| m.u).sum::<f64>() / n;
        println!("{id:?}: holds {holds:.3}, bias {bias:+.2} u, error {spread:.4}, stated {stated:.4}");
        (*id, holds, bias)
    };
    truths.iter().map(of).collect()
}

fn check(results: &[(FigureId, f64, f64)], most_bias: f64) {
    for (id, holds, bias) in results {
        assert!((LEAST..=MOST).contains(holds), "{id:?}: intervals hold the truth in {holds:.3} of series");
        assert!(bias.abs() < most_bias, "{id:?}: biased by {bias:.2} of its uncertainty");
    }
}

#[test]
fn intervals_hold_the_truth_when_base_fog_was_read() {
    let errors = Errors { reading: 0.01, tablet: 0.0, light: 0.0, base_read: true, lowest: -2.55 };
    let (settings, x) = (Settings::default(), log_h_at(0.10));
    check(
        &study(
            errors,
            &settings,
            &[
                (FigureId::BaseFog, BASE),
                (FigureId::SpeedPoint, x),
                (FigureId::IsoContrast, density(x + 1.30) - density(x)),
                (FigureId::AverageGradient, (density(x + 1.5) - density(x)) / 1.5),
                (FigureId::DMax, density(0.45)),
            ],
        ),
        MOST_BIAS,
    );
}

#[test]
fn intervals_hold_the_truth_with_errors_of_tablet_and_light() {
    let errors = Errors { reading: 0.01, tablet: 0.01, light: 0.03, base_read: true, lowest: -2.55 };
    let (settings, x) = (Settings { iso_window: 0.2, ..Settings::default() }, log_h_at(0.10));
    check(
        &study(
            errors,
            &settings,
            &[
                (FigureId::SpeedPoint, x),
                (FigureId::IsoSpeed, 0.80 / 10.0_f64.powf(x)),
                (FigureId::AverageGradient, (density(x + 1.5) - density(x)) / 1.5),
            ],
        ),
        MOST_BIAS,
    );
}

#[test]
fn intervals_hold_the_truth_when_the_tablet_reaches_the_base() {
    let errors = Errors { reading: 0.01, tablet: 0.0, light: 0.0, base_read: false, lowest: -3.45 };
    let (settings, x) = (Settings { gradient_range: 1.3, ..Settings::default() }, log_h_at(0.10));
    check(
        &study(
            errors,
            &settings,
            &[
                (FigureId::BaseFog, BASE),
                (FigureId::SpeedPoint, x),
                (FigureId::AverageGradient, (density(x + 1.3) - density(x)) / 1.3),
            ],
        ),
        MOST_BIAS,
    );
}
