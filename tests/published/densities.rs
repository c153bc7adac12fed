//! Densities of ISO 5-3 from spectra.

use twinwedge_core::spectra::density::{DensityKind, NoDensity};
use twinwedge_core::spectra::spectrum::{Carries, Spectrum};

use crate::check_values::check;

fn filter(from: f64, step: f64, rows: usize, through: impl Fn(f64) -> f64) -> Spectrum {
    let values = (0..rows).map(|row| through(from + step * row as f64)).collect();
    Spectrum::regular(Carries::Transmittance, from, step, values).unwrap()
}

fn close(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!((got - want).abs() <= tolerance, "{what}: {got} for {want}");
}

#[test]
fn visual_density_is_weighted_by_illuminant_a_and_the_eye() {
    let check = check("density.visual_spectral");
    let number = |key: &str| check.inputs[key].as_f64().unwrap();
    let (below, above) = (number("T_below_560"), number("T_from_560"));
    let step = |nm: f64| if nm < 560.0 { below } else { above };
    check.holds(&[DensityKind::Visual.of(&filter(380.0, number("step_nm"), 81, step)).unwrap()]);
    // The same filter by 10 nm: V and illuminant A of colour-science 0.4.7, summed by numpy.
    let by_ten = DensityKind::Visual.of(&filter(380.0, 10.0, 41, step)).unwrap();
    close(by_ten, 0.622_848, 2e-4, "by 10 nm");
}

/// By hand from the tables of ISO 5-3, of a filter that is open up to one wavelength and lets a tenth through beyond it.
#[test]
fn status_densities_are_weighted_by_their_tables() {
    let cases: [(DensityKind, f64, f64, f64); 6] = [
        (DensityKind::StatusABlue, 440.0, 4.0 + 65.92 + 100.0, 81.66 + 41.69 + 10.96 + 0.79 + 0.04),
        (
            DensityKind::StatusAGreen,
            530.0,
            0.04 + 6.64 + 60.53 + 100.0,
            80.54 + 44.06 + 16.63 + 4.06 + 0.58 + 0.04,
        ),
        (
            DensityKind::StatusARed,
            630.0,
            0.37 + 43.45 + 100.0 + 74.3,
            40.18 + 19.32 + 7.94 + 3.56 + 1.46 + 0.6 + 0.24 + 0.09 + 0.04 + 0.01 + 0.01,
        ),
        (
            DensityKind::StatusMBlue,
            450.0,
            0.13 + 12.91 + 42.85 + 74.3 + 100.0,
            90.16 + 55.34 + 22.03 + 5.53 + 0.98 + 0.07,
        ),
        (
            DensityKind::StatusMGreen,
            540.0,
            0.01 + 0.16 + 1.43 + 6.37 + 18.71 + 42.27 + 74.47 + 100.0,
            98.86 + 65.77 + 28.71 + 8.22 + 1.49 + 0.17 + 0.01,
        ),
        (
            DensityKind::StatusMRed,
            640.0,
            0.13 + 30.13 + 100.0,
            79.25 + 37.84 + 17.86 + 7.5 + 3.1 + 1.26 + 0.49 + 0.19 + 0.07 + 0.03 + 0.01,
        ),
    ];
    for (kind, last, open, beyond) in cases {
        let sample = filter(400.0, 10.0, 41, |nm| if nm <= last { 1.0 } else { 0.1 });
        let share: f64 = (open + 0.1 * beyond) / (open + beyond);
        let want = -share.log10();
        close(kind.of(&sample).unwrap(), want, 1e-9, kind.words());
    }
}

/// By definition: a neutral sample has one density, whatever the weights, the spacing of its rows and where they end.
#[test]
fn a_neutral_sample_has_one_density() {
    for (from, step, rows) in [(380.0, 1.0, 401), (380.0, 5.0, 81), (400.0, 10.0, 31), (400.0, 20.0, 16)] {
        for kind in DensityKind::ALL {
            let grey = filter(from, step, rows, |_| 10f64.powf(-1.23));
            close(kind.of(&grey).unwrap(), 1.23, 1e-12, kind.words());
        }
    }
}

#[test]
fn a_spectrum_that_does_not_reach_gives_no_density() {
    // Most of what the eye sees lies below 600 nm.
    let red = filter(600.0, 10.0, 15, |_| 0.5);
    let Err(NoDensity::Beyond { share }) = DensityKind::Visual.of(&red) else { panic!("no density is due") };
    assert!(share > 0.5, "{share}");
    let black = filter(380.0, 10.0, 41, |_| 0.0);
    assert_eq!(DensityKind::Visual.of(&black), Err(NoDensity::Dark));
}
