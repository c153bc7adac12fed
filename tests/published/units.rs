use twinwedge_core::document::Tablet;
use twinwedge_core::units::{Density, Stops};

use crate::check_values::check;

#[test]
fn densities_of_transmittances() {
    let check = check("density.from_transmittance");
    let got: Vec<f64> = check.inputs("T").iter().map(|t| Density::from_light(*t).0).collect();
    check.holds(&got);
}

#[test]
fn stops_and_log_exposures() {
    let to_log = check("stop.log10");
    to_log.holds(&to_log.inputs("stops").iter().map(|s| Stops(*s).log_exposure()).collect::<Vec<_>>());
    let from_log = check("stop.from_log");
    from_log
        .holds(&from_log.inputs("dlogH").iter().map(|d| Stops::from_log_exposure(*d).0).collect::<Vec<_>>());
}

#[test]
fn densities_of_reflectors() {
    for id in ["density.grey18", "density.white90"] {
        let reflector = check(id);
        reflector.holds(&[Density::from_light(reflector.inputs["R"].as_f64().unwrap()).0]);
    }
    let stops = check("density.white90_minus_grey18_stops");
    let density = |key: &str| Density::from_light(stops.inputs[key].as_f64().unwrap()).0;
    stops.holds(&[Stops::from_log_exposure(density("R2") - density("R1")).0]);
}

#[test]
fn nominal_tablets() {
    for id in ["tablet.11x0.30", "tablet.21x0.15", "tablet.31x0.10", "tablet.41x0.05"] {
        let tablet = check(id);
        let nominal = Tablet::nominal(tablet.inputs["steps"].as_u64().unwrap() as u32).unwrap();
        let (first, last) = (nominal.steps[0].density, nominal.steps[nominal.steps.len() - 1].density);
        assert!((first - tablet.inputs["first"].as_f64().unwrap()).abs() < 1e-12);
        tablet.holds(&[last, last - first, Stops::from_log_exposure(last - first).0]);
    }
}
