//! Overshoot: its size, and whether film or scanner made it.

use rand_pcg::Pcg64;
use rayon::prelude::*;
use twinwedge_core::sharpness::{Cause, EdgeMeasure, EdgeSettings, ScannerEdge};

use super::scene::{Pose, cumulative, gaussian, grain, profile};
use super::{PITCH, measure, measure_with, settings};

const SIZE: (usize, usize) = (200, 320);

/// An edge of density whose developer was used up beside it: `k` of the step, over a distance of `reach` pixels.
#[derive(Clone, Copy)]
struct Adjacency {
    sigma: f64,
    k: f64,
    reach: f64,
}

impl Adjacency {
    /// Density over distance, dense side positive: `D + k (D - D*h)` with h falling off exponentially on both sides.
    fn density(&self, d: f64) -> f64 {
        let plain = cumulative(d, self.sigma);
        // The edge blurred by the exponential, by the midpoint rule.
        let mean: f64 = (0..400)
            .map(|i| {
                let u = (f64::from(i) + 0.5) / 40.0;
                let both =
                    cumulative(d - u * self.reach, self.sigma) + cumulative(d + u * self.reach, self.sigma);
                both * 0.5 * (-u).exp() / 40.0
            })
            .sum();
        0.35 + 0.4 * (plain + self.k * (plain - mean))
    }

    /// Light over distance, from a table.
    fn light(&self) -> impl Fn(f64) -> f64 + '_ {
        let table: Vec<f64> = (0..=4000).map(|k| self.density(f64::from(k - 2000) / 40.0)).collect();
        move |d: f64| {
            let at = (d * 40.0 + 2000.0).clamp(0.0, 3999.0);
            let low = table[at as usize] + (table[at as usize + 1] - table[at as usize]) * at.fract();
            10.0_f64.powf(-low)
        }
    }

    /// Height of the lobe on the dense side as the scanner's pixels see it, and on the thin one.
    fn heights(&self) -> (f64, f64) {
        let light = self.light();
        let seen = |d: f64| {
            let mean = (0..20).map(|i| light(d + (f64::from(i) + 0.5) / 20.0 - 0.5)).sum::<f64>() / 20.0;
            -mean.log10()
        };
        let all = || (0..400).map(|k| seen(f64::from(k - 200) / 10.0));
        (all().fold(f64::MIN, f64::max) - seen(45.0), seen(-45.0) - all().fold(f64::MAX, f64::min))
    }
}

fn with_grain(mut light: Vec<f64>, seed: u64, noise: f64, blur: f64) -> Vec<f64> {
    let mut chance = Pcg64::new(u128::from(seed), 78);
    let grain = grain(SIZE, blur, &mut chance);
    light.iter_mut().zip(grain).for_each(|(light, z)| *light *= 1.0 + noise * z);
    light
}

/// Source: the simulated developer. 60 edges; 95 % intervals of both lobes' heights hold in at least nine of ten.
#[test]
fn adjacency_is_measured_and_told_from_sharpening() {
    let truth = Adjacency { sigma: 1.3, k: 0.45, reach: 4.0 };
    let (dense, thin) = truth.heights();
    let light = profile(SIZE, Pose::upright(5.0), truth.light());
    let edges: Vec<EdgeMeasure> = (0..60_u64)
        .into_par_iter()
        .map(|seed| measure(SIZE, &with_grain(light.clone(), seed, 0.05, 0.8)))
        .collect();
    let holds = |of: &dyn Fn(&EdgeMeasure) -> (f64, f64), truth: f64| {
        edges
            .iter()
            .filter(|edge| {
                let (low, high) = of(edge);
                (low..=high).contains(&truth)
            })
            .count()
    };
    let interval = |height: twinwedge_core::measured::Measured| (height.low, height.high);
    let on_dense = holds(&|edge| interval(edge.overshoot.dense.height), dense);
    let on_thin = holds(&|edge| interval(edge.overshoot.thin.height), thin);
    let causes = |cause: Cause| edges.iter().filter(|edge| edge.overshoot.cause == cause).count();
    let (film, scanner, unclear) =
        (causes(Cause::Adjacency), causes(Cause::Sharpening), causes(Cause::Unclear));
    let widths: Vec<f64> = edges.iter().filter_map(|edge| edge.overshoot.dense.width_um).collect();
    let width = twinwedge_core::numeric::robust::median(&widths).unwrap_or(f64::NAN);
    println!(
        "lobes of D {dense:.4} and {thin:.4}: held {on_dense} and {on_thin} of 60; film {film}, scanner {scanner}, unclear \
         {unclear}; width {width:.0} µm for {:.0}",
        truth.reach * PITCH
    );
    assert!(on_dense >= 54 && on_thin >= 54);
    assert!(film >= 40 && scanner == 0, "{film} {scanner} {unclear}");
    assert!((width / (truth.reach * PITCH) - 1.0).abs() < 0.35);
}

