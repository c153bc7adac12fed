use rand::{RngExt, SeedableRng};
use twinwedge_core::document::Channel;
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::grain::{
    GrainSettings, ScannerNoise, aperture_weights, expected_interval, granularity, left_by_blur, values_for,
};
use twinwedge_core::measured::Flags;
use twinwedge_core::scan::{Samples, Scan, ScanMeta, ToneSource, ToneTable};
use twinwedge_core::units::Micrometres;
use twinwedge_core::words;

use crate::check_values::check;

#[test]
fn area_of_the_aperture() {
    let check = check("grain.aperture_area");
    // On pixels of a quarter of a micrometre.
    let diameter = check.inputs("d_um")[0];
    let area = aperture_weights(diameter / 0.25).effective_area() * 0.25 * 0.25;
    check.holds(&[area, area.sqrt()]);
}

/// Formula 11.6, `p^2 (sum w)^2 / sum w^2`, straight from the weights, is the area of the circle at any pitch.
#[test]
fn effective_area_of_the_aperture() {
    let want = check("grain.aperture_area").expected["A_um2"].as_f64().unwrap();
    for pitch in [2.65, 4.0, 5.3, 6.35, 10.6, 16.0] {
        let disc = aperture_weights(48.0 / pitch);
        let reach = disc.reach() as isize;
        let row = |y| (-reach..=reach).map(move |x| (x, y));
        let weights = (-reach..=reach).flat_map(row).map(|(x, y)| disc.at(x, y));
        let (sum, squares) = weights.fold((0.0, 0.0), |(sum, squares), w| (sum + w, squares + w * w));
        let area = pitch * pitch * sum * sum / squares;
        assert!((area / want - 1.0).abs() < 1e-6, "{pitch}: {area}");
    }
}

/// Formula 11.6: independent grain behind a Gaussian blur, through the aperture.
#[test]
fn what_a_blur_leaves() {
    let check = check("grain.blur_loss");
    let (blur, aperture) = (check.inputs("blur_sigma_um")[0], check.inputs("aperture_um")[0]);
    check.holds(&[left_by_blur(Micrometres(blur), Micrometres(aperture))]);
}

/// Formula 18: values that an interval of that half-width takes.
#[test]
fn values_for_a_precision() {
    let check = check("stat.n_for_precision");
    let found: Vec<f64> = check.inputs("x").into_iter().map(values_for).collect();
    check.holds(&found);
}

/// Formula 18, `stat.chi2_ci`: an area that is worth 1000 independent apertures has their interval.
#[test]
fn an_area_comes_to_the_interval_of_its_apertures() {
    let settings = GrainSettings { pitch: Micrometres(4.0), aperture: Micrometres(48.0) };
    let of = |side: f64| {
        let area = Rect::between(Point::default(), Point::new(side, side));
        expected_interval(area, settings)
    };
    let worth = |side: &u32| of(f64::from(*side)).is_some_and(|found| found.apertures >= 1000.0);
    let found = of(f64::from((100..600).find(worth).unwrap())).unwrap();
    assert!((found.low - 0.9580).abs() < 2e-3 && (found.high - 1.0459).abs() < 2e-3, "{found:?}");
}

/// `grain.rms_number` (ISO 10505:2009): sigma 0.010 through the aperture is 10. The field is noise of two codes; its standard
/// deviation through the aperture is taken by its definition below, and the number must be a thousand times that.
#[test]
fn the_number_is_a_thousand_times_sigma() {
    let check = check("grain.rms_number");
    let side = 512_usize;
    let light: Vec<f64> = [1.05, 0.95].iter().map(|d| 10.0_f64.powf(-d)).collect();
    let mut all = vec![light[1]; 65_536];
    all[0] = light[0];
    let table = ToneTable {
        density: all.iter().map(|l| -l.log10()).collect(),
        density_u: vec![0.0; all.len()],
        errors: twinwedge_core::scan::ScaleErrors::default(),
        light: all,
        trusted: (0.0, 3.0),
        source: ToneSource::Calibration("exact".to_owned()),
        flags: Flags::empty(),
    };
    let mut rng = rand_pcg::Pcg64Mcg::seed_from_u64(5);
    let codes: Vec<u16> = (0..side * side).map(|_| u16::from(rng.random::<bool>())).collect();
    let direct = by_definition(side, |x, y| codes[y * side + x], &light);
    let scan = Scan {
        width: side,
        height: side,
        channels: 1,
        samples: Samples::U16(codes),
        meta: ScanMeta::default(),
    };
    let settings = GrainSettings { pitch: Micrometres(8.0), aperture: Micrometres(48.0) };
    let area = Rect::between(Point::default(), Point::new(side as f64, side as f64));
    let found = granularity(scan.plane(Channel::Green), &table, area, settings, &|| false).unwrap();
    let want = check.expected.as_f64().unwrap() / check.inputs("sigma_D")[0] * direct;
    // Apart from the surface's few degrees of freedom among thousands.
    assert!((found.rms.value / want - 1.0).abs() < 2e-3, "{} for {want}", found.rms.value);
}

/// Standard deviation by the definition, straight from the weights.
fn by_definition(side: usize, code: impl Fn(usize, usize) -> u16, light: &[f64]) -> f64 {
    let disc = aperture_weights(6.0);
    let reach = disc.reach();
    let mut densities = Vec::new();
    for y in reach..side - reach {
        for x in reach..side - reach {
            let mut sum = 0.0;
            for dy in 0..=2 * reach {
                for dx in 0..=2 * reach {
                    let weight = disc.at(dx as isize - reach as isize, dy as isize - reach as isize);
                    sum += weight * light[usize::from(code(x + dx - reach, y + dy - reach))];
                }
            }
            densities.push(-(sum / disc.sum()).log10());
        }
    }
    let mean = densities.iter().sum::<f64>() / densities.len() as f64;
    (densities.iter().map(|d| (d - mean).powi(2)).sum::<f64>() / densities.len() as f64).sqrt()
}

/// Formula 11.7 on a measured granularity: noise comes off in squares.
#[test]
fn noise_is_subtracted_in_squares() {
    let check = check("grain.noise_subtract");
    let (whole, noise) = (check.inputs("measured")[0], check.inputs("scanner")[0]);
    let scan = Scan {
        width: 256,
        height: 256,
        channels: 1,
        samples: Samples::U8((0..256 * 256).map(|k| (100 + (k * 7919 + k / 256 * 31) % 23) as u8).collect()),
        meta: ScanMeta::default(),
    };
    let settings = GrainSettings { pitch: Micrometres(8.0), aperture: Micrometres(48.0) };
    let area = Rect::between(Point::default(), Point::new(256.0, 256.0));
    let table = ToneTable::uncalibrated(&scan);
    let mut found = granularity(scan.plane(Channel::Green), &table, area, settings, &|| false).unwrap();
    // The measured value stands for the published one: only its ratio to the noise matters.
    let scale = found.rms.value / whole;
    let from = words::Noise::Blank.into();
    let taken = ScannerNoise { rms: noise * scale, u: 0.0, from, caution: None };
    found.take_off(taken).unwrap();
    check.holds(&[found.rms.value / scale]);
}
