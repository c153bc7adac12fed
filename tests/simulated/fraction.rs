//! The fractional-gradient point of films whose point is known by bisection of closed forms: five families, tests that begin
//! anywhere from 1.6 in log H below the point to 0.35 above it, with 18 to 26 steps.

use rayon::prelude::*;
use twinwedge_core::curve::{FitSettings, Reading, Readings, Sources, fit};
use twinwedge_core::document::Settings;
use twinwedge_core::figures::{FigureId, of_curve};
use twinwedge_core::measured::{Bound, Flags, Value};

use super::curve::Chance;

const FILMS: u64 = 900;

/// Net density over lg H of one of five families, its place arbitrary.
fn family(number: u64, chance: &mut Chance) -> Box<dyn Fn(f64) -> f64> {
    let mut between = |low: f64, high: f64| low + (high - low) * chance.even();
    let gradient = between(0.45, 0.95);
    match number % 5 {
        // A softplus toe and a straight line.
        0 => {
            let sharpness = between(1.1, 3.0);
            Box::new(move |x| gradient / sharpness * (1.0 + 10.0_f64.powf(sharpness * x)).log10())
        }
        // The same under a shoulder.
        1 => {
            let (sharpness, top, knee) = (between(1.2, 3.0), between(1.8, 3.2), between(3.0, 8.0));
            Box::new(move |x| {
                let line = gradient / sharpness * (1.0 + 10.0_f64.powf(sharpness * x)).log10();
                line / (1.0 + (line / top).powf(knee)).powf(1.0 / knee)
            })
        }
        // F. Hurter and V. C. Driffield (1890).
        2 => {
            let opacity = 10.0_f64.powf(between(1.8, 3.0) / gradient);
            Box::new(move |x| {
                let above = -(opacity - 1.0) * (-10.0_f64.powf(x)).exp_m1();
                gradient * above.ln_1p() / std::f64::consts::LN_10
            })
        }
        // M. Green, Appl. Spectrosc. 7 (1953); its steepest slope is top n ln 10 / e.
        3 => {
            let top = between(2.5, 4.0);
            let n = gradient * std::f64::consts::E / (top * std::f64::consts::LN_10);
            Box::new(move |x| top * 10.0_f64.powf(-10.0_f64.powf(-n * x)))
        }
        // F. J. Richards, J. Exp. Bot. 10 (1959): a power of the logistic, whose steepest slope is
        // top k ln 10 m (m / (m + 1))^m / (m + 1).
        _ => {
            let (top, m) = (between(2.0, 3.0), between(3.0, 6.0));
            let steepest = m * (m / (m + 1.0)).powf(m) / (m + 1.0);
            let k = gradient / (top * std::f64::consts::LN_10 * steepest);
            Box::new(move |x| top * (1.0 + 10.0_f64.powf(-k * x)).powf(-m))
        }
    }
}

