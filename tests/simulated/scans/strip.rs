//! One strip of steps, laid down somehow.

use twinwedge_core::geometry::Point;
use twinwedge_core::scan::{Scan, ToneTable};

use super::chance::Chance;
use super::soil::{Light, Scanner, falloff};

/// What a strip is.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Kind {
    /// A tablet: density rises from step to step.
    Tablet,
    /// A film exposed through one: density falls.
    Film,
    /// A paper exposed through one.
    Print,
}

/// A scan and all that is true of it.
pub(crate) struct Strip {
    pub(crate) scan: Scan,
    pub(crate) table: ToneTable,
    pub(crate) kind: Kind,
    pub(crate) steps: usize,
    /// Whether the finder is told the number of steps.
    pub(crate) told: bool,
    /// Corners: along the steps from the first to the last, then back.
    pub(crate) corners: [Point; 4],
    /// Mean length of a step, and width, in pixels.
    pub(crate) step: (f64, f64),
    /// Density of each step as the lamp shows it there; `None` where the scanner does not resolve it or a finger mark or
    /// printed mark lies on what is sampled.
    pub(crate) densities: Vec<Option<f64>>,
    /// At both ends the last step differs from the ground beside it by so much density.
    pub(crate) ends_seen: bool,
    /// What was done to it, for a person who reads a failure.
    pub(crate) story: String,
}

/// Two steps are told apart by this density at least, if the ends of the strip shall be called seen.
const TOLD_APART: f64 = 0.06;

/// How a strip looks, before it lies in a scan.
struct Look {
    lights: Vec<f64>,
    /// Light between steps and half the width of that gap in pixels.
    gap: (f64, f64),
    /// Light of the film or paper around the steps, how far it reaches beyond the sides and beyond the ends, and what lies
    /// behind it.
    margin: (f64, f64, f64),
    behind: f64,
    /// Width over which an edge is spread.
    spread: f64,
    step: (f64, f64),
}

/// From pixels to the strip's own frame (adjoint of the projective map, P. S. Heckbert 1989, section 2.2.3).
pub(crate) struct Frame([f64; 9]);

impl Frame {
    pub(crate) fn of(corners: &[Point; 4]) -> Self {
        let [p, q, r, s] = corners;
        let (sx, sy) = (p.x - q.x + r.x - s.x, p.y - q.y + r.y - s.y);
        let (ax, ay, bx, by) = (q.x - r.x, q.y - r.y, s.x - r.x, s.y - r.y);
        let det = ax * by - bx * ay;
        let (g, h) = ((sx * by - bx * sy) / det, (ax * sy - sx * ay) / det);
        let (a, b, c) = (q.x - p.x + g * q.x, s.x - p.x + h * s.x, p.x);
        let (d, e, f) = (q.y - p.y + g * q.y, s.y - p.y + h * s.y, p.y);
        let rows = [
            e - f * h,
            c * h - b,
            b * f - c * e,
            f * g - d,
            a - c * g,
            c * d - a * f,
            d * h - e * g,
            b * g - a * h,
        ];
        let last = a * e - b * d;
        let mut m = [last; 9];
        m[..8].copy_from_slice(&rows);
        Self(m)
    }

    /// u and v of a place.
    pub(crate) fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let m = &self.0;
        let w = m[6] * x + m[7] * y + m[8];
        ((m[0] * x + m[1] * y + m[2]) / w, (m[3] * x + m[4] * y + m[5]) / w)
    }
}

