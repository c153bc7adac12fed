//! Pairs of prints of one scene, or of two, whose true map is known.

use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use twinwedge_core::register::Picture;

use super::scene::{Kind, Scene, between};

/// A map of the plane as a matrix of its own: from the first print to the second.
#[derive(Debug, Clone, Copy)]
pub(super) struct Map(pub(super) [[f64; 3]; 3]);

impl Map {
    pub(super) fn apply(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let [p, q, w] = self.0.map(|row| row[0] * x + row[1] * y + row[2]);
        (p / w, q / w)
    }

    fn back(&self) -> Self {
        let [[a, b, c], [d, e, f], [g, h, i]] = self.0;
        Self([
            [e * i - f * h, c * h - b * i, b * f - c * e],
            [f * g - d * i, a * i - c * g, c * d - a * f],
            [d * h - e * g, b * g - a * h, a * e - b * d],
        ])
    }

    fn after(&self, first: &Self) -> Self {
        Self(std::array::from_fn(|i| {
            std::array::from_fn(|j| (0..3).map(|k| self.0[i][k] * first.0[k][j]).sum())
        }))
    }

    pub(super) fn shift(x: f64, y: f64) -> Self {
        Self([[1.0, 0.0, x], [0.0, 1.0, y], [0.0, 0.0, 1.0]])
    }

    pub(super) fn turn(degrees: f64, scale: f64) -> Self {
        let (sine, cosine) = degrees.to_radians().sin_cos();
        Self([[scale * cosine, -scale * sine, 0.0], [scale * sine, scale * cosine, 0.0], [0.0, 0.0, 1.0]])
    }
}

/// How a print was made of a scene.
#[derive(Debug, Clone, Copy)]
pub(super) struct Making {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Contrast of the tone curve and the reflectance in its middle.
    contrast: f32,
    middle: f32,
    /// Standard deviation of grain in density, and whether it is coarse.
    pub(super) grain: f32,
    coarse: bool,
    /// Density that the corners lose.
    falloff: f32,
    dust: u32,
}

impl Making {
    pub(super) fn new(rng: &mut Pcg64Mcg) -> Self {
        Self {
            width: between(rng, 500.0, 720.0) as usize,
            height: between(rng, 500.0, 640.0) as usize,
            contrast: between(rng, 3.0, 6.5),
            middle: between(rng, 0.38, 0.62),
            grain: between(rng, 0.005, 0.06),
            coarse: rng.random::<f32>() < 0.3,
            falloff: between(rng, -0.1, 0.3),
            dust: (40.0 * rng.random::<f32>()) as u32,
        }
    }

    /// The print in densities; `to_scene` says which place of the scene a place of the print shows.
    pub(super) fn print(&self, scene: &Scene, to_scene: &Map, rng: &mut Pcg64Mcg) -> Picture {
        let (width, height) = (self.width, self.height);
        let (cx, cy) = (width as f32 / 2.0, height as f32 / 2.0);
        let m = to_scene.0.map(|row| row.map(|v| (v / to_scene.0[2][2]) as f32));
        let mut tones = Vec::with_capacity(width * height);
        for row in 0..height {
            let y = row as f32 + 0.5;
            for column in 0..width {
                let x = column as f32 + 0.5;
                let w = m[2][0] * x + m[2][1] * y + m[2][2];
                let at =
                    ((m[0][0] * x + m[0][1] * y + m[0][2]) / w, (m[1][0] * x + m[1][1] * y + m[1][2]) / w);
                let tone = scene.at(at.0, at.1);
                // Density falls with reflectance along an S, as paper does.
                let density = 0.05 + 1.9 / (1.0 + (self.contrast * (tone - self.middle)).exp());
                let (u, v) = ((x - cx) / cx, (y - cy) / cy);
                tones.push(density - self.falloff * (u * u + v * v) / 2.0);
            }
        }
        self.add_grain(&mut tones, rng);
        self.add_dust(&mut tones, rng);
        Picture { width, height, tones, scale: 1.0 }
    }

