use twinwedge_core::units::{Density, LogExposure, Stops};

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
    to_log.holds(&to_log.inputs("stops").iter().map(|s| Stops(*s).log_exposure().0).collect::<Vec<_>>());
    let from_log = check("stop.from_log");
    from_log.holds(&from_log.inputs("dlogH").iter().map(|d| LogExposure(*d).stops().0).collect::<Vec<_>>());
}
