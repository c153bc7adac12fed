//! Two films scanned on one calibration: what its uncertain gradient does to both is common, and the interval of their ratio says
//! so.

use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;
use twinwedge_core::document::{Channel, Viewing};
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::grain::grain_ratio;
use twinwedge_core::grain::spectrum::spectrum;
use twinwedge_core::grain::viewer::{GradientSource, Side, viewed};
use twinwedge_core::measured::{Flags, Measured};
use twinwedge_core::scan::{CalibrationPoint, Scan, SharedError, ToneTable, calibrate};

use crate::grain::{field, measure_by, normal, scan_of};
use crate::spectrum::{no_noise, settings};

/// Standard uncertainty of the tablet's densities, and of the codes' means relative to them.
const TABLET_U: f64 = 0.012;
const CODE_U: f64 = 1e-3;
const PITCH: f64 = 8.0;
const SIDE: usize = 170;

/// The scanner as it is: a code by density, no straight line in any scale.
fn code(density: f64) -> f64 {
    300.0 + 60_000.0 * 10.0_f64.powf(-0.42 * density - 0.02 * density * density)
}

/// A calibration from a tablet of 21 steps whose stated densities are wrong by their stated uncertainty.
fn calibration(rng: &mut impl Rng) -> ToneTable {
    let points: Vec<CalibrationPoint> = (0..21)
        .map(|step| {
            let density = 0.05 + 0.15 * f64::from(step);
            let code = code(density);
            CalibrationPoint {
                step: step + 1,
                code: code * (1.0 + CODE_U * normal(rng)),
                code_u: code * CODE_U,
                density: density + TABLET_U * normal(rng),
                density_u: TABLET_U,
                flags: Flags::empty(),
            }
        })
        .collect();
    calibrate(&points, 65_536, "simulated").unwrap().table
}

/// A scan of independent grain of that standard deviation about a density.
fn film(rng: &mut impl Rng, density: f64, sigma: f64) -> Scan {
    let grain = field(rng, SIDE, SIDE, sigma, &[1.0]);
    scan_of(SIDE, grain.iter().map(|d| code(density + d - 1.0).round() as u16).collect())
}

/// The means of light of log-normal pixels fluctuate a little more than the densities (moments of the log-normal distribution).
fn excess(sigma: f64) -> f64 {
    let s = sigma * std::f64::consts::LN_10;
    (s * s).exp_m1().sqrt() / s
}

fn held(ratio: &Measured, truth: f64) -> bool {
    ratio.low <= truth && truth <= ratio.high
}

/// What one calibration gave.
struct Trial {
    /// For each pair of densities: whether the interval held the truth, whether it did with both films taken as independent, and
    /// its standard uncertainty over that of independent ones.
    pairs: [(bool, bool, f64); 3],
    /// The same of both spectra at one density, as an eye weighs them.
    seen: (bool, f64),
}

/// Both films have one density, one step of the tablet lies between them, or six.
const DENSITIES: [[f64; 2]; 3] = [[0.9, 0.9], [0.8, 0.95], [0.7, 1.6]];
const SIGMA: [f64; 2] = [0.030, 0.042];

fn trial(seed: u64, truth: f64) -> Trial {
    let mut rng = Pcg64Mcg::seed_from_u64(40_000 + seed);
    let table = calibration(&mut rng);
    let mut seen = (false, 0.0);
    let pairs = DENSITIES.map(|densities| {
        let scans = [0, 1].map(|k| film(&mut rng, densities[k], SIGMA[k]));
        let [reference, candidate] =
            scans.each_ref().map(|scan| measure_by(scan, &table, PITCH, 48.0).unwrap());
        let known = |gradients: [&SharedError; 2]| {
            let ratio = grain_ratio((&reference.rms, gradients[0]), (&candidate.rms, gradients[1]));
            *ratio.known().unwrap()
        };
        let nothing = SharedError::default();
        let (ratio, alone) = (known([&reference.gradient, &candidate.gradient]), known([&nothing, &nothing]));
        if densities[0].total_cmp(&densities[1]).is_eq() {
            seen = as_seen(&scans, &table, truth);
        }
        (held(&ratio, truth), held(&alone, truth), ratio.u / alone.u)
    });
    Trial { pairs, seen }
}

fn as_seen(scans: &[Scan; 2], table: &ToneTable, truth: f64) -> (bool, f64) {
    let both = scans.each_ref().map(|scan| {
        let all = Rect::between(Point::default(), Point::new(SIDE as f64, SIDE as f64));
        spectrum(scan.plane(Channel::Green), table, all, settings(PITCH), no_noise(), &|| false).unwrap()
    });
    let side = |spectrum| Side { label: "film", spectrum, gradient: 1.0, source: GradientSource::Tested };
    let ratio = viewed(&side(&both[0]), Some(&side(&both[1])), Viewing::default()).ratio.unwrap();
    let [first, second] = both.each_ref().map(|found| found.gradient.u());
    (held(&ratio, truth), ratio.u / (ratio.u.hypot(ratio.value * first.hypot(second))))
}

/// 510 pairs of films on 170 calibrations. Source of the truth: the standard deviations that went in. Chance leaves such a count
/// within 1 % of its expectation, one of 170 within 1.7 %.
#[test]
fn intervals_of_ratios_on_one_calibration_hold_the_truth() {
    let truth = SIGMA[1] * excess(SIGMA[1]) / (SIGMA[0] * excess(SIGMA[0]));
    let found: Vec<Trial> = (0..170).into_par_iter().map(|seed| trial(seed, truth)).collect();
    let count = found.len() as f64;
    let percent =
        |of: &dyn Fn(&Trial) -> bool| 100.0 * found.iter().filter(|trial| of(trial)).count() as f64 / count;
    let mean = |of: &dyn Fn(&Trial) -> f64| found.iter().map(of).sum::<f64>() / count;
    let mut all = 0.0;
    for (kind, densities) in DENSITIES.iter().enumerate() {
        let held = percent(&|trial| trial.pairs[kind].0);
        println!(
            "densities {densities:?}: held {held:.1} %, taken as independent {:.1} %; u {:.2} of that",
            percent(&|trial| trial.pairs[kind].1),
            mean(&|trial| trial.pairs[kind].2)
        );
        all += held / DENSITIES.len() as f64;
    }
    let seen = percent(&|trial| trial.seen.0);
    let narrower = mean(&|trial| trial.seen.1);
    println!("all: {all:.1} %; as seen: held {seen:.1} %, u {narrower:.2} of that of independent ones");
    assert!((93.0..=97.0).contains(&all), "{all} %");
    // At one density the calibration's error is gone, and with it the interval is shorter.
    assert!(mean(&|trial| trial.pairs[0].2) < 0.8);
    assert!(narrower < 0.85, "{narrower}");
    assert!((95.0 - 3.0 * 1.7..=95.0 + 3.0 * 1.7).contains(&seen), "{seen} %");
}
