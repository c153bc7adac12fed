//! Light on its way to codes: what lies on the picture, the lamp, and the scanner.

use twinwedge_core::measured::Flags;
use twinwedge_core::scan::{Samples, Scan, ScanMeta, ToneSource, ToneTable};

use super::chance::{self, Chance};

/// Light of each pixel, 0 to 1.
pub(super) struct Light {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) light: Vec<f32>,
}

/// A scanner at fixed settings.
#[derive(Clone, Copy)]
pub(super) struct Scanner {
    /// Codes go with light to this power.
    pub(super) power: f64,
    /// Light that reaches the highest code.
    pub(super) white: f64,
    /// Light below which the lowest code is given.
    pub(super) black: f64,
    /// Stray light that reaches every pixel.
    pub(super) flare: f64,
    /// Variance of light over light.
    pub(super) photon: f64,
    /// Deviation of the electronics, in light.
    pub(super) read: f64,
    /// 256 or 65536.
    pub(super) levels: usize,
}

impl Scanner {
    pub(super) fn draw(chance: &mut Chance, reflection: bool) -> Self {
        let levels = if chance.one_in(0.4) { 256 } else { 65_536 };
        let least = if reflection { 0.001 } else { 0.0 };
        Self {
            power: chance.between(0.42, 0.6),
            white: if chance.one_in(0.15) { chance.between(0.6, 0.85) } else { 1.05 },
            black: if chance.one_in(0.2) { chance.between(0.0005, 0.004) } else { 0.0 },
            flare: least + 10_f64.powf(chance.between(-4.5, -2.6)),
            photon: 10_f64.powf(chance.between(-6.3, -5.2)),
            read: 10_f64.powf(chance.between(-5.0, -4.0)),
            levels,
        }
    }

    /// The exact way back from codes to light.
    pub(super) fn table(&self) -> ToneTable {
        let top = (self.levels - 1) as f64;
        let light: Vec<f64> = (0..self.levels)
            .map(|code| {
                let share = (code as f64 / top).powf(1.0 / self.power);
                (self.black + share * (self.white - self.black) - self.flare).max(1e-6)
            })
            .collect();
        let density: Vec<f64> = light.iter().map(|light| -light.log10()).collect();
        let trusted = (density[self.levels - 1], density[0]);
        ToneTable {
            density_u: vec![0.0; self.levels],
            errors: twinwedge_core::scan::ScaleErrors::default(),
            light,
            density,
            trusted,
            source: ToneSource::Calibration("exact".to_owned()),
            flags: Flags::empty(),
        }
    }

    /// Least light that two codes tell apart by 0.02 of density or better.
    pub(super) fn resolves(&self) -> f64 {
        let table = self.table();
        let fine = (1..self.levels).find(|code| table.density[code - 1] - table.density[*code] < 0.02);
        let dark = fine.map_or(1.0, |code| table.light[code]);
        // Below this noise and stray light take over.
        dark.max(6.0 * self.read).max(1.1 * (self.black - self.flare)).max(2e-4)
    }

    /// Highest light that is not clipped.
    pub(super) fn highest(&self) -> f64 {
        (self.white - self.flare) * 0.97
    }

    pub(super) fn scan(&self, picture: &Light, chance: &mut Chance) -> Scan {
        let top = (self.levels - 1) as f64;
        let mut codes: Vec<u16> = Vec::with_capacity(picture.light.len());
        let span = self.white - self.black;
        for y in 0..picture.height {
            let noise = chance::white(chance, picture.width);
            let row = &picture.light[y * picture.width..(y + 1) * picture.width];
            for (light, noise) in row.iter().zip(noise) {
                let seen = f64::from(*light) + self.flare;
                let spread = (self.photon * seen + self.read * self.read).sqrt();
                let light = (seen + spread * f64::from(*noise) - self.black) / span;
                let code = if light <= 0.0 { 0.0 } else { light.powf(self.power) * top + 0.5 };
                codes.push(if code > top { top as u16 } else { code as u16 });
            }
        }
        let samples = if self.levels == 256 {
            Samples::U8(codes.iter().map(|code| *code as u8).collect())
        } else {
            Samples::U16(codes)
        };
        let meta = ScanMeta::default();
        Scan { width: picture.width, height: picture.height, channels: 1, samples, meta }
    }
}