fn bisect(f: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> Option<f64> {
    let rising = f(high) > 0.0;
    if (f(low) > 0.0) == rising {
        return None;
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        *(if (f(middle) > 0.0) == rising { &mut high } else { &mut low }) = middle;
    }
    Some(0.5 * (low + high))
}

/// A film and its truth.
struct Film {
    net: Box<dyn Fn(f64) -> f64>,
    base: f64,
    /// lg H of net density 0.10.
    speed_point: f64,
    /// lg H where the slope is 0.3 of the mean over the next 1.5.
    point: f64,
}

fn film(number: u64, chance: &mut Chance) -> Option<Film> {
    let net = family(number, chance);
    let base = 0.15 + 0.25 * chance.even();
    let speed_point = bisect(|x| net(x) - 0.10, -8.0, 8.0)?;
    let gradient = (net(speed_point + 1.5) - 0.10) / 1.5;
    let excess = |x: f64| {
        let slope = (net(x + 1e-5) - net(x - 1e-5)) / 2e-5;
        slope - 0.3 * (net(x + 1.5) - net(x)) / 1.5
    };
    let point = bisect(excess, speed_point - 1.5, speed_point + 0.4)?;
    (0.35..1.0).contains(&gradient).then_some(Film { net, base, speed_point, point })
}

/// What was found of one film: where its test began against the point, the figure, the truth.
struct Found {
    family: u64,
    begins: f64,
    /// The test reaches 1.7 above the point, so that the mean gradient can be taken.
    reaches: bool,
    value: Value,
    truth: f64,
}

fn measure(number: u64) -> Option<Found> {
    let mut chance = Chance(41_000 + number);
    let film = film(number, &mut chance)?;
    // One in four does not reach the point.
    let begins = if number % 4 == 3 { -0.05 + 0.4 * chance.even() } else { -1.6 * chance.even() };
    let from = film.point + begins;
    let steps = 18 + (9.0 * chance.even()) as u32;
    let base_read = chance.even() < 0.5;
    let rounded = |density: f64| (density * 100.0).round() / 100.0;
    let u = (0.01_f64.powi(2) + 0.01 * 0.01 / 12.0).sqrt();
    let point = |i: u32, chance: &mut Chance| {
        let log_h = from + 0.15 * f64::from(i);
        Reading {
            strip: 0,
            step: steps - i,
            log_h,
            log_h_u: 0.0,
            density: rounded(film.base + (film.net)(log_h) + 0.01 * chance.normal()),
            density_u: u,
            set_aside: false,
            flags: Flags::empty(),
        }
    };
    let readings = Readings {
        points: (0..steps).map(|i| point(i, &mut chance)).collect(),
        absolute: true,
        log_h_shared_u: 0.0,
        sources: Sources::default(),
        base_fog: base_read.then(|| (rounded(film.base + 0.01 * chance.normal()), u)),
        flags: Flags::empty(),
    };
    if from > film.speed_point + 0.5 {
        return None;
    }
    let curve = fit(readings, FitSettings { resamplings: 200, seed: number }).ok()?;
    let value = of_curve(&curve, &Settings::default()).figures[&FigureId::FractionalGradientPoint].clone();
    let reaches = begins < -0.1 && begins + 0.15 * f64::from(steps - 1) > 1.7;
    Some(Found { family: number % 5, begins, reaches, value, truth: film.point })
}

/// The most of `n` that may lie outside 95 % intervals: more have a probability below 0.001.
fn allowed(n: usize) -> usize {
    let n = n as f64;
    (0.05 * n + 3.1 * (0.05 * 0.95 * n).sqrt()).ceil() as usize
}

#[test]
fn fractional_gradient_points_lie_where_they_are_said_to() {
    let found: Vec<Found> = (0..FILMS).into_par_iter().filter_map(measure).collect();
    let (mut outside, mut bounds, mut false_bounds, mut missing, mut far) = (0, 0, 0, (0, 0), Vec::new());
    let mut known = 0;
    for one in &found {
        let Value::Known(value) = &one.value else {
            missing = (missing.0 + 1, missing.1 + usize::from(one.reaches));
            continue;
        };
        let about =
            format!("family {}, test from {:+.2}: {value:?} for {:.3}", one.family, one.begins, one.truth);
        match value.bound() {
            Some(Bound::AtMost(limit)) => {
                bounds += 1;
                if one.truth > limit {
                    false_bounds += 1;
                    println!("false bound: {about}");
                }
            }
            Some(Bound::AtLeast(_)) => panic!("{about}"),
            None => {
                known += 1;
                outside += usize::from(!(value.low..=value.high).contains(&one.truth));
                let side =
                    if one.truth > value.value { value.high - value.value } else { value.value - value.low };
                let off = (one.truth - value.value).abs() / side;
                if off > 1.0 {
                    println!("outside, {off:.2} of its interval: {about}");
                }
                // 2.5 half intervals are 4.9 standard deviations.
                if off > 2.5 || (one.truth - value.value).abs() > 0.45 {
                    far.push(about);
                }
            }
        }
    }
    println!(
        "{} films: {known} points, {outside} outside their intervals (at most {}); {bounds} bounds, {false_bounds} false; \
         {} undefined, of them {} although the test reaches far enough above and below the point",
        found.len(),
        allowed(known),
        missing.0,
        missing.1
    );
    assert!(found.len() >= 500 && known >= 250 && bounds >= 80, "{} {known} {bounds}", found.len());
    assert!(far.is_empty(), "further off than their intervals allow: {far:#?}");
    assert!(outside <= allowed(known), "{outside} of {known} intervals miss the truth");
    assert!(false_bounds as f64 <= 0.05 * f64::from(bounds), "{false_bounds} of {bounds} bounds are false");
}
