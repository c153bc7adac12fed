//! The same through a whole series: readings typed against a tablet, asked of the session.

use std::collections::BTreeMap;

use proptest::collection::vec;
use proptest::prelude::*;
use twinwedge_core::document::{
    Bracket, BracketFrame, Exposure, Film, FilmId, ReadingsSource, Series, Tablet, TabletExposure, TabletId,
    TabletStep, TypedReading,
};
use twinwedge_core::figures::{FigureId, Figures, shadow_match};
use twinwedge_workbench::engine::ask::{ComparisonOf, FiguresOf};
use twinwedge_workbench::session::Session;

/// A film and a candidate through a tablet of 21 steps whose densities are known exactly, and their brackets.
fn series() -> impl Strategy<Value = Series> {
    (vec(-0.012..0.012_f64, 42), 0.15..0.40_f64, any::<bool>()).prop_map(|(errors, base, base_read)| {
        let tablet = Tablet {
            label: "wedge".into(),
            nominal: false,
            shared_u: 0.01,
            steps: (0..21)
                .map(|i| TabletStep { density: 0.05 + 0.15 * f64::from(i), u: Some(0.0) })
                .collect(),
        };
        let films = [("Tern 160", 0.65, -2.0), ("Plover 640", 0.80, -2.6)].into_iter().zip(errors.chunks(21));
        let film = |((label, gamma, x0), errors): ((&str, f64, f64), &[f64])| {
            let density = |x: f64| {
                let line = gamma / 2.0 * (1.0 + 10.0_f64.powf(2.0 * (x - x0))).log10();
                base + line / (1.0 + (line / 2.2_f64).powi(4)).powf(0.25)
            };
            let read = |density: f64| TypedReading { u: Some(0.01), ..TypedReading::new(density) };
            let steps = tablet.steps.iter().zip(errors);
            let steps = steps.map(|(step, error)| read(density(0.25 - step.density) + error));
            let mut film = Film::named(FilmId::from(label), label);
            film.strips = vec![ReadingsSource::Typed(steps.collect()).into()];
            film.tablet_exposure = Some(TabletExposure::new(
                TabletId::from("wedge"),
                Exposure::Absolute { log_h: 0.25, u: 0.02 },
            ));
            film.base_fog = base_read.then(|| read(base));
            film.box_speed = Some(160.0);
            let frame = |i: i32| {
                let index = 160.0 * 2.0_f64.powf(f64::from(i) / 3.0);
                BracketFrame::typed("", index, density(0.6 - index.log10()))
            };
            film.bracket = Some(Bracket { frames: (-9..=9).map(frame).collect(), u: Some(0.01) });
            film
        };
        let mut series = Series { films: films.map(film).collect(), ..Series::default() };
        series.reference = Some(FilmId::from("Tern 160"));
        series.settings.resamplings = 60;
        series.tablets.insert(TabletId::from("wedge"), tablet);
        series
    })
}

/// Figures of both films and their differences.
fn measured(series: Series) -> (Vec<Figures>, BTreeMap<FigureId, twinwedge_core::measured::Value>) {
    let ids: Vec<FilmId> = series.films.iter().map(|film| film.id.clone()).collect();
    let mut session = Session::of(series, std::path::PathBuf::new());
    session.set_recovery_folder(None);
    let figures =
        ids.iter().map(|film| session.wait(&FiguresOf { film: film.clone() }).unwrap().figures.clone());
    let figures = figures.collect();
    let comparison = session.wait(&ComparisonOf { film: ids[1].clone() }).unwrap();
    (figures, comparison.rows.iter().map(|row| (row.figure, row.difference.clone())).collect())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(8))]

    /// A tablet laid the other way round, and read so: step 1 is the last, and nothing changes, for any figure or difference.
    #[test]
    fn a_mirrored_tablet_changes_nothing(series in series()) {
        let before = measured(series.clone());
        let mut mirrored = series;
        mirrored.tablets.values_mut().for_each(|tablet| tablet.steps.reverse());
        for film in &mut mirrored.films {
            if let ReadingsSource::Typed(steps) = &mut film.strips[0].readings {
                steps.reverse();
            }
        }
        prop_assert_eq!(before, measured(mirrored));
    }

    /// The same with the frames of the brackets in another order.
    #[test]
    fn the_order_of_frames_does_not_matter(series in series(), turn in 0..19_usize) {
        let before = measured(series.clone());
        let mut turned = series;
        for film in &mut turned.films {
            film.bracket.as_mut().unwrap().frames.rotate_left(turn);
        }
        prop_assert_eq!(before, measured(turned));
    }

    /// More light on all films alike leaves every difference as it is.
    #[test]
    fn more_light_on_all_films_changes_no_difference(series in series(), shift in -1.0..1.0_f64) {
        let (_, before) = measured(series.clone());
        let mut lighter = series;
        for film in &mut lighter.films {
            film.tablet_exposure.as_mut().unwrap().exposure = Exposure::Absolute { log_h: 0.25 + shift, u: 0.02 };
        }
        let (_, after) = measured(lighter);
        for (id, value) in before {
            match (value.known(), after[&id].known()) {
                (Some(a), Some(b)) => {
                    let near = |a: f64, b: f64| (a - b).abs() < 1e-6 * (1.0 + a.abs());
                    // A film's distance from its box moves with the light, the difference of two of them does not.
                    prop_assert!(near(a.value, b.value) && near(a.u, b.u), "{:?}: {} and {}", id, a.value, b.value);
                }
                (None, None) => {}
                _ => prop_assert!(false, "{id:?}"),
            }
        }
    }

    /// Denser shadows of reference and candidate alike, or another unit of the index, move the index as they should.
    #[test]
    fn a_shadow_match_follows_its_frames(more in 0.0..0.5_f64, factor in 0.25..4.0_f64, errors in vec(-0.01..0.01_f64, 9)) {
        let frames: Vec<(f64, f64)> = errors
            .iter()
            .enumerate()
            .map(|(i, error)| (100.0 * 2.0_f64.powf(i as f64 / 3.0), 0.70 - 0.04 * i as f64 + error))
            .collect();
        let before = shadow_match(0.52, 0.01, &frames, 0.01).known().copied().unwrap();
        let denser: Vec<(f64, f64)> = frames.iter().map(|(index, density)| (*index, density + more)).collect();
        let same = shadow_match(0.52 + more, 0.01, &denser, 0.01).known().copied().unwrap();
        // Where one of 400 draws lies level, its last digits choose the place on the level: that draw moves the spread.
        let near = |a: f64, b: f64, tolerance: f64| (a / b - 1.0).abs() < tolerance;
        prop_assert!(near(same.value, before.value, 1e-6) && near(same.u, before.u, 1e-3), "{same:?} {before:?}");
        prop_assert!(near(same.low, before.low, 1e-6) && near(same.high, before.high, 1e-6), "{same:?} {before:?}");
        let other: Vec<(f64, f64)> = frames.iter().map(|(index, density)| (factor * index, *density)).collect();
        let scaled = shadow_match(0.52, 0.01, &other, 0.01).known().copied().unwrap();
        prop_assert!((scaled.value / before.value / factor - 1.0).abs() < 1e-6);
        prop_assert!((scaled.low / before.low / factor - 1.0).abs() < 1e-5);
    }
}
