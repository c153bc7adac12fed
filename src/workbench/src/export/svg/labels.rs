//! Labels that keep off each other and off the curves.

use std::fmt::Write;

use twinwedge_core::drawing::{Layer, Plot, Role};

use super::super::markup::escape_plain;
use super::{Frame, LETTER, PALE, TEXT, mm};

#[derive(Clone, Copy)]
struct Area {
    x: (f64, f64),
    y: (f64, f64),
}

impl Area {
    /// The area of `text` whose lower left corner is at `x`, `y`.
    fn of(text: &str, x: f64, y: f64) -> Self {
        Self { x: (x, x + text.chars().count() as f64 * LETTER * TEXT), y: (y - TEXT * 0.9, y + TEXT * 0.25) }
    }

    fn overlaps(&self, other: &Self) -> bool {
        self.x.0 < other.x.1 && other.x.0 < self.x.1 && self.y.0 < other.y.1 && other.y.0 < self.y.1
    }

    fn holds(&self, [x, y]: [f64; 2]) -> bool {
        self.x.0 <= x && x <= self.x.1 && self.y.0 <= y && y <= self.y.1
    }
}

struct Wanted {
    text: String,
    tone: &'static str,
    /// Lower left corners in order of preference.
    places: Vec<[f64; 2]>,
}

/// Collects labels while a plot is drawn, and finds their places once all curves are known.
pub(super) struct Placer {
    sheet: Area,
    ink: Vec<[f64; 2]>,
    wanted: Vec<Wanted>,
}

impl Placer {
    pub(super) fn new(frame: &Frame) -> Self {
        let sheet = Area { x: (frame.left, frame.right()), y: (frame.top, frame.bottom()) };
        Self { sheet, ink: Vec::new(), wanted: Vec::new() }
    }

    /// Points of a curve that labels should not cover.
    pub(super) fn ink(&mut self, points: &[[f64; 2]]) {
        self.ink.extend_from_slice(points);
    }

    /// A label near a point, on the side that is free.
    pub(super) fn beside(&mut self, [x, y]: [f64; 2], text: &str, tone: &'static str) {
        if text.is_empty() {
            return;
        }
        let width = text.chars().count() as f64 * LETTER * TEXT;
        let mut places = Vec::new();
        for gap in [2.2, 4.0, 7.0, 11.0] {
            places.extend([
                [x + gap, y + gap * 0.6 + TEXT * 0.5],
                [x - gap - width, y - gap * 0.5],
                [x + gap, y + TEXT * 0.35],
                [x - gap - width, y + TEXT * 0.35],
                [x - width / 2.0, y - gap],
                [x - width / 2.0, y + gap + TEXT],
            ]);
        }
        self.wanted.push(Wanted { text: text.to_owned(), tone, places });
    }

    /// A label on a level line, from its right end leftwards, above it or below.
    pub(super) fn above_right(&mut self, y: f64, text: &str, tone: &'static str) {
        if text.is_empty() {
            return;
        }
        let width = text.chars().count() as f64 * LETTER * TEXT;
        let mut places = Vec::new();
        for back in [0.0, 0.25, 0.5, 0.75] {
            let x = self.sheet.x.1 - 1.0 - width - back * (self.sheet.x.1 - self.sheet.x.0);
            places.extend([[x, y - 0.7], [x, y + TEXT * 0.95]]);
        }
        self.wanted.push(Wanted { text: text.to_owned(), tone, places });
    }

    /// All labels, each at its least crowded place.
    pub(super) fn write(&self) -> String {
        let mut taken: Vec<Area> = Vec::new();
        let mut out = String::new();
        for wanted in &self.wanted {
            let cost = |[x, y]: [f64; 2]| {
                let area = Area::of(&wanted.text, x, y);
                let outside = area.x.0 < self.sheet.x.0
                    || area.x.1 > self.sheet.x.1
                    || area.y.0 < self.sheet.y.0
                    || area.y.1 > self.sheet.y.1;
                let labels = taken.iter().filter(|other| area.overlaps(other)).count();
                let covered = self.ink.iter().filter(|point| area.holds(**point)).count();
                (if outside { 10_000 } else { 0 }) + 1000 * labels + 10 * covered
            };
            let best = wanted.places.iter().enumerate().min_by_key(|(rank, place)| cost(**place) + rank);
            let Some((_, [x, y])) = best else { continue };
            taken.push(Area::of(&wanted.text, *x, *y));
            let _ = write!(
                out,
                r##"<text x="{}" y="{}" fill="{}" stroke="#ffffff" stroke-width="0.7" stroke-linejoin="round" paint-order="stroke">{}</text>"##,
                mm(*x),
                mm(*y),
                wanted.tone,
                escape_plain(&wanted.text)
            );
        }
        out
    }
}

/// Names of further films at the ends of their lines, moved apart where they would touch.
pub(super) fn at_lines(out: &mut String, frame: &Frame, plot: &Plot) {
    let mut ends: Vec<(&str, [f64; 2])> = plot
        .layers
        .iter()
        .filter_map(|layer| match layer {
            Layer::Line { role: Role::Other, name, points } if !name.is_empty() => {
                let visible = |point: &&[f64; 2]| point[1] >= frame.y.0 && point[1] <= frame.y.1;
                Some((name.as_str(), frame.at(*points.iter().rev().find(visible)?)))
            }
            _ => None,
        })
        .collect();
    if ends.is_empty() {
        return;
    }
    ends.sort_by(|a, b| a.1[1].total_cmp(&b.1[1]));
    let count = ends.len() as f64;
    let size = TEXT.min(frame.height / count * 0.95);
    let pitch = size * 1.05;
    let mut heights: Vec<f64> = ends.iter().map(|(_, end)| end[1]).collect();
    // Downwards so that none touches the one above, then back up from the lower edge.
    for i in 1..heights.len() {
        heights[i] = heights[i].max(heights[i - 1] + pitch);
    }
    let mut lowest = frame.bottom();
    for height in heights.iter_mut().rev() {
        *height = height.min(lowest);
        lowest = *height - pitch;
    }
    let letters = ((29.0 - 6.0) / (LETTER * size)).floor() as usize;
    for ((name, end), height) in ends.iter().zip(&heights) {
        let x = frame.right() + 5.0;
        let shown = clipped(name, letters);
        let _ = write!(
            out,
            r#"<path d="M{} {}L{} {}L{} {}" fill="none" stroke="{PALE}" stroke-width="0.1"/><text x="{}" y="{}" font-size="{}">{}</text>"#,
            mm(end[0]),
            mm(end[1]),
            mm(frame.right().max(end[0]) + 1.0),
            mm(end[1]),
            mm(x - 0.6),
            mm(*height),
            mm(x),
            mm(height + size * 0.35),
            mm(size),
            escape_plain(&shown)
        );
    }
}

/// A name in so many letters at most; one that is cut ends in an ellipsis.
pub(super) fn clipped(name: &str, letters: usize) -> String {
    if name.chars().count() > letters {
        name.chars().take(letters.saturating_sub(1)).chain(['…']).collect()
    } else {
        name.to_owned()
    }
}