    fn add_grain(&self, tones: &mut [f32], rng: &mut Pcg64Mcg) {
        // A sum of four even numbers has variance 1/3 and is near enough to normal.
        let white: Vec<f32> = (0..tones.len())
            .map(|_| {
                let bits = rng.random::<u64>();
                let part = |k: u32| f32::from((bits >> (16 * k)) as u16) / 65_536.0 - 0.5;
                (part(0) + part(1) + part(2) + part(3)) * 3.0_f32.sqrt()
            })
            .collect();
        if !self.coarse {
            for (tone, noise) in tones.iter_mut().zip(&white) {
                *tone += self.grain * noise;
            }
            return;
        }
        // Sums over squares of two by two pixels: grain larger than a pixel, of the same strength.
        let wide = self.width;
        for index in 0..tones.len() {
            let at = |by: usize| white[(index + by) % white.len()];
            tones[index] += self.grain * 0.5 * (at(0) + at(1) + at(wide) + at(wide + 1));
        }
    }

    fn add_dust(&self, tones: &mut [f32], rng: &mut Pcg64Mcg) {
        for _ in 0..self.dust {
            let (x, y) =
                (between(rng, 3.0, self.width as f32 - 4.0), between(rng, 3.0, self.height as f32 - 4.0));
            let (angle, length) = (between(rng, 0.0, 6.2), between(rng, 1.0, 25.0));
            let density = if rng.random::<bool>() { 0.02 } else { 1.9 };
            for k in 0..(2.0 * length) as u16 {
                let along = f32::from(k) / 2.0;
                let (px, py) = (x + along * angle.cos(), y + along * angle.sin());
                for (dx, dy) in [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)] {
                    let (column, row) = ((px + dx) as usize, (py + dy) as usize);
                    if px >= 0.0 && py >= 0.0 && column < self.width && row < self.height {
                        tones[row * self.width + column] = density;
                    }
                }
            }
        }
    }
}

/// What the second print's map from the first is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Bend {
    Similarity,
    Affine,
    Perspective,
}

/// Two prints and the true map.
pub(super) struct Pair {
    pub(super) first: Picture,
    pub(super) second: Picture,
    pub(super) truth: Map,
    pub(super) bend: Bend,
    pub(super) kind: Kind,
    /// Share of the smaller print that the other shows.
    pub(super) overlap: f64,
    pub(super) grain: f32,
}

impl Pair {
    /// One of the many pairs of one scene: turned by up to 15 degrees, 0.8 to 1.25 times as large, up to 40 per cent of
    /// the smaller print missing from the other.
    pub(super) fn new(number: u64) -> Self {
        let mut rng = Pcg64Mcg::seed_from_u64(0x5a17 + number);
        let kind = Kind::ALL[(number % 4) as usize];
        let scene = Scene::new(kind, &mut rng);
        let bend = match number / 4 % 4 {
            0 | 1 => Bend::Similarity,
            2 => Bend::Affine,
            _ => Bend::Perspective,
        };
        let (one, other) = (Making::new(&mut rng), Making::new(&mut rng));
        let (truth, overlap) = loop {
            let truth = a_map(bend, &one, &other, &mut rng);
            let shared = shared(&truth, &one, &other);
            if shared >= 0.6 {
                break (truth, shared);
            }
        };
        let first = one.print(&scene, &Map::shift(0.0, 0.0), &mut rng);
        let second = other.print(&scene, &truth.back(), &mut rng);
        Self { first, second, truth, bend, kind, overlap, grain: one.grain.max(other.grain) }
    }

    /// Root mean square distance between the found and the true place over the true overlap, in pixels of the second.
    pub(super) fn error(&self, found: impl Fn((f64, f64)) -> (f64, f64)) -> f64 {
        let places: Vec<(f64, f64)> = places(&self.first).filter(|p| self.holds(*p)).collect();
        let square = |p: &(f64, f64)| {
            let (f, t) = (found(*p), self.truth.apply(*p));
            (f.0 - t.0).powi(2) + (f.1 - t.1).powi(2)
        };
        (places.iter().map(square).sum::<f64>() / places.len() as f64).sqrt()
    }

    fn holds(&self, p: (f64, f64)) -> bool {
        let (x, y) = self.truth.apply(p);
        x >= 0.0 && y >= 0.0 && x <= self.second.width as f64 && y <= self.second.height as f64
    }
}

fn places(picture: &Picture) -> impl Iterator<Item = (f64, f64)> {
    const SIDE: usize = 20;
    let (w, h) = (picture.width as f64, picture.height as f64);
    let share = |k: usize| (k as f64 + 0.5) / SIDE as f64;
    (0..SIDE * SIDE).map(move |k| (share(k % SIDE) * w, share(k / SIDE) * h))
}

