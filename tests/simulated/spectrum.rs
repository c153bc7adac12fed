//! Noise power spectra of fields whose spectrum is known in closed form.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use twinwedge_core::document::{Channel, Viewing};
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::grain::spectrum::{Noise, Spectrum, SpectrumSettings, spectrum};
use twinwedge_core::grain::viewer::{Csf, GradientSource, Side, viewed, weighted_sigma};
use twinwedge_core::grain::{GrainSettings, granularity};
use twinwedge_core::measured::{Flags, Measured, Value};
use twinwedge_core::problem::Problem;
use twinwedge_core::scan::{NoiseModel, NoisePoint, NoiseSource, Scan, ToneTable};
use twinwedge_core::units::Micrometres;
use twinwedge_core::words::Sentence;

use crate::grain::{CODES, Emulsion, even_table, field, gaussian, normal, scan, scan_of, table};

pub(crate) fn no_noise() -> Result<Noise<'static>, Sentence> {
    Err("There is no scanner.".into())
}

fn by(scan: &Scan, table: &ToneTable, settings: SpectrumSettings) -> Result<Spectrum, Problem> {
    let all = Rect::between(Point::default(), Point::new(scan.width as f64, scan.height as f64));
    spectrum(scan.plane(Channel::Green), table, all, settings, no_noise(), &|| false)
}

pub(crate) fn settings(pitch: f64) -> SpectrumSettings {
    SpectrumSettings { pitch: Micrometres(pitch), block: None, quick: false }
}

fn measure(width: usize, densities: &[f64], pitch: f64) -> Spectrum {
    by(&scan(width, densities), &even_table(), settings(pitch)).unwrap_or_else(|problem| panic!("{problem}"))
}

/// Power transfer of a separable blur along one axis, at a frequency in cycles per pixel: its weights' transform squared.
pub(crate) fn transfer(blur: &[f64], frequency: f64) -> f64 {
    let middle = (blur.len() / 2) as f64;
    let sum: f64 = blur
        .iter()
        .enumerate()
        .map(|(k, w)| w * (std::f64::consts::TAU * frequency * (k as f64 - middle)).cos())
        .sum();
    sum * sum
}

fn standard(found: &Measured, want: f64) -> f64 {
    (found.value - want) / found.u
}

/// Formula 11.8, `grain.nps_white`: sigma 0.05 on pixels of 2 µm is 0.01 µm² at all frequencies and sums to 0.0025; here with
/// the relative light of normal densities, whose variance is `lg²e (exp(s²) - 1)`, s = sigma ln 10 (log-normal moments).
#[test]
fn white_noise_is_flat() {
    let mut rng = Pcg64Mcg::seed_from_u64(1);
    let densities = field(&mut rng, 900, 800, 0.05, &[1.0]);
    let found = measure(900, &densities, 2.0);
    let s = 0.05 * std::f64::consts::LN_10;
    let want = 0.01 * (s * s).exp_m1() / (s * s);
    println!("zero {:?}, variance {:?}", found.zero, found.variance);
    assert!((want / 0.01 - 1.0).abs() < 0.01, "the published value within 1 %");
    assert!(standard(&found.zero, want).abs() < 3.0);
    assert!(found.zero.u / want < 0.05);
    assert!((found.variance.0 / (want / 4.0) - 1.0).abs() < 0.01, "{:?}", found.variance);
    assert!((found.variance.1 / found.variance.0 - 1.0).abs() < 0.01, "{:?}", found.variance);
    // Rings of several hundred cells: their departures are as large as stated.
    let z: Vec<f64> = found.radial.iter().map(|bin| standard(&bin.power, want)).collect();
    let square = z.iter().map(|z| z * z).sum::<f64>() / z.len() as f64;
    assert!((0.6..1.5).contains(&square), "{square}");
    assert!(
        found.direction.lines.is_empty() && found.direction.streaks.is_empty() && !found.direction.directed
    );
    match found.autocorrelation.length {
        Value::Known(length) => assert!(length.flags.contains(Flags::UPPER_BOUND) && length.value <= 2.0),
        Value::Undefined(why) => panic!("{why}"),
    }
    assert!((found.highest() - 250.0).abs() < 1e-9, "half a cycle in 2 µm");
    let last = found.radial.last().unwrap();
    assert!((last.pixel - 0.405).abs() < 0.005, "sinc² at the highest frequency is (2/pi)²: {}", last.pixel);
}

