//! Scans as one person makes them, one after another, on one scanner at one setting: exposed strips on perforated film, tablets,
//! pictures of one subject, even areas.

use twinwedge_core::geometry::Point;

use super::chance::Chance;
use super::perforated::{self, FILM, Look};
use super::soil::{Light, Scanner};

/// A scan as a file holds it: 16-bit grey codes, row by row.
#[derive(Clone)]
pub(crate) struct Codes {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) codes: Vec<u16>,
}

/// What is done alike to all scans of a folder.
pub(crate) struct Desk {
    seed: u64,
    scanner: Scanner,
    /// Dots per inch.
    pub(crate) dpi: u32,
    /// The film lies along x, or along y, begun from either end.
    turn: f64,
    /// Strips are laid down either way round, as it comes.
    pub(crate) mixed: bool,
    holder: Option<f64>,
    behind: f64,
    /// The tablet covers the perforations.
    whole: bool,
    curl: bool,
}

/// What was done wrong to one strip.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Spoilt {
    /// Nothing.
    No,
    /// It was laid down the other way round than the rest.
    Turned,
    /// The codes of light and dark are exchanged.
    Inverted,
    /// The scan is longer than the film by 6 %.
    Stretched,
}

/// Where an exposed strip truly lies, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Lies {
    /// The middle of the outer edge of the first step and of the last.
    ends: [(f64, f64); 2],
    /// Half the width without a perforation and within the holder.
    half: f64,
    step: f64,
}

impl Lies {
    /// Whether corners, from the first step on, take in every step, to a quarter of one at either end, and their inner six
    /// tenths, which are sampled, meet neither perforation nor holder.
    pub(crate) fn right(&self, corners: &[Point; 4]) -> bool {
        let [a, b, c, d] = corners;
        let [from, to] = self.ends;
        let long = (to.0 - from.0).hypot(to.1 - from.1);
        let way = ((to.0 - from.0) / long, (to.1 - from.1) / long);
        let along = |p: &Point, of: (f64, f64)| (p.x - of.0) * way.0 + (p.y - of.1) * way.1;
        let across = |p: &Point| (p.y - from.1) * way.0 - (p.x - from.0) * way.1;
        let ends = [(a, from), (d, from), (b, to), (c, to)];
        let inner = |p: &Point, q: &Point| (0.8 * across(p) + 0.2 * across(q)).abs() < 1.03 * self.half;
        ends.iter().all(|(corner, end)| along(corner, *end).abs() < 0.25 * self.step)
            && inner(a, d)
            && inner(d, a)
            && inner(b, c)
            && inner(c, b)
    }
}

/// A strip to be scanned.
pub(crate) struct Exposed<'a> {
    /// Density of each step from the first.
    pub(crate) densities: &'a [f64],
    /// Density of unexposed film.
    pub(crate) base: f64,
    /// Length of a step in millimetres.
    pub(crate) step: f64,
    pub(crate) spoilt: Spoilt,
}

impl Desk {
    pub(crate) fn of(seed: u64) -> Self {
        let mut chance = Chance::new(seed ^ 0xde5c, 0);
        let mut scanner = Scanner::draw(&mut chance, false);
        scanner.levels = 65_536;
        scanner.black = 0.0;
        scanner.flare = scanner.flare.min(3e-4);
        Self {
            seed,
            scanner,
            dpi: chance.pick(&[84, 90, 96]),
            turn: 90.0 * chance.below(4) as f64,
            mixed: chance.one_in(0.2),
            holder: chance.one_in(0.5).then(|| chance.between(13.0, 16.5)),
            behind: chance.pick(&[1.0, 1.0, 1e-4]),
            whole: chance.one_in(0.5),
            curl: chance.one_in(0.3),
        }
    }

    fn scale(&self) -> f64 {
        f64::from(self.dpi) / 25.4
    }

    fn codes(&self, picture: &Light, chance: &mut Chance) -> Codes {
        let scan = self.scanner.scan(picture, chance);
        let twinwedge_core::scan::Samples::U16(codes) = scan.samples else { unreachable!("65536 levels") };
        Codes { width: scan.width, height: scan.height, codes }
    }

    /// Scan number `number` of an exposed strip.
    pub(crate) fn strip(&self, exposed: &Exposed<'_>, number: u64) -> (Codes, Lies) {
        let mut chance = Chance::new(self.seed ^ 0x57a1, number);
        let long = exposed.step * exposed.densities.len() as f64;
        let length = long + 32.0;
        let mut print = Vec::new();
        for _ in 0..chance.below(8) {
            let at = chance.between(0.0, length);
            print.push((at, at + chance.between(0.6, 5.0), chance.one_in(0.5)));
        }
        let look = Look {
            densities: exposed.densities.to_vec(),
            base: exposed.base,
            from: chance.between(8.0, 24.0),
            step: exposed.step,
            half: if self.whole { FILM } else { perforated::BAND / 2.0 - 0.3 },
            length,
            phase: chance.between(0.0, perforated::PITCH),
            behind: self.behind,
            holder: self.holder,
            print,
        };
        let round = (self.mixed && chance.one_in(0.5)) != (exposed.spoilt == Spoilt::Turned);
        let turn = self.turn + chance.between(-1.0, 1.0) + if round { 180.0 } else { 0.0 };
        let curl = if self.curl { chance.between(0.1, 0.5) } else { 0.0 };
        let (mut picture, at) = perforated::draw(&look, self.scale(), turn, curl);
        let plain = perforated::BAND / 2.0;
        let half = self.scale() * self.holder.map_or(plain, |holder| holder.min(plain));
        let ends = [at(look.from, 0.0), at(look.from + long, 0.0)].map(|end| (end.x, end.y));
        let lies = Lies { ends, half, step: self.scale() * exposed.step };
        picture.grain(chance.between(0.008, 0.02), exposed.base - 0.02, &mut chance);
        picture.dirt(&mut chance);
        if exposed.spoilt == Spoilt::Stretched {
            picture = stretched(&picture, 1.06, self.turn.to_radians().cos().abs() > 0.5);
        }
        let mut codes = self.codes(&picture, &mut chance);
        if exposed.spoilt == Spoilt::Inverted {
            codes.codes.iter_mut().for_each(|code| *code = u16::MAX - *code);
        }
        (codes, lies)
    }

