//! Departures from the straight line, place by place: their band, their peaks and valleys, and where two films are opposed.
//!
//! The departure at a place is curve minus straight line. In each resampling it is the departure of that resampling's
//! curve from the regression line through itself over the same range, so that the band says what the errors of the
//! readings leave open of the *shape*, not of line and curve apart. A peak or valley is a local extreme of the best
//! curve's departure between the ends of the line, where the curve leaves it by definition.
//!
//! Who looks along a whole line for its extremes finds some by chance: one place in twenty lies outside an interval of 95 %.
//! Extremes and opposed places therefore have intervals that hold along the whole line at once: as many times wider as makes
//! 95 of 100 draws lie within them everywhere (G. J. Hahn and W. Q. Meeker, "Statistical Intervals", 1991, on simultaneous
//! ones).

use std::sync::Arc;

use serde::Serialize;

use super::draws::measured_by_draws;
use super::straight::{StraightLine, line_through};
use crate::curve::{Curve, Spline};
use crate::measured::Measured;
use crate::numeric::robust;

/// Places along the line at which departures are taken.
const PLACES: usize = 48;

/// Departures of one film along its straight line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Departures {
    /// Log exposures, evenly spaced over the range of the line.
    pub log_h: Vec<f64>,
    /// Curve minus line at each, with its interval.
    pub values: Vec<Measured>,
    /// Local extremes, from low to high exposure.
    pub extremes: Vec<Extreme>,
    /// By what intervals grow so as to hold along the whole line.
    together: f64,
    /// For each place what every resampling has there; in the keys of results its band stands for it.
    #[serde(skip)]
    draws: Arc<[Vec<f64>]>,
}

/// A peak or a valley.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Extreme {
    /// Where, lg H.
    pub log_h: f64,
    /// Above (peak) or below (valley) the line; its interval holds along the whole line.
    pub departure: Measured,
}

impl Extreme {
    /// Whether it is a peak or a valley beyond its uncertainty.
    #[must_use]
    pub fn distinguishable(&self) -> bool {
        self.departure.excludes_zero()
    }
}

/// A place where one film lies above its line and the other below its own, each beyond its uncertainty.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Opposed {
    /// The reference's lg H.
    pub reference_log_h: f64,
    /// The candidate's lg H.
    pub candidate_log_h: f64,
    /// The reference's departure there; its interval, as the candidate's, holds along the whole line.
    pub reference: Measured,
    /// The candidate's departure at its own place.
    pub candidate: Measured,
    /// Candidate minus reference, draw by draw.
    pub difference: Measured,
}

/// The departures of a curve from its straight line; `None` where its draws do not hold them.
#[must_use]
pub fn departures(curve: &Curve, line: &StraightLine) -> Option<Departures> {
    let place = |i: usize| (line.from + (line.to - line.from) * i as f64 / PLACES as f64).min(line.to);
    let log_h: Vec<f64> = (0..=PLACES).map(place).collect();
    let of_draw = |spline: &Spline| -> Option<Vec<f64>> {
        let line = line_through(spline, line)?;
        log_h.iter().map(|at| Some(spline.density(*at)? - line.density(*at))).collect()
    };
    let each: Vec<Option<Vec<f64>>> = curve.resampled.iter().map(|draw| of_draw(&draw.spline)).collect();
    let at_place = |i: usize| -> Vec<f64> {
        each.iter().map(|draw| draw.as_ref().map_or(f64::NAN, |draw| draw[i])).collect()
    };
    let draws: Vec<Vec<f64>> = (0..=PLACES).map(at_place).collect();
    let value = |(at, draws): (&f64, &Vec<f64>)| {
        let departure = curve.best.density(*at)? - line.density(*at);
        measured_by_draws(departure, draws.iter().copied()).ok()
    };
    let values: Option<Vec<Measured>> = log_h.iter().zip(&draws).map(value).collect();
    let values = values?;
    let together = together(&values, &draws);
    let mut extremes = extremes(&log_h, &values);
    extremes.iter_mut().for_each(|extreme| extreme.departure = widened(&extreme.departure, together));
    Some(Departures { log_h, values, extremes, together, draws: draws.into() })
}