/// Independent pixels blurred by a Gaussian of 2 pixels: the spectrum is the blur's transfer squared, the autocorrelation
/// `exp(-h² / (4 s²))`, its length 2 s, its spectrum at zero sigma² times the area of the correlation, 4 pi s².
#[test]
fn blurred_noise_has_the_blurs_spectrum_and_correlation() {
    let mut rng = Pcg64Mcg::seed_from_u64(2);
    let (pitch, sigma, blur) = (4.0, 0.1, gaussian(2.0));
    let densities = field(&mut rng, 1200, 1100, sigma, &blur);
    let found = measure(1200, &densities, pitch);
    let power = |x: f64, y: f64| sigma * sigma * pitch * pitch * transfer(&blur, x) * transfer(&blur, y);
    println!("zero {:?} for {}", found.zero, power(0.0, 0.0));
    assert!(standard(&found.zero, power(0.0, 0.0)).abs() < 3.0);
    for bin in found.radial.iter().filter(|bin| bin.frequency < 45.0) {
        let f = bin.frequency * pitch / 1000.0;
        let (a, b) = (power(f, 0.0), power(f / 2.0_f64.sqrt(), f / 2.0_f64.sqrt()));
        let want = 0.5 * (a + b);
        assert!(
            (bin.power.value / want - 1.0).abs() < 0.04 + 4.0 * bin.power.u / want,
            "{}: {:?} for {want}",
            bin.frequency,
            bin.power
        );
    }
    for lag in found.autocorrelation.lags.iter().filter(|lag| lag.distance < 28.0) {
        let want = (-lag.distance * lag.distance / (4.0 * 64.0)).exp();
        assert!((lag.value - want).abs() < 4.0 * lag.u + 0.012, "{lag:?} for {want}");
    }
    match found.autocorrelation.length {
        Value::Known(length) => {
            println!("correlation length {length:?}");
            assert!((length.value - 16.0).abs() < 3.0 * length.u + 0.1, "{length:?}");
        }
        Value::Undefined(why) => panic!("{why}"),
    }
    assert!((found.variance.1 / found.variance.0 - 1.0).abs() < 0.02, "{:?}", found.variance);
}

/// The spectrum through a disc of 48 µm against granularity as it is measured through one, on the same field: two ways to one
/// number (formula 11.6).
#[test]
fn the_spectrum_through_an_aperture_is_the_granularity() {
    let mut rng = Pcg64Mcg::seed_from_u64(3);
    for blur in [vec![1.0], gaussian(1.5)] {
        let densities = field(&mut rng, 800, 800, 0.08, &blur);
        let scan = scan(800, &densities);
        let all = Rect::between(Point::default(), Point::new(800.0, 800.0));
        let by_aperture = granularity(
            scan.plane(Channel::Green),
            &even_table(),
            all,
            GrainSettings { pitch: Micrometres(4.0), aperture: Micrometres(48.0) },
            &|| false,
        )
        .unwrap();
        let through = measure(800, &densities, 4.0).rms_through(Micrometres(48.0));
        println!("{:?} {:?}", by_aperture.rms, through);
        assert!((through.value / by_aperture.rms.value - 1.0).abs() < 0.03);
    }
}

