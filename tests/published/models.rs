//! The model of few parameters on curves that are known in closed form.

use twinwedge_core::curve::{Curve, FitSettings, Reading, Readings, Shape, Sources, fit, model};
use twinwedge_core::measured::Flags;

use crate::check_values::check;

fn curve(log_h: &[f64], density: &[f64], u: f64) -> Curve {
    let point = |(i, (x, d)): (usize, (&f64, &f64))| Reading {
        strip: 0,
        step: i as u32 + 1,
        log_h: *x,
        log_h_u: 0.0,
        density: *d,
        density_u: u,
        set_aside: false,
        flags: Flags::empty(),
    };
    let readings = Readings {
        points: log_h.iter().zip(density).enumerate().map(point).collect(),
        absolute: true,
        log_h_shared_u: 0.0,
        sources: Sources::default(),
        base_fog: None,
        flags: Flags::empty(),
    };
    fit(readings, FitSettings { resamplings: 50, seed: 1 }).unwrap()
}

/// The table's fixture is the model itself without a shoulder: its four parameters come back, and no shoulder is found.
#[test]
fn the_fixtures_parameters_come_back() {
    let fixture = check("fixture.tablet21");
    let list = |value: &serde_json::Value| -> Vec<f64> {
        value.as_array().unwrap().iter().map(|number| number.as_f64().unwrap()).collect()
    };
    let (log_h, density) = (list(&fixture.expected["logH"]), list(&fixture.expected["D"]));
    let found = curve(&log_h, &density, 0.01).model.unwrap();
    assert_eq!(found.shape, Shape::Toe);
    let wanted = ["Dmin", "g", "x0", "m"].map(|key| fixture.inputs[key].as_f64().unwrap());
    for (parameter, wanted) in found.parameters.iter().zip(wanted) {
        assert!(
            (parameter.value - wanted).abs() < 1e-4,
            "{}: {} for {wanted}",
            parameter.name,
            parameter.value
        );
    }
    // Densities to eight digits.
    assert!(found.goodness.rms < 1e-6 && found.goodness.p.unwrap() > 0.999);
    let at = found.log_h_at(0.30).unwrap();
    // fixture.iso_curve: the speed point.
    let speed_point = check("fixture.iso_curve").expected["logHm"].as_f64().unwrap();
    assert!((at - speed_point).abs() < 1e-4, "{at} for {speed_point}");
}

/// A paper's logistic curve (P. F. Verhulst's) has both ends: the model finds toe and shoulder, both densities and the steepest
/// slope, and follows it as closely as a densitometer reads.
#[test]
fn a_logistic_curve_is_followed_with_toe_and_shoulder() {
    let log_h: Vec<f64> = (0..31).map(|i| -1.5 + 0.1 * f64::from(i)).collect();
    let density: Vec<f64> = log_h.iter().map(|x| model::logistic(0.05, 2.05, 2.5, 0.0, *x)).collect();
    let found = curve(&log_h, &density, 0.01).model.unwrap();
    assert_eq!(found.shape, Shape::Both);
    let value = |name: &str| found.parameters.iter().find(|parameter| parameter.name == name).unwrap().value;
    assert!((value("Dmin") - 0.05).abs() < 0.03, "{}", value("Dmin"));
    assert!((value("Dmin") + value("maximum net density") - 2.05).abs() < 0.03);
    assert!(found.goodness.rms < 0.01, "{}", found.goodness.rms);
    // Slope at the middle is the formula's gamma.
    assert!((found.gradient(0.0) - 2.5).abs() < 0.1, "{}", found.gradient(0.0));
}

/// What a straight line shows is a straight line.
#[test]
fn a_line_has_neither_toe_nor_shoulder() {
    let log_h: Vec<f64> = (0..15).map(|i| 0.15 * f64::from(i)).collect();
    let density: Vec<f64> = log_h.iter().map(|x| 0.3 + 0.62 * x).collect();
    let found = curve(&log_h, &density, 0.01).model.unwrap();
    assert_eq!(found.shape, Shape::Line);
    assert!((found.gradient(1.0) - 0.62).abs() < 1e-6 && (found.density(1.0) - 0.92).abs() < 1e-6);
    assert!(found.shape.lacks().contains("neither"));
}