/// Strip number `number` of a seed.
pub(crate) fn strip(seed: u64, number: u64) -> Strip {
    let mut chance = Chance::new(seed, number);
    let kind = chance.pick(&[Kind::Tablet, Kind::Tablet, Kind::Film, Kind::Film, Kind::Print]);
    let steps = if chance.one_in(0.7) { chance.pick(&[11, 21, 21, 31, 41]) } else { 9 + chance.below(22) };
    let told = chance.one_in(0.65);
    let mut story = format!("{kind:?} {steps} told {told}");
    let scanner = Scanner::draw(&mut chance, kind == Kind::Print);
    let (densities, base) = densities(kind, steps, &mut chance);
    let (look, ends_seen) = look(kind, &densities, &scanner, base, &mut chance, &mut story);
    let turn = chance.between(-15.0, 15.0) + 90.0 * chance.below(4) as f64;
    let (corners, size) = lay(&look, steps, turn, &mut chance);
    story += &format!(
        " turn {turn:.1} step {:.1} x {:.0} size {size:?} levels {}",
        look.step.0, look.step.1, scanner.levels
    );
    let frame = Frame::of(&corners);
    let mut picture = look.picture(&frame, size);
    let place = |u: f64, v: f64| place(&corners, u, v);
    let mut spoiled = vec![false; steps];
    marks(&mut picture, &look, steps, &place, &mut chance, &mut story);
    let grain = match kind {
        Kind::Tablet => chance.between(0.002, 0.012),
        Kind::Film => chance.between(0.008, 0.035),
        Kind::Print => chance.between(0.002, 0.010),
    };
    picture.grain(grain, base - 0.02, &mut chance);
    if chance.one_in(0.2) {
        let (u, v) = (chance.between(0.05, 0.95), chance.between(0.0, 1.0));
        let (at, radius) = (place(u, v), look.step.1 * chance.between(0.25, 0.7));
        picture.smudge((at.x, at.y), radius, chance.between(0.02, 0.10) * chance.pick(&[-1.0, 1.0]));
        for (step, spoiled) in spoiled.iter_mut().enumerate() {
            let middle = place((step as f64 + 0.5) / steps as f64, 0.5);
            *spoiled |= (middle.x - at.x).hypot(middle.y - at.y) < 2.6 * radius + 0.5 * look.step.1;
        }
        story += &format!(" finger mark at {u:.2} radius {radius:.0}");
    }
    picture.dirt(&mut chance);
    for _ in 0..chance.pick(&[0, 0, 0, 1, 1, 2]) {
        let (v, w) = (chance.between(-0.2, 1.2), chance.between(-0.3, 0.3));
        let (from, to) = (place(chance.between(-0.1, 0.5), v), place(chance.between(0.5, 1.1), v + w));
        let light = chance.pick(&[0.0, 0.8]);
        picture.scratch((from.x, from.y), (to.x, to.y), light, chance.between(0.2, 0.7));
        story += " scratch";
    }
    let share = if chance.one_in(0.6) { chance.between(0.0, 0.12) } else { 0.0 };
    picture.fall_off(share);
    let lowest = scanner.resolves();
    let as_lit = |step: usize| {
        let at = place((step as f64 + 0.5) / steps as f64, 0.5);
        let light = look.lights[step] * falloff(share, (at.x, at.y), size);
        (light > lowest && light < scanner.highest() && !spoiled[step]).then(|| -light.log10())
    };
    let densities = (0..steps).map(as_lit).collect();
    let scan = scanner.scan(&picture, &mut chance);
    Strip {
        scan,
        table: scanner.table(),
        kind,
        steps,
        told,
        corners,
        step: look.step,
        densities,
        ends_seen,
        story,
    }
}

/// Densities of the steps, and that of the film or paper without an image.
fn densities(kind: Kind, steps: usize, chance: &mut Chance) -> (Vec<f64>, f64) {
    let increment = match steps {
        11 => 0.30,
        21 => 0.15,
        31 => 0.10,
        41 => 0.05,
        _ => (3.0 / steps as f64).clamp(0.08, 0.3),
    };
    let tablet: Vec<f64> =
        (0..steps).map(|step| 0.05 + increment * step as f64 + 0.004 * chance.normal()).collect();
    if kind == Kind::Tablet {
        return (tablet, 0.05);
    }
    // A line with toe and shoulder, smooth at both ends: logistic in log H.
    let (base, most, slope) = match kind {
        Kind::Film => (chance.between(0.12, 0.35), chance.between(1.2, 2.6), chance.between(0.5, 0.9)),
        _ => (chance.between(0.04, 0.10), chance.between(1.5, 2.1), chance.between(0.9, 1.6)),
    };
    let range = tablet[steps - 1] - tablet[0];
    // Most strips lie within the curve; some run far into toe or shoulder.
    let middle = range * chance.between(0.35, 0.65);
    let of = |density: f64| {
        let log_h = middle - (density - tablet[0]);
        base + (most - base) / (1.0 + (-4.0 * slope * log_h / (most - base)).exp())
    };
    (tablet.iter().map(|density| of(*density)).collect(), base)
}

