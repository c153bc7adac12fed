//! The digital aperture, the law of apertures, the scanner's noise, and scans that were altered: fields whose truth follows
//! from the random process by formulas.

use rand::{Rng, RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use rayon::prelude::*;
use twinwedge_core::document::Channel;
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::grain::{
    GrainSettings, Granularity, LawVerdict, ScannerNoise, aperture_ladder, aperture_weights, granularity,
    law_of_apertures, repeat,
};
use twinwedge_core::measured::Flags;
use twinwedge_core::scan::Scan;
use twinwedge_core::units::Micrometres;

use crate::grain::{even_table, field, gaussian, measure_by, normal, scan, through_circle};

/// The aperture of pixels against the circle on grain of a Gaussian correlation, `exp(-h^2 / 4 s^2)`, seen by square pixels
/// (formula 11.6 in the plane of distances): both integrals are computed here. Independent pixels must see exactly the
/// circle's area.
#[test]
fn an_aperture_of_pixels_acts_as_the_circle() {
    println!("diameter, px: error in % at blurs of 0, 0.3, 0.5, 0.7, 1, 1.5, 2, 3, 6 px");
    for diameter in [3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0, 6.5, 7.0, 7.559, 8.5, 9.06, 10.0, 12.0, 18.1] {
        let disc = aperture_weights(diameter);
        let (reach, sum) = (disc.reach() as isize, disc.sum());
        let independent = diameter * diameter * std::f64::consts::FRAC_PI_4 / disc.effective_area() - 1.0;
        assert!(independent.abs() < 1e-9, "{diameter}: {independent}");
        let mut errors = vec![independent];
        for blur in [0.3, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 6.0_f64] {
            // What two unit squares so far apart see in common, along one axis.
            let axis = |lag: isize| {
                let steps = 400;
                let term = |k: i32| {
                    let t = (f64::from(k) + 0.5) / f64::from(steps) * 2.0 - 1.0;
                    let h = lag as f64 + t;
                    (1.0 - t.abs()) * (-h * h / (4.0 * blur * blur)).exp() * 2.0 / f64::from(steps)
                };
                (0..steps).map(term).sum::<f64>()
            };
            let along: Vec<f64> = (0..=2 * reach).map(axis).collect();
            let mut variance = 0.0;
            for dy in -2 * reach..=2 * reach {
                for dx in -2 * reach..=2 * reach {
                    let row = |y: isize| (-reach..=reach).map(move |x| (x, y));
                    let places = (-reach..=reach).flat_map(row);
                    let common: f64 = places.map(|(x, y)| disc.at(x, y) * disc.at(x + dx, y + dy)).sum();
                    variance += common * along[dx.unsigned_abs()] * along[dy.unsigned_abs()];
                }
            }
            let digital = variance.sqrt() / sum;
            errors.push(digital / through_circle(diameter, 1.0, blur) - 1.0);
        }
        let percent: Vec<String> = errors.iter().map(|error| format!("{:.2}", 100.0 * error)).collect();
        println!("{diameter:>6}: {}", percent.join("  "));
        assert!(errors.iter().all(|error| error.abs() < 0.016), "{diameter}: {percent:?}");
        assert!(errors[8].abs() < 0.004, "{diameter}: goes to nothing for long grain");
    }
}

fn ladder(scan: &Scan, pitch: f64) -> Vec<Granularity> {
    let area = Rect::between(Point::default(), Point::new(scan.width as f64, scan.height as f64));
    let table = even_table();
    let through = |aperture: Micrometres| measure_by(scan, &table, pitch, aperture.0).unwrap();
    aperture_ladder(area, Micrometres(pitch)).into_iter().map(through).collect()
}

/// Independent grain obeys Selwyn's law exactly: the slope's 95 % interval must hold -0.5 in 93 to 97 % of 240 fields, within
/// the 1.4 % that chance leaves in such a count.
#[test]
fn the_slope_of_independent_grain_is_minus_a_half() {
    let trials = 240;
    let one = |seed: u64| {
        let mut rng = Pcg64Mcg::seed_from_u64(7_000 + seed);
        let densities = field(&mut rng, 220, 220, 0.05, &[1.0]);
        let law = law_of_apertures(&ladder(&scan(220, &densities), 8.0)).unwrap();
        (law.slope.value, law.slope.u, law.slope.low <= -0.5 && -0.5 <= law.slope.high, law.verdict)
    };
    let found: Vec<_> = (0..trials).into_par_iter().map(one).collect();
    let count = found.len() as f64;
    let mean = found.iter().map(|law| law.0).sum::<f64>() / count;
    let spread = (found.iter().map(|law| (law.0 - mean).powi(2)).sum::<f64>() / count).sqrt();
    let stated = found.iter().map(|law| law.1).sum::<f64>() / count;
    let covered = 100.0 * found.iter().filter(|law| law.2).count() as f64 / count;
    let wrong =
        found.iter().filter(|law| matches!(law.3, LawVerdict::Shallower | LawVerdict::Steeper)).count();
    println!(
        "slope: mean {mean:.4}, spread {spread:.4}, stated {stated:.4}, covered {covered:.1} %, wrong {wrong}"
    );
    assert!((93.0 - 1.4 * 1.5..=97.0 + 1.4 * 1.5).contains(&covered), "{covered} %");
    assert!((mean + 0.5).abs() < 3.0 * spread / count.sqrt() + 0.003, "{mean}");
    assert!(wrong <= trials as usize * 7 / 100, "{wrong} of {trials} called off the law");
}

#[test]
fn departures_from_the_law_are_called_by_name() {
    let mut rng = Pcg64Mcg::seed_from_u64(71);
    let long = field(&mut rng, 500, 500, 0.2, &gaussian(3.0));
    let law = law_of_apertures(&ladder(&scan(500, &long), 6.35)).unwrap();
    assert_eq!(law.verdict, LawVerdict::Shallower, "{}", law.sentence);
    let plain = field(&mut rng, 500, 500, 0.05, &[1.0]);
    let law = law_of_apertures(&ladder(&scan(500, &sharpened(&plain, 500, 1.5)), 6.35)).unwrap();
    assert_eq!(law.verdict, LawVerdict::Steeper, "{}", law.sentence);
    let few = field(&mut rng, 40, 40, 0.05, &[1.0]);
    let why = law_of_apertures(&ladder(&scan(40, &few), 6.35)).unwrap_err();
    assert!(why.contains("fewer than three"), "{why}");
}

/// Unsharp masking: what differs from a local mean is added, as scanning software does it.
fn sharpened(densities: &[f64], width: usize, amount: f64) -> Vec<f64> {
    let height = densities.len() / width;
    let at = |x: isize, y: isize| {
        let (x, y) = (x.clamp(0, width as isize - 1) as usize, y.clamp(0, height as isize - 1) as usize);
        densities[y * width + x]
    };
    let pixel = |k: usize| {
        let (x, y) = ((k % width) as isize, (k / width) as isize);
        let around = (-2..=2).flat_map(|dy| (-2..=2).map(move |dx| (dx, dy)));
        let mean = around.map(|(dx, dy)| at(x + dx, y + dy)).sum::<f64>() / 25.0;
        densities[k] + amount * (densities[k] - mean)
    };
    (0..densities.len()).map(pixel).collect()
}

/// Sharpened fields are marked; grain as it is, fine or coarse, is not.
#[test]
fn sharpening_is_seen_in_the_grain_itself() {
    let mut rng = Pcg64Mcg::seed_from_u64(72);
    for (blur, amount, expected) in [
        (0.0, 0.0, false),
        (0.8, 0.0, false),
        (2.0, 0.0, false),
        (0.8, 1.0, true),
        (1.2, 1.5, true),
        (0.0, 1.0, true),
    ] {
        let blurred = if blur > 0.0 { gaussian(blur) } else { vec![1.0] };
        let densities = field(&mut rng, 400, 400, 0.06, &blurred);
        let seen = if amount > 0.0 { sharpened(&densities, 400, amount) } else { densities };
        let found = measure_by(&scan(400, &seen), &even_table(), 6.35, 48.0).unwrap();
        let flagged = found.rms.flags.contains(Flags::ALTERED_SCAN);
        assert_eq!(flagged, expected, "blur {blur}, amount {amount}: {:?}", found.texture);
    }
}

/// The blur of the pixels' correlation is that of the process, and the loss that it may mean is told.
#[test]
fn blur_of_pixels_is_measured() {
    let mut rng = Pcg64Mcg::seed_from_u64(73);
    for blur in [0.7, 1.0, 1.6] {
        let mut densities = field(&mut rng, 500, 500, 0.08, &gaussian(blur));
        // White noise of the scanner must not change it.
        densities.iter_mut().for_each(|density| *density += 0.01 * normal(&mut rng));
        let found = measure_by(&scan(500, &densities), &even_table(), 6.35, 48.0).unwrap();
        let seen = found.texture.as_ref().unwrap().blur.unwrap().0 / 6.35;
        assert!((seen / blur - 1.0).abs() < 0.1, "{seen} for {blur}");
        let said = found.loss_in_words().unwrap();
        assert!(said.contains("lower bound") && said.contains("up to"), "{said}");
    }
    let independent = field(&mut rng, 500, 500, 0.08, &[1.0]);
    let found = measure_by(&scan(500, &independent), &even_table(), 6.35, 48.0).unwrap();
    assert!(found.loss_in_words().is_none(), "{:?}", found.loss);
}

fn settings() -> GrainSettings {
    GrainSettings { pitch: Micrometres(6.35), aperture: Micrometres(48.0) }
}

/// Grain and noise made apart: two scans of the same grain, the second moved by nothing, a pixel or half of one; and a blank
/// field. What is left must be the grain's.
#[test]
fn noise_of_the_scanner_is_taken_off() {
    let (side, blur, table) = (420, 1.3, even_table());
    let area = Rect::between(Point::default(), Point::new(side as f64, side as f64));
    for (case, (half_pixels, noise)) in [(0, 0.04), (1, 0.04), (2, 0.04), (0, 0.09)].into_iter().enumerate() {
        let mut rng = Pcg64Mcg::seed_from_u64(80 + case as u64);
        // Twice as fine, so that half a pixel is a place of its own; a pixel is the mean of four.
        let wide = 2 * side + 8;
        let fine = field(&mut rng, wide, wide, 0.09, &gaussian(2.0 * blur));
        let pixels = |offset: usize| -> Vec<f64> {
            let mean = |k: usize| {
                let (x, y) = (2 * (k % side) + offset, 2 * (k / side));
                (fine[y * wide + x]
                    + fine[y * wide + x + 1]
                    + fine[(y + 1) * wide + x]
                    + fine[(y + 1) * wide + x + 1])
                    / 4.0
            };
            (0..side * side).map(mean).collect()
        };
        let mut noisy = |densities: &[f64]| -> Vec<f64> {
            densities.iter().map(|density| density + noise * normal(&mut rng)).collect()
        };
        let clean = measure_by(&scan(side, &pixels(0)), &table, 6.35, 48.0).unwrap();
        let (first, second) = (scan(side, &noisy(&pixels(0))), scan(side, &noisy(&pixels(half_pixels))));
        let mut found = measure_by(&first, &table, 6.35, 48.0).unwrap();
        let before = found.rms;
        let planes = (first.plane(Channel::Green), second.plane(Channel::Green));
        let both = repeat((planes.0, &table), (planes.1, &table), area, settings(), &|| false).unwrap();
        // Where noise is six times the grain's variance, it blurs the peak as well.
        let near = if noise < 0.05 { 0.15 } else { 0.6 };
        let off = (both.shift.0 + 0.5 * half_pixels as f64, both.shift.1);
        assert!(off.0.abs() < near && off.1.abs() < near, "{both:?}");
        found.take_off(ScannerNoise::of_repeat(&both)).unwrap();
        // Selwyn: independent noise through the aperture.
        let through = 1000.0 * noise * 6.35 / (std::f64::consts::PI * 24.0 * 24.0).sqrt();
        let taken = found.noise.clone().unwrap();
        println!(
            "half pixels {half_pixels}: before {:.2}, left {:.2} for {:.2}, noise {:.2} ± {:.2} for {through:.2}",
            before.value, found.rms.value, clean.rms.value, taken.noise.rms, taken.noise.u
        );
        assert!((taken.noise.rms - through).abs() < 3.0 * taken.noise.u + 0.05 * through, "{taken:?}");
        // Of the same grain: what chance makes grain and noise share over some 8000 apertures, 1.2 % in sigma where both are
        // alike, is between the two.
        let allowed = 3.0 * 0.012 * through / clean.rms.value;
        let off = found.rms.value / clean.rms.value - 1.0;
        assert!(off.abs() < allowed, "{} {}", found.rms.value, clean.rms.value);
        assert!(found.rms.low < clean.rms.value && clean.rms.value < found.rms.high);
        assert!(found.rms.high - found.rms.low > before.high - before.low, "the interval grows");
        let blank = scan(side, &noisy(&vec![1.0; side * side]));
        let blank = granularity(blank.plane(Channel::Green), &table, area, settings(), &|| false).unwrap();
        let mut by_blank = measure_by(&first, &table, 6.35, 48.0).unwrap();
        by_blank.take_off(ScannerNoise::of_blank(&blank, &by_blank).unwrap()).unwrap();
        let off = by_blank.rms.value / clean.rms.value - 1.0;
        assert!(off.abs() < 1.5 * allowed, "{} {}", by_blank.rms.value, clean.rms.value);
    }
}

#[test]
fn scans_of_different_film_share_no_grain() {
    let mut rng = Pcg64Mcg::seed_from_u64(90);
    let mut one = || scan(300, &field(&mut rng, 300, 300, 0.05, &gaussian(1.0)));
    let (first, second) = (one(), one());
    let table = even_table();
    let area = Rect::between(Point::default(), Point::new(300.0, 300.0));
    let planes = (first.plane(Channel::Green), second.plane(Channel::Green));
    let problem = repeat((planes.0, &table), (planes.1, &table), area, settings(), &|| false).unwrap_err();
    assert!(problem.cause.contains("share no grain"), "{problem}");
}

/// Discs thrown at random, whose densities add, on a grid of 0.2 µm; pixels of 1 µm.
struct Dots {
    /// Radii in points of the grid, and how often each.
    radii: &'static [(isize, f64)],
    /// Points from a disc to its companion; none throws them one by one.
    companion: Option<isize>,
}

impl Dots {
    /// Points of each disc.
    fn discs(&self) -> Vec<(Vec<(isize, isize)>, f64)> {
        let disc = |radius: isize| -> Vec<(isize, isize)> {
            let rows = (-radius..=radius).flat_map(|y| (-radius..=radius).map(move |x| (x, y)));
            rows.filter(|(x, y)| x * x + y * y <= radius * radius).collect()
        };
        self.radii.iter().map(|(radius, share)| (disc(*radius), *share)).collect()
    }

    /// Siedentopf's `lg e D E[a] (1 + cv^2)`, times 2 where every grain comes with a companion (the variance of a Poisson number
    /// of pairs), over the aperture's area: sigma through a large aperture. Areas in µm².
    fn sigma(&self, density: f64, aperture_um: f64) -> f64 {
        let discs = self.discs();
        let area = |points: usize| points as f64 * 0.04;
        let mean: f64 = discs.iter().map(|(points, share)| share * area(points.len())).sum();
        let square: f64 = discs.iter().map(|(points, share)| share * area(points.len()).powi(2)).sum();
        let pairs = if self.companion.is_some() { 2.0 } else { 1.0 };
        let disc = std::f64::consts::FRAC_PI_4 * aperture_um * aperture_um;
        (std::f64::consts::LOG10_E * density * square / mean * pairs / disc).sqrt()
    }

    /// Layers over each pixel, as density: a hundredth of each, on a base of 0.5, so that averaging light is averaging density.
    fn pixels(&self, rng: &mut impl Rng, side: usize, density: f64) -> Vec<f64> {
        const FINE: usize = 5;
        let discs = self.discs();
        let mean: f64 = discs.iter().map(|(points, share)| share * points.len() as f64).sum();
        let wide = side * FINE;
        // Nutting: D = lg e n a, with n grains a point and a in points.
        let each = if self.companion.is_some() { 0.5 } else { 1.0 };
        let expected = density * std::f64::consts::LN_10 / mean * (wide * wide) as f64 * each;
        let count = (expected + expected.sqrt() * normal(rng)).round() as usize;
        let mut layers = vec![0_u16; side * side];
        let pixel = |v: isize| v.rem_euclid(wide as isize) as usize / FINE;
        for _ in 0..count {
            let (x, y) = (rng.random_range(0..wide) as isize, rng.random_range(0..wide) as isize);
            let turn = rng.random::<f64>() * std::f64::consts::TAU;
            let places = match self.companion {
                Some(apart) => {
                    let (dx, dy) = (apart as f64 * turn.cos(), apart as f64 * turn.sin());
                    vec![(x, y), (x + dx.round() as isize, y + dy.round() as isize)]
                }
                None => vec![(x, y)],
            };
            for (x, y) in places {
                let mut chance = rng.random::<f64>();
                let chosen = discs.iter().find(|(_, share)| {
                    chance -= share;
                    chance < 0.0
                });
                for (dx, dy) in &chosen.unwrap_or(&discs[0]).0 {
                    layers[pixel(y + dy) * side + pixel(x + dx)] += 1;
                }
            }
        }
        let scale = 0.01 * std::f64::consts::LOG10_E / (FINE * FINE) as f64;
        layers.iter().map(|layers| 0.5 + scale * f64::from(*layers)).collect()
    }
}

/// Uniform, mixed and paired grains against Siedentopf's law, mean density against Nutting's, and Selwyn's law on all of them.
/// Six fields of 500 µm hold 830 apertures of 48 µm side by side, worth twice as many as they overlap: 6 % is three and a half
/// standard errors. Companions 4 µm off hang together over little against the aperture: their rim costs 3 %.
#[test]
fn dots_follow_siedentopf_nutting_and_selwyn() {
    let kinds = [
        ("uniform", Dots { radii: &[(5, 1.0)], companion: None }),
        ("mixed", Dots { radii: &[(3, 0.6), (8, 0.4)], companion: None }),
        ("paired", Dots { radii: &[(5, 1.0)], companion: Some(20) }),
    ];
    for (case, (name, dots)) in kinds.into_iter().enumerate() {
        let (side, density, fields) = (500, 0.4, 6_u64);
        let one = |seed: u64| {
            let mut rng = Pcg64Mcg::seed_from_u64(9_000 + 100 * case as u64 + seed);
            let densities = dots.pixels(&mut rng, side, density);
            let mean = densities.iter().sum::<f64>() / densities.len() as f64;
            let scan = scan(side, &densities);
            let table = even_table();
            let found = measure_by(&scan, &table, 1.0, 48.0).unwrap();
            let smaller = measure_by(&scan, &table, 1.0, 24.0).unwrap();
            ((found.rms.value / 10.0).powi(2), (smaller.rms.value / 10.0).powi(2), (mean - 0.5) * 100.0)
        };
        let found: Vec<(f64, f64, f64)> = (0..fields).into_par_iter().map(one).collect();
        let mean = |of: fn(&(f64, f64, f64)) -> f64| found.iter().map(of).sum::<f64>() / fields as f64;
        let (sigma, smaller) = (mean(|f| f.0).sqrt(), mean(|f| f.1).sqrt());
        let want = dots.sigma(density, 48.0);
        let rim = if dots.companion.is_some() { 0.97 } else { 0.99 };
        println!(
            "{name}: {sigma:.5} for {want:.5}; sigma sqrt A ratio {:.3}; density {:.4}",
            smaller / (2.0 * sigma),
            mean(|f| f.2)
        );
        assert!((sigma / (want * rim) - 1.0).abs() < 0.06, "{name}: {sigma} for {want}");
        assert!((mean(|f| f.2) - density).abs() < 0.01, "{name}: Nutting");
        // Selwyn from 24 to 48 µm, within both rims and chance.
        let ratio = smaller / (2.0 * sigma);
        assert!((0.88..1.06).contains(&ratio), "{name}: Selwyn {ratio}");
    }
}
