//! Exposed strips on perforated film: the tablet laid over the whole width or over the band between the perforations, numbers and
//! bars of edge print, the window of a film holder that cuts off the sides, strips cut to six frames, ends that curl.

use twinwedge_core::geometry::Point;
use twinwedge_core::scan::{Scan, ToneTable};

use super::chance::Chance;
use super::soil::{Light, Scanner};
use super::strip::{Frame, place};

/// Width of the film, of the band between its perforations, distance of perforations and their size, millimetres (ISO 1007).
pub(super) const FILM: f64 = 35.0;
pub(super) const BAND: f64 = 25.4;
pub(super) const PITCH: f64 = 4.75;
const HOLE: (f64, f64) = (1.98, 2.80);
/// Length of six frames.
const SIX: f64 = 228.0;

/// A strip on perforated film, and what is true of it.
pub(crate) struct OnFilm {
    pub(crate) scan: Scan,
    pub(crate) table: ToneTable,
    pub(crate) steps: usize,
    /// Whether the finder is told how many.
    pub(crate) told: bool,
    /// Corners of the exposed steps.
    pub(crate) corners: [Point; 4],
    /// Share of the width, about its middle, that steps fill without a perforation.
    pub(crate) plain: f64,
    pub(crate) story: String,
}

/// The look of a strip in millimetres: x along the film, y across it from its middle.
pub(super) struct Look {
    /// Density of each step, from the first, and of unexposed film.
    pub(super) densities: Vec<f64>,
    pub(super) base: f64,
    /// Where the steps begin, the length of one, half the width that was exposed.
    pub(super) from: f64,
    pub(super) step: f64,
    pub(super) half: f64,
    /// Length of the film, from 0.
    pub(super) length: f64,
    /// Where the first perforation stands.
    pub(super) phase: f64,
    /// Light of what lies behind the film and of the holder; half the width of its window.
    pub(super) behind: f64,
    pub(super) holder: Option<f64>,
    /// Bars of edge print: from, to, and whether on the far side.
    pub(super) print: Vec<(f64, f64, bool)>,
}

impl Look {
    fn light(&self, x: f64, y: f64) -> f64 {
        if self.holder.is_some_and(|half| y.abs() > half) {
            return 1e-5;
        }
        let inside = (0.0..self.length).contains(&x) && y.abs() < FILM / 2.0;
        let along = (x - self.phase).rem_euclid(PITCH);
        // Holes stand between the band and the edge.
        let across = y.abs() - BAND / 2.0;
        if !inside || (along < HOLE.0 && (0.0..HOLE.1).contains(&across)) {
            return self.behind;
        }
        let at = (x - self.from) / self.step;
        let exposed = y.abs() < self.half && at >= 0.0 && at < self.densities.len() as f64;
        let density = if exposed { self.densities[at as usize] } else { self.base };
        let marked = self.print.iter().any(|(from, to, far)| {
            (*from..*to).contains(&x)
                && (y > 0.0) == *far
                && (FILM / 2.0 - 1.7..FILM / 2.0 - 0.5).contains(&y.abs())
        });
        10_f64.powf(-if marked { self.base + 1.3 } else { density })
    }
}

/// Strip number `number` of a seed.
pub(crate) fn on_film(seed: u64, number: u64) -> OnFilm {
    let mut chance = Chance::new(seed ^ 0x9e5f, number);
    let steps = chance.pick(&[11, 21, 21, 31]);
    let told = chance.one_in(0.7);
    strip(steps, told, &mut chance)
}

/// A strip of 11 long steps, whose tablet and so whose number of steps is known.
pub(crate) fn eleven_on_film(seed: u64, number: u64) -> OnFilm {
    strip(11, true, &mut Chance::new(seed ^ 0x11e7, number))
}