    /// A tablet on clear film of its own, without perforations.
    pub(crate) fn tablet(&self, densities: &[f64], step: f64, number: u64) -> Codes {
        let mut chance = Chance::new(self.seed ^ 0x7ab1, number);
        let (long, broad) = (step * densities.len() as f64, chance.between(18.0, 26.0));
        let lean = chance.between(-0.012, 0.012);
        let scale = self.scale();
        let (width, height) = (((long + 30.0) * scale) as usize, ((broad + 20.0) * scale) as usize);
        let mut light = vec![0.0_f32; width * height];
        for (n, pixel) in light.iter_mut().enumerate() {
            let (px, py) = ((n % width) as f64 + 0.5, (n / width) as f64 + 0.5);
            let x = px / scale - 15.0;
            let y = py / scale - 10.0 - lean * (x - long / 2.0);
            let at = x / step;
            let inside = (0.0..broad).contains(&y) && at >= 0.0 && at < densities.len() as f64;
            let margin = (-4.0..broad + 4.0).contains(&y) && (-8.0..long + 8.0).contains(&x);
            *pixel = match (inside, margin) {
                (true, _) => 10_f64.powf(-densities[at as usize]),
                (false, true) => 10_f64.powf(-0.05),
                (false, false) => self.behind,
            } as f32;
        }
        let mut picture = Light { width, height, light };
        picture.grain(0.004, 0.02, &mut chance);
        self.codes(&picture, &mut chance)
    }

    /// A picture of subject `subject`, lighter or darker by `less` of density, framed a little anew each time.
    pub(crate) fn picture(&self, subject: u64, less: f64, number: u64) -> Codes {
        let mut waves = Chance::new(subject ^ 0x9a3f, 1);
        let mut chance = Chance::new(self.seed ^ 0x51c7, number);
        let scene = Scene::of(&mut waves);
        let (width, height) = (300, 220);
        let (dx, dy, zoom) =
            (chance.between(-0.02, 0.02), chance.between(-0.02, 0.02), chance.between(0.98, 1.02));
        let light = (0..width * height)
            .map(|n| {
                let (u, v) = ((n % width) as f64 / width as f64, (n / width) as f64 / height as f64);
                let density = scene.at((u - 0.5) * zoom + 0.5 + dx, (v - 0.5) * zoom + 0.5 + dy) - less;
                10_f64.powf(-density.max(0.06)) as f32
            })
            .collect();
        let mut picture = Light { width, height, light };
        picture.grain(0.015, 0.02, &mut chance);
        self.codes(&picture, &mut chance)
    }

    /// An even area of a film.
    pub(crate) fn even(&self, density: f64, number: u64) -> Codes {
        let mut chance = Chance::new(self.seed ^ 0x6a1b, number);
        let (width, height) = (220, 220);
        let mut picture = Light { width, height, light: vec![10_f64.powf(-density) as f32; width * height] };
        picture.grain(chance.between(0.02, 0.05), 0.1, &mut chance);
        self.codes(&picture, &mut chance)
    }
}

/// A photographed scene: waves whose height falls as one over their frequency (natural scenes: D. J. Field 1987), and objects of
/// even tone before them.
struct Scene {
    waves: Vec<[f64; 4]>,
    objects: Vec<[f64; 5]>,
}

impl Scene {
    fn of(chance: &mut Chance) -> Self {
        let waves = (0..24).map(|_| {
            let (frequency, way) = (chance.between(1.0, 12.0), chance.between(0.0, core::f64::consts::TAU));
            let phase = chance.between(0.0, core::f64::consts::TAU);
            [frequency * way.cos(), frequency * way.sin(), phase, 1.0 / frequency]
        });
        let waves = waves.collect();
        let mut even = |low, high| chance.between(low, high);
        let objects = (0..8)
            .map(|_| [even(0.0, 0.8), even(0.0, 0.8), even(0.05, 0.3), even(0.05, 0.3), even(0.1, 1.6)]);
        Self { waves, objects: objects.collect() }
    }

    fn at(&self, u: f64, v: f64) -> f64 {
        let inside = |[x, y, w, h, _]: &&[f64; 5]| u >= *x && u < x + w && v >= *y && v < y + h;
        let wave = |[a, b, c, h]: &[f64; 4]| h * (core::f64::consts::TAU * (a * u + b * v) + c).cos();
        let object = self.objects.iter().find(inside).map(|object| object[4]);
        object.unwrap_or_else(|| 0.8 + 0.35 * self.waves.iter().map(wave).sum::<f64>())
    }
}

/// The picture longer along x or y.
fn stretched(picture: &Light, by: f64, along_x: bool) -> Light {
    let long = |side: usize, yes: bool| if yes { (side as f64 * by) as usize } else { side };
    let (width, height) = (long(picture.width, along_x), long(picture.height, !along_x));
    let from = |at: usize, yes: bool, side: usize| {
        if yes { ((at as f64 / by) as usize).min(side - 1) } else { at }
    };
    let light = (0..width * height)
        .map(|n| {
            let x = from(n % width, along_x, picture.width);
            let y = from(n / width, !along_x, picture.height);
            picture.light[y * picture.width + x]
        })
        .collect();
    Light { width, height, light }
}
