//! From the data of a curve to the curve and what follows from it.

use serde::Serialize;
use twinwedge_core::compare::format;
use twinwedge_core::curve::{self, FitSettings, Outlier, Readings};
use twinwedge_core::document::{FilmId, Settings};
use twinwedge_core::figures::{self, Departures, OfCurve};
use twinwedge_core::problem::{Problem, Subject};

use super::film;
use crate::engine::ask::{CurveOf, FilmCurve, FitQuality, FitQualityOf, ReadingsOf};
use crate::engine::{Computation, Handle, NoAnswer, Query, View};

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

/// What a curve is fitted to, and how.
#[derive(Debug, Serialize)]
pub struct Fitting {
    film: FilmId,
    readings: Handle<ReadingsOf>,
    settings: Settings,
}

impl Query for CurveOf {
    type Inputs = Fitting;

    fn inputs(&self, view: &View<'_>) -> Result<Fitting, NoAnswer> {
        film(view, &self.film)?;
        let readings = view.handle(ReadingsOf { film: self.film.clone() })?;
        Ok(Fitting { film: self.film.clone(), readings, settings: curve_settings(&view.series().settings) })
    }

    fn compute(fitting: &Fitting, work: &Computation<'_>) -> Result<FilmCurve, NoAnswer> {
        let readings = work.get(&fitting.readings)?;
        let settings = &fitting.settings;
        let fit = FitSettings { resamplings: settings.resamplings, seed: settings.seed };
        let about = |problem: Problem| problem.about(Subject::Film(fitting.film.clone()));
        let curve = curve::fit(Readings::clone(&readings), fit).map_err(about)?;
        Ok(film_curve(curve, settings))
    }

    fn uncounted_bytes(curve: &FilmCurve) -> usize {
        bytes_of_departures(curve)
    }
}

/// A curve with what follows from it.
pub(super) fn film_curve(curve: curve::Curve, settings: &Settings) -> FilmCurve {
    let OfCurve { figures, draws, reach } = figures::of_curve(&curve, settings);
    let straight = figures::straight_line(&curve);
    let departures = straight.as_ref().ok().and_then(|line| figures::departures(&curve, line));
    FilmCurve { curve, figures, draws, reach, departures, straight, prediction: None }
}

/// The draws of departures, for which their band stands in keys.
pub(super) fn bytes_of_departures(curve: &FilmCurve) -> usize {
    curve.departures.as_ref().map_or(0, Departures::bytes)
}

impl Query for FitQualityOf {
    type Inputs = Handle<CurveOf>;

    fn inputs(&self, view: &View<'_>) -> Result<Handle<CurveOf>, NoAnswer> {
        view.handle(CurveOf { film: self.film.clone() })
    }

    fn compute(curve: &Handle<CurveOf>, work: &Computation<'_>) -> Result<FitQuality, NoAnswer> {
        let curve = &work.get(curve)?.curve;
        let named = |outlier: &Outlier| (format::outlier(&curve.readings, outlier), *outlier);
        Ok(FitQuality {
            misfit: curve.misfit,
            levels: curve.levels.clone(),
            outliers: curve.outliers.iter().map(named).collect(),
        })
    }
}
