//! Tone curves, calibration and halving against published formulas and analytic truth.

use twinwedge_core::document::Encoding;
use twinwedge_core::measured::Flags;
use twinwedge_core::numeric::random::Stream;
use twinwedge_core::scan::{
    CalibrationPoint, Pyramid, Samples, Scan, ScanMeta, ToneTable, calibrate, srgb_to_linear,
};

use crate::check_values::check;

fn scan(samples: Samples, width: usize, channels: usize) -> Scan {
    let count = match &samples {
        Samples::U8(samples) => samples.len(),
        Samples::U16(samples) => samples.len(),
    };
    Scan { width, height: count / width / channels, channels, samples, meta: ScanMeta::default() }
}

#[test]
fn srgb_decoding() {
    let check = check("scan.srgb_decode");
    check.holds(&check.inputs("V").iter().map(|v| srgb_to_linear(*v)).collect::<Vec<_>>());
}

#[test]
fn power_law_decoding() {
    let check = check("scan.gamma22");
    let light = |v: &f64| Encoding::Power(2.2).light(*v).expect("a power law gives light");
    check.holds(&check.inputs("V").iter().map(light).collect::<Vec<_>>());
}

#[test]
fn densities_of_srgb_codes() {
    let check = check("scan.srgb_density");
    let table = ToneTable::uncalibrated(&scan(Samples::U8(vec![0]), 1, 1));
    check.holds(&check.inputs("code8").iter().map(|code| table.density[*code as usize]).collect::<Vec<_>>());
    assert_eq!(table.encoding().map(|(encoding, _)| encoding), Some(Encoding::Srgb));
    assert!(table.flags.contains(Flags::UNCALIBRATED | Flags::ENCODING_ASSUMED));
}

/// `scan.flare`: densities as they are measured through stray light, `-lg((T + f)/(1 + f))`, and what they are once its share
/// is taken off: true but for the full light that the veil also raised, `lg(1 + f)`.
#[test]
fn stray_light_is_taken_off_as_it_came_on() {
    let check = check("scan.flare");
    let veil = check.inputs("f")[0];
    let mut scan = scan(Samples::U16(vec![0]), 1, 1);
    scan.meta.square_root = true;
    let table = ToneTable::uncalibrated(&scan);
    let corrected = table.clone().without_stray(veil / (1.0 + veil), 0.0);
    let measured = check.expected.as_array().unwrap().iter().map(|v| v.as_f64().unwrap());
    for (density, measured) in check.inputs("D").iter().zip(measured) {
        let code = table.density.iter().position(|d| *d <= measured).unwrap();
        // Of a code's light at a density of 4 nine tenths are stray: a code is worth ten times as much there.
        let step = 2.0 * std::f64::consts::LOG10_E / code as f64 * 10_f64.powf(density - measured);
        let found = corrected.density[code];
        // No more than nine tenths of any light are taken off.
        let expected = (density + (1.0 + veil).log10()).min(measured + 1.0);
        assert!((found - expected).abs() < step + 1e-4, "{found} for {expected}");
    }
}

/// `scan.density_per_code`: of linear codes `lg e / c`; codes of the square root of light are worth twice as much.
#[test]
fn a_code_is_worth_so_much_density() {
    let check = check("scan.density_per_code");
    let mut scan = scan(Samples::U16(vec![0]), 1, 1);
    scan.meta.square_root = true;
    let table = ToneTable::uncalibrated(&scan);
    let per_code = |code: f64| {
        let code = code as usize;
        (table.density[code - 1] - table.density[code + 1]) / 4.0
    };
    let published = check.expected.as_array().unwrap().iter().map(|v| v.as_f64().unwrap());
    for (code, published) in check.inputs("c").iter().zip(published) {
        // Of second differences a share of 1 / (3 c^2) is left.
        assert!((per_code(*code) / published - 1.0).abs() < 1.0 / (code * code), "{code}");
    }
}

#[test]
fn float_files_are_linear() {
    let mut scan = scan(Samples::U16(vec![0]), 1, 1);
    scan.meta.square_root = true;
    let table = ToneTable::uncalibrated(&scan);
    // By definition of the square-root code: light 0.25 has code 32767.5.
    assert!((table.light[32_767] + table.light[32_768] - 0.5).abs() < 1e-8);
    assert_eq!(table.encoding().map(|(encoding, _)| encoding), Some(Encoding::Linear));
    assert_eq!(table.flags, Flags::UNCALIBRATED);
}

