//! Smaller copies of a scan for the screen: each level halves the one before, averaging light.

use rayon::prelude::*;

use super::{Samples, Scan};

/// Sides that are small enough: halving ends when both are at most this many pixels.
const SMALL: usize = 256;
/// Rows of a level that one task makes between two looks at `stop`.
const BAND: usize = 64;
/// Bins of the table from light back to codes, over the square root of light.
const BINS: usize = 65_536;

/// One level of the pyramid: the scan at half the size of the level before.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Its width in pixels.
    pub width: usize,
    /// Its height in pixels.
    pub height: usize,
    /// Samples of this level in the scan's own codes, channels interleaved.
    pub samples: Samples,
}

/// All levels below full size, largest first; level `k` here is the scan over `2^(k+1)`, its sides rounded up.
#[derive(Debug, Clone, PartialEq)]
pub struct Pyramid {
    /// The levels, the largest first.
    pub levels: Vec<Level>,
}

impl Pyramid {
    /// Halves the scan until both sides are at most 256 pixels, averaging 2 x 2 in linear light by the tone table's
    /// light, or in codes where `light` is `None`. At an odd edge the pixels that are there are averaged. `stop` is asked
    /// once per band of rows; `None` when it says so.
    #[must_use]
    pub fn build(scan: &Scan, light: Option<&[f64]>, stop: &(dyn Fn() -> bool + Sync)) -> Option<Self> {
        let linear = light.filter(|light| light.len() == scan.levels()).map(Linear::of);
        let mut levels: Vec<Level> = Vec::new();
        loop {
            let (width, height, samples) = match levels.last() {
                Some(level) => (level.width, level.height, &level.samples),
                None => (scan.width, scan.height, &scan.samples),
            };
            if width.max(height) <= SMALL {
                return Some(Self { levels });
            }
            let shape = Shape { width, height, channels: scan.channels };
            let samples = match samples {
                Samples::U8(samples) => Samples::U8(halve(samples, shape, linear.as_ref(), stop)?),
                Samples::U16(samples) => Samples::U16(halve(samples, shape, linear.as_ref(), stop)?),
            };
            levels.push(Level { width: width.div_ceil(2), height: height.div_ceil(2), samples });
        }
    }
}

#[derive(Clone, Copy)]
struct Shape {
    width: usize,
    height: usize,
    channels: usize,
}

/// A sample that can be averaged.
trait Code: Copy + Default + Send + Sync + Into<u32> {
    fn of(value: u32) -> Self;
}

impl Code for u8 {
    fn of(value: u32) -> Self {
        value as Self
    }
}

impl Code for u16 {
    fn of(value: u32) -> Self {
        value as Self
    }
}

/// The way from codes to light and back.
struct Linear {
    light: Vec<f32>,
    codes: Vec<u16>,
    scale: f32,
}

impl Linear {
    fn of(light: &[f64]) -> Self {
        let most = light.iter().copied().fold(0.0, f64::max).max(f64::MIN_POSITIVE);
        let rising = light.last() >= light.first();
        let at = |rank: usize| if rising { rank } else { light.len() - 1 - rank };
        let mut codes = Vec::with_capacity(BINS);
        let mut rank = 0;
        for bin in 0..BINS {
            let root = bin as f64 / (BINS - 1) as f64;
            let wanted = root * root * most;
            while rank + 1 < light.len()
                && (light[at(rank + 1)] - wanted).abs() <= (light[at(rank)] - wanted).abs()
            {
                rank += 1;
            }
            codes.push(at(rank) as u16);
        }
        let scale = (BINS - 1) as f32 / (most as f32).sqrt();
        Self { light: light.iter().map(|v| *v as f32).collect(), codes, scale }
    }

    fn mean<T: Code>(&self, codes: [T; 4]) -> T {
        let sum: f32 = codes.map(|code| self.light[code.into() as usize]).iter().sum();
        let bin = ((sum * 0.25).sqrt() * self.scale + 0.5) as usize;
        T::of(u32::from(self.codes[bin.min(BINS - 1)]))
    }
}

fn halve<T: Code>(
    from: &[T],
    shape: Shape,
    linear: Option<&Linear>,
    stop: &(dyn Fn() -> bool + Sync),
) -> Option<Vec<T>> {
    let (across, down) = (shape.width.div_ceil(2), shape.height.div_ceil(2));
    let row = across * shape.channels;
    let mut to = vec![T::default(); row * down];
    to.par_chunks_mut(row * BAND)
        .enumerate()
        .try_for_each(|(band, rows)| {
            if stop() {
                return None;
            }
            for (offset, out) in rows.chunks_mut(row).enumerate() {
                let y = (band * BAND + offset) * 2;
                let line = |y: usize| {
                    let start = y.min(shape.height - 1) * shape.width * shape.channels;
                    &from[start..start + shape.width * shape.channels]
                };
                halve_row(line(y), line(y + 1), out, shape.channels, linear);
            }
            Some(())
        })
        .map(|()| to)
}

/// One row of the smaller picture from two of the larger; a last column without a partner counts twice.
fn halve_row<T: Code>(upper: &[T], lower: &[T], out: &mut [T], channels: usize, linear: Option<&Linear>) {
    let mean = |codes: [T; 4]| match linear {
        Some(linear) => linear.mean(codes),
        None => T::of((codes.iter().map(|code| (*code).into()).sum::<u32>() + 2) >> 2),
    };
    if channels == 1 && linear.is_none() {
        // The common case, written so that the compiler can make vector code of it.
        let pairs = upper.as_chunks::<2>().0.iter().zip(lower.as_chunks::<2>().0);
        for (out, (a, b)) in out.iter_mut().zip(pairs) {
            let sum: u32 = a[0].into() + a[1].into() + b[0].into() + b[1].into();
            *out = T::of((sum + 2) >> 2);
        }
    } else {
        let pairs = upper.chunks_exact(2 * channels).zip(lower.chunks_exact(2 * channels));
        for (out, (a, b)) in out.chunks_exact_mut(channels).zip(pairs) {
            for (channel, out) in out.iter_mut().enumerate() {
                *out = mean([a[channel], a[channels + channel], b[channel], b[channels + channel]]);
            }
        }
    }
    let pixels = upper.len() / channels;
    if pixels % 2 == 1 {
        let (from, to) = ((pixels - 1) * channels, (pixels / 2) * channels);
        for channel in 0..channels {
            let (a, b) = (upper[from + channel], lower[from + channel]);
            out[to + channel] = mean([a, a, b, b]);
        }
    }
}
