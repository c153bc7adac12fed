//! Scans that show no strip.

use twinwedge_core::scan::{Scan, ToneTable};

use super::chance::Chance;
use super::soil::{Light, Scanner};

/// What a scan without a strip shows.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(crate) enum Ground {
    /// A scene: overlapping plain and shaded shapes with texture.
    Scene,
    /// A target: rows of patches with a picture beside them.
    Target,
    /// A uniform area of grain.
    Field,
    /// Light that changes smoothly.
    Ramp,
    /// Even bars, dark and light in turn.
    Bars,
}

pub(crate) const GROUNDS: [Ground; 5] =
    [Ground::Scene, Ground::Target, Ground::Field, Ground::Ramp, Ground::Bars];

/// Scan number `number` of a seed.
pub(crate) fn without(seed: u64, number: u64, what: Ground) -> (Scan, ToneTable) {
    let mut chance = Chance::new(seed ^ 0xabcd, number);
    let (width, height) = (240 + chance.below(280), 200 + chance.below(160));
    let mut picture =
        Light { width, height, light: vec![10_f32.powf(-chance.between(0.3, 1.2) as f32); width * height] };
    match what {
        Ground::Scene => scene(&mut picture, &mut chance),
        Ground::Target => target(&mut picture, &mut chance),
        Ground::Field => {}
        Ground::Ramp => ramp(&mut picture, &mut chance),
        Ground::Bars => bars(&mut picture, &mut chance),
    }
    let grain = chance.between(0.004, 0.03);
    picture.grain(grain, 0.1, &mut chance);
    picture.dirt(&mut chance);
    picture.fall_off(chance.between(0.0, 0.1));
    let scanner = Scanner::draw(&mut chance, true);
    (scanner.scan(&picture, &mut chance), scanner.table())
}

fn scene(picture: &mut Light, chance: &mut Chance) {
    let (w, h) = (picture.width as f64, picture.height as f64);
    for _ in 0..12 + chance.below(25) {
        let (cx, cy) = (chance.between(0.0, w), chance.between(0.0, h));
        let (rx, ry) = (chance.between(0.03, 0.3) * w, chance.between(0.03, 0.3) * h);
        let tone = 10_f64.powf(-chance.between(0.05, 2.0));
        let shade = chance.between(-0.5, 0.5);
        let box_like = chance.one_in(0.4);
        for y in (cy - ry).max(0.0) as usize..((cy + ry).max(0.0) as usize).min(picture.height) {
            for x in (cx - rx).max(0.0) as usize..((cx + rx).max(0.0) as usize).min(picture.width) {
                let (dx, dy) = ((x as f64 - cx) / rx, (y as f64 - cy) / ry);
                if box_like || dx * dx + dy * dy < 1.0 {
                    picture.light[y * picture.width + x] = (tone * 10_f64.powf(shade * dx)) as f32;
                }
            }
        }
    }
}

fn rectangle(picture: &mut Light, (x0, y0): (f64, f64), (x1, y1): (f64, f64), light: f64) {
    for y in y0.max(0.0) as usize..(y1.max(0.0) as usize).min(picture.height) {
        for x in x0.max(0.0) as usize..(x1.max(0.0) as usize).min(picture.width) {
            picture.light[y * picture.width + x] = light as f32;
        }
    }
}

fn target(picture: &mut Light, chance: &mut Chance) {
    let (w, h) = (picture.width as f64, picture.height as f64);
    scene(picture, chance);
    let (rows, columns) = (3 + chance.below(3), 4 + chance.below(3));
    let (x0, y0) = (0.05 * w, 0.1 * h);
    let (dx, dy) = (0.6 * w / columns as f64, 0.8 * h / rows as f64);
    rectangle(picture, (x0 - 6.0, y0 - 6.0), (x0 + 0.6 * w + 6.0, y0 + 0.8 * h + 6.0), 0.03);
    // One row is a grey scale, as on most targets.
    let scale = chance.below(rows);
    for row in 0..rows {
        for column in 0..columns {
            let density = if row == scale { 0.05 + 0.3 * column as f64 } else { chance.between(0.05, 1.6) };
            let (x, y) = (x0 + dx * column as f64, y0 + dy * row as f64);
            rectangle(picture, (x + 2.0, y + 2.0), (x + dx - 2.0, y + dy - 2.0), 10_f64.powf(-density));
        }
    }
}

fn ramp(picture: &mut Light, chance: &mut Chance) {
    let (a, b) = (chance.between(0.1, 0.6), chance.between(0.8, 2.2));
    let across = chance.one_in(0.5);
    for y in 0..picture.height {
        for x in 0..picture.width {
            let share =
                if across { x as f64 / picture.width as f64 } else { y as f64 / picture.height as f64 };
            picture.light[y * picture.width + x] = 10_f64.powf(-(a + (b - a) * share)) as f32;
        }
    }
}

fn bars(picture: &mut Light, chance: &mut Chance) {
    let (a, b) = (10_f64.powf(-chance.between(0.1, 0.6)), 10_f64.powf(-chance.between(0.8, 1.6)));
    let (period, duty) = (chance.between(12.0, 40.0), chance.between(0.3, 0.7));
    let tilt = chance.between(-0.2, 0.2);
    for y in 0..picture.height {
        for x in 0..picture.width {
            let phase = ((x as f64 + tilt * y as f64) / period).rem_euclid(1.0);
            picture.light[y * picture.width + x] = if phase < duty { a } else { b } as f32;
        }
    }
}
