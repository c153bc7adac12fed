//! Borders and sides in the scan's own pixels, each to a fraction of a pixel.

use crate::geometry::{Homography, Point};
use crate::numeric::robust;
use crate::scan::Plane;

/// Places across the strip at which each border is looked for.
const BINS: usize = 12;
/// Lines that are taken together at one place.
const LINES: usize = 5;
/// Most samples along one line.
const SAMPLES: usize = 160;

/// The scan as light and tone between pixel centres.
pub(super) struct Reader<'a> {
    pub(super) plane: Plane<'a>,
    pub(super) light: &'a [f64],
    pub(super) tones: &'a [f32],
}

impl Reader<'_> {
    /// Light and tone at a place; `None` outside the scan.
    pub(super) fn at(&self, place: Point) -> Option<(f64, f64)> {
        let (x, y) = (place.x - 0.5, place.y - 0.5);
        if !(x >= 0.0 && y >= 0.0) {
            return None;
        }
        let (i, j) = (x as usize, y as usize);
        let (p, q) = (x - i as f64, y - j as f64);
        let mut sums = (0.0, 0.0);
        for (di, dj, weight) in
            [(0, 0, (1.0 - p) * (1.0 - q)), (1, 0, p * (1.0 - q)), (0, 1, (1.0 - p) * q), (1, 1, p * q)]
        {
            let code = usize::from(self.plane.code(i + di, j + dj)?);
            sums.0 += weight * self.light[code];
            sums.1 += weight * f64::from(self.tones[code]);
        }
        Some(sums)
    }
}

/// What an observed place belongs to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum On {
    /// A border by its number, 0 the outer edge of the first step along u.
    Border(i32),
    /// The side v = 0 or v = 1.
    Side(u8),
}

/// A place on a border or side.
#[derive(Debug, Clone, Copy)]
pub(super) struct Observed {
    pub(super) on: On,
    pub(super) at: Point,
    /// Its standard uncertainty across the border or side, in pixels.
    pub(super) u: f64,
}

/// A strip's frame in pixels.
#[derive(Clone, Copy)]
pub(super) struct Frame {
    pub(super) map: Homography,
    pub(super) steps: f64,
}

impl Frame {
    /// At `s` steps from the first border and `v` across.
    pub(super) fn place(&self, s: f64, v: f64) -> Point {
        self.map.place(s / self.steps, v)
    }

    /// Length of a step about border `s`, in pixels.
    pub(super) fn length(&self, s: f64, v: f64) -> f64 {
        distance(self.place(s - 0.5, v), self.place(s + 0.5, v))
    }

    /// Width of the strip at `s`, in pixels.
    pub(super) fn width(&self, s: f64) -> f64 {
        distance(self.place(s, 0.0), self.place(s, 1.0))
    }
}

pub(super) fn distance(a: Point, b: Point) -> f64 {
    crate::numeric::math::hypot(a.x - b.x, a.y - b.y)
}

/// Places across the strip at which a border is looked for.
pub(super) fn bins(frame: &Frame, number: i32) -> usize {
    ((frame.width(f64::from(number)) * 0.8 / 3.0) as usize).clamp(3, BINS)
}

/// Where the row's outer edge is seen, at several places across the strip: where the tone of its last step ends. What comes
/// behind, a narrow margin of film or the light itself, does not matter. `way` is 1 for the edge at the end of u, -1 at its start.
pub(super) fn edge(reader: &Reader<'_>, frame: &Frame, number: i32, way: f64) -> Vec<Observed> {
    let s = f64::from(number);
    let length = frame.length(s - 0.5 * way, 0.5);
    let reach = (0.75_f64, 0.45_f64.max(8.0 / length));
    let count = (((reach.0 + reach.1) * length / 0.5) as usize).clamp(16, SAMPLES);
    let pitch = (reach.0 + reach.1) / count as f64;
    let along = |k: f64| s + way * (k * pitch - reach.0);
    let bins = bins(frame, number);
    let width = frame.width(s);
    let mut found = Vec::with_capacity(bins);
    for bin in 0..bins {
        let (from, to) = (0.1 + 0.8 * bin as f64 / bins as f64, 0.1 + 0.8 * (bin + 1) as f64 / bins as f64);
        let lines = ((width * (to - from)) as usize).clamp(2, LINES);
        let v = |line: usize| from + (to - from) * (line as f64 + 0.5) / lines as f64;
        let (light, tone) =
            profile(reader, count, lines, |k, line| frame.place(along(k as f64 + 0.5), v(line)));
        if let Some((k, u)) = departure(&light, &tone, length * pitch) {
            let at = frame.place(along(k), 0.5 * (from + to));
            found.push(Observed { on: On::Border(number), at, u: u * pitch * length });
        }
    }
    found
}