/// Formulas 11.4 and 11.5: discs of 3.24 µm² at density 1. Densities that add give `lg e D a`, opaque discs 1.89129 times that.
#[test]
fn random_discs_follow_siedentopf_and_the_boolean_model() {
    let mut rng = Pcg64Mcg::seed_from_u64(4);
    let siedentopf = std::f64::consts::LOG10_E * 3.24;
    let light: Vec<f64> = (0..CODES).map(|code| (code as f64 / (CODES - 1) as f64).max(1e-4)).collect();
    let (linear, even) = (table(light), even_table());
    let (mut additive, mut opaque, fields) = (0.0, 0.0, 4);
    for _ in 0..fields {
        let emulsion = Emulsion::new(&mut rng, 600, 1.0);
        // Each layer a hundredth as dense, so that light stays in proportion to density; scaled back below.
        let thin = emulsion.pixels(|layers| 0.5 + 0.01 * f64::from(layers) / std::f64::consts::LN_10);
        let found = by(&scan(600, &thin), &even, settings(1.0)).unwrap();
        additive += found.zero.value * 1e4 / f64::from(fields);
        let light = emulsion.pixels(|layers| if layers == 0 { 1.0 } else { 0.0 });
        let codes = light.iter().map(|l| (l * (CODES - 1) as f64).round() as u16).collect();
        let found = by(&scan_of(600, codes), &linear, settings(1.0)).unwrap();
        opaque += found.zero.value / f64::from(fields);
        println!("{:?} {:?}", found.zero, found.notes);
    }
    println!(
        "additive {additive:.4} for {siedentopf:.4}, opaque {opaque:.4} for {:.4}",
        1.891_29 * siedentopf
    );
    assert!((additive / siedentopf - 1.0).abs() < 0.03);
    assert!((opaque / (1.891_29 * siedentopf) - 1.0).abs() < 0.03);
}

/// 95 % intervals of the value at zero, of a ring and of a weighted sum hold the truth in 93 to 97 % of 500 small fields. With
/// 500 fields the count itself has a standard deviation of 1 %.
#[test]
fn the_intervals_cover() {
    let (side, pitch, fields) = (176, 5.0, 500);
    for (case, blur) in [vec![1.0], gaussian(1.2)].into_iter().enumerate() {
        let sigma = if case == 0 { 0.03 } else { 0.08 };
        let mut rng = Pcg64Mcg::seed_from_u64(70 + case as u64);
        let power = |x: f64, y: f64| sigma * sigma * pitch * pitch * transfer(&blur, x) * transfer(&blur, y);
        // The mean over the cells of a ring, and an integral, from the closed form on the transform's own cells.
        let (block, ring) = (64_i32, 12.0_f64);
        let cells = || {
            (-block / 2..block / 2)
                .flat_map(move |y| (-block / 2..block / 2).map(move |x| (f64::from(x), f64::from(y))))
        };
        let of_ring: Vec<f64> = cells()
            .filter(|(x, y)| (x.hypot(*y).round() - ring).abs() < 0.5)
            .map(|(x, y)| power(x / f64::from(block), y / f64::from(block)))
            .collect();
        let of_ring = of_ring.iter().sum::<f64>() / of_ring.len() as f64;
        let weight = |f: f64| (-(f / 15.0) * (f / 15.0)).exp();
        let step = 0.002;
        let weighted: f64 = (-250..250)
            .flat_map(|y| (-250..250).map(move |x| (f64::from(x) * step, f64::from(y) * step)))
            .map(|(x, y)| power(x, y) * weight(x.hypot(y) / pitch * 1000.0) * (step / pitch).powi(2))
            .sum();
        let truths = [power(0.0, 0.0), of_ring, weighted];
        let (mut held, mut sums) = ([0_u32; 3], [0.0; 3]);
        let table = even_table();
        for _ in 0..fields {
            let densities = field(&mut rng, side, side, sigma, &blur);
            let found = by(&scan(side, &densities), &table, settings(pitch)).unwrap();
            assert_eq!(found.blocks.side, 64);
            let measured = [found.zero, found.radial[10].power, found.weighted(weight)];
            for (k, (measured, truth)) in measured.iter().zip(truths).enumerate() {
                held[k] += u32::from(measured.low <= truth && truth <= measured.high);
                sums[k] += measured.value / truth / f64::from(fields);
            }
        }
        let shares = held.map(|held| 100.0 * f64::from(held) / f64::from(fields));
        println!("blur {}: held {shares:?} %, means {sums:?}", blur.len());
        for (share, mean) in shares.into_iter().zip(sums) {
            assert!((93.0 - 1.0..=97.0 + 1.0).contains(&share), "case {case}: {share} %");
            assert!((mean - 1.0).abs() < 0.03, "case {case}: {mean}");
        }
    }
}

