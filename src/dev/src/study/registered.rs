//! Prints of one scene that lie otherwise, enlarged otherwise, on another tone curve, with grain: how near are places mapped?
//! The scene is a formula, evaluated at the places that the true map says: no pixel is ever resampled.

use twinwedge_core::geometry::Point;
use twinwedge_core::measured::{Measured, Value};
use twinwedge_core::register::{Picture, register};

use super::Case;
use super::chance::Chance;

/// Size of every print.
const SIZE: (usize, usize) = (300, 260);

/// Waves of all lengths and soft things with edges.
struct Scene {
    waves: Vec<[f64; 4]>,
    things: Vec<[f64; 5]>,
}

impl Scene {
    fn draw(chance: &mut Chance) -> Self {
        let longest = chance.between(60.0, 300.0);
        let wave = |k: i32, chance: &mut Chance| {
            let period = 6.0 * (longest / 6.0_f64).powf((f64::from(k) + chance.between(0.0, 1.0)) / 24.0);
            let turn = chance.between(0.0, std::f64::consts::TAU);
            let frequency = std::f64::consts::TAU / period;
            let size = 0.018 * (period / 6.0).powf(0.45);
            [frequency * turn.cos(), frequency * turn.sin(), chance.between(0.0, 6.3), size]
        };
        let thing = |chance: &mut Chance| {
            [
                chance.between(-40.0, 340.0),
                chance.between(-40.0, 300.0),
                chance.between(6.0, 40.0),
                chance.between(0.8, 2.0),
                chance.between(-0.3, 0.3),
            ]
        };
        let waves = (0..24).map(|k| wave(k, chance)).collect();
        Self { waves, things: (0..18).map(|_| thing(chance)).collect() }
    }

    fn at(&self, (x, y): (f64, f64)) -> f64 {
        let waves: f64 = self.waves.iter().map(|[u, v, w, size]| size * (u * x + v * y + w).cos()).sum();
        let thing = |[cx, cy, radius, soft, size]: &[f64; 5]| {
            let away = ((x - cx).hypot(y - cy) - radius) / soft;
            if away > 12.0 { 0.0 } else { size / (1.0 + away.exp()) }
        };
        0.5 + waves + self.things.iter().map(thing).sum::<f64>()
    }
}

/// A projective map, row by row.
struct Map([[f64; 3]; 3]);

impl Map {
    fn draw(chance: &mut Chance) -> Self {
        let (turn, scale) = (chance.between(-0.1, 0.1), chance.between(0.92, 1.08));
        let (mut a, mut b) =
            ((scale * turn.cos(), -scale * turn.sin()), (scale * turn.sin(), scale * turn.cos()));
        let bend = chance.between(0.0, 4.0) as u8;
        if bend >= 2 {
            a = (a.0 + chance.between(-0.012, 0.012), a.1 + chance.between(-0.012, 0.012));
            b = (b.0 + chance.between(-0.012, 0.012), b.1 + chance.between(-0.012, 0.012));
        }
        let tilt = |chance: &mut Chance| if bend == 3 { chance.between(-1.2e-4, 1.2e-4) } else { 0.0 };
        let last = [tilt(chance), tilt(chance), 1.0];
        // The middle stays near the middle.
        let (x, y) = (SIZE.0 as f64 / 2.0, SIZE.1 as f64 / 2.0);
        let w = last[0] * x + last[1] * y + 1.0;
        let (dx, dy) = (chance.between(-20.0, 20.0), chance.between(-20.0, 20.0));
        let c = ((x + dx) * w - a.0 * x - a.1 * y, (y + dy) * w - b.0 * x - b.1 * y);
        Self([[a.0, a.1, c.0], [b.0, b.1, c.1], last])
    }

    fn map(&self, (x, y): (f64, f64)) -> (f64, f64) {
        let [u, v, w] = self.0.map(|row| row[0] * x + row[1] * y + row[2]);
        (u / w, v / w)
    }

    /// The place that is mapped to `p`, by Newton's method with slopes from differences.
    fn back(&self, p: (f64, f64)) -> (f64, f64) {
        let mut q = p;
        for _ in 0..8 {
            let at = self.map(q);
            let (by_x, by_y) = (self.map((q.0 + 1e-3, q.1)), self.map((q.0, q.1 + 1e-3)));
            let (xx, yx) = ((by_x.0 - at.0) / 1e-3, (by_x.1 - at.1) / 1e-3);
            let (xy, yy) = ((by_y.0 - at.0) / 1e-3, (by_y.1 - at.1) / 1e-3);
            let (dx, dy) = (p.0 - at.0, p.1 - at.1);
            let det = xx * yy - xy * yx;
            q = (q.0 + (yy * dx - xy * dy) / det, q.1 + (xx * dy - yx * dx) / det);
        }
        q
    }
}

fn print(scene: &Scene, place: impl Fn((f64, f64)) -> (f64, f64), chance: &mut Chance) -> Picture {
    let (grain, blur) = (chance.between(0.005, 0.06), chance.between(0.0, 1.0) < 0.5);
    let (steep, middle) = (chance.between(0.5, 5.0), chance.between(0.35, 0.65));
    let tone = |v: f64| 2.0 / (1.0 + (-steep * (v - middle)).exp());
    let (width, height) = SIZE;
    let mut before = 0.0;
    let tones = (0..width * height).map(|n| {
        let at = ((n % width) as f64 + 0.5, (n / width) as f64 + 0.5);
        let own = chance.normal(grain);
        let noise = if blur { (own + before) / 2.0_f64.sqrt() } else { own };
        before = own;
        (tone(scene.at(place(at))) + noise) as f32
    });
    Picture { width, height, tones: tones.collect(), scale: 1.0 }
}

/// Places over the overlap of pair `number`: how far along x and along y they are from where they are mapped, by the stated
/// uncertainty there.
pub(super) fn measure(seed: u64, number: u64) -> Vec<Case> {
    let mut chance = Chance::new(seed ^ 0x9e61, number);
    let (scene, map) = (Scene::draw(&mut chance), Map::draw(&mut chance));
    let first = print(&scene, |p| p, &mut chance);
    let second = print(&scene, |p| map.back(p), &mut chance);
    let Ok(found) = register(&first, &second, None, &|| false) else { return Vec::new() };
    if !found.is_sure() {
        return Vec::new();
    }
    let mut cases = Vec::new();
    for (u, v) in [(0.5, 0.5), (0.25, 0.3), (0.75, 0.3), (0.3, 0.75), (0.7, 0.7)] {
        let at = (u * SIZE.0 as f64, v * SIZE.1 as f64);
        let (truth, mapped) = (map.map(at), found.transform.map(Point::new(at.0, at.1)));
        let stated = found.u_at(Point::new(at.0, at.1));
        for error in [mapped.x - truth.0, mapped.y - truth.1] {
            let value = Value::Known(Measured::normal(error, stated));
            cases.push(Case { figure: "registration", pair: true, base_read: false, truth: 0.0, value });
        }
    }
    cases
}