/// Light and tone along a line that several lines are taken together for; as far as it lies in the scan.
fn profile(
    reader: &Reader<'_>,
    count: usize,
    lines: usize,
    place: impl Fn(usize, usize) -> Point,
) -> (Vec<f64>, Vec<f64>) {
    let (mut light, mut tone) = (Vec::with_capacity(count), Vec::with_capacity(count));
    for k in 0..count {
        let read: Option<Vec<(f64, f64)>> = (0..lines).map(|line| reader.at(place(k, line))).collect();
        let Some(read) = read else { break };
        let (mut lights, mut tones): (Vec<f64>, Vec<f64>) = read.into_iter().unzip();
        light.push(middle(&mut lights));
        tone.push(middle(&mut tones));
    }
    (light, tone)
}

/// Where a border is seen, at several places across the strip.
pub(super) fn border(reader: &Reader<'_>, frame: &Frame, number: i32, window: f64) -> Vec<Observed> {
    let s = f64::from(number);
    let length = frame.length(s, 0.5);
    let count = ((2.0 * window * length / 0.5) as usize).clamp(12, SAMPLES);
    let step = 2.0 * window / count as f64;
    let width = frame.width(s);
    let bins = bins(frame, number);
    let mut found = Vec::with_capacity(bins);
    for bin in 0..bins {
        let (from, to) = (0.1 + 0.8 * bin as f64 / bins as f64, 0.1 + 0.8 * (bin + 1) as f64 / bins as f64);
        let lines = ((width * (to - from)) as usize).clamp(2, LINES);
        let profile = (0..count).map(|k| {
            let at = s - window + (k as f64 + 0.5) * step;
            let mut lights = Vec::with_capacity(lines);
            for line in 0..lines {
                let v = from + (to - from) * (line as f64 + 0.5) / lines as f64;
                lights.push(reader.at(frame.place(at, v))?.0);
            }
            Some(middle(&mut lights))
        });
        let Some(profile) = profile.collect::<Option<Vec<f64>>>() else { continue };
        if let Some((k, u)) = crossing(&profile) {
            let v = 0.5 * (from + to);
            let at = frame.place(s - window + k * step, v);
            found.push(Observed { on: On::Border(number), at, u: u * step * length });
        }
    }
    found
}

/// Mean of the middle half.
fn middle(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    let cut = values.len() / 4;
    let inner = &values[cut..values.len() - cut];
    inner.iter().sum::<f64>() / inner.len() as f64
}

