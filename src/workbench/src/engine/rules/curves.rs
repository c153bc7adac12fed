//! From the data of a curve to the curve and what follows from it.

use twinwedge_core::compare::format;
use twinwedge_core::curve::{self, FitSettings, Outlier, Readings, Resampling};
use twinwedge_core::document::{Series, Settings};
use twinwedge_core::figures::{self, Departures, OfCurve};
use twinwedge_core::problem::{Problem, Subject};

use super::readings::bytes_of_readings;
use super::{film, label_of};
use crate::engine::ask::{CurveOf, FilmCurve, FitQuality, FitQualityOf, ReadingsOf};
use crate::engine::{Ask, Halt, Key, Kind, Recipe, Table, Tables, View};

/// The settings that a curve and its figures depend on; the others at their defaults, so that changing them refits nothing.
pub(super) fn curve_settings(settings: &Settings) -> Settings {
    Settings {
        gradient_range: settings.gradient_range,
        iso_window: settings.iso_window,
        usable_toe_gradient: settings.usable_toe_gradient,
        usable_shoulder_gradient: settings.usable_shoulder_gradient,
        resamplings: settings.resamplings,
        seed: settings.seed,
        ..Settings::default()
    }
}

impl Ask for CurveOf {
    type Output = FilmCurve;
    const KIND: Kind = Kind::CurveOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.curve
    }

    fn label(&self, series: &Series) -> String {
        format!("Fitting the curve of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        film(view, &self.film)?;
        let readings = view.digest(&ReadingsOf { film: self.film.clone() })?;
        let settings = curve_settings(&view.series().settings);
        Ok(Recipe::new("curve", 5).with(&self.film).key(readings).with(&settings).done())
    }

    fn make(&self, view: &View<'_>) -> Result<FilmCurve, Halt> {
        let readings = view.get(&ReadingsOf { film: self.film.clone() })?;
        let settings = curve_settings(&view.series().settings);
        let fit = FitSettings { resamplings: settings.resamplings, seed: settings.seed };
        let about = |problem: Problem| problem.about(Subject::Film(self.film.clone()));
        let curve = curve::fit(Readings::clone(&readings), fit).map_err(about)?;
        Ok(film_curve(curve, &settings))
    }

    fn digest(curve: &FilmCurve, _: Key) -> Key {
        Recipe::new("curve value", 1).with(curve).done()
    }

    fn bytes(curve: &FilmCurve) -> usize {
        bytes_of_curve(curve)
    }
}

/// A curve with what follows from it.
pub(super) fn film_curve(curve: curve::Curve, settings: &Settings) -> FilmCurve {
    let OfCurve { figures, draws, reach } = figures::of_curve(&curve, settings);
    let straight = figures::straight_line(&curve);
    let departures = straight.as_ref().ok().and_then(|line| figures::departures(&curve, line));
    FilmCurve { curve, figures, draws, reach, departures, straight, prediction: None }
}

pub(super) fn bytes_of_curve(curve: &FilmCurve) -> usize {
    let drawn = |draw: &Resampling| {
        let numbers = draw.spline.coefficients.len() + draw.readings.len() + draw.levels.len();
        size_of::<Resampling>() + numbers * size_of::<f64>()
    };
    curve.curve.resampled.iter().map(drawn).sum::<usize>()
        + bytes_of_readings(&curve.curve.readings)
        + curve.draws.bytes()
        + curve.departures.as_ref().map_or(0, Departures::bytes)
        + 4096
}

impl Ask for FitQualityOf {
    type Output = FitQuality;
    const KIND: Kind = Kind::FitQualityOf;

    fn table(tables: &Tables) -> &Table<Self> {
        &tables.fit_quality
    }

    fn label(&self, series: &Series) -> String {
        format!("Judging the curve of {}", label_of(series, &self.film))
    }

    fn key(&self, view: &View<'_>) -> Result<Key, Halt> {
        Ok(Recipe::new("fit quality", 2).key(view.digest(&CurveOf { film: self.film.clone() })?).done())
    }

    fn make(&self, view: &View<'_>) -> Result<FitQuality, Halt> {
        let curve = &view.get(&CurveOf { film: self.film.clone() })?.curve;
        let named = |outlier: &Outlier| (format::outlier(&curve.readings, outlier), *outlier);
        Ok(FitQuality {
            misfit: curve.misfit,
            levels: curve.levels.clone(),
            outliers: curve.outliers.iter().map(named).collect(),
        })
    }

    fn digest(quality: &FitQuality, _: Key) -> Key {
        Recipe::new("fit quality value", 1).with(quality).done()
    }

    fn bytes(quality: &FitQuality) -> usize {
        size_of::<FitQuality>()
            + size_of_val(&*quality.levels)
            + quality.outliers.iter().map(|named| size_of_val(named) + named.0.len()).sum::<usize>()
    }
}
