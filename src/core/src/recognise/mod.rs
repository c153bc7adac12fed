//! What a scan shows, told from a small copy of it: a row of steps, a picture, a uniform area, or nothing at all.
//!
//! Every measure is a density by the file's own tone curve, so that a scan with linear codes and one with the usual
//! curve are told alike. The thresholds are choices of this room, no standard gives any; where a measure lies between
//! two of them, the answer says so as a doubt.

mod edges;
mod stairs;

pub use stairs::Stairs;

use crate::found::Found;
use crate::numeric::robust::quantile_of_sorted;
use crate::words;

/// Blocks along each side in which a small copy is looked at.
const BLOCKS: usize = 16;
/// Share of the picture left out at each side: holder, border, film edge.
const MARGIN: f64 = 0.04;
/// Densities above this are as dark as nothing at all on most scanners.
const DARK: f32 = 3.2;

/// A small copy of a scan in densities.
#[derive(Debug, Clone, PartialEq)]
pub struct Small {
    /// Its width in pixels.
    pub width: usize,
    /// Its height in pixels.
    pub height: usize,
    /// Densities row by row; those of no light at all are finite.
    pub density: Vec<f32>,
    /// Median standard deviation between neighbours of the full-size scan within a pixel of this copy, in density: grain
    /// and noise.
    pub fine: f64,
}

impl Small {
    fn at(&self, x: usize, y: usize) -> f32 {
        self.density[y * self.width + x].min(DARK)
    }

    /// The same turned by a quarter, so that columns become rows.
    fn turned(&self) -> Self {
        let density = (0..self.width)
            .flat_map(|x| (0..self.height).map(move |y| self.density[y * self.width + x]))
            .collect();
        Self { width: self.height, height: self.width, density, fine: self.fine }
    }
}

/// What a scan shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ScanContent {
    /// A row of steps, from light to dark or from dark to light.
    Steps(Stairs),
    /// A picture: tones of many kinds beside and above each other.
    Picture,
    /// One even tone with grain or noise.
    Plain {
        /// Its median density by the file's own tone curve.
        density: f64,
    },
    /// One even tone and nothing in it: no film, a lid left closed.
    Empty,
}

/// Densities of the blocks of a small copy.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Blocks {
    /// Density between which 96 of 100 blocks lie.
    range: f64,
    /// Share of the blocks within 0.1 of the median block.
    alike: f64,
    median: f64,
}

/// Tells what a small copy shows. Copies of at least 64 pixels along the longer side are wanted; smaller ones are doubtful.
#[must_use]
pub fn look(small: &Small) -> Found<ScanContent> {
    let blocks = blocks(small);
    let mut found = kind(small, blocks);
    if small.width.max(small.height) < 64 {
        found.doubts.push(words::Recognised::TooSmall.into());
    }
    found
}

fn kind(small: &Small, blocks: Blocks) -> Found<ScanContent> {
    // Nothing at all: no fluctuation between neighbours (half a code of 8 bits is 0.002 at mid grey), and even.
    if blocks.range < 0.03 && small.fine < 0.0015 {
        return Found { value: ScanContent::Empty, support: 1.0 - blocks.range / 0.03, doubts: Vec::new() };
    }
    if blocks.range < 0.25 && blocks.alike > 0.85 {
        let mut doubts = Vec::new();
        if blocks.range > 0.12 {
            doubts.push(words::Recognised::FieldUneven { density: blocks.range }.into());
        }
        let support = (1.0 - blocks.range / 0.25).clamp(0.0, 1.0);
        return Found { value: ScanContent::Plain { density: blocks.median }, support, doubts };
    }
    let edges = edges::edges(small);
    // A target may hold a grey scale; a strip fills its scan, or what lies beside it is even.
    if let Some((mut found, covered)) = stairs::find(small)
        && !(edges.pictorial() && covered < 0.25)
    {
        if edges.pictorial() || (covered < 0.25 && edges.oblique > 0.2) {
            let doubt = words::Recognised::MoreThanStrip;
            found.doubts.push(doubt.into());
        }
        return found.map(ScanContent::Steps);
    }
    let mut doubts = Vec::new();
    if blocks.range < 0.4 {
        doubts.push(words::Recognised::LowRange { range: blocks.range }.into());
    }
    if !edges.pictorial() {
        doubts.push(words::Recognised::NotPictorial.into());
    }
    Found { value: ScanContent::Picture, support: edges.oblique.min(1.0), doubts }
}