/// A sinusoid of known amplitude is found at its frequency and direction: its standard deviation is the amplitude over root 2.
#[test]
fn added_lines_are_flagged_where_they_are() {
    let mut rng = Pcg64Mcg::seed_from_u64(5);
    let (side, pitch) = (640, 5.0);
    for (frequency, degrees, amplitude) in
        [(20.0, 90.0, 0.012), (9.3, 0.0, 0.01), (33.0, 35.0, 0.012), (61.0, 120.0, 0.012)]
    {
        let mut densities = field(&mut rng, side, side, 0.12, &gaussian(1.0));
        let angle = f64::to_radians(degrees);
        for (k, density) in densities.iter_mut().enumerate() {
            let along = (k % side) as f64 * angle.cos() + (k / side) as f64 * angle.sin();
            *density += amplitude * (std::f64::consts::TAU * frequency / 1000.0 * pitch * along + 0.7).cos();
        }
        let found = measure(side, &densities, pitch);
        let lines = &found.direction.lines;
        println!("{frequency} at {degrees}: {lines:?}");
        assert_eq!(lines.len(), 1, "{lines:?}");
        assert!((lines[0].frequency - frequency).abs() < 0.1, "{lines:?}");
        let turned = (lines[0].degrees - degrees + 90.0).rem_euclid(180.0) - 90.0;
        assert!(turned.abs() < 2.0, "{lines:?}");
        assert!((lines[0].rms / (amplitude / 2.0_f64.sqrt()) - 1.0).abs() < 0.12, "{lines:?}");
        assert!(found.notes.iter().any(|note| note.code() == "Spectrum.Lines"), "{:?}", found.notes);
        // The radial spectrum is that of the grain alone.
        let s = 0.12 * pitch;
        assert!((found.zero.value / (s * s) - 1.0).abs() < 0.15, "{:?}", found.zero);
    }
}

/// Rows whose level differs at random are streaks along the rows; their share of the variance is what was added.
#[test]
fn rows_of_different_level_are_streaks() {
    let mut rng = Pcg64Mcg::seed_from_u64(6);
    let side = 640;
    let mut densities = field(&mut rng, side, side, 0.06, &[1.0]);
    let levels: Vec<f64> = (0..side).map(|_| 0.012 * normal(&mut rng)).collect();
    for (k, density) in densities.iter_mut().enumerate() {
        *density += levels[k / side];
    }
    let found = measure(side, &densities, 5.0);
    let streaks = &found.direction.streaks;
    println!("{streaks:?}");
    assert!(streaks.len() == 1 && !streaks[0].upright, "{streaks:?}");
    let want = 0.012 * 0.012 / (0.012 * 0.012 + 0.06 * 0.06);
    assert!((streaks[0].share / want - 1.0).abs() < 0.25, "{streaks:?} for {want}");
    assert!((found.zero.value / (0.06 * 5.0_f64).powi(2) - 1.0).abs() < 0.15, "{:?}", found.zero);
}

/// A blur twice as wide along the columns as along the rows: more power towards the rows' direction.
#[test]
fn blur_of_one_direction_is_told() {
    let mut rng = Pcg64Mcg::seed_from_u64(7);
    let side = 640;
    let plain = field(&mut rng, side, side + 4, 0.06, &[1.0]);
    let densities: Vec<f64> =
        (0..side * side).map(|k| (0..5).map(|d| plain[k + d * side]).sum::<f64>() / 5.0).collect();
    let found = measure(side, &densities, 5.0);
    println!("{:?} {}", found.direction.anisotropy, found.direction.towards);
    assert!(found.direction.directed);
    let turned = (found.direction.towards + 90.0).rem_euclid(180.0) - 90.0;
    assert!(turned.abs() < 5.0, "{turned}");
}

/// False alarms: 100 white and 100 blurred fields without direction. Lines are called once in a thousand fields by design,
/// anisotropy once in a thousand; two of 200 would be a rate ten times that.
#[test]
fn fields_without_direction_are_not_flagged() {
    let (mut lines, mut streaks, mut directed, mut uneven) = (0, 0, 0, 0);
    let table = even_table();
    for (case, blur) in [vec![1.0], gaussian(1.5)].into_iter().enumerate() {
        let mut rng = Pcg64Mcg::seed_from_u64(80 + case as u64);
        for _ in 0..100 {
            let densities = field(&mut rng, 288, 288, 0.08, &blur);
            let found = by(&scan(288, &densities), &table, settings(5.0)).unwrap();
            lines += usize::from(!found.direction.lines.is_empty());
            streaks += found.direction.streaks.len();
            directed += usize::from(found.direction.directed);
            uneven += usize::from(found.zero.flags.contains(Flags::UNEVEN));
        }
    }
    println!("of 200 fields: lines {lines}, streaks {streaks}, directed {directed}, uneven {uneven}");
    assert!(lines <= 1 && streaks <= 1 && directed <= 1 && uneven <= 2);
}