fn strip(steps: usize, told: bool, chance: &mut Chance) -> OnFilm {
    let whole = chance.one_in(0.5);
    let base = chance.between(0.15, 0.32);
    let (most, slope, middle) =
        (chance.between(1.4, 2.6), chance.between(0.5, 0.8), chance.between(0.35, 0.6) * 3.0);
    let of = |step: usize| {
        let log_h = middle - 3.0 * step as f64 / (steps - 1) as f64;
        base + (most - base) / (1.0 + (-4.0 * slope * log_h / (most - base)).exp())
    };
    let step = (chance.between(150.0, 210.0) / steps as f64).min(14.0);
    let length = SIX;
    let from = chance.between(3.0, (length - step * steps as f64 - 3.0).max(3.1));
    let holder = chance.one_in(0.6).then(|| chance.between(11.5, 16.8));
    let mut bars = Vec::new();
    for _ in 0..chance.below(14) {
        let at = chance.between(0.0, length);
        bars.push((at, at + chance.between(0.6, 5.0), chance.one_in(0.5)));
    }
    let look = Look {
        densities: (0..steps).map(of).collect(),
        base,
        from,
        step,
        half: if whole { FILM } else { BAND / 2.0 - 0.3 },
        length,
        phase: chance.between(0.0, PITCH),
        behind: chance.pick(&[1.0, 1.0, 0.97, 1e-4]),
        holder,
        print: bars,
    };
    let scale = chance.between(3.2, 4.6);
    let turn: f64 = chance.between(-2.0, 2.0) + 90.0 * chance.below(4) as f64;
    let curl = if chance.one_in(0.5) { chance.between(0.3, 1.2) } else { 0.0 };
    let scanner = Scanner::draw(chance, false);
    let (picture, frame) = draw(&look, scale, turn, curl);
    let mut picture = picture;
    picture.grain(chance.between(0.008, 0.03), base - 0.02, chance);
    picture.dirt(chance);
    let visible = look.holder.unwrap_or(FILM / 2.0).min(FILM / 2.0).min(look.half);
    let corners = [
        frame(look.from, -visible),
        frame(look.from + step * steps as f64, -visible),
        frame(look.from + step * steps as f64, visible),
        frame(look.from, visible),
    ];
    let story = format!(
        "{steps} told {told} whole {whole} holder {holder:?} behind {} scale {scale:.1} turn {turn:.1} curl {curl:.1} levels {}",
        look.behind, scanner.levels
    );
    let plain = (BAND / 2.0).min(visible) / visible;
    let scan = scanner.scan(&picture, chance);
    OnFilm { scan, table: scanner.table(), steps, told, corners, plain, story }
}

/// The light at every pixel, and where a place of the film lies. Ends that curl come nearer to the lens: they lie up to `curl`
/// millimetres to one side and are lit less.
pub(super) fn draw(look: &Look, scale: f64, turn: f64, curl: f64) -> (Light, impl Fn(f64, f64) -> Point) {
    let (sin, cos) = turn.to_radians().sin_cos();
    let (long, wide) = (look.length + 10.0, FILM + 8.0);
    let reach = (0.5 * (long * cos.abs() + wide * sin.abs()), 0.5 * (long * sin.abs() + wide * cos.abs()));
    let (width, height) = ((2.0 * reach.0 * scale) as usize, (2.0 * reach.1 * scale) as usize);
    let middle = (width as f64 / 2.0, height as f64 / 2.0);
    let length = look.length;
    let bent = move |x: f64| {
        let end = (x.min(length - x) / 20.0).clamp(0.0, 1.0);
        (1.0 - end) * (1.0 - end)
    };
    let mut light = vec![0.0_f32; width * height];
    for (n, pixel) in light.iter_mut().enumerate() {
        let mut sum = 0.0;
        for (dx, dy) in [(0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)] {
            let (px, py) = ((n % width) as f64 + dx - middle.0, (n / width) as f64 + dy - middle.1);
            let (u, v) = ((cos * px + sin * py) / scale, (cos * py - sin * px) / scale);
            let x = u + length / 2.0;
            let up = bent(x);
            sum += look.light(x, v - curl * up) * (1.0 - 0.06 * curl * up);
        }
        *pixel = (0.25 * sum) as f32;
    }
    let at = move |x: f64, y: f64| {
        let (u, v) = (scale * (x - length / 2.0), scale * (y + curl * bent(x)));
        Point::new(middle.0 + cos * u - sin * v, middle.1 + sin * u + cos * v)
    };
    (Light { width, height, light }, at)
}

impl OnFilm {
    /// Whether the found corners, in the order of the steps, take in every step and sample none where a perforation stands: ends
    /// within 0.15 of a step, and the inner six tenths of what was found within what the film shows without a hole.
    pub(crate) fn right(&self, corners: &[Point; 4], steps: usize) -> bool {
        if steps != self.steps {
            return false;
        }
        let frame = Frame::of(&self.corners);
        let ends = [0.0, 1.0, 1.0, 0.0];
        let along = corners
            .iter()
            .zip(ends)
            .all(|(corner, end)| ((frame.at(corner.x, corner.y).0 - end) * self.steps as f64).abs() < 0.15);
        let inner = [(0.0, 0.2), (1.0, 0.2), (1.0, 0.8), (0.0, 0.8)].map(|(u, v)| place(corners, u, v));
        along && inner.iter().all(|at| (frame.at(at.x, at.y).1 - 0.5).abs() < 0.5 * self.plain + 0.02)
    }
}