fn look(
    kind: Kind,
    densities: &[f64],
    scanner: &Scanner,
    base: f64,
    chance: &mut Chance,
    story: &mut String,
) -> (Look, bool) {
    let steps = densities.len();
    let light = |density: f64| 10_f64.powf(-density);
    let shortest = if steps > 31 { 10.0 } else { 12.0 };
    let longest = (620.0 / steps as f64).clamp(shortest + 1.0, 34.0);
    let step = (chance.between(shortest, longest), chance.between(32.0, 110.0));
    let margin = match kind {
        // A tablet's own film is clear or black around the steps; an exposed film is unexposed or fogged there.
        Kind::Tablet => chance.pick(&[0.04, 0.04, 3.6]),
        Kind::Film => chance.pick(&[base, base, base + 0.02]),
        Kind::Print => chance.pick(&[base, base + 1.9]),
    };
    let behind = chance.pick(&[0.0, 0.0, 4.0, 1.2]);
    let no_margin = chance.one_in(0.3);
    let reach = if no_margin { (0.0, 0.0) } else { (chance.between(5.0, 16.0), chance.between(5.0, 40.0)) };
    let gapped = chance.one_in(0.4);
    let half = if gapped { 0.5 * (step.0 * chance.between(0.05, 0.16)).max(1.0) } else { 0.0 };
    let gap = chance.pick(&[3.5, 0.05, margin]);
    let ground = if no_margin { behind } else { margin };
    let floor = scanner.black.max(1e-4) + scanner.flare;
    let seen = |density: f64| -((light(density) + scanner.flare).clamp(floor, scanner.white)).log10();
    let apart = |density: f64| (seen(density) - seen(ground)).abs() > TOLD_APART;
    let ends_seen = apart(densities[0]) && apart(densities[steps - 1]);
    *story += &format!(
        " ground {ground:.2} behind {behind:.1} gap {half:.1} px of {gap:.2} ends {:.2} {:.2}",
        densities[0],
        densities[steps - 1]
    );
    let look = Look {
        lights: densities.iter().map(|density| light(*density)).collect(),
        gap: (light(gap), half),
        margin: (light(margin), reach.0, reach.1),
        behind: light(behind),
        spread: chance.between(1.2, 2.4),
        step,
    };
    (look, ends_seen)
}

/// Corners of a strip in perspective, turned, and the size of the scan around it.
fn lay(look: &Look, steps: usize, turn: f64, chance: &mut Chance) -> ([Point; 4], (usize, usize)) {
    let (length, width) = (look.step.0 * steps as f64, look.step.1);
    let askew = if chance.one_in(0.6) { 1.0 } else { 0.1 };
    let (sin, cos) = turn.to_radians().sin_cos();
    let flat = [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)].map(|(u, v)| {
        let x = u * length * (1.0 + askew * 0.012 * chance.between(-1.0, 1.0));
        let y = v * width * (1.0 + askew * 0.05 * chance.between(-1.0, 1.0));
        (cos * x - sin * y, sin * x + cos * y)
    });
    let reach =
        |pick: fn(&(f64, f64)) -> f64| flat.iter().map(pick).fold(0.0_f64, |most, v| most.max(v.abs()));
    let room = look.margin.1.max(look.margin.2) + 8.0;
    let (wide, high) = (reach(|p| p.0) + room, reach(|p| p.1) + room);
    let size = (
        (2.0 * wide + chance.between(0.0, 60.0)) as usize,
        (2.0 * high + chance.between(0.0, 40.0)) as usize,
    );
    let slack = (size.0 as f64 - 2.0 * wide, size.1 as f64 - 2.0 * high);
    let middle = (wide + slack.0 * chance.between(0.0, 1.0), high + slack.1 * chance.between(0.0, 1.0));
    (flat.map(|(x, y)| Point::new(middle.0 + x, middle.1 + y)), size)
}

