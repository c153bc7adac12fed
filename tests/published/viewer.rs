use twinwedge_core::document::Viewing;
use twinwedge_core::grain::viewer::{Csf, Eye, cycles_per_degree, weighted_sigma};

use crate::check_values::check;

#[test]
fn contrast_sensitivity_by_mannos_and_sakrison() {
    let check = check("csf.mannos_sakrison");
    let want = check.expected["A"].as_array().unwrap();
    for (frequency, want) in check.inputs("f_cpd").iter().zip(want) {
        let got = Csf::MannosSakrison.at(*frequency);
        assert!((got - want.as_f64().unwrap()).abs() < 1e-5, "{frequency}: {got} for {want}");
    }
    let (frequency, height) = Csf::MannosSakrison.peak();
    assert!((frequency - check.expected["peak_f"].as_f64().unwrap()).abs() < 0.01, "{frequency}");
    assert!((height - check.expected["peak"].as_f64().unwrap()).abs() < 1e-4, "{height}");
    let peak = crate::check_values::check("csf.mannos_sakrison_peak");
    assert!((frequency - peak.expected["peak_f"].as_f64().unwrap()).abs() < 0.2, "{frequency}");
    assert!((height - peak.expected["peak"].as_f64().unwrap()).abs() < 0.03, "{height}");
}

/// Barten's formula as the library colour-science has it, with its defaults: 20 cd/m², a pupil of 2.1 mm, a field of 60°.
#[test]
fn contrast_sensitivity_by_barten() {
    let check = check("csf.barten");
    let csf = Csf::Barten(Eye::with_pupil(20.0, 2.1));
    let got: Vec<f64> = check.inputs("u_cpd").iter().map(|f| csf.at(*f)).collect();
    check.holds(&got);
}

/// Sources: Barten (1999): the pupil grows as light falls, and sensitivity at high frequencies falls with it.
#[test]
fn less_light_is_less_sensitivity() {
    let (bright, dim) = (Eye::at(100.0), Eye::at(1.0));
    assert!(bright.pupil_mm < dim.pupil_mm && bright.trolands > dim.trolands);
    assert!(Csf::Barten(bright).at(10.0) > 1.5 * Csf::Barten(dim).at(10.0));
}

#[test]
fn frequencies_on_film_and_in_the_eye() {
    let check = check("csf.freq_conversion");
    let got =
        cycles_per_degree(check.inputs("f_film_c_mm")[0], check.inputs("m")[0], check.inputs("d_mm")[0]);
    check.holds(&[got]);
}

#[test]
fn white_grain_through_the_eye() {
    let check = check("csf.weighted_grain");
    let power = check.inputs("NPS_um2")[0];
    let cases = check.inputs["cases"].as_array().unwrap();
    let sigma = |case: &serde_json::Value| {
        let viewing = Viewing {
            enlargement: case["m"].as_f64().unwrap(),
            distance_mm: case["d_mm"].as_f64().unwrap(),
            ..Viewing::default()
        };
        weighted_sigma(|_| power, &viewing, &Csf::MannosSakrison)
    };
    check.holds(&cases.iter().map(sigma).collect::<Vec<f64>>());
}
