//! Curves laid over each other, against films whose places are known: a straight line from the first step on.

use super::*;
use crate::curve::{Curve, FitSettings, Reading, Readings, Sources, fit};
use crate::figures::{FigureId, Figures, StraightLine};
use crate::measured::{Flags, Measured, Value};
use crate::units::STOP;

const GAMMA: f64 = 0.6;

/// D = 0.2 + 0.6 (x - from) exactly, 21 steps of 0.15; so 0.10 above 0.2 lies at `from` + 1/6.
pub(super) fn line_from(from: f64) -> (Curve, Figures, StraightLine) {
    let point = |i: u32| {
        let log_h = from + 0.15 * f64::from(i);
        let density = 0.2 + GAMMA * (log_h - from);
        let flags = Flags::empty();
        Reading {
            strip: 0,
            step: i + 1,
            log_h,
            log_h_u: 0.0,
            density,
            density_u: 0.01,
            set_aside: i == 7,
            flags,
        }
    };
    let points = (0..21).map(point).collect();
    let readings = Readings {
        points,
        absolute: true,
        log_h_shared_u: 0.0,
        sources: Sources::default(),
        base_fog: Some((0.2, 0.0)),
        flags: Flags::empty(),
    };
    let curve = fit(readings, FitSettings { resamplings: 50, seed: 1 }).unwrap();
    let known = |value| Value::Known(Measured::normal(value, 0.01));
    let figures =
        Figures::from([(FigureId::BaseFog, known(0.2)), (FigureId::SpeedPoint, known(from + 0.1 / GAMMA))]);
    let straight = StraightLine { from, to: from + 3.0, intercept: 0.2 - GAMMA * from, gamma: GAMMA };
    (curve, figures, straight)
}

pub(super) fn of<'a>(label: &'a str, role: Role, film: &'a (Curve, Figures, StraightLine)) -> FilmCurve<'a> {
    FilmCurve { label, role, curve: &film.0, figures: &film.1, straight: Some(&film.2), departures: None }
}

fn line_named<'a>(plot: &'a Plot, wanted: &str) -> &'a [[f64; 2]] {
    plot.layers
        .iter()
        .find_map(|layer| match layer {
            Layer::Line { name, points, .. } if name == wanted => Some(points.as_slice()),
            _ => None,
        })
        .unwrap()
}

#[test]
fn speed_points_are_laid_over_each_other() {
    let (tern, plover) = (line_from(-2.0), line_from(-2.6));
    // The reference leads wherever it stands in the list.
    let films = [of("Plover", Role::Candidate, &plover), of("Tern", Role::Reference, &tern)];
    for alignment in [Alignment::SpeedPoint, Alignment::NetDensity(0.5)] {
        let plots = curve_plots(&films, alignment, ExposureAxis::LogH, LowerPlot::Gradient);
        assert!((plots.shifts[0] - 0.6).abs() < 1e-6 && plots.shifts[1].abs() < 1e-12, "{:?}", plots.shifts);
        assert!(plots.notes.is_empty());
        // Laid over each other the two are one line.
        let first = line_named(&plots.upper, "Plover")[0];
        assert!((first[0] + 2.0).abs() < 1e-6 && (first[1] - 0.2).abs() < 1e-3, "{first:?}");
    }
    let exposed = curve_plots(&films, Alignment::AsExposed, ExposureAxis::LogH, LowerPlot::Gradient);
    assert_eq!(exposed.shifts, [0.0, 0.0]);
}

#[test]
fn a_film_without_the_point_stays_and_says_so() {
    let (tern, mut plover) = (line_from(-2.0), line_from(-2.6));
    plover.1.insert(FigureId::SpeedPoint, Value::Undefined("The toe was not reached.".into()));
    let films = [of("Tern", Role::Reference, &tern), of("Plover", Role::Candidate, &plover)];
    let plots = curve_plots(&films, Alignment::SpeedPoint, ExposureAxis::LogH, LowerPlot::Gradient);
    assert_eq!(plots.shifts, [0.0, 0.0]);
    assert_eq!(plots.notes, ["Plover stays as exposed. The toe was not reached."]);
}

