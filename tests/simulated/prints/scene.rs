//! Scenes as formulas: reflectance between about 0 and 1 at any place. No pixel is ever resampled.

use rand::RngExt;
use rand_pcg::Pcg64Mcg;

/// What a scene is mainly of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Texture of all sizes, as foliage or gravel.
    Texture,
    /// Large things with plain sides, some texture.
    StillLife,
    /// A patch chart amid a still life.
    Chart,
    /// Cloth, fences, boards: stripes of several directions with edges.
    Stripes,
}

impl Kind {
    pub(super) const ALL: [Self; 4] = [Self::Texture, Self::StillLife, Self::Chart, Self::Stripes];
}

/// Lattice cells of one octave before it repeats.
const LATTICE: usize = 64;
/// Side of a cell in which things are looked up, and cells along each side; the scene reaches from -`CELLS`/2 cells on.
const CELL: f32 = 48.0;
const CELLS: usize = 64;

/// One octave of value noise.
struct Octave {
    frequency: f32,
    offset: (f32, f32),
    strength: f32,
    lattice: Vec<f32>,
}

/// A disc or a rectangle that is turned, with an edge of some softness.
struct Thing {
    centre: (f32, f32),
    half: (f32, f32),
    turn: (f32, f32),
    round: bool,
    soft: f32,
    change: f32,
    grain: f32,
}

/// A scene.
pub(super) struct Scene {
    octaves: Vec<Octave>,
    things: Vec<Thing>,
    /// The things near each cell.
    near: Vec<Vec<u16>>,
    stripes: Vec<[f32; 4]>,
}

impl Scene {
    pub(super) fn new(kind: Kind, rng: &mut Pcg64Mcg) -> Self {
        let mut scene = Self {
            octaves: octaves(kind, rng),
            things: Vec::new(),
            near: vec![Vec::new(); CELLS * CELLS],
            stripes: Vec::new(),
        };
        let (count, largest) = match kind {
            Kind::Texture => (60, 40.0),
            Kind::StillLife | Kind::Chart => (150, 110.0),
            Kind::Stripes => (70, 90.0),
        };
        for _ in 0..count {
            let at = (between(rng, -700.0, 1500.0), between(rng, -700.0, 1400.0));
            let half = (between(rng, 5.0, largest), between(rng, 5.0, largest));
            scene.put(rng, at, half, 0.35);
        }
        if kind == Kind::Chart {
            scene.chart(rng);
        }
        if kind == Kind::Stripes {
            for _ in 0..3 {
                let angle = between(rng, 0.0, 3.1);
                let frequency = std::f32::consts::TAU / between(rng, 14.0, 60.0);
                let strength = between(rng, 0.05, 0.12);
                scene.stripes.push([frequency * angle.cos(), frequency * angle.sin(), angle, strength]);
            }
        }
        scene
    }

    /// Reflectance at a place.
    pub(super) fn at(&self, x: f32, y: f32) -> f32 {
        let mut tone = 0.5;
        for octave in &self.octaves {
            tone += octave.strength * octave.at(x, y);
        }
        for [u, v, phase, strength] in &self.stripes {
            let wave = (u * x + v * y + phase).sin();
            // Bent towards a square wave: an edge, not a sine.
            tone += strength * (3.0 * wave).clamp(-1.0, 1.0);
        }
        let half = CELLS as f32 / 2.0;
        let (column, row) = (x / CELL + half, y / CELL + half);
        if column < 0.0 || row < 0.0 || column >= CELLS as f32 || row >= CELLS as f32 {
            return tone;
        }
        for index in &self.near[row as usize * CELLS + column as usize] {
            let thing = &self.things[usize::from(*index)];
            let inside = thing.inside(x, y);
            if inside > 0.0 {
                tone += inside * (thing.change + thing.grain * (tone - 0.5));
            }
        }
        tone
    }

    fn put(&mut self, rng: &mut Pcg64Mcg, centre: (f32, f32), half: (f32, f32), change: f32) {
        let angle = between(rng, 0.0, 3.1);
        let thing = Thing {
            centre,
            half,
            turn: (angle.cos(), angle.sin()),
            round: rng.random::<f32>() < 0.4,
            soft: between(rng, 1.2, 3.0),
            change: between(rng, -change, change),
            grain: between(rng, -1.0, 0.5),
        };
        self.add(thing);
    }

