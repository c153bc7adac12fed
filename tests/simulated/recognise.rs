//! What a scan shows, told from small copies that a simulator drew apart from the program: strips and tablets through two
//! closed forms of curves, photographs as sums of waves whose power falls with their frequency, uniform areas with grain and
//! falling light, and things that are none of these. Nothing wrong may be called sure.

use std::f64::consts::TAU;

use twinwedge_core::recognise::{ScanContent, Small, look};

use super::curve::Chance;

/// Drawings of each sort.
const EACH: u64 = 12;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Truth {
    Steps,
    Picture,
    Plain,
    Empty,
    /// None of these: whatever is said of it must be doubtful.
    None,
}

fn truth_of(look: ScanContent) -> Truth {
    match look {
        ScanContent::Steps(_) => Truth::Steps,
        ScanContent::Picture => Truth::Picture,
        ScanContent::Plain { .. } => Truth::Plain,
        ScanContent::Empty => Truth::Empty,
    }
}

fn uniform(chance: &mut Chance, low: f64, high: f64) -> f64 {
    low + (high - low) * chance.even()
}

fn draw(width: usize, height: usize, fine: f64, mut density: impl FnMut(f64, f64) -> f64) -> Small {
    let mut made = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            made.push(density(x as f64 + 0.5, y as f64 + 0.5) as f32);
        }
    }
    Small { width, height, density: made, fine }
}

/// Density of a tablet's step, or of a film exposed through it.
fn step_density(film: bool, share: f64, range: f64) -> f64 {
    if !film {
        return 0.05 + range * share;
    }
    // Density against exposure as a cumulated form with toe and shoulder; the thinnest step gave most light.
    0.2 + 2.2 / (1.0 + (-4.5 * (0.45 - share)).exp())
}

/// A strip or tablet with an edge, in a dark or bright holder, turned by up to 2 degrees, with grain and dust.
fn steps(seed: u64, film: bool) -> Small {
    let mut chance = Chance(seed);
    let count = [11, 21, 31, 41][seed as usize % 4] as f64;
    let (length, breadth) = (420.0 + uniform(&mut chance, 0.0, 90.0), uniform(&mut chance, 60.0, 130.0));
    let turn = uniform(&mut chance, -2.0, 2.0).to_radians();
    let (margin, edge) = (uniform(&mut chance, 4.0, 20.0), uniform(&mut chance, 2.0, 10.0));
    let around = if seed.is_multiple_of(2) { 3.0 } else { 0.04 };
    let (grain, range) = (uniform(&mut chance, 0.002, 0.03), 3.0);
    let reversed = seed % 3 == 1;
    let base = if film { 0.2 } else { 0.04 };
    let (centre_x, centre_y) = (length / 2.0, breadth / 2.0);
    let drawn = draw(length as usize, breadth as usize, grain, |x, y| {
        let (dx, dy) = (x - centre_x, y - centre_y);
        let u = dx * turn.cos() + dy * turn.sin() + centre_x - margin;
        let v = dy * turn.cos() - dx * turn.sin() + centre_y - breadth * 0.15;
        let (long, broad) = (length - 2.0 * margin, breadth * 0.7);
        let noise = grain * chance.normal();
        if u < 0.0 || v < 0.0 || u >= long || v >= broad {
            return around + noise.abs();
        }
        if u < edge || v < edge || u >= long - edge || v >= broad - edge {
            return base + noise;
        }
        let at = ((u - edge) / (long - 2.0 * edge) * count).floor();
        let at = if reversed { count - 1.0 - at } else { at };
        step_density(film, at / (count - 1.0), range) + noise
    });
    if seed.is_multiple_of(5) { turned(&drawn) } else { drawn }
}

fn turned(small: &Small) -> Small {
    draw(small.height, small.width, small.fine, |x, y| {
        f64::from(small.density[x as usize * small.width + y as usize])
    })
}

/// A photograph: waves of random direction, their height falling as one over the frequency (the power spectrum of natural
/// scenes falls as its square: D. J. Field 1987), with objects of even tone before it.
fn photograph(seed: u64) -> Small {
    let mut chance = Chance(40_000 + seed);
    let waves: Vec<[f64; 4]> = (0..30)
        .map(|_| {
            let (frequency, way) = (uniform(&mut chance, 1.0, 14.0), uniform(&mut chance, 0.0, TAU));
            [frequency * way.cos(), frequency * way.sin(), uniform(&mut chance, 0.0, TAU), 1.0 / frequency]
        })
        .collect();
    let objects: Vec<[f64; 5]> = (0..8)
        .map(|_| {
            let (x, y) = (uniform(&mut chance, 0.0, 0.8), uniform(&mut chance, 0.0, 0.8));
            [
                x,
                y,
                uniform(&mut chance, 0.05, 0.3),
                uniform(&mut chance, 0.05, 0.3),
                uniform(&mut chance, 0.1, 1.8),
            ]
        })
        .collect();
    let (width, height) = if seed.is_multiple_of(2) { (480, 360) } else { (340, 500) };
    draw(width, height, 0.01, |x, y| {
        let (u, v) = (x / width as f64, y / height as f64);
        let scene: f64 = waves.iter().map(|[a, b, c, h]| h * (TAU * (a * u + b * v) + c).cos()).sum();
        let object = objects.iter().find(|[x, y, w, h, _]| u >= *x && u < x + w && v >= *y && v < y + h);
        object.map_or(0.8 + 0.35 * scene, |object| object[4]) + 0.01 * chance.normal()
    })
}