/// Where a line goes from one plateau to another, in samples from its start, and the standard uncertainty. A gap between
/// the plateaus counts with its middle.
fn crossing(profile: &[f64]) -> Option<(f64, f64)> {
    let count = profile.len();
    let third = (count * 3 / 10).max(3);
    let before = robust::median(&profile[..third])?;
    let after = robust::median(&profile[count - third..])?;
    let deviation = |part: &[f64]| super::profile::noise(part);
    // Interpolated samples are correlated: their second differences show about half of the noise.
    let sigma = 2.0 * deviation(&profile[..third]).max(deviation(&profile[count - third..])) + 1e-9;
    let contrast = (after - before).abs();
    let (low, high) = (before.min(after), before.max(after));
    let centre = count * 2 / 10..count - count * 2 / 10;
    let (mut gap, mut most) = (None, (5.0 * sigma).max(0.5 * contrast));
    for k in centre {
        let beyond = (low - profile[k]).max(profile[k] - high);
        if beyond > most {
            (gap, most) = (Some(k), beyond);
        }
    }
    if let Some(k) = gap {
        let left = (0..k).rev().find_map(|i| meets(profile, i, 0.5 * (before + profile[k])))?;
        let right = (k..count - 1).find_map(|i| meets(profile, i, 0.5 * (profile[k] + after)))?;
        if right - left > 0.5 * count as f64 {
            return None;
        }
        let steep = most / 3.0;
        return Some((0.5 * (left + right), (sigma / steep).max(0.1)));
    }
    if contrast < 4.0 * sigma {
        return None;
    }
    let level = 0.5 * (before + after);
    let sign = if before > after { 1.0 } else { -1.0 };
    let (mut sum, mut best, mut at) = (0.0, f64::NEG_INFINITY, 0);
    for (k, value) in profile.iter().enumerate() {
        sum += sign * (value - level);
        if sum > best {
            (best, at) = (sum, k);
        }
    }
    if at + 1 >= count || at < 1 {
        return None;
    }
    let place = meets(profile, at, level).unwrap_or(at as f64 + 1.0);
    let (from, to) = (at.saturating_sub(1), (at + 2).min(count - 1));
    let slope = ((profile[to] - profile[from]) / (to - from) as f64).abs().max(contrast / count as f64);
    Some((place, (sigma / slope).max(0.1)))
}

/// Where a line meets a level between samples `i` and `i + 1`, from the line's start.
fn meets(profile: &[f64], i: usize, level: f64) -> Option<f64> {
    let (a, b) = (profile[i], profile[i + 1]);
    let crosses = (a >= level) != (b >= level);
    crosses.then(|| i as f64 + 0.5 + (level - a) / (b - a))
}

/// Where the side of a step is seen.
pub(super) fn side(reader: &Reader<'_>, frame: &Frame, step: i32, which: u8) -> Option<Observed> {
    let s = f64::from(step) + 0.5;
    let width = frame.width(s);
    let reach = 0.25_f64.max(6.0 / width).min(0.4);
    let count = ((2.0 * reach * width / 0.5) as usize).clamp(16, SAMPLES);
    let pitch = 2.0 * reach / count as f64;
    let lines = ((0.6 * frame.length(s, 0.5)) as usize).clamp(3, 16);
    // From inside to outside.
    let v = |k: f64| if which == 0 { reach - k * pitch } else { 1.0 - reach + k * pitch };
    let across = |line: usize| f64::from(step) + 0.2 + 0.6 * (line as f64 + 0.5) / lines as f64;
    let (light, tone) = profile(reader, count, lines, |k, line| frame.place(across(line), v(k as f64 + 0.5)));
    let (place, u) = departure(&light, &tone, width * pitch)?;
    let at = frame.place(s, v(place));
    Some(Observed { on: On::Side(which), at, u: u * pitch * width })
}

/// Where a line leaves the plateau that it starts on, half-way in light to what comes next.
fn departure(light: &[f64], tone: &[f64], sample: f64) -> Option<(f64, f64)> {
    let quarter = (light.len() * 3 / 10).max(4).min(light.len());
    let (inner_light, inner) = (robust::median(&light[..quarter])?, robust::median(&tone[..quarter])?);
    let sigma = 2.0 * super::profile::noise(&tone[..quarter]);
    let least = 0.025_f64.max(5.0 * sigma);
    let away = |k: usize| (tone[k] - inner).abs() > least;
    // The last place from which the tone stays away.
    let leaves = (1..tone.len()).rfind(|k| !away(*k - 1))?;
    let settle = (3.5 / sample).ceil() as usize;
    if leaves + settle + 2 > tone.len() {
        return None;
    }
    let outer = robust::median(&light[leaves + settle / 2..(leaves + 2 * settle).min(light.len())])?;
    let level = 0.5 * (inner_light + outer);
    let from = leaves.saturating_sub(settle).max(1);
    let to = (leaves + settle).min(light.len() - 1);
    let place = (from - 1..to).find_map(|k| meets(light, k, level))?;
    let contrast = (outer - inner_light).abs().max(1e-9);
    let noise = 2.0 * super::profile::noise(&light[..quarter]);
    Some((place, (2.0 * noise / contrast / sample).max(0.1)))
}