fn a_map(bend: Bend, one: &Making, other: &Making, rng: &mut Pcg64Mcg) -> Map {
    let mut wide = |low: f32, high: f32| f64::from(between(rng, low, high));
    let turn = Map::turn(wide(-15.0, 15.0), 0.8 * (1.25_f64 / 0.8).powf(wide(0.0, 1.0)));
    let (w, h) = (one.width as f64, one.height as f64);
    let bent = match bend {
        Bend::Similarity => Map::shift(0.0, 0.0),
        Bend::Affine => {
            let mut off = || wide(-0.015, 0.015);
            Map([[1.0 + off(), off(), 0.0], [off(), 1.0 + off(), 0.0], [0.0, 0.0, 1.0]])
        }
        // Seen aslant: the far side is up to 5 per cent smaller than the near one.
        Bend::Perspective => {
            Map([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [wide(-0.05, 0.05) / w, wide(-0.05, 0.05) / h, 1.0]])
        }
    };
    let away = Map::shift(
        other.width as f64 / 2.0 + w * wide(-0.4, 0.4),
        other.height as f64 / 2.0 + h * wide(-0.4, 0.4),
    );
    away.after(&turn).after(&bent).after(&Map::shift(-w / 2.0, -h / 2.0))
}

/// Share of the smaller print that the other shows, in the first print's pixels.
fn shared(truth: &Map, one: &Making, other: &Making) -> f64 {
    const SIDE: usize = 40;
    let (w, h) = (one.width as f64, one.height as f64);
    let inside = (0..SIDE * SIDE).filter(|k| {
        let p = ((*k % SIDE) as f64 + 0.5, (*k / SIDE) as f64 + 0.5);
        let (x, y) = truth.apply((p.0 / SIDE as f64 * w, p.1 / SIDE as f64 * h));
        x >= 0.0 && y >= 0.0 && x <= other.width as f64 && y <= other.height as f64
    });
    let back = truth.back();
    let (a, b) = (other.width as f64, other.height as f64);
    let corners = [(0.0, 0.0), (a, 0.0), (a, b), (0.0, b)].map(|p| back.apply(p));
    let next = corners.iter().cycle().skip(1);
    let area = corners.iter().zip(next).map(|(p, q)| p.0 * q.1 - q.0 * p.1).sum::<f64>().abs() / 2.0;
    inside.count() as f64 / (SIDE * SIDE) as f64 * w * h / area.min(w * h)
}

/// Why two prints do not belong together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unlike {
    /// Two scenes of one kind.
    Subject,
    /// Two parts of one scene that share nothing.
    Part,
    /// One is mirrored.
    Mirrored,
    /// One is turned by more than 24 degrees.
    Turned,
}

/// Two prints that do not belong together, or not as they lie.
pub(super) fn unlike(number: u64, why: Unlike) -> (Picture, Picture) {
    let mut rng = Pcg64Mcg::seed_from_u64(0x0dd + 1000 * number);
    let kind = Kind::ALL[(number % 4) as usize];
    let scene = Scene::new(kind, &mut rng);
    let (one, other) = (Making::new(&mut rng), Making::new(&mut rng));
    let first = one.print(&scene, &Map::shift(0.0, 0.0), &mut rng);
    let (w, h) = (other.width as f64, other.height as f64);
    let centred = |map: &Map| {
        let back = Map::shift(one.width as f64 / 2.0, one.height as f64 / 2.0);
        back.after(map).after(&Map::shift(-w / 2.0, -h / 2.0))
    };
    let small = f64::from(between(&mut rng, -4.0, 4.0));
    let map = match why {
        Unlike::Subject => centred(&Map::turn(small, 1.0)),
        // Beyond the first print's edge.
        Unlike::Part => Map::shift(one.width as f64 + 5.0, 0.0),
        Unlike::Mirrored => {
            centred(&Map([[-1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])).after(&Map::turn(0.0, 1.0))
        }
        Unlike::Turned => {
            let by = [90.0, -90.0, 180.0, 40.0][(number % 4) as usize];
            centred(&Map::turn(by + small, 1.0))
        }
    };
    let second = if why == Unlike::Subject {
        other.print(&Scene::new(kind, &mut rng), &map, &mut rng)
    } else {
        other.print(&scene, &map, &mut rng)
    };
    (first, second)
}