/// How many times wider than at one place alone intervals must be for 95 of 100 draws to lie within all of them.
fn together(values: &[Measured], draws: &[Vec<f64>]) -> f64 {
    let places = values.iter().zip(draws).filter_map(|(value, draws)| {
        let known: Vec<f64> = draws.iter().copied().filter(|draw| draw.is_finite()).collect();
        let half = f64::midpoint(value.high, -value.low);
        Some((robust::median(&known)?, half, draws)).filter(|(_, half, _)| *half > 0.0)
    });
    let places: Vec<(f64, f64, &Vec<f64>)> = places.collect();
    let count = draws.first().map_or(0, Vec::len);
    let furthest = |k: usize| {
        let away = places.iter().map(|(middle, half, draws)| (draws[k] - middle).abs() / half);
        away.filter(|away| away.is_finite()).fold(0.0, f64::max)
    };
    let furthest = robust::sorted(&(0..count).map(furthest).collect::<Vec<_>>());
    robust::quantile_of_sorted(&furthest, 0.95).unwrap_or(1.0).max(1.0)
}

fn widened(measured: &Measured, times: f64) -> Measured {
    let value = measured.value;
    Measured {
        low: value - times * (value - measured.low),
        high: value + times * (measured.high - value),
        ..*measured
    }
}

/// Local extremes away from the line, between its ends.
fn extremes(log_h: &[f64], values: &[Measured]) -> Vec<Extreme> {
    let of = |i: usize| values[i].value;
    let last = values.len() - 1;
    let is_extreme = |i: &usize| {
        let outwards = |j: usize| of(*i).abs() >= of(j).abs() || of(*i) * of(j) < 0.0;
        of(*i) != 0.0 && outwards(*i - 1) && outwards(*i + 1)
    };
    let mut found: Vec<Extreme> = Vec::new();
    for i in (1..last).filter(is_extreme) {
        // Level tops count once.
        let again = found.last().is_some_and(|before| {
            let (a, b) = (before.departure.value, of(i));
            a.to_bits() == b.to_bits()
        });
        if !again {
            found.push(Extreme { log_h: log_h[i], departure: values[i] });
        }
    }
    found
}

impl Departures {
    /// The same without what every resampling has: to be shown, not to be laid over another film's.
    #[must_use]
    pub fn without_draws(&self) -> Self {
        Self {
            log_h: self.log_h.clone(),
            values: self.values.clone(),
            extremes: self.extremes.clone(),
            together: self.together,
            draws: Arc::default(),
        }
    }

    /// Memory that the draws take, in bytes.
    #[must_use]
    pub fn bytes(&self) -> usize {
        self.draws.iter().map(|draws| size_of_val::<[f64]>(draws)).sum()
    }

    /// Departure and draws at a log exposure, linear between places; `None` off the line.
    fn at(&self, log_h: f64) -> Option<(Measured, Vec<f64>)> {
        let (first, last) = (*self.log_h.first()?, *self.log_h.last()?);
        if !(first..=last).contains(&log_h) {
            return None;
        }
        let steps = (self.log_h.len() - 1) as f64;
        let at = (log_h - first) / (last - first) * steps;
        let below = (at.floor() as usize).min(self.log_h.len() - 2);
        let share = at - below as f64;
        let between = |a: f64, b: f64| a + share * (b - a);
        let value = between(self.values[below].value, self.values[below + 1].value);
        let draws = self.draws.get(below)?.iter().zip(self.draws.get(below + 1)?);
        let draws: Vec<f64> = draws.map(|(a, b)| between(*a, *b)).collect();
        let measured = measured_by_draws(value, draws.iter().copied()).ok()?;
        Some((widened(&measured, self.together), draws))
    }
}

