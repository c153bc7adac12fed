//! A picture at one size, its halvings, and sampling between its pixels.
//!
//! Layer pixel `i` covers `i * scale .. (i + 1) * scale` of the scan, so its centre lies at `(i + 0.5) * scale`: halving
//! moves centres, and forgetting that would cost half a pixel per level.

use std::borrow::Cow;

use rayon::prelude::*;

use super::Picture;
use crate::geometry::Point;

/// A picture at one size.
#[derive(Debug, Clone)]
pub(super) struct Layer<'a> {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) tones: Cow<'a, [f32]>,
    /// Side of a pixel here in pixels of the scan.
    pub(super) scale: f64,
}

/// Shortest side of a layer: what windows of useful size need.
pub(super) const SHORTEST: usize = 40;

/// The picture and its halvings, largest first, down to a longer side of at most `least * 2` pixels.
pub(super) fn layers(picture: &Picture, least: usize) -> Vec<Layer<'_>> {
    let mut all = vec![Layer {
        width: picture.width,
        height: picture.height,
        tones: Cow::Borrowed(&picture.tones),
        scale: picture.scale,
    }];
    while let Some(last) = all.last().filter(|last| last.width.max(last.height) > 2 * least) {
        if last.width.min(last.height) < 2 * SHORTEST {
            break;
        }
        let next = last.halved();
        all.push(next);
    }
    all
}

impl Layer<'_> {
    fn halved(&self) -> Layer<'static> {
        let (width, height) = (self.width / 2, self.height / 2);
        let mut tones = vec![0.0_f32; width * height];
        tones.par_chunks_exact_mut(width).enumerate().for_each(|(y, out)| {
            let upper = &self.tones[2 * y * self.width..][..2 * width];
            let lower = &self.tones[(2 * y + 1) * self.width..][..2 * width];
            let pairs = upper.as_chunks::<2>().0.iter().zip(lower.as_chunks::<2>().0);
            for (out, (upper, lower)) in out.iter_mut().zip(pairs) {
                *out = 0.25 * ((upper[0] + upper[1]) + (lower[0] + lower[1]));
            }
        });
        Layer { width, height, tones: Cow::Owned(tones), scale: 2.0 * self.scale }
    }

    /// Left and right changed about.
    pub(super) fn mirrored(&self) -> Layer<'static> {
        let mut tones = self.tones.to_vec();
        tones.chunks_exact_mut(self.width.max(1)).for_each(<[f32]>::reverse);
        Layer { width: self.width, height: self.height, tones: Cow::Owned(tones), scale: self.scale }
    }

    /// Where the centre of a pixel (whole or between) lies in the scan.
    pub(super) fn to_scan(&self, p: Point) -> Point {
        Point::new((p.x + 0.5) * self.scale, (p.y + 0.5) * self.scale)
    }

    /// The pixel, in fractions between centres, at a place of the scan.
    pub(super) fn of_scan(&self, p: Point) -> Point {
        Point::new(p.x / self.scale - 0.5, p.y / self.scale - 0.5)
    }

    /// Whether all that cubic sampling at `p` needs lies inside, with a further margin.
    pub(super) fn holds(&self, p: Point, margin: f64) -> bool {
        p.x >= 1.0 + margin
            && p.y >= 1.0 + margin
            && p.x < self.width as f64 - 2.0 - margin
            && p.y < self.height as f64 - 2.0 - margin
    }

    /// Samples along a line by cubic convolution with a = -1/2 (R. G. Keys, IEEE Trans. Acoust. Speech Signal Process. 29,
    /// 1981). Places outside take the nearest inside.
    pub(super) fn line(&self, line: &Line, out: &mut [f32]) {
        let limit = |v: f64, size: usize| v.clamp(1.0, (size - 3) as f64 + 0.999_999);
        let wide = self.width;
        let sample = |x: f64, y: f64| {
            let (column, row) = (x as usize, y as usize);
            let (wx, wy) = (cubic((x - column as f64) as f32), cubic((y - row as f64) as f32));
            let start = (row - 1) * wide + column - 1;
            let around = &self.tones[start..start + 3 * wide + 4];
            let four = |at: usize| {
                let four = &around[at..at + 4];
                wx[0] * four[0] + wx[1] * four[1] + (wx[2] * four[2] + wx[3] * four[3])
            };
            (wy[0] * four(0) + wy[1] * four(wide)) + (wy[2] * four(2 * wide) + wy[3] * four(3 * wide))
        };
        let last = out.len().saturating_sub(1) as f64;
        // A row of pixels bends too little to leave between its ends and come back by more than the margin of `holds`.
        let within = [0.0, last / 2.0, last].iter().all(|k| self.holds(line.at(*k), 1.0));
        for (k, out) in out.iter_mut().enumerate() {
            let p = line.at(k as f64);
            *out = if within { sample(p.x, p.y) } else { sample(limit(p.x, wide), limit(p.y, self.height)) };
        }
    }

    /// Standard deviation of what changes from pixel to pixel without rule: of grain, where the picture is not all texture
    /// (J. Immerkaer, Comput. Vis. Image Underst. 64, 1996, with the median in place of the mean).
    pub(super) fn noise(&self) -> f64 {
        let wide = self.width;
        let stride = (self.tones.len() / 40_000).max(1);
        let mut all: Vec<f32> = Vec::with_capacity(self.tones.len() / stride + 1);
        for index in (wide + 1..self.tones.len().saturating_sub(wide + 1)).step_by(stride) {
            let x = index % wide;
            if x == 0 || x == wide - 1 {
                continue;
            }
            let at = |by: isize| self.tones[index.wrapping_add_signed(by)];
            let row = wide.cast_signed();
            let sides = at(-1) + at(1) + at(-row) + at(row);
            let corners = at(-row - 1) + at(-row + 1) + at(row - 1) + at(row + 1);
            all.push((corners - 2.0 * sides + 4.0 * at(0)).abs());
        }
        if all.is_empty() {
            return 0.0;
        }
        let middle = all.len() / 2;
        let (_, median, _) = all.select_nth_unstable_by(middle, f32::total_cmp);
        // The mask's squares sum to 36.
        1.4826 * f64::from(*median) / 6.0
    }

    /// Averaged by whole areas to pixels `factor` times as large (at least 1).
    pub(super) fn shrunk(&self, factor: f64) -> Layer<'static> {
        let size = |side: usize| ((side as f64 / factor) as usize).max(1);
        let (width, height) = (size(self.width), size(self.height));
        let mut narrow = vec![0.0_f32; width * self.height];
        let spans: Vec<Span> = (0..width).map(|k| Span::of(k, factor, self.width)).collect();
        for (out, row) in narrow.chunks_exact_mut(width).zip(self.tones.chunks_exact(self.width)) {
            for (out, span) in out.iter_mut().zip(&spans) {
                *out = span.mean(|k| row[k]);
            }
        }
        let mut tones = vec![0.0_f32; width * height];
        for (y, out) in tones.chunks_exact_mut(width).enumerate() {
            let span = Span::of(y, factor, self.height);
            for (x, out) in out.iter_mut().enumerate() {
                *out = span.mean(|k| narrow[k * width + x]);
            }
        }
        Layer { width, height, tones: Cow::Owned(tones), scale: self.scale * factor }
    }
}