/// Dust and a scratch cost blocks and leave the spectrum as it was.
#[test]
fn dust_costs_blocks_and_not_the_spectrum() {
    let mut rng = Pcg64Mcg::seed_from_u64(9);
    let side = 900;
    let mut densities = field(&mut rng, side, side, 0.06, &[1.0]);
    let before = measure(side, &densities, 6.35);
    for _ in 0..4 {
        let (x, y) = (rng.random::<f64>() * 900.0, rng.random::<f64>() * 900.0);
        let radius = 2.0 + 4.0 * rng.random::<f64>();
        for (k, density) in densities.iter_mut().enumerate() {
            let (dx, dy) = ((k % side) as f64 - x, (k / side) as f64 - y);
            if dx * dx + dy * dy < radius * radius {
                *density = 2.6;
            }
        }
    }
    let after = measure(side, &densities, 6.35);
    println!("{:?} {:?}", before.blocks, after.blocks);
    assert!(before.blocks.left_out == 0 && after.blocks.left_out > 0);
    assert!(after.zero.flags.contains(Flags::DEFECTS_LEFT_OUT));
    assert!((after.zero.value / before.zero.value - 1.0).abs() < 3.0 * after.zero.u / after.zero.value);
    assert!(
        (after.variance.0 / before.variance.0 - 1.0).abs() < 0.02,
        "{:?} {:?}",
        before.variance,
        after.variance
    );
}

/// Slow shading leaves the spectrum alone; a scene does not, and is told.
#[test]
fn shading_is_removed_and_a_picture_is_told() {
    let mut rng = Pcg64Mcg::seed_from_u64(10);
    let side = 700;
    let plain = field(&mut rng, side, side, 0.06, &[1.0]);
    let place = |k: usize| ((k % side) as f64 / side as f64 - 0.5, (k / side) as f64 / side as f64 - 0.5);
    let shaded: Vec<f64> = plain
        .iter()
        .enumerate()
        .map(|(k, d)| {
            let (u, v) = place(k);
            d + 0.08 * u - 0.05 * v + 0.2 * u * v - 0.15 * (u * u + v * v)
        })
        .collect();
    let (before, after) = (measure(side, &plain, 5.0), measure(side, &shaded, 5.0));
    assert!((after.zero.value / before.zero.value - 1.0).abs() < 0.02, "{:?} {:?}", before.zero, after.zero);
    assert!(!after.zero.flags.contains(Flags::UNEVEN), "{:?}", after.notes);
    // Soft patches of some 60 pixels, as out of focus leaves.
    let soft = field(&mut rng, side / 20, side / 20, 0.02, &[1.0]);
    let picture: Vec<f64> = plain
        .iter()
        .enumerate()
        .map(|(k, d)| {
            let (x, y) = ((k % side) as f64 / 20.0, (k / side) as f64 / 20.0);
            let wide = side / 20;
            let at = |i: usize, j: usize| soft[j.min(wide - 1) * wide + i.min(wide - 1)] - 1.0;
            let (i, j, s, t) = (x as usize, y as usize, x.fract(), y.fract());
            d + (1.0 - t) * ((1.0 - s) * at(i, j) + s * at(i + 1, j))
                + t * ((1.0 - s) * at(i, j + 1) + s * at(i + 1, j + 1))
        })
        .collect();
    let found = measure(side, &picture, 5.0);
    assert!(found.zero.flags.contains(Flags::UNEVEN), "{:?} {:?}", found.zero, found.notes);
}