/// Where one film bows up and the other down, each beyond its uncertainty: for each stretch of opposed departures the place at
/// which they lie furthest apart. The candidate's log exposures plus `shift` are laid over the reference's.
#[must_use]
pub fn opposed(reference: &Departures, candidate: &Departures, shift: f64) -> Vec<Opposed> {
    let mut found: Vec<Opposed> = Vec::new();
    let mut stretch: Option<Opposed> = None;
    for (i, at) in reference.log_h.iter().enumerate() {
        let of_reference = widened(&reference.values[i], reference.together);
        let of_candidate = candidate.at(at - shift).filter(|(of_candidate, _)| {
            let sure = of_reference.excludes_zero() && of_candidate.excludes_zero();
            sure && of_candidate.value * of_reference.value < 0.0
        });
        let here = of_candidate.and_then(|(of_candidate, draws)| {
            let each = reference.draws.get(i)?.iter().zip(&draws).map(|(r, c)| c - r);
            let difference = measured_by_draws(of_candidate.value - of_reference.value, each).ok()?;
            let times = reference.together.max(candidate.together);
            Some(Opposed {
                reference_log_h: *at,
                candidate_log_h: at - shift,
                reference: of_reference,
                candidate: of_candidate,
                difference: widened(&difference, times),
            })
        });
        match (here, &mut stretch) {
            // One film crossing while the other does too begins a new stretch.
            (Some(here), Some(most)) if here.difference.value * most.difference.value > 0.0 => {
                if here.difference.value.abs() > most.difference.value.abs() {
                    *most = here;
                }
            }
            (here, stretch) => {
                found.extend(stretch.take());
                *stretch = here;
            }
        }
    }
    found.extend(stretch);
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::curve::{FitSettings, Reading, Readings, Sources, fit};
    use crate::figures::straight_line;
    use crate::measured::Flags;

    /// A line of slope 0.6 with a sine of one period upon it, small enough to pass for straight.
    fn waved(size: f64) -> (Curve, StraightLine) {
        let point = |i: u32| {
            let x = 0.15 * f64::from(i);
            let wave = size * libm::sin(core::f64::consts::TAU * x / 3.0);
            Reading {
                strip: 0,
                step: i + 1,
                log_h: x,
                log_h_u: 0.0,
                density: 0.3 + 0.6 * x + wave,
                density_u: 0.003,
                set_aside: false,
                flags: Flags::empty(),
            }
        };
        let readings = Readings {
            points: (0..21).map(point).collect(),
            absolute: true,
            log_h_shared_u: 0.0,
            sources: Sources::default(),
            base_fog: None,
            flags: Flags::empty(),
        };
        let curve = fit(readings, FitSettings { resamplings: 200, seed: 1 }).unwrap();
        let line = StraightLine { from: 0.0, to: 3.0, intercept: 0.3, gamma: 0.6 };
        (curve, line)
    }

    // Analytic: a sine against the line it was laid upon peaks a quarter of its period in and dips at three quarters.
    #[test]
    fn peaks_and_valleys_stand_where_the_wave_has_them() {
        let (curve, line) = waved(0.02);
        let found = departures(&curve, &line).unwrap();
        let inner: Vec<&Extreme> = found.extremes.iter().filter(|e| (0.3..2.7).contains(&e.log_h)).collect();
        assert_eq!(inner.len(), 2, "{:?}", found.extremes);
        assert!((inner[0].log_h - 0.75).abs() < 0.15 && (inner[0].departure.value - 0.02).abs() < 0.004);
        assert!((inner[1].log_h - 2.25).abs() < 0.15 && (inner[1].departure.value + 0.02).abs() < 0.004);
        assert!(inner.iter().all(|extreme| extreme.distinguishable()));
    }

    #[test]
    fn opposed_waves_are_found_by_place_and_like_ones_are_not() {
        let ((up, line), (down, _)) = (waved(0.02), waved(-0.02));
        let (up, down) = (departures(&up, &line).unwrap(), departures(&down, &line).unwrap());
        let found = opposed(&up, &down, 0.0);
        assert_eq!(found.len(), 2, "{found:?}");
        let (first, second) = (&found[0], &found[1]);
        assert!(first.reference.low > 0.0 && first.candidate.high < 0.0);
        assert!((first.reference_log_h - 0.75).abs() < 0.2);
        assert!(second.reference.high < 0.0 && second.candidate.low > 0.0);
        assert!((second.reference_log_h - 2.25).abs() < 0.2);
        assert!((first.difference.value + 0.04).abs() < 0.008);
        assert!(opposed(&up, &up, 0.0).is_empty());
    }

    #[test]
    fn a_line_within_its_errors_has_no_distinguishable_peak() {
        let (curve, _) = waved(0.0);
        let line = straight_line(&curve).unwrap();
        let found = departures(&curve, &line).unwrap();
        assert!(found.extremes.iter().all(|extreme| !extreme.distinguishable()), "{:?}", found.extremes);
    }
}