/// A place of the strip's frame in pixels: the projective map that takes the unit square to the corners.
pub(crate) fn place(corners: &[Point; 4], u: f64, v: f64) -> Point {
    let [p, q, r, s] = corners;
    let (sx, sy) = (p.x - q.x + r.x - s.x, p.y - q.y + r.y - s.y);
    let (ax, ay, bx, by) = (q.x - r.x, q.y - r.y, s.x - r.x, s.y - r.y);
    let det = ax * by - bx * ay;
    let (g, h) = ((sx * by - bx * sy) / det, (ax * sy - sx * ay) / det);
    let w = g * u + h * v + 1.0;
    Point::new(
        ((q.x - p.x + g * q.x) * u + (s.x - p.x + h * s.x) * v + p.x) / w,
        ((q.y - p.y + g * q.y) * u + (s.y - p.y + h * s.y) * v + p.y) / w,
    )
}

impl Look {
    fn picture(&self, frame: &Frame, size: (usize, usize)) -> Light {
        let (width, height) = size;
        let mut light = vec![0.0_f32; width * height];
        for y in 0..height {
            for x in 0..width {
                let (u, v) = frame.at(x as f64 + 0.5, y as f64 + 0.5);
                light[y * width + x] = self.light(u, v) as f32;
            }
        }
        Light { width, height, light }
    }

    /// How much of a pixel lies beyond an edge that is `away` pixels ahead of its centre.
    fn cover(&self, away: f64) -> f64 {
        let share = away / self.spread + 0.5;
        share.clamp(0.0, 1.0)
    }

    fn light(&self, u: f64, v: f64) -> f64 {
        let steps = self.lights.len() as f64;
        let (length, width) = self.step;
        let from_side = (if v < 0.5 { v } else { 1.0 - v }) * width;
        let from_end = (if u < 0.5 { u } else { 1.0 - u }) * steps * length;
        let margin = self.cover(from_side + self.margin.1) * self.cover(from_end + self.margin.2);
        let ground = self.behind + (self.margin.0 - self.behind) * margin;
        let inside = self.cover(from_side);
        if inside <= 0.0 || from_end < -2.0 * self.spread {
            return ground;
        }
        let s = u * steps;
        let step = s.floor();
        let share = s - step;
        let (near, other) = if share < 0.5 { (share, step - 1.0) } else { (1.0 - share, step + 1.0) };
        let away = near * length;
        let of = |step: f64| {
            if step < 0.0 || step >= steps { ground } else { self.lights[step as usize] }
        };
        let own = self.cover(away - self.gap.1);
        let next = self.cover(-away - self.gap.1);
        let inner = |step: f64| (0.0..steps).contains(&step);
        // At the outer edges the gap is ground.
        let along = match (inner(step), inner(other)) {
            (true, true) => own * of(step) + next * of(other) + (1.0 - own - next) * self.gap.0,
            (true, false) => ground + own * (of(step) - ground),
            (false, true) => ground + next * (of(other) - ground),
            (false, false) => ground,
        };
        ground + (along - ground) * inside
    }
}

/// Printed step marks and punch holes.
fn marks(
    picture: &mut Light,
    look: &Look,
    steps: usize,
    place: &dyn Fn(f64, f64) -> Point,
    chance: &mut Chance,
    story: &mut String,
) {
    let width = look.step.1;
    if chance.one_in(0.4) {
        let light = chance.pick(&[0.0, 0.9]);
        let side = chance.pick(&[0.0, 1.0]);
        let within = chance.one_in(0.6) && width > 45.0;
        // Within the steps near a side, clear of what is sampled; or on the ground beside them.
        let v = if within { 5.5 / width } else { -5.0 / width };
        let v = if side > 0.5 { 1.0 - v } else { v };
        for step in 0..steps {
            let at = place((step as f64 + 0.5) / steps as f64, v);
            for _ in 0..9 {
                let (dx, dy) = (chance.between(-2.0, 2.0), chance.between(-2.5, 2.5));
                picture.dab(at.x + dx, at.y + dy, 0.6, light, 0.9);
            }
        }
        *story += if within { " marks within" } else { " marks beside" };
    }
    if chance.one_in(0.3) {
        for _ in 0..1 + chance.below(4) {
            let v = chance.pick(&[-0.12, 1.12, 0.08, 0.92]);
            let u = (chance.below(steps) as f64 + 0.5) / steps as f64;
            let at = place(u, v);
            picture.dab(at.x, at.y, chance.between(2.0, 4.0), 0.98, 1.0);
        }
        *story += " holes";
    }
}