fn plain(seed: u64) -> Small {
    let mut chance = Chance(50_000 + seed);
    let (level, grain) = (uniform(&mut chance, 0.15, 2.4), uniform(&mut chance, 0.004, 0.08));
    let falling = uniform(&mut chance, 0.0, 0.08);
    draw(320, 320, grain, |x, y| {
        let away = ((x - 160.0).powi(2) + (y - 160.0).powi(2)) / (2.0 * 160.0 * 160.0);
        level + falling * away + grain * chance.normal()
    })
}

/// A target: a photograph with a grey scale of 11 steps along its lower edge.
fn with_scale(seed: u64) -> Small {
    let photograph = photograph(seed);
    let (width, height) = (photograph.width as f64, photograph.height as f64);
    let mut index = 0;
    draw(photograph.width, photograph.height, 0.01, |x, y| {
        let below = y > 0.88 * height;
        let own = f64::from(photograph.density[index]);
        index += 1;
        if below { 0.1 + 0.17 * (x / width * 11.0).floor() } else { own }
    })
}

/// A sky: density rises evenly from one side to the other.
fn ramp(seed: u64) -> Small {
    let mut chance = Chance(60_000 + seed);
    let (low, range, grain) =
        (uniform(&mut chance, 0.1, 0.5), uniform(&mut chance, 0.3, 2.0), uniform(&mut chance, 0.002, 0.03));
    let sky = draw(400, 280, grain, |x, _| low + range * x / 400.0 + grain * chance.normal());
    if seed.is_multiple_of(2) { turned(&sky) } else { sky }
}

/// Bars that are light and dark by turns.
fn bars(seed: u64) -> Small {
    let mut chance = Chance(70_000 + seed);
    let count = 8.0 + (seed % 20) as f64;
    draw(420, 120, 0.01, |x, _| {
        let dark = (x / 420.0 * count) as u32 % 2;
        0.2 + f64::from(dark) + 0.01 * chance.normal()
    })
}

/// A field of which the edge of the film covers a part.
fn half(seed: u64) -> Small {
    let mut chance = Chance(80_000 + seed);
    let edge = uniform(&mut chance, 80.0, 240.0);
    draw(320, 320, 0.02, |x, _| if x < edge { 3.0 } else { 0.8 + 0.02 * chance.normal() })
}

#[test]
fn what_scans_show_is_told_or_doubted() {
    type Sort = (&'static str, Truth, fn(u64) -> Small, u64);
    let sorts: [Sort; 9] = [
        ("exposed strip", Truth::Steps, |seed| steps(seed, true), 70),
        ("step tablet", Truth::Steps, |seed| steps(1_000 + seed, false), 90),
        ("photograph", Truth::Picture, photograph, 90),
        ("target with grey scale", Truth::Picture, with_scale, 0),
        ("uniform area", Truth::Plain, plain, 90),
        ("nothing", Truth::Empty, |seed| draw(300, 200, 0.0, |_, _| 0.01 + 0.1 * seed as f64), 90),
        ("sky", Truth::None, ramp, 0),
        ("bars", Truth::None, bars, 0),
        ("half covered field", Truth::None, half, 0),
    ];
    println!("{:<24} {:>6} {:>9} {:>15} {:>14}", "", "right", "doubtful", "wrong, doubted", "wrong but sure");
    let mut failures = Vec::new();
    for (name, truth, make, least) in sorts {
        let (mut right, mut doubtful, mut wrong, mut wrong_but_sure) = (0, 0, 0, 0);
        for seed in 0..EACH {
            let found = look(&make(seed));
            match (truth_of(found.value) == truth, found.is_sure()) {
                (true, true) => right += 1,
                (true, false) => doubtful += 1,
                (false, false) if truth == Truth::None => wrong += 1,
                (false, false) => {
                    wrong += 1;
                    println!("{name} {seed}: {found:?}");
                }
                (false, true) => {
                    wrong_but_sure += 1;
                    failures.push(format!("{name} {seed}: {found:?}"));
                }
            }
        }
        println!("{name:<24} {right:>6} {doubtful:>9} {wrong:>15} {wrong_but_sure:>14}");
        if 100 * right < least * EACH {
            failures.push(format!("only {right} of {EACH} {name} are told"));
        }
    }
    assert!(failures.is_empty(), "{failures:#?}");
}