#[test]
fn a_profile_curve_that_turns_back_is_levelled() {
    let mut scan = scan(Samples::U8(vec![0]), 1, 1);
    let mut curve: Vec<f32> = (0..=255_u8).map(|code| f32::from(code) / 255.0).collect();
    curve[100] = 0.9;
    scan.meta.profile_curve = Some(curve);
    let table = ToneTable::uncalibrated(&scan);
    assert!(table.light.windows(2).all(|pair| pair[0] <= pair[1]));
    assert!(table.density.iter().all(|d| d.is_finite()));
}

/// Steps of a tablet of `count` steps of 0.15 from 0.05 as a scanner with the given law from light to code sees them.
fn tablet(count: u32, law: impl Fn(f64) -> f64) -> Vec<CalibrationPoint> {
    let step = |i: u32| {
        let density = 0.05 + 0.15 * f64::from(i);
        let code = law(10_f64.powf(-density));
        CalibrationPoint { step: i + 1, code, code_u: 1.0, density, density_u: 0.01, flags: Flags::empty() }
    };
    (0..count).map(step).collect()
}

#[test]
fn a_power_law_is_calibrated_exactly() {
    // Code = 65535 T^(1/2.2) is a straight line of density over lg code, which every smoother of this kind keeps.
    let fit = calibrate(&tablet(21, |t| 65_535.0 * t.powf(1.0 / 2.2)), 65_536, "test").expect("usable");
    for code in [4_000_usize, 10_000, 30_000, 60_000] {
        let truth = -2.2 * (code as f64 / 65_535.0).log10();
        assert!((fit.table.density[code] - truth).abs() < 1e-6, "{code}: {}", fit.table.density[code]);
    }
    assert!(fit.rms < 1e-4 && fit.notes.is_empty(), "{} {:?}", fit.rms, fit.notes);
    assert!((fit.table.trusted.0 - 0.05).abs() < 1e-4 && (fit.table.trusted.1 - 3.05).abs() < 1e-4);
}

#[test]
fn curved_laws_are_calibrated_between_the_steps() {
    // sRGB encoding (IEC 61966-2-1, inverse) with stray light of 0.0005 (formulas: flare).
    let law = |t: f64| {
        let v = (t + 0.0005) / 1.0005;
        let encoded = if v <= 0.003_130_8 { 12.92 * v } else { 1.055 * v.powf(1.0 / 2.4) - 0.055 };
        65_535.0 * encoded
    };
    // Linear codes over a dark level of 500, with the same stray light: the last steps differ by few codes.
    let dark = |t: f64| 500.0 + 60_000.0 * (t + 0.0005);
    let laws: [&dyn Fn(f64) -> f64; 2] = [&law, &dark];
    for law in laws {
        let fit = calibrate(&tablet(21, law), 65_536, "test").expect("usable");
        for tenth in 1..=30 {
            let density = f64::from(tenth) / 10.0;
            let code = law(10_f64.powf(-density));
            let got = fit.table.density[code.round() as usize];
            assert!((got - density).abs() < 0.004, "{density}: {got}");
        }
    }
}

#[test]
fn noisy_known_densities_are_smoothed_within_the_stated_uncertainty() {
    let (mut within, mut all) = (0, 0);
    for seed in 0..40 {
        let mut chance = Stream::new(seed, 1);
        let mut points = tablet(21, |t| 65_535.0 * t.powf(0.45));
        for point in &mut points {
            point.density += 0.01 * chance.normal();
        }
        let table = calibrate(&points, 65_536, "test").expect("usable").table;
        for tenth in 1..=29 {
            let density = f64::from(tenth) / 10.0;
            let code = (65_535.0 * 10_f64.powf(-density * 0.45)).round() as usize;
            all += 1;
            within += usize::from((table.density[code] - density).abs() <= 1.96 * table.density_u[code]);
        }
    }
    let share = f64::from(u32::try_from(within).unwrap()) / f64::from(all);
    // Smoothing trades a little bias for spread; 95 % is the aim, counted over 1160 correlated places.
    assert!(share > 0.88, "{share}");
}

