//! The first guess: turn, size and shift from thumbnails, by trying all turns and sizes in range.
//!
//! Thumbnails are brought to even local contrast, so that neither tone curve nor uneven light counts. For each turn and
//! size one Fourier transform gives the correlation at every shift together with the overlap there (D. Padfield, IEEE
//! Trans. Image Process. 21, 2012, for the idea of correlating the masks as well). Trying everything at thumbnail size is
//! as quick as correlating log-polar spectra and does not lose the way where prints are cropped differently.

use std::sync::Arc;

use rayon::prelude::*;
use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};

use super::layer::Layer;
use crate::geometry::{Point, Similarity};
use crate::numeric::math;

/// Longer side of the larger thumbnail.
const SIDE: usize = 80;
/// Side of the square in which they are shifted over each other.
const FIELD: usize = 160;
/// Turns that are tried, up to this many degrees either way.
const DEGREES: f64 = 21.0;
/// Sizes that are tried, from one over this to this.
const SIZES: f64 = 1.32;
/// Steps small enough for the edges of the thumbnails to move by less than a pixel from one to the next.
const DEGREES_STEP: f64 = 1.75;
const SIZES_STEP: f64 = 1.038;
/// Least share of the smaller print that must lie in the other.
const OVERLAP: f64 = 0.2;

/// A guess and how strongly the thumbnails speak for it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Guess {
    /// From the first scan to the second.
    pub(super) transform: Similarity,
    score: f64,
    cell: (i32, i32),
}

/// A thumbnail of even local contrast: mean 0, variance 1 about everywhere.
struct Thumbnail {
    layer: Layer<'static>,
}

