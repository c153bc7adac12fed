//! The first guess: turn, size and shift from thumbnails, by trying all turns and sizes in range.
//!
//! Thumbnails are brought to even local contrast, so that neither tone curve nor uneven light counts. For each turn and
//! size one Fourier transform gives the correlation at every shift together with the overlap there (D. Padfield, IEEE
//! Trans. Image Process. 21, 2012, for the idea of correlating the masks as well). Trying everything at thumbnail size is
//! as quick as correlating log-polar spectra and does not lose the way where prints are cropped differently.

use std::sync::{Arc, LazyLock};

use rayon::prelude::*;
use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};

use super::layer::Layer;
use crate::geometry::{Point, Similarity, Transform};
use crate::numeric::math;

/// Turns that are tried, up to this many degrees either way.
const DEGREES: f64 = 21.0;
/// Sizes that are tried, from one over this to this.
const SIZES: f64 = 1.32;
/// Least share of the smaller print that must lie in the other.
const OVERLAP: f64 = 0.2;
/// Guesses that are kept.
const MOST_GUESSES: usize = 5;

/// How finely is searched. Steps are small enough for the edges of the thumbnails to move by less than a pixel from one to
/// the next.
struct Grain {
    /// Longer side of the larger thumbnail.
    side: usize,
    degrees: f64,
    sizes: f64,
    plan: &'static LazyLock<Plan>,
}

/// The first try, by small thumbnails.
static QUICK: Grain = Grain { side: 40, degrees: 3.5, sizes: 1.076, plan: &SMALL };
/// Thumbnails of twice the side.
static THOROUGH: Grain = Grain { side: 80, degrees: 1.75, sizes: 1.038, plan: &LARGE };
static SMALL: LazyLock<Plan> = LazyLock::new(|| Plan::new(80));
static LARGE: LazyLock<Plan> = LazyLock::new(|| Plan::new(160));

/// A guess and how strongly the thumbnails speak for it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Guess {
    /// From the first scan to the second.
    pub(super) transform: Transform,
    pub(super) score: f64,
    cell: (i32, i32),
}

/// A thumbnail of even local contrast: mean 0, variance 1 about everywhere.
struct Thumbnail {
    layer: Layer<'static>,
}

/// The best guesses of a search, most likely first, no two of them neighbours.
pub(super) fn best(all: &[Guess]) -> Vec<Guess> {
    let mut kept: Vec<Guess> = Vec::new();
    for guess in all {
        let near = |other: &Guess| {
            (other.cell.0 - guess.cell.0).abs() <= 1 && (other.cell.1 - guess.cell.1).abs() <= 1
        };
        if kept.len() < MOST_GUESSES && !kept.iter().any(near) {
            kept.push(*guess);
        }
    }
    kept
}