#[test]
fn clipped_and_muddled_steps_are_left_out() {
    let mut points = tablet(21, |t| 65_535.0 * t.powf(0.45));
    points[0].code = 65_535.0;
    points[1].flags = Flags::CLIPPED;
    points[20].code = points[19].code + 0.5; // saturated: no darker than the step before
    let fit = calibrate(&points, 65_536, "test").expect("usable");
    let used: Vec<bool> = fit.residuals.iter().map(Option::is_some).collect();
    assert!(!used[0] && !used[1] && !used[20] && used[2..19].iter().all(|u| *u), "{used:?}");
    assert_eq!(fit.notes.len(), 3, "{:?}", fit.notes);
    assert!(fit.table.trusted.0 > 0.3, "no trust where the scan was clipped: {:?}", fit.table.trusted);
    // Past the trusted range the table stops instead of running on.
    assert!(fit.table.density[1] < fit.table.trusted.1 + 0.2);
}

#[test]
fn negative_scans_are_told() {
    let fit = calibrate(&tablet(11, |t| 60_000.0 - 50_000.0 * t.powf(0.45)), 65_536, "test").expect("usable");
    assert!(fit.notes.iter().any(|note| note.contains("negative scan")), "{:?}", fit.notes);
    assert!(!fit.table.rises_with_light());
}

#[test]
fn calibrations_that_cannot_be() {
    let few = calibrate(&tablet(3, |t| 65_535.0 * t), 65_536, "short").expect_err("three steps");
    assert!(few.cause.contains("3 usable steps"), "{few}");
    let mut muddled = tablet(11, |t| 65_535.0 * t.powf(0.45));
    for (i, place) in [5, 2, 8, 0, 10, 3, 7, 1, 9, 4, 6].into_iter().enumerate() {
        muddled[i].code = 60_000.0 - 5_000.0 * f64::from(place);
    }
    let muddled = calibrate(&muddled, 65_536, "muddled").expect_err("no order");
    assert!(muddled.cause.contains("do not follow"), "{muddled}");
}

#[test]
fn halving_averages_codes_or_light() {
    // 1024 x 512 checkerboard of two codes: every level is their mean.
    let (dark, bright) = (1000_u16, 50_000_u16);
    let board: Vec<u16> =
        (0..1024 * 512).map(|i| if (i + i / 1024) % 2 == 0 { dark } else { bright }).collect();
    let board = scan(Samples::U16(board), 1024, 1);
    let pyramid = Pyramid::build(&board, None, &|| false).expect("not stopped");
    let sizes: Vec<(usize, usize)> = pyramid.levels.iter().map(|level| (level.width, level.height)).collect();
    assert_eq!(sizes, [(512, 256), (256, 128)]);
    assert_eq!(pyramid.levels[0].samples, Samples::U16(vec![25_500; 512 * 256]));
    let table = ToneTable::uncalibrated(&board);
    let lit = Pyramid::build(&board, Some(&table.light), &|| false).expect("not stopped");
    let Samples::U16(lit) = &lit.levels[1].samples else { panic!("16 bits stay 16 bits") };
    let mean = (srgb_to_linear(1000.0 / 65_535.0) + srgb_to_linear(50_000.0 / 65_535.0)) / 2.0;
    let got = srgb_to_linear(f64::from(lit[777]) / 65_535.0);
    assert!((got / mean - 1.0).abs() < 2e-4, "{got} for {mean}");
}

#[test]
fn odd_edges_and_colours_are_halved() {
    // 515 x 3 RGB: each channel its own constant, the last column its own code.
    let mut rows = Vec::new();
    for i in 0..515 * 3 {
        rows.extend(if i % 515 == 514 { [90_u8, 91, 92] } else { [10, 20, 30] });
    }
    let pyramid = Pyramid::build(&scan(Samples::U8(rows), 515, 3), None, &|| false).expect("not stopped");
    let level = &pyramid.levels[0];
    assert_eq!((level.width, level.height), (258, 2));
    let Samples::U8(samples) = &level.samples else { panic!("8 bits stay 8 bits") };
    assert_eq!(samples[..3], [10, 20, 30]);
    assert_eq!(samples[257 * 3..258 * 3], [90, 91, 92]);
    assert_eq!(samples[samples.len() - 3..], [90, 91, 92]);
}

#[test]
fn halving_stops_when_told() {
    let large = scan(Samples::U16(vec![0; 1024 * 1024]), 1024, 1);
    assert!(Pyramid::build(&large, None, &|| true).is_none());
}