    fn add(&mut self, thing: Thing) {
        let reach = thing.half.0.hypot(thing.half.1) + 8.0;
        let cell = |v: f32| ((v / CELL + CELLS as f32 / 2.0).max(0.0) as usize).min(CELLS - 1);
        let index = u16::try_from(self.things.len()).expect("few things");
        for row in cell(thing.centre.1 - reach)..=cell(thing.centre.1 + reach) {
            for column in cell(thing.centre.0 - reach)..=cell(thing.centre.0 + reach) {
                self.near[row * CELLS + column].push(index);
            }
        }
        self.things.push(thing);
    }

    /// Four rows of six plain patches on a plain board.
    fn chart(&mut self, rng: &mut Pcg64Mcg) {
        let angle = between(rng, -0.2, 0.2);
        let (middle, side) =
            ((between(rng, 200.0, 500.0), between(rng, 150.0, 400.0)), between(rng, 26.0, 44.0));
        let plain = |centre, half, change| Thing {
            centre,
            half,
            turn: (angle.cos(), angle.sin()),
            round: false,
            soft: 1.5,
            change,
            grain: -1.0,
        };
        self.add(plain(middle, (3.9 * side, 2.7 * side), -0.25));
        for row in 0..4_u8 {
            for column in 0..6_u8 {
                let (u, v) = ((f32::from(column) - 2.5) * 1.2 * side, (f32::from(row) - 1.5) * 1.2 * side);
                let centre = (
                    middle.0 + u * angle.cos() - v * angle.sin(),
                    middle.1 + u * angle.sin() + v * angle.cos(),
                );
                self.add(plain(centre, (side / 2.0, side / 2.0), between(rng, -0.2, 0.6)));
            }
        }
    }
}

fn octaves(kind: Kind, rng: &mut Pcg64Mcg) -> Vec<Octave> {
    let strength = match kind {
        Kind::Texture => 0.16,
        Kind::StillLife | Kind::Chart => 0.06,
        Kind::Stripes => 0.05,
    };
    let octave = |k: u8| {
        let period = 9.0 * 2.1_f32.powi(i32::from(k));
        Octave {
            frequency: 1.0 / period,
            offset: (between(rng, 0.0, 64.0), between(rng, 0.0, 64.0)),
            strength: strength * 1.35_f32.powi(i32::from(k)) / 1.35_f32.powi(2),
            lattice: (0..LATTICE * LATTICE).map(|_| between(rng, -1.0, 1.0)).collect(),
        }
    };
    (0..5).map(octave).collect()
}

impl Octave {
    /// Lattice values joined by a quintic, so that the slope has no kinks.
    fn at(&self, x: f32, y: f32) -> f32 {
        let (x, y) =
            (x * self.frequency + self.offset.0 + 4096.0, y * self.frequency + self.offset.1 + 4096.0);
        let (column, row) = (x as usize, y as usize);
        let (fx, fy) = (x - column as f32, y - row as f32);
        let ease = |t: f32| t * t * t * (t * (6.0 * t - 15.0) + 10.0);
        let (sx, sy) = (ease(fx), ease(fy));
        let (c0, c1) = (column % LATTICE, (column + 1) % LATTICE);
        let (r0, r1) = (row % LATTICE * LATTICE, (row + 1) % LATTICE * LATTICE);
        let upper = self.lattice[r0 + c0] + sx * (self.lattice[r0 + c1] - self.lattice[r0 + c0]);
        let lower = self.lattice[r1 + c0] + sx * (self.lattice[r1 + c1] - self.lattice[r1 + c0]);
        upper + sy * (lower - upper)
    }
}

impl Thing {
    /// 1 within, 0 outside, between over the edge.
    fn inside(&self, x: f32, y: f32) -> f32 {
        let (dx, dy) = (x - self.centre.0, y - self.centre.1);
        let (u, v) = (dx * self.turn.0 + dy * self.turn.1, dy * self.turn.0 - dx * self.turn.1);
        let out = if self.round {
            dx.hypot(dy) - self.half.0
        } else {
            (u.abs() - self.half.0).max(v.abs() - self.half.1)
        };
        let t = (0.5 - out / (2.0 * self.soft)).clamp(0.0, 1.0);
        t * t * (3.0 - 2.0 * t)
    }
}

pub(super) fn between(rng: &mut Pcg64Mcg, low: f32, high: f32) -> f32 {
    low + (high - low) * rng.random::<f32>()
}
