//! What must change a curve's figures changes them so, and nothing else does.

use proptest::collection::vec;
use proptest::prelude::*;
use twinwedge_core::curve::{Curve, FitSettings, Reading, Readings, Sources, Standing, fit};
use twinwedge_core::document::Settings;
use twinwedge_core::figures::{FigureId, Figures, of_curve};
use twinwedge_core::measured::Flags;
use twinwedge_core::numeric::banded::Banded;
use twinwedge_core::numeric::interpolate::{MonotoneCubic, SlopeRule};
use twinwedge_core::numeric::isotonic::pool_adjacent_violators;
use twinwedge_core::numeric::monotone::{Workspace, solve};

const RESAMPLINGS: FitSettings = FitSettings { resamplings: 60, seed: 3 };

/// A film with toe, straight line and shoulder, with errors, through 21 steps.
fn film() -> impl Strategy<Value = Readings> {
    let parts = (0.1..0.4, 0.45..1.1, -2.4..-1.6, vec(-0.012..0.012_f64, 21), any::<bool>());
    parts.prop_map(|(base, gamma, x0, errors, base_read)| {
        let density = |x: f64| {
            let line = gamma / 2.0 * (1.0 + 10.0_f64.powf(2.0 * (x - x0))).log10();
            base + line * 3.0 / (3.0 + line)
        };
        let point = |(i, error): (usize, &f64)| {
            let x = -2.75 + 0.15 * i as f64;
            Reading {
                strip: 0,
                step: 21 - i as u32,
                log_h: x,
                log_h_u: 0.005,
                density: density(x) + error,
                density_u: 0.01,
                set_aside: false,
                flags: Flags::empty(),
            }
        };
        Readings {
            points: errors.iter().enumerate().map(point).collect(),
            absolute: true,
            log_h_shared_u: 0.02,
            sources: Sources::default(),
            base_fog: base_read.then_some((base, 0.005)),
            flags: Flags::empty(),
        }
    })
}

fn measured(readings: Readings) -> (Curve, Figures) {
    let curve = fit(readings, RESAMPLINGS).unwrap();
    let figures = of_curve(&curve, &Settings { iso_window: 10.0, ..Settings::default() }).figures;
    (curve, figures)
}