/// The best guesses, most likely first, no two of them neighbours. Empty where a thumbnail has no detail.
pub(super) fn guesses(a: &[Layer<'_>], b: &[Layer<'_>], stop: &(dyn Fn() -> bool + Sync)) -> Vec<Guess> {
    const MOST: usize = 5;
    let longest = |layers: &[Layer<'_>]| layers.first().map_or(1, |l| l.width.max(l.height));
    let factor = longest(a).max(longest(b)) as f64 / SIDE as f64;
    let (Some(a), Some(b)) = (Thumbnail::of(a, factor), Thumbnail::of(b, factor)) else {
        return Vec::new();
    };
    let plan = Plan::new();
    let fixed = plan.spectra(plan.place(&a, 1.0, 0.0));
    let turns = (DEGREES / DEGREES_STEP) as i32;
    let sizes = (math::ln(SIZES) / math::ln(SIZES_STEP)) as i32;
    let cells: Vec<(i32, i32)> =
        (-turns..=turns).flat_map(|turn| (-sizes..=sizes).map(move |size| (turn, size))).collect();
    let mut all: Vec<Guess> =
        cells.par_iter().filter_map(|cell| (!stop()).then(|| plan.best(&a, &b, &fixed, *cell))?).collect();
    // A stable sort of a list whose order does not depend on threads.
    all.sort_by(|one, other| other.score.total_cmp(&one.score));
    let mut kept: Vec<Guess> = Vec::new();
    for guess in all {
        let near = |other: &Guess| {
            (other.cell.0 - guess.cell.0).abs() <= 1 && (other.cell.1 - guess.cell.1).abs() <= 1
        };
        if kept.len() < MOST && !kept.iter().any(near) {
            kept.push(guess);
        }
    }
    kept
}

impl Thumbnail {
    fn of(layers: &[Layer<'_>], factor: f64) -> Option<Self> {
        let first = layers.first()?;
        let target = first.scale * factor;
        let near = layers.iter().rev().find(|layer| layer.scale <= target)?;
        let mut layer = near.shrunk(target / near.scale);
        if layer.width < 12 || layer.height < 12 {
            return None;
        }
        let even = even_contrast(&layer)?;
        layer.tones = even.into();
        Some(Self { layer })
    }

    fn centre(&self) -> Point {
        Point::new((self.layer.width as f64 - 1.0) / 2.0, (self.layer.height as f64 - 1.0) / 2.0)
    }
}

/// Local mean taken away, local standard deviation divided out, both over 17 x 17 pixels. `None` for a flat picture.
fn even_contrast(layer: &Layer<'_>) -> Option<Vec<f32>> {
    const REACH: usize = 8;
    let (width, height) = (layer.width, layer.height);
    let count = layer.tones.len() as f64;
    let middle = layer.tones.iter().map(|t| f64::from(*t)).sum::<f64>() / count;
    let centred: Vec<f64> = layer.tones.iter().map(|t| f64::from(*t) - middle).collect();
    let variance = centred.iter().map(|t| t * t).sum::<f64>() / count;
    if variance <= 1e-12 * (middle * middle).max(1e-6) {
        return None;
    }
    let squares: Vec<f64> = centred.iter().map(|t| t * t).collect();
    let (means, squares) = (box_mean(&centred, width, REACH), box_mean(&squares, width, REACH));
    let mut even = Vec::with_capacity(width * height);
    for ((value, mean), square) in centred.iter().zip(&means).zip(&squares) {
        // Where the picture is plain, a fiftieth of the whole variance keeps noise from being blown up.
        let local = (square - mean * mean).max(0.0) + 0.02 * variance;
        even.push(((value - mean) / math::sqrt(local)) as f32);
    }
    Some(even)
}

/// Mean over a square of `2 reach + 1`, cut off at the edges.
fn box_mean(values: &[f64], width: usize, reach: usize) -> Vec<f64> {
    let height = values.len() / width;
    let wide = width + 1;
    let mut before = vec![0.0; wide * (height + 1)];
    for y in 0..height {
        let mut row = 0.0;
        for x in 0..width {
            row += values[y * width + x];
            before[(y + 1) * wide + x + 1] = before[y * wide + x + 1] + row;
        }
    }
    let mut means = Vec::with_capacity(values.len());
    for y in 0..height {
        let (y0, y1) = (y.saturating_sub(reach), (y + reach + 1).min(height));
        for x in 0..width {
            let (x0, x1) = (x.saturating_sub(reach), (x + reach + 1).min(width));
            let sum = before[y1 * wide + x1] + before[y0 * wide + x0]
                - before[y0 * wide + x1]
                - before[y1 * wide + x0];
            means.push(sum / ((y1 - y0) * (x1 - x0)) as f64);
        }
    }
    means
}

/// Spectra of a picture and of its mask.
struct Spectra {
    picture: Vec<Complex<f32>>,
    mask: Vec<Complex<f32>>,
    area: f64,
}

struct Plan {
    forward: Arc<dyn Fft<f32>>,
    inverse: Arc<dyn Fft<f32>>,
}

impl Plan {
    fn new() -> Self {
        let mut planner = FftPlanner::new();
        Self { forward: planner.plan_fft_forward(FIELD), inverse: planner.plan_fft_inverse(FIELD) }
    }

    /// The thumbnail in the middle of the field, `size` times as small and turned back: real part its tones, imaginary
    /// part 1 where it is.
    fn place(&self, thumbnail: &Thumbnail, size: f64, angle: f64) -> Vec<Complex<f32>> {
        let layer = &thumbnail.layer;
        let (sine, cosine) = math::sincos(angle);
        let (sine, cosine) = (size * sine, size * cosine);
        let centre = thumbnail.centre();
        let half = (FIELD / 2) as f64;
        let mut field = vec![Complex::new(0.0, 0.0); FIELD * FIELD];
        for (y, row) in field.chunks_exact_mut(FIELD).enumerate() {
            for (x, out) in row.iter_mut().enumerate() {
                let (x, y) = (x as f64 - half, y as f64 - half);
                let at = (cosine * x - sine * y + centre.x, sine * x + cosine * y + centre.y);
                let inside = at.0 >= 0.0
                    && at.1 >= 0.0
                    && at.0 <= (layer.width - 1) as f64
                    && at.1 <= (layer.height - 1) as f64;
                if inside {
                    *out = Complex::new(linear(layer, at.0, at.1), 1.0);
                }
            }
        }
        field
    }

    /// Two-dimensional transform in place; the result is transposed, which two in a row undo.
    fn transform(fft: &Arc<dyn Fft<f32>>, field: &mut Vec<Complex<f32>>) {
        fft.process(field);
        let mut turned = vec![Complex::new(0.0, 0.0); FIELD * FIELD];
        for (y, row) in field.chunks_exact(FIELD).enumerate() {
            for (x, value) in row.iter().enumerate() {
                turned[x * FIELD + y] = *value;
            }
        }
        fft.process(&mut turned);
        *field = turned;
    }

    /// Splits the transform of `tones + i mask` into those of its two real parts.
    fn spectra(&self, mut field: Vec<Complex<f32>>) -> Spectra {
        let area = field.iter().map(|z| f64::from(z.im)).sum();
        Self::transform(&self.forward, &mut field);
        let (mut picture, mut mask) = (Vec::with_capacity(field.len()), Vec::with_capacity(field.len()));
        for y in 0..FIELD {
            for x in 0..FIELD {
                let here = field[y * FIELD + x];
                let mirrored = field[(FIELD - y) % FIELD * FIELD + (FIELD - x) % FIELD].conj();
                picture.push((here + mirrored) * 0.5);
                let difference = (here - mirrored) * 0.5;
                mask.push(Complex::new(difference.im, -difference.re));
            }
        }
        Spectra { picture, mask, area }
    }

    /// The best shift for one turn and size.
    fn best(&self, a: &Thumbnail, b: &Thumbnail, fixed: &Spectra, cell: (i32, i32)) -> Option<Guess> {
        let angle = f64::from(cell.0) * DEGREES_STEP.to_radians();
        let size = math::exp(f64::from(cell.1) * math::ln(SIZES_STEP));
        let moved = self.spectra(self.place(b, size, angle));
        let pictures = fixed.picture.iter().zip(&moved.picture).map(|(a, b)| a.conj() * b);
        let masks = fixed.mask.iter().zip(&moved.mask).map(|(a, b)| a.conj() * b);
        let both = pictures.zip(masks).map(|(p, m)| Complex::new(p.re - m.im, p.im + m.re));
        let mut field: Vec<Complex<f32>> = both.collect();
        Self::transform(&self.inverse, &mut field);
        let scale = 1.0 / (FIELD * FIELD) as f64;
        let least = (OVERLAP * fixed.area.min(moved.area)).max(1.0);
        let mut best: Option<(f64, usize)> = None;
        for (index, value) in field.iter().enumerate() {
            let overlap = f64::from(value.im) * scale;
            if overlap < least {
                continue;
            }
            // Sum of products of normalised tones over the root of their number: how far from chance it is.
            let score = f64::from(value.re) * scale / math::sqrt(overlap);
            if best.is_none_or(|(other, _)| score > other) {
                best = Some((score, index));
            }
        }
        let (score, index) = best?;
        let signed = |k: usize| if k > FIELD / 2 { k as f64 - FIELD as f64 } else { k as f64 };
        let shift = (signed(index % FIELD), signed(index / FIELD));
        Some(Guess { transform: whole(a, b, angle, size, shift), score, cell })
    }
}

/// A turn, size and shift between thumbnails as a transform between scans.
fn whole(a: &Thumbnail, b: &Thumbnail, angle: f64, size: f64, shift: (f64, f64)) -> Similarity {
    // Thumbnail pixel p of `a` lies at p - centre_a in the field, shows b at field place p - centre_a + shift.
    let turn = Similarity { scale: size, angle, shift: Point::default() };
    let (ca, cb) = (a.centre(), b.centre());
    let moved = turn.map(Point::new(shift.0 - ca.x, shift.1 - ca.y));
    let between = Similarity { shift: Point::new(moved.x + cb.x, moved.y + cb.y), ..turn };
    // Between layers pixel centres count, between scans their corners.
    let from = Similarity { scale: 1.0 / a.layer.scale, angle: 0.0, shift: Point::new(-0.5, -0.5) };
    let half = b.layer.scale / 2.0;
    let to = Similarity { scale: b.layer.scale, angle: 0.0, shift: Point::new(half, half) };
    from.then(&between).then(&to)
}

fn linear(layer: &Layer<'_>, x: f64, y: f64) -> f32 {
    let (column, row) = ((x as usize).min(layer.width - 2), (y as usize).min(layer.height - 2));
    let (fx, fy) = ((x - column as f64) as f32, (y - row as f64) as f32);
    let at = |dx: usize, dy: usize| layer.tones[(row + dy) * layer.width + column + dx];
    let upper = at(0, 0) + fx * (at(1, 0) - at(0, 0));
    let lower = at(0, 1) + fx * (at(1, 1) - at(0, 1));
    upper + fy * (lower - upper)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `register.phase_corr`: a picture shifted by whole pixels is found exactly; here as the correlation of a thumbnail
    /// with itself moved, which Kuglin & Hines (1975) give as a peak at the shift.
    #[test]
    fn a_shift_by_whole_pixels_is_the_peak() {
        let tone = |x: i64, y: i64| ((x * x * 7 + y * y * 13 + x * y * 5) % 31) as f32;
        let picture = |dx: i64, dy: i64| super::super::Picture {
            width: 80,
            height: 60,
            tones: (0..60).flat_map(|y| (0..80).map(move |x| tone(x + dx, y + dy))).collect(),
            scale: 1.0,
        };
        let (first, second) = (picture(0, 0), picture(-5, 3));
        let (a, b) = (super::super::layer::layers(&first, 200), super::super::layer::layers(&second, 200));
        let best = guesses(&a, &b, &|| false)[0].transform;
        assert!((best.scale - 1.0).abs() < 1e-9 && best.angle.abs() < 1e-9, "{best:?}");
        assert!((best.shift.x - 5.0).abs() < 1e-6 && (best.shift.y + 3.0).abs() < 1e-6, "{best:?}");
    }
}