#[test]
fn stops_keep_a_gradient_of_one_at_45_degrees() {
    let tern = line_from(-2.0);
    let films = [of("Tern", Role::Reference, &tern)];
    let log = curve_plots(&films, Alignment::AsExposed, ExposureAxis::LogH, LowerPlot::Gradient);
    let stops = curve_plots(&films, Alignment::AsExposed, ExposureAxis::Stops, LowerPlot::Gradient);
    assert_eq!((log.upper.x_per_y, stops.upper.x_per_y), (Some(1.0), Some(STOP)));
    for (a, b) in line_named(&log.upper, "Tern").iter().zip(line_named(&stops.upper, "Tern")) {
        assert!((a[0] - b[0] * STOP).abs() < 1e-12 && (a[1] - b[1]).abs() < 1e-12);
    }
    assert_eq!((log.upper.x.major, stops.upper.x.major), (0.3, 1.0));
}

#[test]
fn lower_plots_show_gradient_and_departure() {
    let tern = line_from(-2.0);
    let films = [of("Tern", Role::Reference, &tern)];
    let gradient = curve_plots(&films, Alignment::AsExposed, ExposureAxis::Stops, LowerPlot::Gradient).lower;
    // A gradient is per log H whatever runs along the axis.
    assert!(line_named(&gradient, "Tern").iter().all(|point| (point[1] - GAMMA).abs() < 0.01));
    let departure = curve_plots(&films, Alignment::AsExposed, ExposureAxis::LogH, LowerPlot::Departure).lower;
    assert!(line_named(&departure, "Tern").iter().all(|point| point[1].abs() < 0.005));
}

#[test]
fn the_pointer_reads_every_film_at_its_own_exposure() {
    let (tern, plover) = (line_from(-2.0), line_from(-2.6));
    let films = [of("Tern", Role::Reference, &tern), of("Plover", Role::Candidate, &plover)];
    let read = readout(&films, &[0.0, 0.6], ExposureAxis::Stops, -1.0 / STOP);
    assert!((read[0].log_h + 1.0).abs() < 1e-12 && (read[1].log_h + 1.6).abs() < 1e-12);
    for film in &read {
        // 0.2 + 0.6 * 1.0
        assert!((film.density.unwrap().number() - 0.8).abs() < 1e-3);
        assert!((film.gradient.unwrap().number() - GAMMA).abs() < 0.01);
        assert!(film.departure.unwrap().abs() < 1e-3);
    }
    let outside = &readout(&films, &[0.0, 0.0], ExposureAxis::LogH, -2.5)[0];
    assert!(outside.density.is_none() && outside.gradient.is_none() && outside.departure.is_none());
}

#[test]
fn films_beyond_two_are_lines_alone_and_lie_beneath() {
    let (tern, plover) = (line_from(-2.0), line_from(-2.6));
    let films = [of("Tern", Role::Reference, &tern), of("Plover", Role::Other, &plover)];
    let plot = curve_plots(&films, Alignment::AsExposed, ExposureAxis::LogH, LowerPlot::Gradient).upper;
    let of_other = plot.layers.iter().filter(|layer| {
        matches!(
            layer,
            Layer::Line { role: Role::Other, .. }
                | Layer::Band { role: Role::Other, .. }
                | Layer::Marks { role: Role::Other, .. }
                | Layer::Note { role: Role::Other, .. }
        )
    });
    assert_eq!(of_other.count(), 1);
    let names: Vec<&str> = plot
        .layers
        .iter()
        .filter_map(|layer| match layer {
            Layer::Line { name, .. } => Some(name.as_str()),
            _ => None,
        })
        .collect();
    assert_eq!(names, ["Plover", "Tern"]);
    let set_aside = plot.layers.iter().find_map(|layer| match layer {
        Layer::Marks { points, set_aside: true, .. } => Some(points.len()),
        _ => None,
    });
    assert_eq!(set_aside, Some(1));
}

/// IEC 61966-2-1:1999 both ways: the grey of a density, turned back into light, is that density within half a code.
#[test]
fn the_ladder_shows_its_densities() {
    for step in grey_ladder() {
        let light = crate::scan::srgb_to_linear(f64::from(step.code) / 255.0);
        let wanted = crate::units::Density(step.density).light();
        let half = crate::scan::srgb_to_linear((f64::from(step.code) + 0.5) / 255.0) - light;
        assert!((light - wanted).abs() <= half * 1.05, "{step:?}: {light} against {wanted}");
    }
}
