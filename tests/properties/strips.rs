//! Several strips, one curve: what must not matter, and what is refused.

use proptest::prelude::*;
use twinwedge_core::curve::{Curve, ErrorKey, FitSettings, Reading, Readings, Sources, Strip, fit};
use twinwedge_core::document::StripLevel;
use twinwedge_core::measured::Flags;
use twinwedge_core::units::STOP;

const RESAMPLINGS: FitSettings = FitSettings { resamplings: 60, seed: 3 };

fn density(x: f64) -> f64 {
    let line = 0.35 * (1.0 + 10.0_f64.powf(2.0 * (x + 2.0))).log10();
    0.2 + line * 3.0 / (3.0 + line)
}

/// Three strips of 13 steps; the levels of the second and third are stated or not. Steps alternate by an error each way.
fn film(less: [f64; 2], stated: [bool; 2], error: f64) -> Readings {
    let first = Strip::first(ErrorKey::of("tablet", "t"));
    let mut strips = vec![first.clone()];
    let mut points = Vec::new();
    for strip in 0..3_usize {
        let (stops, known) = match strip.checked_sub(1) {
            None => (0.0, 0.0),
            Some(i) => (less[i], if stated[i] { less[i] } else { 0.0 }),
        };
        if let Some(i) = strip.checked_sub(1) {
            let level = if stated[i] {
                StripLevel::StopsLess { stops: known, u: 0.05 }
            } else {
                StripLevel::FromOverlap
            };
            strips.push(Strip { name: format!("strip {strip}"), level, ..first.clone() });
        }
        for i in 0..13_u32 {
            let log_h = -0.15 * f64::from(i);
            let wrong = error * f64::from((i * 7 + strip as u32 * 3) % 5) - 2.0 * error;
            points.push(Reading {
                strip,
                step: i + 1,
                log_h: log_h - known * STOP,
                log_h_u: 0.005,
                density: density(log_h - stops * STOP) + wrong,
                density_u: 0.01,
                set_aside: false,
                flags: Flags::empty(),
            });
        }
    }
    let sources = Sources { film: ErrorKey::of("film", "a"), strips };
    Readings {
        points,
        absolute: true,
        log_h_shared_u: 0.0,
        sources,
        base_fog: Some((0.2, 0.01)),
        flags: Flags::empty(),
    }
}

/// Stops less and uncertainty of each additional strip, by name.
fn levels(curve: &Curve) -> Vec<(String, f64, f64)> {
    let level = |found: &twinwedge_core::curve::LevelFound| {
        (curve.readings.strip_name(found.strip), found.stops_less, found.u)
    };
    let mut levels: Vec<_> = curve.levels.iter().map(level).collect();
    levels.sort_by(|a, b| a.0.cmp(&b.0));
    levels
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn the_order_of_strips_and_steps_does_not_matter(
        less in [1.0..3.0_f64, 3.5..5.0_f64], stated in any::<[bool; 2]>(), error in 0.0..0.006_f64, turn in 0..39_usize,
    ) {
        let readings = film(less, stated, error);
        let before = fit(readings.clone(), RESAMPLINGS).unwrap();
        let mut turned = readings;
        turned.points.rotate_left(turn);
        turned.sources.strips.swap(1, 2);
        for point in turned.points.iter_mut().filter(|point| point.strip > 0) {
            point.strip = 3 - point.strip;
        }
        let after = fit(turned, RESAMPLINGS).unwrap();
        for (a, b) in levels(&before).into_iter().zip(levels(&after)) {
            prop_assert_eq!(&a.0, &b.0);
            prop_assert!((a.1 - b.1).abs() < 1e-4, "{} {} {}", a.0, a.1, b.1);
            prop_assert!(a.2 > 0.0 && (a.2 / b.2 - 1.0).abs() < 0.5, "{} ± {} and ± {}", a.0, a.2, b.2);
        }
        for i in 0..=20 {
            let x = -3.0 + 0.15 * f64::from(i);
            match (before.best.density(x), after.best.density(x)) {
                (Some(a), Some(b)) => prop_assert!((a - b).abs() < 1e-4),
                (a, b) => prop_assert_eq!(a.is_some(), b.is_some()),
            }
        }
    }

    #[test]
    fn more_light_on_all_strips_moves_no_level(
        less in [1.0..3.0_f64, 3.5..5.0_f64], stated in any::<[bool; 2]>(), error in 0.0..0.006_f64, shift in -1.0..1.0_f64,
    ) {
        let readings = film(less, stated, error);
        let before = fit(readings.clone(), RESAMPLINGS).unwrap();
        let mut moved = readings;
        moved.points.iter_mut().for_each(|point| point.log_h += shift);
        let after = fit(moved, RESAMPLINGS).unwrap();
        for (a, b) in levels(&before).into_iter().zip(levels(&after)) {
            prop_assert!((a.1 - b.1).abs() < 1e-5 && (a.2 - b.2).abs() < 1e-5);
        }
        prop_assert!((before.range().0 + shift - after.range().0).abs() < 1e-5);
    }

    #[test]
    fn levels_without_errors_are_found_as_they_were(less in [1.0..3.0_f64, 3.5..5.0_f64]) {
        let curve = fit(film(less, [false, false], 0.0), RESAMPLINGS).unwrap();
        for (found, less) in curve.levels.iter().zip(less) {
            prop_assert!((found.stops_less - less).abs() < 0.03, "{} for {less}", found.stops_less);
            prop_assert!(!found.contradicted && found.stated.is_none());
        }
    }
}

#[test]
fn strips_without_overlap_are_refused_unless_their_level_is_known() {
    let refused = fit(film([2.0, 12.0], [true, false], 0.001), RESAMPLINGS).unwrap_err();
    assert!(refused.cause.contains("strip 2") && refused.cause.contains("overlap"), "{}", refused.cause);
    let curve = fit(film([2.0, 12.0], [true, true], 0.001), RESAMPLINGS).unwrap();
    assert!(curve.levels[0].by_overlap.is_some() && curve.levels[1].by_overlap.is_none());
    assert!(!curve.levels[1].contradicted);
    // Nothing but the statement is known of it.
    assert!((curve.levels[1].u - 0.05).abs() < 0.015, "{}", curve.levels[1].u);
}
