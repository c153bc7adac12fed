//! The invented scanner: flare, a tone curve that is neither linear nor sRGB, noise of light and of electronics, and
//! what lies on the glass.

use twinwedge_core::numeric::math;

use super::chance::Chance;

/// A scanner at fixed settings. The same settings scan calibration tablet and films.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scanner {
    /// Stray light as a share of full light.
    pub(super) flare: f64,
    /// The codes go with light to this power.
    pub(super) power: f64,
    /// Code of no light at all.
    pub(super) dark: f64,
    /// Code of full light.
    pub(super) full: f64,
    /// Noise of light: variance over light.
    pub(super) photon: f64,
    /// Noise of electronics, in light.
    pub(super) read: f64,
}

/// For film, seen through.
pub(super) const FILM: Scanner =
    Scanner { flare: 0.0004, power: 0.47, dark: 420.0, full: 63_900.0, photon: 1.2e-6, read: 2.0e-5 };
/// For prints, by reflection.
pub(super) const PRINT: Scanner =
    Scanner { flare: 0.0025, power: 0.58, dark: 610.0, full: 62_800.0, photon: 4.0e-6, read: 1.0e-4 };

/// A picture of light, 0..1, row by row.
#[derive(Debug, Clone)]
pub(super) struct Light {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) light: Vec<f64>,
}

impl Scanner {
    /// The codes of a picture.
    pub(super) fn codes(&self, picture: &Light, chance: &mut Chance) -> Vec<u16> {
        picture.light.iter().map(|light| self.code(*light, chance)).collect()
    }

    fn code(&self, light: f64, chance: &mut Chance) -> u16 {
        let seen = (light + self.flare) / (1.0 + self.flare);
        let noise = math::sqrt(self.photon * seen + self.read * self.read) * chance.normal();
        let code = self.dark + (self.full - self.dark) * math::pow((seen + noise).max(0.0), self.power);
        code.round().clamp(0.0, 65_535.0) as u16
    }
}

/// How much lies on a scan.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dirt {
    /// Specks of dust.
    pub(super) specks: u32,
    /// How many hairs lie on the glass.
    pub(super) hairs: u32,
    /// Scratches along the length.
    pub(super) scratches: u32,
    /// Light that dust shows: 0 for dust that stops the scanner's light, the paper's white for dust on the negative.
    pub(super) dust_light: f64,
}

impl Light {
    /// Lays dirt on the picture.
    pub(super) fn soil(&mut self, dirt: Dirt, chance: &mut Chance) {
        let (width, height) = (self.width as f64, self.height as f64);
        for _ in 0..dirt.specks {
            let (x, y) = (chance.between(0.0, width), chance.between(0.0, height));
            let radius = chance.between(0.8, 3.2);
            self.dab(x, y, radius, dirt.dust_light, chance.between(0.5, 0.95));
        }
        for _ in 0..dirt.hairs {
            let (mut x, mut y) = (chance.between(0.0, width), chance.between(0.0, height));
            let mut turn = chance.between(0.0, core::f64::consts::TAU);
            for _ in 0..60 {
                self.dab(x, y, 0.9, dirt.dust_light, 0.35);
                turn += 0.25 * chance.normal();
                let (sin, cos) = math::sincos(turn);
                x += 0.8 * cos;
                y += 0.8 * sin;
            }
        }
        for number in 0..dirt.scratches {
            let (from, to) = (chance.between(0.0, height), chance.between(0.0, height));
            // Scratches in the emulsion let more light through, those in the base scatter it away.
            let light = if number % 2 == 0 { 0.9 } else { 0.0 };
            for column in 0..self.width {
                let y = from + (to - from) * column as f64 / width;
                self.dab(column as f64 + 0.5, y, 0.7, light, 0.3);
            }
        }
    }

    /// Mixes `light` into a soft round spot.
    fn dab(&mut self, x: f64, y: f64, radius: f64, light: f64, depth: f64) {
        let reach = radius + 1.0;
        let rows = (y - reach).max(0.0) as usize..((y + reach).max(0.0) as usize + 1).min(self.height);
        for j in rows {
            let columns = (x - reach).max(0.0) as usize..((x + reach).max(0.0) as usize + 1).min(self.width);
            for i in columns {
                let (dx, dy) = (i as f64 + 0.5 - x, j as f64 + 0.5 - y);
                let cover = (radius + 0.5 - math::sqrt(dx * dx + dy * dy)).clamp(0.0, 1.0) * depth;
                let pixel = &mut self.light[j * self.width + i];
                *pixel += (light - *pixel) * cover;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the tone curve is strictly rising, so every density has a code of its own (noise left out by averaging).
    #[test]
    fn more_light_gives_higher_codes() {
        let mut chance = Chance::of("test");
        let mean = |light: f64, chance: &mut Chance| {
            (0..500).map(|_| f64::from(FILM.code(light, chance))).sum::<f64>() / 500.0
        };
        let codes: Vec<f64> =
            [0.0, 0.001, 0.01, 0.1, 1.0].iter().map(|light| mean(*light, &mut chance)).collect();
        assert!(codes.windows(2).all(|pair| pair[1] > pair[0] + 100.0), "{codes:?}");
    }
}
