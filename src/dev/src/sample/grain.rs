//! Uniform areas with grain of known size: density is a Gaussian random field whose correlation is a Gaussian's, so that
//! the granularity through any aperture follows by an integral over the correlation.

use twinwedge_core::numeric::math;

use super::chance::Chance;
use super::curve::root;
use super::scanner::{Dirt, Light};

/// Side of a field in pixels.
pub(super) const SIDE: usize = 640;
/// Side of each of the further fields.
pub(super) const FURTHER_SIDE: usize = 320;
/// Densities of the fields beside the first, above base+fog.
pub(super) const FURTHER: [f64; 3] = [0.55, 1.40, 1.90];
/// Resolution of a field.
pub(super) const DPI: u32 = 4000;
/// Diameter of the aperture that granularity is stated for, in micrometres (ISO 10505:2009 practice).
pub(super) const APERTURE_UM: f64 = 48.0;

/// Pixels that the correlation reaches.
const REACH: i32 = 8;

/// A uniform area.
#[derive(Debug, Clone, Copy)]
pub(super) struct Field {
    /// Density of its mean light.
    pub(super) density: f64,
    /// Granularity through the aperture, 1000 sigma(D).
    pub(super) granularity: f64,
    /// Standard deviation of the Gaussian that white noise is blurred with, in pixels.
    pub(super) blur_px: f64,
}

/// Weights that give white noise the correlation `exp(-h^2 / 4 blur^2)` at whole pixels, exactly: the inverse transform of the
/// root of that correlation's own. A Gaussian at whole pixels would do for wide blurs alone; at 0.65 pixels it loses 3 % of what
/// large apertures see. Squares sum to 1, so that noise keeps its variance.
fn kernel(blur_px: f64) -> Vec<f64> {
    const FREQUENCIES: i32 = 256;
    let wave = |f: i32, h: i32| math::cos(core::f64::consts::TAU * f64::from(f * h) / f64::from(FREQUENCIES));
    let correlation = |h: i32| math::exp(-f64::from(h * h) / (4.0 * blur_px * blur_px));
    let power = |f: i32| (-2 * REACH..=2 * REACH).map(|h| correlation(h) * wave(f, h)).sum::<f64>();
    let roots: Vec<f64> = (0..FREQUENCIES).map(|f| math::sqrt(power(f).max(0.0))).collect();
    let weight = |i: i32| (0..).zip(&roots).map(|(f, root)| root * wave(f, i)).sum::<f64>();
    let raw: Vec<f64> = (-REACH..=REACH).map(weight).collect();
    let norm = math::sqrt(raw.iter().map(|weight| weight * weight).sum());
    raw.iter().map(|weight| weight / norm).collect()
}

/// What a disc of diameter 1 has in common with itself at a distance, as a share (elementary geometry).
fn overlap(distance: f64) -> f64 {
    let h = distance.min(1.0);
    let rim = math::sqrt(1.0 - h * h);
    core::f64::consts::FRAC_2_PI * (math::atan2(rim, h) - h * rim)
}

/// Granularity through the aperture of the film whose scan has density of standard deviation `sigma` in one pixel and a
/// Gaussian correlation of blur `blur_px`.
///
/// The pixels are squares that blurred the film's own grain by a twelfth of a pixel squared along each axis, and left its
/// integral as it was. The aperture is the circle itself: it averages light `T0 exp(-k n)`, k = ln 10, whose covariance for a
/// Gaussian `n` of covariance C is `T0^2 (exp(k^2 C) - 1)`; density follows from light by its slope, lg e over light.
fn through_aperture(sigma: f64, blur_px: f64) -> f64 {
    const STEPS: u32 = 4_000;
    let diameter = APERTURE_UM / (25_400.0 / f64::from(DPI));
    let (square, narrow) = (blur_px * blur_px, blur_px * blur_px - 1.0 / 12.0);
    let own = sigma * sigma * square / narrow;
    let k = core::f64::consts::LN_10;
    let end = diameter.min(12.0 * blur_px);
    let width = end / f64::from(STEPS);
    let term = |step: u32| {
        let h = (f64::from(step) + 0.5) * width;
        let covariance = own * math::exp(-h * h / (4.0 * narrow));
        overlap(h / diameter) * (math::exp(k * k * covariance) - 1.0) * core::f64::consts::TAU * h * width
    };
    let area = core::f64::consts::PI * diameter * diameter / 4.0;
    1000.0 * math::sqrt((0..STEPS).map(term).sum::<f64>() / area) / k
}

impl Field {
    /// The same film at another density: grain of one size adds its densities, so granularity goes with the root of net
    /// density (H. Siedentopf, Phys. Z. 38, 1937).
    pub(super) fn at(&self, density: f64, base: f64) -> Self {
        let factor = math::sqrt((density - base) / (self.density - base));
        Self { density, granularity: self.granularity * factor, ..*self }
    }

    /// The field's light at every pixel, with slow shading and dust.
    pub(super) fn picture(&self, chance: &mut Chance) -> Light {
        let mut picture = Light { width: SIDE, height: SIDE, light: self.light(SIDE, chance) };
        picture.soil(Dirt { specks: 7, hairs: 1, scratches: 0, dust_light: 0.0 }, chance);
        picture
    }