/// Places in steps that may lengthen evenly: place k is `start + k (step + k bend)`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    start: Point,
    step: Point,
    bend: Point,
}

impl Line {
    /// Through its places number 0, `last / 2` and `last`: a row of pixels seen through a homography is so to third order.
    pub(super) fn through(start: Point, middle: Point, end: Point, last: f64) -> Self {
        let of = |start: f64, middle: f64, end: f64| {
            let bend = 2.0 * (end - 2.0 * middle + start) / (last * last);
            ((end - start) / last - bend * last, bend)
        };
        let (x, y) = (of(start.x, middle.x, end.x), of(start.y, middle.y, end.y));
        Self { start, step: Point::new(x.0, y.0), bend: Point::new(x.1, y.1) }
    }

    fn at(&self, k: f64) -> Point {
        let Self { start, step, bend } = self;
        Point::new(start.x + k * (step.x + k * bend.x), start.y + k * (step.y + k * bend.y))
    }

    #[cfg(test)]
    fn resting(start: Point) -> Self {
        Self { start, step: Point::default(), bend: Point::default() }
    }
}

/// The pixels that one larger pixel covers along one axis.
struct Span {
    first: usize,
    last: usize,
    weight_first: f32,
    weight_last: f32,
}

impl Span {
    fn of(k: usize, factor: f64, size: usize) -> Self {
        let (from, to) = (k as f64 * factor, ((k + 1) as f64 * factor).min(size as f64));
        let first = from as usize;
        let last = ((to - 1e-9) as usize).clamp(first, size - 1);
        let share = |pixel: usize| (to.min(pixel as f64 + 1.0) - from.max(pixel as f64)) as f32;
        Self { first, last, weight_first: share(first), weight_last: share(last) }
    }

    fn mean(&self, value: impl Fn(usize) -> f32) -> f32 {
        let (mut sum, mut weight) = (self.weight_first * value(self.first), self.weight_first);
        for k in self.first + 1..self.last {
            sum += value(k);
            weight += 1.0;
        }
        if self.last > self.first {
            sum += self.weight_last * value(self.last);
            weight += self.weight_last;
        }
        sum / weight
    }
}

fn cubic(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [-0.5 * t + t2 - 0.5 * t3, 1.0 - 2.5 * t2 + 1.5 * t3, 0.5 * t + 2.0 * t2 - 1.5 * t3, -0.5 * t2 + 0.5 * t3]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp(width: usize, height: usize) -> Picture {
        let tones = (0..width * height).map(|k| (k % width) as f32 + 10.0 * (k / width) as f32).collect();
        Picture { width, height, tones, scale: 1.0 }
    }

    #[test]
    fn halving_and_shrinking_keep_places() {
        let picture = ramp(301, 203);
        for layer in layers(&picture, 20) {
            // A linear ramp read at a place of the scan is the same in every layer.
            let at = layer.of_scan(Point::new(100.0, 60.0));
            let mut value = [0.0];
            layer.line(&Line::resting(at), &mut value);
            assert!((value[0] - (99.5 + 595.0)).abs() < 1e-3, "{} {}", layer.scale, value[0]);
        }
        let whole = layers(&picture, 1000);
        let small = whole[0].shrunk(1.7);
        let mut value = [0.0];
        small.line(&Line::resting(small.of_scan(Point::new(100.0, 60.0))), &mut value);
        // A pixel is even within itself, so one that is shared moves its light by up to an eighth of its side.
        assert!((value[0] - 694.5).abs() < 0.125 * 11.0, "{}", value[0]);
    }
}
