//! Plain fields with grain of known size: density is a Gaussian random field whose correlation is a Gaussian's, so that
//! the granularity through any aperture follows by a sum over the correlation.

use twinwedge_core::numeric::math;

use super::chance::Chance;
use super::curve::root;
use super::scanner::{Dirt, Light};

/// Side of a field in pixels.
pub(super) const SIDE: usize = 640;
/// Resolution of a field.
pub(super) const DPI: u32 = 4000;
/// Diameter of the aperture that granularity is stated for, in micrometres (ISO 10505:2009 practice).
pub(super) const APERTURE_UM: f64 = 48.0;

/// Pixels that the correlation reaches.
const REACH: i32 = 8;

/// A plain field.
#[derive(Debug, Clone, Copy)]
pub(super) struct Field {
    /// Density of its mean light.
    pub(super) density: f64,
    /// Granularity through the aperture, 1000 sigma(D).
    pub(super) granularity: f64,
    /// Standard deviation of the Gaussian that white noise is blurred with, in pixels.
    pub(super) blur_px: f64,
}

/// The blur's weights at whole pixels; squares sum to 1, so that white noise keeps its variance.
fn kernel(blur_px: f64) -> Vec<f64> {
    let raw: Vec<f64> = (-REACH..=REACH)
        .map(|i| {
            let z = f64::from(i) / blur_px;
            math::exp(-0.5 * z * z)
        })
        .collect();
    let norm = math::sqrt(raw.iter().map(|weight| weight * weight).sum());
    raw.iter().map(|weight| weight / norm).collect()
}

/// What a list of weights has in common with itself `lag` further on.
fn overlap(weights: &[f64], lag: usize) -> f64 {
    weights.iter().zip(weights.iter().skip(lag)).map(|(a, b)| a * b).sum()
}

/// Share of each pixel around the centre that the aperture covers, summing to 1.
fn aperture() -> Vec<Vec<f64>> {
    const FINE: i32 = 40;
    let radius = 0.5 * APERTURE_UM / (25_400.0 / f64::from(DPI));
    let reach = radius.ceil() as i32;
    let covered = |i: i32, j: i32| {
        let offset = |k: i32| (f64::from(k) + 0.5) / f64::from(FINE) - 0.5;
        let inside = |a: i32, b: i32| {
            let (x, y) = (f64::from(i) + offset(a), f64::from(j) + offset(b));
            x * x + y * y <= radius * radius
        };
        (0..FINE * FINE).filter(|n| inside(n % FINE, n / FINE)).count() as f64
    };
    let raw: Vec<Vec<f64>> =
        (-reach..=reach).map(|j| (-reach..=reach).map(|i| covered(i, j)).collect()).collect();
    let sum: f64 = raw.iter().flatten().sum();
    raw.iter().map(|row| row.iter().map(|share| share / sum).collect()).collect()
}

/// Granularity through the aperture of a field whose density has standard deviation `sigma` in one pixel.
///
/// The aperture averages light `T0 exp(-k n)`, k = ln 10, whose covariance for a Gaussian `n` of covariance C is
/// `T0^2 (exp(k^2 C) - 1)`; density follows from light by its slope, lg e over light.
fn through_aperture(sigma: f64, blur_px: f64, aperture: &[Vec<f64>]) -> f64 {
    let kernel = kernel(blur_px);
    let rho: Vec<f64> = (0..=2 * REACH as usize).map(|lag| overlap(&kernel, lag)).collect();
    let correlation = |lag: i32| rho.get(lag.unsigned_abs() as usize).copied().unwrap_or(0.0);
    let k = core::f64::consts::LN_10;
    let side = aperture.len() as i32;
    let mut variance = 0.0;
    for dy in 1 - side..side {
        for dx in 1 - side..side {
            let common: f64 = (0..side)
                .flat_map(|j| (0..side).map(move |i| (i, j)))
                .filter(|(i, j)| (0..side).contains(&(i + dx)) && (0..side).contains(&(j + dy)))
                .map(|(i, j)| {
                    aperture[j as usize][i as usize] * aperture[(j + dy) as usize][(i + dx) as usize]
                })
                .sum();
            variance += common * (math::exp(k * k * sigma * sigma * correlation(dx) * correlation(dy)) - 1.0);
        }
    }
    1000.0 * math::sqrt(variance) / k
}

impl Field {
    /// The field's light at every pixel, with slow shading and dust.
    pub(super) fn picture(&self, chance: &mut Chance) -> Light {
        let aperture = aperture();
        let sigma =
            root(1e-4, 0.5, |sigma| through_aperture(sigma, self.blur_px, &aperture) - self.granularity);
        let k = core::f64::consts::LN_10;
        let noise = self.noise(chance);
        let mean = math::pow(10.0, -self.density);
        let light = noise
            .iter()
            .enumerate()
            .map(|(index, n)| {
                let spread = k * sigma;
                mean * shading(index) * math::exp(-spread * n - 0.5 * spread * spread)
            })
            .collect();
        let mut picture = Light { width: SIDE, height: SIDE, light };
        picture.soil(Dirt { specks: 7, hairs: 1, scratches: 0, dust_light: 0.0 }, chance);
        picture
    }

    /// White noise blurred across, then down.
    fn noise(&self, chance: &mut Chance) -> Vec<f64> {
        let kernel = kernel(self.blur_px);
        let wide = SIDE + 2 * REACH as usize;
        let white: Vec<f64> = (0..wide * wide).map(|_| chance.normal()).collect();
        let across: Vec<f64> = (0..wide * SIDE)
            .map(|n| {
                let start = (n / SIDE) * wide + n % SIDE;
                kernel.iter().zip(&white[start..]).map(|(weight, value)| weight * value).sum()
            })
            .collect();
        (0..SIDE * SIDE)
            .map(|n| kernel.iter().enumerate().map(|(row, weight)| weight * across[n + row * SIDE]).sum())
            .collect()
    }
}

/// The lamp is a little brighter in one corner; mean 1 over the field.
fn shading(index: usize) -> f64 {
    let at = |n: usize| (n as f64 + 0.5) / SIDE as f64 - 0.5;
    let (x, y) = (at(index % SIDE), at(index / SIDE));
    1.0 + 0.020 * x - 0.012 * y + 0.03 * (x * x - 1.0 / 12.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: Selwyn's law (1935) for white noise: sigma through the aperture is the pixel's times the root of pixel
    /// area over aperture area.
    #[test]
    fn white_grain_follows_selwyn() {
        let pitch = 25_400.0 / f64::from(DPI);
        let area = core::f64::consts::PI * APERTURE_UM * APERTURE_UM / 4.0;
        let expected = 1000.0 * 0.02 * pitch / math::sqrt(area);
        let found = through_aperture(0.02, 0.05, &aperture());
        // Pixels cut by the rim average less than whole ones: about one part in thirty here.
        assert!((found / expected - 1.0).abs() < 0.05, "{found} {expected}");
    }
}
