//! The two step tablets: what they are, and what their certificates say.

use twinwedge_core::document::{Tablet, TabletStep};

use super::chance::Chance;

/// Steps of both tablets.
pub(super) const STEPS: u32 = 21;
/// Standard uncertainty of every certified density.
const CERTIFICATE_U: f64 = 0.004;

/// A tablet: its true densities and its certificate.
pub(super) struct TabletTruth {
    pub(super) densities: Vec<f64>,
    pub(super) certificate: Tablet,
}

/// The film tablet: 0.15 a step, exposed onto every film and scanned to calibrate the film scanner.
pub(super) fn film() -> TabletTruth {
    tablet("step tablet 7, 21 steps, certified (invented)", 0.05, 0.15, 0.012)
}

/// The reflection tablet that calibrates the print scanner.
pub(super) fn reflection() -> TabletTruth {
    tablet("reflection tablet 3, 21 steps, certified (invented)", 0.05, 0.105, 0.006)
}

fn tablet(label: &str, first: f64, increment: f64, spread: f64) -> TabletTruth {
    let mut chance = Chance::of(label);
    let (mut densities, mut steps) = (Vec::new(), Vec::new());
    for i in 0..STEPS {
        let density = first + f64::from(i) * increment + spread * chance.normal();
        let certified = density + CERTIFICATE_U * chance.normal();
        densities.push(density);
        steps.push(TabletStep { density: (certified * 1000.0).round() / 1000.0, u: Some(CERTIFICATE_U) });
    }
    TabletTruth {
        densities,
        certificate: Tablet { label: label.to_owned(), nominal: false, shared_u: 0.0, steps },
    }
}