/// Tries all turns near one of `about` radians and all sizes; the most likely first. Empty where a thumbnail has no detail.
/// A thorough search tries only where one of the likelier third of a `quick` one lies.
pub(super) fn search(
    a: &[Layer<'_>],
    b: &[Layer<'_>],
    about: f64,
    quick: Option<&[Guess]>,
    stop: &(dyn Fn() -> bool + Sync),
) -> Vec<Guess> {
    let grain = if quick.is_some() { &THOROUGH } else { &QUICK };
    let longest = |layers: &[Layer<'_>]| layers.first().map_or(1, |l| l.width.max(l.height));
    let factor = longest(a).max(longest(b)) as f64 / grain.side as f64;
    let reach = grain.side / 10;
    let (Some(a), Some(b)) = (Thumbnail::of(a, factor, reach), Thumbnail::of(b, factor, reach)) else {
        return Vec::new();
    };
    let plan: &Plan = grain.plan;
    let fixed = plan.fixed(&a);
    let turns = (DEGREES / grain.degrees) as i32;
    let sizes = (math::ln(SIZES) / math::ln(grain.sizes)) as i32;
    let cells: Vec<(i32, i32)> = match quick {
        None => (-turns..=turns).flat_map(|turn| (-sizes..=sizes).map(move |size| (turn, size))).collect(),
        Some(quick) => {
            let finer = |guess: &Guess| {
                let (turn, size) = (2 * guess.cell.0, 2 * guess.cell.1);
                [(turn, size), (turn + 1, size), (turn, size + 1), (turn + 1, size + 1)]
            };
            quick[..quick.len().div_ceil(3)].iter().flat_map(finer).collect()
        }
    };
    let try_one = |work: &mut Work, cell: &(i32, i32)| {
        let angle = about + f64::from(cell.0) * grain.degrees.to_radians();
        let size = math::exp(f64::from(cell.1) * math::ln(grain.sizes));
        let (score, shift) = plan.best(&b, &fixed, angle, size, work)?;
        Some(Guess { transform: whole(&a, &b, angle, size, shift), score, cell: *cell })
    };
    let mut all: Vec<Guess> = cells
        .par_iter()
        .map_init(|| plan.work(), |work, cell| if stop() { None } else { try_one(work, cell) })
        .flatten()
        .collect();
    // A stable sort of a list whose order does not depend on threads.
    all.sort_by(|one, other| other.score.total_cmp(&one.score));
    all
}

impl Thumbnail {
    /// With pixels `factor` times as large as the picture's.
    fn of(layers: &[Layer<'_>], factor: f64, reach: usize) -> Option<Self> {
        let target = layers.first()?.scale * factor;
        let near = layers.iter().rev().find(|layer| layer.scale <= target)?;
        let mut layer = near.shrunk(target / near.scale);
        if layer.width < 6 || layer.height < 6 {
            return None;
        }
        let even = even_contrast(&layer, reach)?;
        layer.tones = even.into();
        Some(Self { layer })
    }

    fn centre(&self) -> Point {
        Point::new((self.layer.width as f64 - 1.0) / 2.0, (self.layer.height as f64 - 1.0) / 2.0)
    }
}

/// Local mean taken away, local standard deviation divided out, both over squares of `2 reach + 1` pixels. `None` for a
/// flat picture.
fn even_contrast(layer: &Layer<'_>, reach: usize) -> Option<Vec<f32>> {
    let (width, height) = (layer.width, layer.height);
    let count = layer.tones.len() as f64;
    let middle = layer.tones.iter().map(|t| f64::from(*t)).sum::<f64>() / count;
    let centred: Vec<f64> = layer.tones.iter().map(|t| f64::from(*t) - middle).collect();
    let variance = centred.iter().map(|t| t * t).sum::<f64>() / count;
    if variance <= 1e-12 * (middle * middle).max(1e-6) {
        return None;
    }
    let squares: Vec<f64> = centred.iter().map(|t| t * t).collect();
    let (means, squares) = (box_mean(&centred, width, reach), box_mean(&squares, width, reach));
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

/// Spectra of a picture and of its mask, conjugate.
struct Spectra {
    picture: Vec<Complex<f32>>,
    mask: Vec<Complex<f32>>,
    area: f64,
}

/// Transforms over a square field in which thumbnails are shifted over each other: twice the thumbnail's side.
struct Plan {
    field: usize,
    forward: Arc<dyn Fft<f32>>,
    inverse: Arc<dyn Fft<f32>>,
}

/// Room to work in, one for each processor.
struct Work {
    one: Vec<Complex<f32>>,
    other: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
}

impl Plan {
    fn new(field: usize) -> Self {
        let mut planner = FftPlanner::new();
        Self { field, forward: planner.plan_fft_forward(field), inverse: planner.plan_fft_inverse(field) }
    }

    fn work(&self) -> Work {
        let zero = Complex::new(0.0, 0.0);
        let room = || vec![zero; self.field * self.field];
        let scratch = self.forward.get_inplace_scratch_len().max(self.inverse.get_inplace_scratch_len());
        Work { one: room(), other: room(), scratch: vec![zero; scratch] }
    }

    /// The thumbnail in the middle of the field, `size` times as small and turned back: real part its tones, imaginary
    /// part 1 where it is. Gives its area and the rows that hold any of it.
    fn place(
        &self,
        thumbnail: &Thumbnail,
        size: f64,
        angle: f64,
        field: &mut [Complex<f32>],
    ) -> (f64, std::ops::Range<usize>) {
        let layer = &thumbnail.layer;
        let (sine, cosine) = math::sincos(angle);
        let (sine, cosine) = (size * sine, size * cosine);
        let centre = thumbnail.centre();
        let (right, bottom) = ((layer.width - 1) as f64, (layer.height - 1) as f64);
        let half = (self.field / 2) as f64;
        let square = size * size;
        let reach = |along: f64, across: f64| (along.abs() * centre.x + across.abs() * centre.y) / square;
        let rows = inner(half, reach(sine, cosine), self.field);
        let columns = inner(half, reach(cosine, sine), self.field);
        field.fill(Complex::new(0.0, 0.0));
        let mut area = 0.0;
        for y in rows.clone() {
            let down = y as f64 - half;
            let start = (centre.x - sine * down, centre.y + cosine * down);
            for x in columns.clone() {
                let along = x as f64 - half;
                let at = (start.0 + cosine * along, start.1 + sine * along);
                if at.0 >= 0.0 && at.1 >= 0.0 && at.0 <= right && at.1 <= bottom {
                    field[y * self.field + x] = Complex::new(linear(layer, at.0, at.1), 1.0);
                    area += 1.0;
                }
            }
        }
        (area, rows)
    }

    /// Two-dimensional transform of `one`, whose rows outside `rows` are zero, into `other`; the result is transposed,
    /// which two in a row undo.
    fn transform(
        &self,
        fft: &dyn Fft<f32>,
        rows: std::ops::Range<usize>,
        one: &mut [Complex<f32>],
        other: &mut [Complex<f32>],
        scratch: &mut [Complex<f32>],
    ) {
        let wide = self.field;
        fft.process_with_scratch(&mut one[rows.start * wide..rows.end * wide], scratch);
        for (x, column) in other.chunks_exact_mut(wide).enumerate() {
            for (out, row) in column.iter_mut().zip(one.chunks_exact(wide)) {
                *out = row[x];
            }
        }
        fft.process_with_scratch(other, scratch);
    }

    /// Spectra of the picture that stays: the transform of `tones + i mask` split into those of its two real parts.
    fn fixed(&self, thumbnail: &Thumbnail) -> Spectra {
        let mut work = self.work();
        let (area, rows) = self.place(thumbnail, 1.0, 0.0, &mut work.one);
        self.transform(&*self.forward, rows, &mut work.one, &mut work.other, &mut work.scratch);
        let (picture, mask) =
            self.pairs(&work.other).map(|(picture, mask)| (picture.conj(), mask.conj())).unzip();
        Spectra { picture, mask, area }
    }

    fn pairs<'a>(
        &'a self,
        field: &'a [Complex<f32>],
    ) -> impl Iterator<Item = (Complex<f32>, Complex<f32>)> + 'a {
        let wide = self.field;
        (0..wide).flat_map(move |y| {
            let row = &field[y * wide..][..wide];
            let mirrored = &field[(wide - y) % wide * wide..][..wide];
            (0..wide).map(move |x| {
                let (here, there) = (row[x], mirrored[if x == 0 { 0 } else { wide - x }].conj());
                let difference = (here - there) * 0.5;
                ((here + there) * 0.5, Complex::new(difference.im, -difference.re))
            })
        })
    }

    /// The best shift for one turn and size, and its score.
    fn best(
        &self,
        b: &Thumbnail,
        fixed: &Spectra,
        angle: f64,
        size: f64,
        work: &mut Work,
    ) -> Option<(f64, (f64, f64))> {
        let Work { one, other, scratch } = work;
        let (area, rows) = self.place(b, size, angle, one);
        self.transform(&*self.forward, rows, one, other, scratch);
        let fixed_pairs = fixed.picture.iter().zip(&fixed.mask);
        for (out, ((picture, mask), (p, m))) in one.iter_mut().zip(self.pairs(other).zip(fixed_pairs)) {
            let (p, m) = (p * picture, m * mask);
            *out = Complex::new(p.re - m.im, p.im + m.re);
        }
        self.transform(&*self.inverse, 0..self.field, one, other, scratch);
        let scale = 1.0 / (self.field * self.field) as f64;
        let least = (OVERLAP * fixed.area.min(area)).max(1.0) as f32;
        let mut best: Option<(f32, usize)> = None;
        for (index, value) in other.iter().enumerate() {
            let overlap = value.im * scale as f32;
            if overlap < least || value.re <= 0.0 {
                continue;
            }
            // Sum of products of normalised tones over the root of their number: how far from chance it is.
            let square = value.re * value.re / overlap;
            if best.is_none_or(|(other, _)| square > other) {
                best = Some((square, index));
            }
        }
        let (square, index) = best?;
        let half = self.field / 2;
        let signed = |k: usize| if k > half { k as f64 - self.field as f64 } else { k as f64 };
        let shift = (signed(index % self.field), signed(index / self.field));
        Some((math::sqrt(f64::from(square)) * scale, shift))
    }
}

/// The pixels within `reach` of the middle.
fn inner(half: f64, reach: f64, field: usize) -> std::ops::Range<usize> {
    let start = (half - reach - 1.0).max(0.0) as usize;
    start..((half + reach + 2.0) as usize).min(field)
}

/// A turn, size and shift between thumbnails as a transform between scans.
fn whole(a: &Thumbnail, b: &Thumbnail, angle: f64, size: f64, shift: (f64, f64)) -> Transform {
    // Thumbnail pixel p of `a` lies at p - centre_a in the field, shows b at field place p - centre_a + shift.
    let turn = Similarity { scale: size, angle, shift: Point::default() };
    let (ca, cb) = (a.centre(), b.centre());
    let moved = turn.map(Point::new(shift.0 - ca.x, shift.1 - ca.y));
    let between = Similarity { shift: Point::new(moved.x + cb.x, moved.y + cb.y), ..turn };
    // Between layers pixel centres count, between scans their corners.
    let from = Similarity { scale: 1.0 / a.layer.scale, angle: 0.0, shift: Point::new(-0.5, -0.5) };
    let half = b.layer.scale / 2.0;
    let to = Similarity { scale: b.layer.scale, angle: 0.0, shift: Point::new(half, half) };
    from.then(&between).then(&to).into()
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
        let quick = search(&a, &b, 0.0, None, &|| false);
        let best = search(&a, &b, 0.0, Some(&quick), &|| false)[0].transform;
        let at = best.map(Point::new(40.0, 30.0));
        assert!((best.scale_at(at) - 1.0).abs() < 1e-9 && best.angle_at(at).abs() < 1e-9, "{best:?}");
        assert!((at.x - 45.0).abs() < 1e-6 && (at.y - 27.0).abs() < 1e-6, "{best:?}");
    }
}
