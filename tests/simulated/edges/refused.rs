//! Boxes that hold no edge fit to be measured, each with its reason; and what is borne.

use rand_pcg::Pcg64;

use super::scene::{self, Pose, gaussian, grain, modulation};
use super::{PER_MM, measure, measure_with, mtf50, settings};
use twinwedge_core::sharpness::EdgeSettings;

const SIZE: (usize, usize) = (160, 200);

fn grained(mut light: Vec<f64>, noise: f64) -> Vec<f64> {
    let mut chance = Pcg64::new(11, 79);
    light.iter_mut().zip(grain(SIZE, 0.8, &mut chance)).for_each(|(light, z)| *light *= 1.0 + noise * z);
    light
}

fn refused(light: &[f64], because: &str) {
    let problem =
        measure_with(SIZE, light, settings()).err().unwrap_or_else(|| panic!("'{because}' was measured"));
    assert!(problem.cause.contains(because), "'{}' does not say '{because}'", problem.cause);
    assert!(!problem.remedy.is_empty());
}

#[test]
fn what_is_no_fit_edge_is_refused_with_the_reason() {
    let edge = |degrees: f64, low: f64, high: f64| gaussian(SIZE, Pose::upright(degrees), 1.5, (low, high));
    refused(&grained(edge(0.8, 0.3, 0.5), 0.03), "too upright");
    refused(&grained(edge(44.5, 0.3, 0.5), 0.03), "too oblique");
    refused(&grained(edge(5.0, 0.40, 0.41), 0.002), "too low");
    refused(&grained(edge(5.0, 0.38, 0.42), 0.15), "lost in the grain");
    refused(&edge(5.0, 0.02, 0.6), "so high");
    let half = |d: f64, at: f64| scene::cumulative(d - at, 1.5);
    let pose = Pose::upright(5.0);
    let two = scene::profile(SIZE, pose, |d| 0.25 + 0.25 * half(d, -25.0) + 0.2 * half(d, 30.0));
    refused(&grained(two, 0.03), "more than one edge");
    let band = scene::profile(SIZE, pose, |d| 0.25 + 0.25 * (half(d, -6.0) - half(d, 40.0)));
    refused(&grained(band, 0.03), "more than one edge");
    // A corner: another edge across the lower half of one side.
    let mut corner = edge(5.0, 0.25, 0.5);
    for y in 120..200 {
        for x in 80..160 {
            corner[y * 160 + x] = 0.27;
        }
    }
    refused(&grained(corner, 0.03), "more than one edge");
    let plain = vec![0.4; SIZE.0 * SIZE.1];
    assert!(measure_with(SIZE, &plain, settings()).is_err());
    assert!(measure_with(SIZE, &grained(plain, 0.05), settings()).is_err());
    let clipped = edge(5.0, 0.4, 1.3);
    refused(&clipped, "highest code");
    // A wavy edge, of 3 pixels over a third of its length.
    let wavy: Vec<f64> = (0..SIZE.0 * SIZE.1)
        .map(|i| {
            let (x, y) = ((i % 160) as f64 + 0.5, (i / 160) as f64 + 0.5);
            let d = (x - 80.0) - 0.08 * (y - 100.0) - 3.0 * (y / 11.0).sin();
            0.25 + 0.25 * scene::cumulative(d, 1.2)
        })
        .collect();
    refused(&grained(wavy, 0.02), "not straight");
}

/// Source: the closed forms; a knife edge may step as high as it likes.
#[test]
fn a_knife_edge_may_step_as_high_as_it_likes() {
    let light = gaussian(SIZE, Pose::upright(5.0), 1.5, (0.02, 0.9));
    let edge = measure_with(SIZE, &light, EdgeSettings { knife_edge: true, ..settings() }).unwrap();
    let truth = PER_MM * scene::frequency(0.5, |f| modulation(f, 1.5, 5.0));
    assert!((mtf50(&edge).value / truth - 1.0).abs() < 0.02);
}

/// Source: the closed form of the blur; the edge bends by 3 pixels from its chord.
#[test]
fn a_slight_bend_is_followed_and_dust_left_out() {
    let sigma = 1.5;
    let bent: Vec<f64> = (0..SIZE.0 * SIZE.1)
        .map(|i| {
            let places = (0..25).map(|k| {
                let x = (i % 160) as f64 + (f64::from(k % 5) + 0.5) / 5.0;
                let u = (i / 160) as f64 + (f64::from(k / 5) + 0.5) / 5.0 - 100.0;
                let slope = 0.1 + 6e-4 * u;
                let d = (x - 80.0 - 0.1 * u - 3e-4 * u * u) / (1.0 + slope * slope).sqrt();
                0.25 + 0.25 * scene::cumulative(d, sigma)
            });
            places.sum::<f64>() / 25.0
        })
        .collect();
    let mut light = grained(bent, 0.004);
    for (x0, y0) in [(30, 40), (79, 80), (120, 150)] {
        for y in y0..y0 + 6 {
            for x in x0..x0 + 6 {
                light[y * 160 + x] = 0.02;
            }
        }
    }
    let edge = measure(SIZE, &light);
    let truth = PER_MM * scene::frequency(0.5, |f| modulation(f, sigma, 5.7));
    let found = mtf50(&edge);
    println!("bent edge: {found:?} for {truth}, bend {}", edge.line.bend);
    assert!((edge.line.bend - 3.0).abs() < 0.5, "{}", edge.line.bend);
    assert!((found.value / truth - 1.0).abs() < 0.02, "{found:?} {truth}");
    assert!(edge.left_out > 0.0);
}