/// Holds every figure of `after` against `before`, moved by what `moves` says.
fn same_but(before: &Figures, after: &Figures, moves: impl Fn(FigureId) -> f64) {
    assert_eq!(before.len(), after.len());
    for (id, value) in before {
        match (value.known(), after[id].known()) {
            (Some(a), Some(b)) => {
                let near = |a: f64, b: f64| (a - b).abs() < 1e-6 * (1.0 + a.abs());
                assert!(near(a.value + moves(*id), b.value), "{id:?}: {} and {}", a.value, b.value);
                assert!(near(a.u, b.u), "{id:?}: u {} and {}", a.u, b.u);
                assert_eq!(a.flags, b.flags, "{id:?}");
                assert!(near(a.low + moves(*id), b.low) && near(a.high + moves(*id), b.high), "{id:?}");
            }
            (None, None) => {}
            _ => panic!("{id:?}: {value:?} and {:?}", after[id]),
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn the_order_of_readings_does_not_matter(readings in film(), turn in 0..21_usize) {
        let (before, _) = measured(readings.clone());
        let mut turned = readings;
        turned.points.rotate_left(turn);
        turned.points.swap(0, 10);
        let (after, _) = measured(turned);
        prop_assert_eq!(before, after);
    }

    #[test]
    fn more_light_moves_places_and_no_gradient(readings in film(), shift in -1.0..1.0_f64) {
        let (_, before) = measured(readings.clone());
        let mut moved = readings;
        moved.points.iter_mut().for_each(|point| point.log_h += shift);
        let (_, mut after) = measured(moved);
        let mut before = before;
        for speed in [
            FigureId::IsoSpeed,
            FigureId::FixedDensitySpeed,
            FigureId::FractionalGradientSpeed,
            FigureId::DeltaXSpeed,
        ] {
            let (a, b) = (before.remove(&speed), after.remove(&speed));
            if let (Some(a), Some(b)) = (a.as_ref().and_then(|a| a.known()), b.as_ref().and_then(|b| b.known())) {
                prop_assert!(((a.value / b.value).log10() - shift).abs() < 1e-6);
            }
        }
        same_but(&before, &after, |id| match id {
            FigureId::SpeedPoint
            | FigureId::FractionalGradientPoint
            | FigureId::DeltaXPoint
            | FigureId::StraightFrom
            | FigureId::StraightTo
            | FigureId::UsableFrom
            | FigureId::UsableTo => shift,
            _ => 0.0,
        });
    }

    #[test]
    fn a_denser_base_moves_densities_and_nothing_else(readings in film(), more in 0.0..0.5_f64) {
        let (_, before) = measured(readings.clone());
        let mut denser = readings;
        denser.points.iter_mut().for_each(|point| point.density += more);
        denser.base_fog = denser.base_fog.map(|(density, u)| (density + more, u));
        let (_, after) = measured(denser);
        same_but(&before, &after, |id| match id {
            FigureId::BaseFog | FigureId::DMax => more,
            _ => 0.0,
        });
    }

    #[test]
    fn a_point_set_aside_has_no_say(readings in film(), step in 0..21_usize, wrong in -1.0..1.0_f64) {
        let mut aside = readings.clone();
        aside.points[step].set_aside = true;
        let (before, figures) = measured(aside.clone());
        aside.points[step].density += wrong;
        let (after, same) = measured(aside);
        prop_assert_eq!(before.best, after.best);
        prop_assert_eq!(figures, same);
        prop_assert_eq!(after.residuals.len(), 21);
    }

    #[test]
    fn curves_rise_and_end_where_the_readings_do(readings in film()) {
        let (curve, _) = measured(readings);
        let (from, to) = curve.range();
        prop_assert!(curve.density(from - 1e-6).is_none() && curve.density(to + 1e-6).is_none());
        let splines = curve.resampled.iter().map(|resampling| &resampling.spline).chain([&curve.best]);
        for spline in splines {
            prop_assert!(spline.coefficients.windows(2).all(|pair| pair[0] <= pair[1]));
        }
        let band = curve.band(50);
        prop_assert!(band.windows(2).all(|pair| pair[0].density <= pair[1].density + 1e-12));
        prop_assert!(band.iter().all(|point| point.low <= point.density && point.density <= point.high));
    }

    #[test]
    fn isotonic_regression_keeps_the_mean_and_what_rises(values in vec(-5.0..5.0_f64, 1..30)) {
        let weights = vec![1.0; values.len()];
        let fitted = pool_adjacent_violators(&values, &weights);
        prop_assert!(fitted.windows(2).all(|pair| pair[0] <= pair[1]));
        prop_assert!((fitted.iter().sum::<f64>() - values.iter().sum::<f64>()).abs() < 1e-9);
        prop_assert_eq!(pool_adjacent_violators(&fitted, &weights), fitted);
    }

    #[test]
    fn interpolants_stay_between_their_nodes(steps in vec((0.01..1.0_f64, 0.0..1.0_f64), 2..20)) {
        let (mut x, mut y) = (vec![0.0], vec![0.0]);
        for (dx, dy) in &steps {
            x.push(x[x.len() - 1] + dx);
            y.push(y[y.len() - 1] + if *dy < 0.3 { 0.0 } else { *dy });
        }
        for rule in [SlopeRule::FritschButland, SlopeRule::Steffen] {
            let curve = MonotoneCubic::new(&x, &y, rule).unwrap();
            let last = x[x.len() - 1];
            let values: Vec<f64> = (0..=400).map(|i| curve.value((last * f64::from(i) / 400.0).min(last)).unwrap()).collect();
            prop_assert!(values.windows(2).all(|pair| pair[0] <= pair[1] + 1e-12));
            prop_assert!((curve.value(x[1]).unwrap() - y[1]).abs() < 1e-12);
        }
    }

    /// With independent coefficients the bounded problem is isotonic regression, which has an algorithm of its own; with
    /// coupled ones no other never-falling vector may be better.
    #[test]
    fn bounded_least_squares_is_least(
        values in vec(-2.0..2.0_f64, 12),
        weights in vec(0.1..3.0_f64, 12),
        coupling in 0.0..0.5_f64,
        other in vec(0.0..1.0_f64, 12),
    ) {
        let mut matrix = Banded::zero(12);
        for (i, weight) in weights.iter().enumerate() {
            matrix.add(i, i, weight + 4.0 * coupling);
            for k in 1..=3.min(i) {
                matrix.add(i, i - k, -coupling / k as f64);
            }
        }
        let right: Vec<f64> = values.iter().zip(&weights).map(|(v, w)| v * w).collect();
        let mut c = Vec::new();
        solve(&matrix, &matrix.cholesky().unwrap(), &right, &mut c, &mut Workspace::default());
        prop_assert!(c.windows(2).all(|pair| pair[0] <= pair[1]));
        if coupling < 1e-3 {
            let apart = pool_adjacent_violators(&values, &weights);
            prop_assert!(c.iter().zip(&apart).all(|(a, b)| (a - b).abs() < 0.1));
        }
        let cost = |c: &[f64]| {
            let mut product = Vec::new();
            matrix.times(c, &mut product);
            c.iter().zip(&product).zip(&right).map(|((c, ac), b)| c * (ac / 2.0 - b)).sum::<f64>()
        };
        // Towards any never-falling vector the cost rises.
        let mut sum = -1.0;
        let towards: Vec<f64> = other.iter().map(|step| { sum += step; sum }).collect();
        for share in [1e-4, 1e-2, 0.5] {
            let mixed: Vec<f64> = c.iter().zip(&towards).map(|(c, t)| c + share * (t - c)).collect();
            prop_assert!(cost(&mixed) >= cost(&c) - 1e-10);
        }
    }
}

#[test]
fn readings_that_make_no_curve_are_refused_with_a_reason() {
    let line = |density: fn(u32) -> f64, count: u32| Readings {
        points: (0..count)
            .map(|i| Reading {
                strip: 0,
                step: i + 1,
                log_h: 0.15 * f64::from(i),
                log_h_u: 0.0,
                density: density(i),
                density_u: 0.01,
                set_aside: false,
                flags: Flags::empty(),
            })
            .collect(),
        absolute: false,
        log_h_shared_u: 0.0,
        sources: Sources::default(),
        base_fog: None,
        flags: Flags::empty(),
    };
    let refused = |readings: Readings| fit(readings, RESAMPLINGS).unwrap_err().cause.to_string();
    let rising = |i: u32| 0.2 + 0.09 * f64::from(i);
    assert!(refused(line(rising, 3)).contains("four exposures"));
    assert!(refused(line(|_| 0.2, 10)).contains("do not rise"));
    assert!(refused(line(|i| 2.0 - 0.09 * f64::from(i), 10)).contains("falls by"));
    let half_wrong = refused(line(|i| 0.2 + 0.09 * f64::from(i) - if i < 6 { 0.0 } else { 0.4 }, 12));
    assert!(half_wrong.contains("falls by"), "{half_wrong}");
    let mut not_a_number = line(rising, 8);
    not_a_number.points[2].density = f64::NAN;
    assert!(refused(not_a_number).contains("Step 3"));
    // One wrong step is set aside and named, however wrong; the others are on the line that they were made from.
    for wrong in [0.06, -0.3] {
        let off = |i: u32| if i == 6 { wrong } else { 0.0 };
        let mut one_wrong = line(|_| 0.0, 14);
        one_wrong.points.iter_mut().zip(0..).for_each(|(point, i)| point.density = rising(i) + off(i));
        let curve = fit(one_wrong.clone(), RESAMPLINGS).unwrap();
        assert_eq!(
            curve.outliers.iter().map(|o| (o.step, o.standing)).collect::<Vec<_>>(),
            [(7, Standing::SetAside)]
        );
        assert!((curve.outliers[0].departure - wrong).abs() < 1e-3 && curve.outliers[0].sigmas.abs() > 3.5);
        assert!(
            (curve.error_scale - 1.0).abs() < 1e-12 && (curve.gradient(0.9).unwrap().0 - 0.6).abs() < 1e-4
        );
        // Kept, it is fitted; too large a fall is then refused as it is without the judgement of the others.
        one_wrong.points[6].flags = Flags::KEPT;
        match fit(one_wrong, RESAMPLINGS) {
            Ok(kept) => {
                assert!(wrong > 0.0 && kept.error_scale > 1.0 && kept.outliers[0].standing == Standing::Kept);
            }
            Err(problem) => assert!(wrong < 0.0 && problem.cause.contains("step 6 to step 7"), "{problem}"),
        }
    }
}