impl Light {
    /// Grain of density deviation `at_one` at net density 1, growing with the root of it.
    pub(super) fn grain(&mut self, at_one: f64, base: f64, chance: &mut Chance) {
        let side = chance::GRAIN_SIDE;
        let (dx, dy) = (chance.below(side), chance.below(side));
        let grain = chance::grain();
        for y in 0..self.height {
            let row = ((y + dy) % side) * side;
            for x in 0..self.width {
                let light = &mut self.light[y * self.width + x];
                let net = -light.log10() - base as f32;
                if net > 0.0 {
                    let spread = std::f32::consts::LN_10 * at_one as f32 * net.sqrt();
                    *light *= (spread * grain[row + (x + dx) % side] - 0.5 * spread * spread).exp();
                }
            }
        }
    }

    /// Dust, hairs and scratches.
    pub(super) fn dirt(&mut self, chance: &mut Chance) {
        let (width, height) = (self.width as f64, self.height as f64);
        let dust = if chance.one_in(0.7) { 0.0 } else { 0.9 };
        for _ in 0..chance.below(50) {
            let (x, y) = (chance.between(0.0, width), chance.between(0.0, height));
            self.dab(x, y, chance.between(0.5, 2.5), dust, chance.between(0.4, 0.95));
        }
        for _ in 0..chance.below(4) {
            let (mut x, mut y) = (chance.between(0.0, width), chance.between(0.0, height));
            let mut turn = chance.between(0.0, 6.3);
            for _ in 0..chance.below(60) {
                self.dab(x, y, 0.7, dust, 0.5);
                turn += 0.3 * chance.normal();
                x += 0.8 * turn.cos();
                y += 0.8 * turn.sin();
            }
        }
    }

    /// A straight scratch from one place to another.
    pub(super) fn scratch(&mut self, from: (f64, f64), to: (f64, f64), light: f64, depth: f64) {
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        for k in 0..(length / 0.7) as usize {
            let share = k as f64 * 0.7 / length;
            self.dab(from.0 + share * (to.0 - from.0), from.1 + share * (to.1 - from.1), 0.6, light, depth);
        }
    }

    /// A mark with soft rim that takes `density` away or adds it.
    pub(super) fn smudge(&mut self, at: (f64, f64), radius: f64, density: f64) {
        let reach = 2.5 * radius;
        for y in (at.1 - reach).max(0.0) as usize..((at.1 + reach).max(0.0) as usize).min(self.height) {
            for x in (at.0 - reach).max(0.0) as usize..((at.0 + reach).max(0.0) as usize).min(self.width) {
                let (dx, dy) = ((x as f64 + 0.5 - at.0) / radius, (y as f64 + 0.5 - at.1) / radius);
                // Ridges of a finger, about seven over its width.
                let ridges = 1.0 + 0.4 * (22.0 * dx + 6.0 * dy).sin();
                let by = density * (-0.5 * (dx * dx + dy * dy)).exp() * ridges;
                self.light[y * self.width + x] *= 10_f64.powf(-by) as f32;
            }
        }
    }

    /// The lamp falls off towards the corners by this share.
    pub(super) fn fall_off(&mut self, share: f64) {
        for y in 0..self.height {
            for x in 0..self.width {
                let by = falloff(share, (x as f64, y as f64), (self.width, self.height));
                self.light[y * self.width + x] *= by as f32;
            }
        }
    }

    /// Mixes `light` into a soft round spot.
    pub(super) fn dab(&mut self, x: f64, y: f64, radius: f64, light: f64, depth: f64) {
        let reach = radius + 1.0;
        for j in (y - reach).max(0.0) as usize..((y + reach + 1.0).max(0.0) as usize).min(self.height) {
            for i in (x - reach).max(0.0) as usize..((x + reach + 1.0).max(0.0) as usize).min(self.width) {
                let away = (i as f64 + 0.5 - x).hypot(j as f64 + 0.5 - y);
                let cover = (radius + 0.5 - away).clamp(0.0, 1.0) * depth;
                let pixel = &mut self.light[j * self.width + i];
                *pixel += (light as f32 - *pixel) * cover as f32;
            }
        }
    }
}

/// Light that is left at a place.
pub(super) fn falloff(share: f64, (x, y): (f64, f64), (width, height): (usize, usize)) -> f64 {
    let (w, h) = (width as f64, height as f64);
    let (dx, dy) = (2.0 * x / w - 1.0, 2.0 * y / h - 1.0);
    1.0 - 0.5 * share * (dx * dx + dy * dy)
}
