//! The law of development and the influence of temperature: algebra of the published forms.

use twinwedge_core::development::kinetics::{self, Law, Model, Point};
use twinwedge_core::development::temperature;

use crate::check_values::check;

#[test]
fn gradients_over_time() {
    let check = check("kinetics.gamma");
    let got: Vec<f64> = check.inputs("t_min").iter().map(|t| kinetics::gradient(1.0, 0.1, *t)).collect();
    check.holds(&got);
}

#[test]
fn time_for_a_gradient() {
    let check = check("kinetics.time");
    let target = check.inputs["target"].as_f64().unwrap();
    check.holds(&[kinetics::time_for(1.0, 0.1, target).unwrap()]);
    assert_eq!(kinetics::time_for(1.0, 0.1, 1.0), None, "undefined at the limit");
    assert_eq!(kinetics::time_for(1.0, 0.1, 1.2), None, "and above it");
}

#[test]
fn rate_and_limit_from_two_times() {
    let check = check("kinetics.two_point");
    let [t, g1, g2] = ["t1", "g1", "g2"].map(|key| check.inputs[key].as_f64().unwrap());
    let (k, limit) = kinetics::two_point(t, g1, g2).unwrap();
    assert!((check.expected["k"].as_f64().unwrap() - k).abs() < check.tolerance);
    assert!((check.expected["gamma_inf"].as_f64().unwrap() - limit).abs() < check.tolerance);
    assert_eq!(kinetics::two_point(4.0, 0.3, 0.6), None, "no limit where the gradient doubles with time");
    // The fit to two rolls is the same law.
    let point = |minutes, gradient| Point { minutes, celsius: 20.0, gradient, u: 0.01 };
    let model = Model { induction: Some(0.0), coefficient: Some(2.5), reference_c: 20.0 };
    let fit = kinetics::fit(&[point(t, g1), point(2.0 * t, g2)], model).unwrap();
    assert!((fit.law.rate - k).abs() < 1e-6 && (fit.law.limit() - limit).abs() < 1e-6, "{fit:?}");
}

#[test]
fn temperature_by_both_forms() {
    let arrhenius = check("kinetics.arrhenius");
    arrhenius.holds(&[temperature::arrhenius_time_factor(60_000.0, 20.0, 24.0)]);
    let coefficient = check("kinetics.q10");
    coefficient.holds(&[temperature::coefficient_of_energy(60_000.0, 20.0)]);
    let power = check("kinetics.b_power");
    power.holds(&[temperature::coefficient_time_factor(2.5, 4.0)]);
    let law = Law { initial: 0.1, rate: 0.1, induction: 0.0, coefficient: 2.5, reference_c: 20.0 };
    let ratio = law.minutes(0.6, 24.0).unwrap() / law.minutes(0.6, 20.0).unwrap();
    power.holds(&[ratio]);
}