fn blocks(small: &Small) -> Blocks {
    let inner = |side: usize| {
        let margin = (side as f64 * MARGIN) as usize;
        (margin, (side - margin).max(margin + 1))
    };
    let ((x0, x1), (y0, y1)) = (inner(small.width), inner(small.height));
    let mut medians = Vec::with_capacity(BLOCKS * BLOCKS);
    for row in 0..BLOCKS.min(y1 - y0) {
        for column in 0..BLOCKS.min(x1 - x0) {
            let span = |from: usize, to: usize, place: usize, count: usize| {
                (from + (to - from) * place / count, from + (to - from) * (place + 1) / count)
            };
            let (left, right) = span(x0, x1, column, BLOCKS.min(x1 - x0));
            let (top, bottom) = span(y0, y1, row, BLOCKS.min(y1 - y0));
            let mut inside: Vec<f32> =
                (top..bottom).flat_map(|y| (left..right).map(move |x| small.at(x, y))).collect();
            medians.push(f64::from(median(&mut inside)));
        }
    }
    medians.sort_by(f64::total_cmp);
    let quantile = |p: f64| quantile_of_sorted(&medians, p).unwrap_or_default();
    let median = quantile(0.5);
    let alike = medians.iter().filter(|value| (*value - median).abs() < 0.1).count();
    Blocks {
        range: quantile(0.98) - quantile(0.02),
        alike: alike as f64 / medians.len().max(1) as f64,
        median,
    }
}

fn median(values: &mut [f32]) -> f32 {
    let middle = values.len() / 2;
    if values.is_empty() {
        return 0.0;
    }
    *values.select_nth_unstable_by(middle, f32::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers between -1 and 1 that repeat nowhere near (a linear congruence, D. E. Knuth's multiplier).
    fn noise(seed: u64) -> impl FnMut() -> f32 {
        let mut state = seed;
        move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 40) as f32 / (1_u64 << 23) as f32 - 1.0
        }
    }

    fn small(width: usize, height: usize, mut density: impl FnMut(usize, usize) -> f32) -> Small {
        let mut made = Vec::with_capacity(width * height);
        for y in 0..height {
            for x in 0..width {
                made.push(density(x, y));
            }
        }
        Small { width, height, density: made, fine: 0.01 }
    }

    #[test]
    fn a_staircase_is_steps_either_way_round() {
        let mut noise = noise(1);
        for turned in [false, true] {
            for falling in [false, true] {
                let found = small(440, 75, |x, y| {
                    let inside = (20..420).contains(&x) && (15..60).contains(&y);
                    let step = (x.saturating_sub(20) / 20).min(19) as f32;
                    let step = if falling { 19.0 - step } else { step };
                    if inside { 0.1 + 0.12 * step + 0.01 * noise() } else { 0.05 }
                });
                let found = look(&if turned { found.turned() } else { found });
                assert!(found.is_sure(), "{found:?}");
                let ScanContent::Steps(stairs) = found.value else { panic!("{found:?}") };
                assert!(stairs.along_x != turned, "{stairs:?}");
                assert_eq!(stairs.darkens, !falling, "{stairs:?}");
                assert!((18..=21).contains(&stairs.steps), "{stairs:?}");
            }
        }
    }

    #[test]
    fn an_even_field_with_grain_is_plain_and_a_sky_is_not_steps() {
        let mut grain = noise(2);
        let plain = look(&small(320, 320, |_, _| 0.9 + 0.08 * grain()));
        assert!(
            plain.is_sure()
                && matches!(plain.value, ScanContent::Plain { density } if (density - 0.9).abs() < 0.02)
        );
        let mut grain = noise(3);
        let sky = look(&small(320, 240, |x, _| 0.2 + 1.5 * x as f32 / 320.0 + 0.01 * grain()));
        assert!(!sky.is_sure(), "{sky:?}");
        assert!(!matches!(sky.value, ScanContent::Steps(_)), "a ramp has no steps: {sky:?}");
    }

    #[test]
    fn nothing_at_all_is_empty() {
        let empty = look(&Small { fine: 0.0, ..small(200, 100, |_, _| 0.02) });
        assert!(empty.is_sure() && empty.value == ScanContent::Empty);
    }

    #[test]
    fn patches_alone_are_no_photograph() {
        let mut tones = noise(4);
        let patches: Vec<f32> = (0..20 * 15).map(|_| 0.8 + 0.7 * tones()).collect();
        let picture = look(&small(400, 300, |x, y| patches[(y / 20) * 20 + x / 20]));
        assert!(!picture.is_sure() && picture.value == ScanContent::Picture, "{picture:?}");
    }
}
