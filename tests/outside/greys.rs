//! Colours of reflectances, daylights and Munsell values beside colour-science, non-negative least squares beside scipy.

use serde_json::json;
use twinwedge_core::greys::colour::lab;
use twinwedge_core::greys::light::daylight;
use twinwedge_core::greys::munsell;
use twinwedge_core::greys::spectrum::{Carries, Spectrum};
use twinwedge_core::numeric::nonnegative::{Quadratic, Workspace};
use twinwedge_core::numeric::random::Stream;
use twinwedge_core::spectra::density::DensityKind;

use crate::{close, numbers, peer};

#[test]
fn nonnegative_least_squares_are_scipys() {
    let mut stream = Stream::new(11, 0);
    let (mut matrices, mut rights) = (Vec::new(), Vec::new());
    for trial in 0..60 {
        let n = 2 + trial % 18;
        let rows: Vec<Vec<f64>> = (0..n + 4).map(|_| (0..n).map(|_| stream.normal()).collect()).collect();
        rights.push((0..n + 4).map(|_| stream.normal()).collect::<Vec<f64>>());
        matrices.push(rows);
    }
    let theirs = peer("nonnegative", &json!({ "matrices": matrices, "rights": rights }));
    let mut bounded = 0;
    for (trial, (rows, right)) in matrices.iter().zip(&rights).enumerate() {
        let n = rows[0].len();
        let gram = |i: usize, j: usize| rows.iter().map(|row| row[i] * row[j]).sum::<f64>();
        let matrix = (0..n * n).map(|place| gram(place / n, place % n)).collect();
        let side: Vec<f64> =
            (0..n).map(|i| rows.iter().zip(right).map(|(row, value)| row[i] * value).sum()).collect();
        let mut ours = Vec::new();
        Quadratic::new(n, matrix).unwrap().solve(&side, &[], &mut ours, &mut Workspace::default());
        bounded += ours.iter().filter(|value| **value <= 0.0).count();
        for (i, (ours, theirs)) in ours.iter().zip(numbers(&theirs["answers"][trial])).enumerate() {
            close(*ours, theirs, 1e-7 * (1.0 + theirs.abs()), &format!("trial {trial}, unknown {i}"));
        }
    }
    assert!(bounded > 100, "the bound is met in {bounded} places");
}

#[test]
fn colours_lights_and_values_are_those_of_colour_science() {
    let bump = |at: f64, width: f64, nm: f64| (-0.5 * ((nm - at) / width).powi(2)).exp();
    let reflectances: Vec<Vec<f64>> = (0..12)
        .map(|k| {
            let at = 400.0 + 27.0 * f64::from(k);
            (0..41).map(|i| 0.06 + 0.6 * bump(at, 45.0, 380.0 + 10.0 * f64::from(i))).collect()
        })
        .collect();
    let temperatures = [4_200.0, 5_003.0, 6_504.0, 9_300.0];
    let luminances = [2.0, 9.0, 18.0, 30.0, 59.0, 90.0];
    let theirs = peer(
        "colours",
        &json!({
            "reflectances": reflectances, "start": 380, "step": 10, "temperatures": temperatures, "luminances": luminances,
        }),
    );
    for (k, values) in reflectances.iter().enumerate() {
        let spectrum = Spectrum::regular(Carries::Reflectance, 380.0, 10.0, values.clone()).unwrap();
        let ours = lab(&spectrum).unwrap();
        let lab = numbers(&theirs["lab"][k]);
        // They interpolate to 1 nm, we sum by 10 nm.
        for (ours, theirs) in [ours.l, ours.a, ours.b].into_iter().zip(lab) {
            close(ours, theirs, 0.5, &format!("colour {k}"));
        }
    }
    for (k, kelvin) in temperatures.into_iter().enumerate() {
        let light = daylight(kelvin).unwrap();
        for (i, theirs) in numbers(&theirs["lights"][k]).into_iter().enumerate() {
            let nm = 400.0 + 10.0 * i as f64;
            close(light.at(nm).unwrap(), theirs, 0.01, &format!("daylight {kelvin} K at {nm} nm"));
        }
    }
    for (y, theirs) in luminances.into_iter().zip(numbers(&theirs["munsell"])) {
        close(munsell::value(y).unwrap(), theirs, 2e-3, &format!("Munsell value of {y} %"));
    }
}

/// Of filters with one smooth edge, read by 1, 5 and 10 nm; theirs by 1 nm. ISO 5-3 leaves 0.005 to how the sum is made.
#[test]
fn visual_densities_are_those_of_colour_science_and_numpy() {
    let mut stream = Stream::new(23, 0);
    let filters: Vec<[f64; 4]> = (0..40)
        .map(|_| {
            let even = |from: f64, to: f64, at: f64| from + (to - from) * at;
            let mut at = || stream.uniform();
            [even(400.0, 700.0, at()), even(8.0, 30.0, at()), even(0.0, -2.5, at()), even(0.0, -2.5, at())]
        })
        .collect();
    let through = |[edge, width, below, above]: [f64; 4], nm: f64| {
        let (below, above) = (10f64.powf(below), 10f64.powf(above));
        below + (above - below) / (1.0 + ((edge - nm) / width).exp())
    };
    let fine: Vec<Vec<f64>> = filters
        .iter()
        .map(|filter| (380..=780).map(|nm| through(*filter, f64::from(nm))).collect())
        .collect();
    let theirs = numbers(&peer("visual_densities", &json!({ "filters": fine, "start": 380 }))["densities"]);
    for (step, tolerance) in [(1_u32, 5e-4), (5, 1e-3), (10, 5e-3)] {
        for (filter, theirs) in filters.iter().zip(&theirs) {
            let values =
                (380..=780).step_by(step as usize).map(|nm| through(*filter, f64::from(nm))).collect();
            let sample = Spectrum::regular(Carries::Transmittance, 380.0, f64::from(step), values).unwrap();
            let ours = DensityKind::Visual.of(&sample).unwrap();
            close(ours, *theirs, tolerance, &format!("{filter:?} by {step} nm"));
        }
    }
}