/// White noise of a scanner on blurred grain: the model's variance, which the simulator adds, is taken off at all frequencies.
#[test]
fn the_scanners_noise_is_taken_off() {
    let mut rng = Pcg64Mcg::seed_from_u64(11);
    let (side, pitch, noise) = (700, 5.0, 0.02);
    let blur = gaussian(1.5);
    let grain = field(&mut rng, side, side, 0.12, &blur);
    let both: Vec<f64> = grain.iter().map(|d| d + noise * normal(&mut rng)).collect();
    // Variance of light in proportion to its square: the same in density everywhere.
    let relative = noise * std::f64::consts::LN_10;
    let point = |step: u32| {
        let light = 10.0_f64.powf(-0.3 * f64::from(step));
        NoisePoint { step, light, variance: (relative * light).powi(2), count: 1e6 }
    };
    let points: Vec<NoisePoint> = (1..8).map(point).collect();
    let model = NoiseModel::fit(&points, NoiseSource::TwoScans).unwrap();
    let scan = scan(side, &both);
    let all = Rect::between(Point::default(), Point::new(side as f64, side as f64));
    let plane = scan.plane(Channel::Green);
    let of = |noise| spectrum(plane, &even_table(), all, settings(pitch), noise, &|| false).unwrap();
    let (with, without) = (of(Ok(Noise::Model(&model))), of(no_noise()));
    let taken = with.noise.clone().unwrap();
    assert!((taken.power / (noise * pitch).powi(2) - 1.0).abs() < 0.03, "{taken:?}");
    let power = |f: f64| (0.12 * pitch).powi(2) * transfer(&blur, f);
    // Where grain and noise are alike strong.
    let index = with.radial.iter().position(|bin| bin.frequency > 45.0).unwrap();
    let (clean, noisy) = (with.radial[index], without.radial[index]);
    let f = clean.frequency * pitch / 1000.0;
    println!("{:?} {:?} for {}", clean.power.value, noisy.power.value, power(f));
    assert!((clean.power.value / power(f) - 1.0).abs() < 0.15);
    assert!(noisy.power.value / power(f) > 1.15);
    assert!(without.notes.iter().any(|note| note.contains("still in it")), "{:?}", without.notes);
    // A model that knows too much takes no more than is there.
    let loud: Vec<NoisePoint> =
        points.iter().map(|point| NoisePoint { variance: 100.0 * point.variance, ..*point }).collect();
    let loud = NoiseModel::fit(&loud, NoiseSource::OneScan).unwrap();
    let limited = of(Ok(Noise::Model(&loud)));
    assert!(limited.noise.as_ref().is_ok_and(|noise| noise.limited), "{:?}", limited.noise);
    assert!(
        limited.zero.value > 0.0 && limited.radial.iter().all(|bin| bin.power.value > -0.1 * taken.power)
    );
}

#[test]
fn a_quick_answer_is_near_the_full_one() {
    let mut rng = Pcg64Mcg::seed_from_u64(12);
    let densities = field(&mut rng, 1600, 1600, 0.06, &gaussian(1.0));
    let scan = scan(1600, &densities);
    let table = even_table();
    let full = by(&scan, &table, settings(5.0)).unwrap();
    let quick = by(&scan, &table, SpectrumSettings { quick: true, ..settings(5.0) }).unwrap();
    assert!(quick.quick && !full.quick && quick.blocks.used < full.blocks.used);
    let z = (quick.zero.value - full.zero.value) / quick.zero.u;
    assert!(z.abs() < 3.0, "{:?} {:?}", quick.zero, full.zero);
}

#[test]
fn what_cannot_be_measured_is_refused() {
    let mut rng = Pcg64Mcg::seed_from_u64(13);
    let densities = field(&mut rng, 60, 40, 0.05, &[1.0]);
    let (small, table) = (scan(60, &densities), even_table());
    let cause = |settings| by(&small, &table, settings).expect_err("refused").cause.to_string();
    assert!(cause(settings(5.0)).contains("too small"));
    assert!(cause(settings(0.0)).contains("cannot be measured"));
    assert!(cause(SpectrumSettings { block: Some(48), ..settings(5.0) }).contains("not offered"));
    let outside = Rect::between(Point::new(-5.0, 0.0), Point::new(50.0, 50.0));
    let plane = small.plane(Channel::Green);
    assert!(spectrum(plane, &table, outside, settings(5.0), no_noise(), &|| false).is_err());
    let large = scan(400, &field(&mut rng, 400, 400, 0.05, &[1.0]));
    let all = Rect::between(Point::default(), Point::new(400.0, 400.0));
    let plane = large.plane(Channel::Green);
    assert!(spectrum(plane, &table, all, settings(5.0), no_noise(), &|| true).is_err(), "stopped");
    let flat = by(&scan_of(300, vec![30_000; 300 * 300]), &table, settings(5.0)).unwrap();
    assert!(flat.notes.iter().any(|note| note.contains("does not fluctuate")), "{:?}", flat.notes);
}