/// What a scanning program does: codes less their blurred copy added to themselves.
fn sharpened(light: &[f64], radius: f64, amount: f64) -> Vec<f64> {
    let reach = (3.0 * radius).ceil() as i64;
    let kernel: Vec<f64> = (-reach..=reach).map(|k| (-0.5 * (k as f64 / radius).powi(2)).exp()).collect();
    let total: f64 = kernel.iter().sum();
    let (w, h) = (SIZE.0 as i64, SIZE.1 as i64);
    let codes: Vec<f64> = light.iter().map(|light| light.powf(1.0 / 2.2)).collect();
    let pass = |from: &[f64], dx: i64, dy: i64| -> Vec<f64> {
        let at = |i: i64, k: i64| {
            let (x, y) = ((i % w + k * dx).clamp(0, w - 1), (i / w + k * dy).clamp(0, h - 1));
            from[(y * w + x) as usize]
        };
        let sum = |i: i64| (-reach..=reach).zip(&kernel).map(|(k, v)| v * at(i, k)).sum::<f64>() / total;
        (0..w * h).map(sum).collect()
    };
    let blurred = pass(&pass(&codes, 1, 0), 0, 1);
    codes
        .iter()
        .zip(blurred)
        .map(|(code, blurred)| (code + amount * (code - blurred)).max(0.0).powf(2.2))
        .collect()
}

/// Source: the filter that was applied.
#[test]
fn sharpening_is_recognised() {
    let light = gaussian(SIZE, Pose::upright(5.0), 1.2, (0.18, 0.45));
    let edges: Vec<EdgeMeasure> = (0..40_u64)
        .into_par_iter()
        .map(|seed| {
            let radius = [1.2, 2.0, 3.0][seed as usize % 3];
            measure(SIZE, &sharpened(&with_grain(light.clone(), seed, 0.05, 0.8), radius, 1.0))
        })
        .collect();
    let causes = |cause: Cause| edges.iter().filter(|edge| edge.overshoot.cause == cause).count();
    let (film, scanner, unclear) =
        (causes(Cause::Adjacency), causes(Cause::Sharpening), causes(Cause::Unclear));
    println!(
        "sharpened: scanner {scanner}, unclear {unclear}, film {film}, none {}",
        causes(Cause::NoneSeen)
    );
    assert!(scanner >= 30 && film == 0, "{scanner} {unclear} {film}");
}

/// Source: no overshoot was put in.
#[test]
fn no_overshoot_is_seen_where_there_is_none() {
    let light = gaussian(SIZE, Pose::upright(8.0), 1.8, (0.2, 0.5));
    let seen = (0..100_u64)
        .into_par_iter()
        .filter(|seed| {
            let edge = measure(SIZE, &with_grain(light.clone(), *seed, 0.06, 1.0));
            edge.overshoot.cause != Cause::NoneSeen
        })
        .count();
    println!("overshoot seen in {seen} of 100 edges without");
    assert!(seen <= 5);
}

/// Source: the same filter on film and on the scanner's own edge; and none on either.
#[test]
fn the_scanners_own_edge_decides() {
    let knife = |sharp: bool| {
        let plain = gaussian(SIZE, Pose::upright(6.0), 1.0, (0.05, 0.5));
        let light = if sharp { sharpened(&plain, 1.5, 0.8) } else { plain };
        let light = with_grain(light, 5, 0.002, 0.0);
        ScannerEdge::of(&measure_with(SIZE, &light, EdgeSettings { knife_edge: true, ..settings() }).unwrap())
    };
    let film = sharpened(&gaussian(SIZE, Pose::upright(5.0), 1.3, (0.18, 0.45)), 1.5, 0.8);
    let film = with_grain(film, 3, 0.01, 0.0);
    let with = |scanner: &ScannerEdge, light: &[f64]| {
        measure_with(SIZE, light, EdgeSettings { scanner: Some(scanner), ..settings() }).unwrap().overshoot
    };
    let told = with(&knife(true), &film);
    assert_eq!(told.cause, Cause::Sharpening, "{}", told.reason);
    let developed = profile(SIZE, Pose::upright(5.0), Adjacency { sigma: 1.3, k: 0.25, reach: 4.0 }.light());
    let told = with(&knife(false), &with_grain(developed, 4, 0.01, 0.0));
    assert_eq!(told.cause, Cause::Adjacency, "{}", told.reason);
}