    /// Light of every pixel of a square.
    fn light(&self, side: usize, chance: &mut Chance) -> Vec<f64> {
        let sigma = self.sigma();
        let k = core::f64::consts::LN_10;
        let noise = blurred_noise(self.blur_px, (side, side), chance);
        let mean = math::pow(10.0, -self.density);
        let spread = k * sigma;
        let pixel = |(index, n): (usize, &f64)| {
            mean * shading(index, side) * math::exp(-spread * n - 0.5 * spread * spread)
        };
        noise.iter().enumerate().map(pixel).collect()
    }

    /// Standard deviation of density in one pixel.
    fn sigma(&self) -> f64 {
        root(1e-4, 0.5, |sigma| through_aperture(sigma, self.blur_px) - self.granularity)
    }

    /// The film's grain at any density, from that of its uniform area.
    pub(super) fn grain(&self, base: f64) -> Grain {
        Grain { sigma: self.sigma(), net: self.density - base, blur_px: self.blur_px }
    }
}

/// Grain at any density: its standard deviation goes with the root of net density.
#[derive(Debug, Clone, Copy)]
pub(super) struct Grain {
    sigma: f64,
    net: f64,
    blur_px: f64,
}

impl Grain {
    /// Standard deviation of density in one pixel.
    pub(super) fn sigma(&self, net: f64) -> f64 {
        self.sigma * math::sqrt((net / self.net).max(0.0))
    }

    /// Its fluctuation, of variance 1.
    pub(super) fn noise(&self, size: (usize, usize), chance: &mut Chance) -> Vec<f64> {
        blurred_noise(self.blur_px, size, chance)
    }
}

/// White noise blurred across, then down.
fn blurred_noise(blur_px: f64, (width, height): (usize, usize), chance: &mut Chance) -> Vec<f64> {
    let kernel = kernel(blur_px);
    let (wide, high) = (width + 2 * REACH as usize, height + 2 * REACH as usize);
    let white: Vec<f64> = (0..wide * high).map(|_| chance.normal()).collect();
    let across: Vec<f64> = (0..width * high)
        .map(|n| {
            let start = (n / width) * wide + n % width;
            kernel.iter().zip(&white[start..]).map(|(weight, value)| weight * value).sum()
        })
        .collect();
    (0..width * height)
        .map(|n| kernel.iter().enumerate().map(|(row, weight)| weight * across[n + row * width]).sum())
        .collect()
}

/// Three fields of other densities, side by side on one scan.
pub(super) fn further_picture(fields: &[Field; 3], chance: &mut Chance) -> Light {
    let parts: Vec<Vec<f64>> = fields.iter().map(|field| field.light(FURTHER_SIDE, chance)).collect();
    let rows = (0..FURTHER_SIDE).map(|y| y * FURTHER_SIDE..(y + 1) * FURTHER_SIDE);
    let light = rows.flat_map(|row| parts.iter().flat_map(move |part| part[row.clone()].iter().copied()));
    let light = light.collect();
    let mut picture = Light { width: 3 * FURTHER_SIDE, height: FURTHER_SIDE, light };
    picture.soil(Dirt { specks: 5, hairs: 0, scratches: 0, dust_light: 0.0 }, chance);
    picture
}

/// The lamp is a little brighter in one corner; mean 1 over the field.
fn shading(index: usize, side: usize) -> f64 {
    let at = |n: usize| (n as f64 + 0.5) / side as f64 - 0.5;
    let (x, y) = (at(index % side), at(index / side));
    1.0 + 0.020 * x - 0.012 * y + 0.03 * (x * x - 1.0 / 12.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the correlation that the truth is an integral over.
    #[test]
    fn noise_has_the_correlation_of_the_truth() {
        for blur in [0.65, 0.85, 1.25] {
            let kernel = kernel(blur);
            for lag in 0..=4 {
                let found: f64 = kernel.iter().zip(&kernel[lag..]).map(|(a, b)| a * b).sum();
                let wanted = math::exp(-((lag * lag) as f64) / (4.0 * blur * blur));
                assert!((found - wanted).abs() < 1e-4, "{blur}, {lag}: {found} for {wanted}");
            }
        }
    }

    /// Source: Selwyn's law (1935): sigma through the aperture is the root of the correlation's integral, `4 pi blur^2` pixels
    /// for a Gaussian, over the aperture's area. Grain that is narrow against it loses a few parts in a thousand at the rim.
    #[test]
    fn narrow_grain_follows_selwyn() {
        let pitch = 25_400.0 / f64::from(DPI);
        let area = core::f64::consts::PI * APERTURE_UM * APERTURE_UM / 4.0;
        let blur = 0.3;
        let integral = math::sqrt(4.0 * core::f64::consts::PI) * blur;
        let expected = 1000.0 * 0.02 * integral * pitch / math::sqrt(area);
        let found = through_aperture(0.02, blur);
        assert!((found / expected - 1.0).abs() < 0.01, "{found} {expected}");
    }
}