/// White grain of which one film has twice the other's standard deviation. What the eye sees of it goes with enlargement over
/// distance (formula 12), so thresholds follow from the modulation at any print; the grainier film has three times the smoother
/// one's power more, so that difference is seen at the smoother one's threshold over root 3.
#[test]
fn seen_grain_scales_as_theory_says() {
    let mut rng = Pcg64Mcg::seed_from_u64(14);
    let (side, pitch) = (1000, 4.0);
    let fine = measure(side, &field(&mut rng, side, side, 0.05, &[1.0]), pitch);
    let coarse = measure(side, &field(&mut rng, side, side, 0.10, &[1.0]), pitch);
    let of = |label, spectrum| Side { label, spectrum, gradient: 1.5, source: GradientSource::Tested };
    let (fine_side, coarse_side) = (of("fine", &fine), of("coarse", &coarse));
    let viewing = Viewing { enlargement: 8.0, distance_mm: 300.0, print_density: 0.7 };
    let found = viewed(&fine_side, Some(&coarse_side), viewing);
    let candidate = found.candidate.as_ref().unwrap();
    let ratio = found.ratio.unwrap();
    println!("{:?} {:?} {ratio:?}", found.reference.modulation, found.difference);
    // The relative light of the coarse film's log-normal pixels is 1.3 % noisier than its density.
    assert!((ratio.value / 2.0 - 1.0).abs() < 0.04 && ratio.low < 2.03 && ratio.high > 1.97, "{ratio:?}");
    let sigma = weighted_sigma(|_| fine.zero.value, &viewing, &Csf::MannosSakrison);
    assert!(
        (found.reference.second.value / (1500.0 * sigma) - 1.0).abs() < 0.03,
        "{:?}",
        found.reference.second
    );
    let known = |value: &Value| *value.known().unwrap();
    let from = known(&found.reference.from);
    assert!((from.value * found.reference.modulation.value / 8.0 - 1.0).abs() < 0.03, "{from:?}");
    assert!(from.low < from.value && from.value < from.high);
    assert!((known(&candidate.from).value / from.value - 0.5).abs() < 0.02, "{:?}", candidate.from);
    let difference = known(found.difference.as_ref().unwrap());
    assert!((difference.value * 3.0_f64.sqrt() / from.value - 1.0).abs() < 0.05, "{difference:?}");
    // Twice as far, twice the enlargement.
    let far = viewed(&fine_side, None, Viewing { distance_mm: 600.0, ..viewing });
    assert!((known(&far.reference.from).value / from.value - 2.0).abs() < 0.05, "{:?}", far.reference.from);
    // The same film twice differs by nothing.
    let again = measure(side, &field(&mut rng, side, side, 0.05, &[1.0]), pitch);
    let alike = viewed(&fine_side, Some(&of("again", &again)), viewing);
    let ratio = alike.ratio.unwrap();
    assert!(ratio.low < 1.0 && ratio.high > 1.0, "{ratio:?}");
    assert!(alike.difference_seen == Some(false), "{:?}", alike.difference);
}

/// A scan too coarse for the eye at a small enlargement from near, and an area too small for one from afar, are told.
#[test]
fn frequencies_out_of_reach_are_told() {
    let mut rng = Pcg64Mcg::seed_from_u64(15);
    let found = measure(200, &field(&mut rng, 200, 200, 0.05, &[1.0]), 12.7);
    let side = Side { label: "film", spectrum: &found, gradient: 1.5, source: GradientSource::Assumed };
    let look = |enlargement, distance_mm| {
        let viewing = Viewing { enlargement, distance_mm, ..Viewing::default() };
        viewed(&side, None, viewing).reference.notes
    };
    let near = look(20.0, 250.0);
    assert!(near.iter().any(|note| note.contains("higher resolution")), "{near:?}");
    let far = look(3.0, 1500.0);
    assert!(far.iter().any(|note| note.contains("lies below")), "{far:?}");
}
