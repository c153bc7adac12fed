//! One print sampled on the pixels of another: band-limited, by a kernel whose transfer is known and taken into account.
//!
//! The kernel is a sinc under a Kaiser window (J. F. Kaiser & R. W. Schafer, IEEE Trans. Acoust. Speech Signal Process. 28,
//! 1980), eight pixels wide, wider where the print has more pixels than the reference's.

use pulp::{Simd, WithSimd};
use rayon::prelude::*;

use super::Sheet;
use crate::geometry::{Point, Transform};
use crate::numeric::math;

/// Places between two pixels that the kernel is tabulated for; rounding to them moves a sample by a thousandth of a pixel.
const PHASES: usize = 512;
/// Half the kernel's width in pixels.
const HALF: f64 = 4.0;
const TAPS: usize = 8;
/// Shape of the Kaiser window: some 45 dB.
const BETA: f64 = 4.0;

/// The weights of the pixels around a place, for each phase.
struct Kernel {
    taps: usize,
    weights: Vec<f32>,
}

/// Modified Bessel function of the first kind and order zero, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let quarter = 0.25 * x * x;
    let (mut sum, mut term) = (1.0, 1.0);
    for k in 1..40 {
        term *= quarter / f64::from(k * k);
        sum += term;
    }
    sum
}

impl Kernel {
    /// Stretched where the source has `stretch` pixels for one of the picture that is made.
    fn new(stretch: f64) -> Self {
        let half = HALF * stretch;
        let taps = 2 * half.ceil() as usize;
        let mut weights = Vec::with_capacity((PHASES + 1) * taps);
        for phase in 0..=PHASES {
            let t = phase as f64 / PHASES as f64;
            let raw: Vec<f64> = (0..taps)
                .map(|k| {
                    let x = k as f64 - (taps / 2 - 1) as f64 - t;
                    let inside = 1.0 - (x / half) * (x / half);
                    let window = if inside > 0.0 { bessel_i0(BETA * math::sqrt(inside)) } else { 0.0 };
                    let turn = core::f64::consts::PI * x / stretch;
                    let sinc = if turn.abs() < 1e-9 { 1.0 } else { math::sin(turn) / turn };
                    window * sinc
                })
                .collect();
            let sum: f64 = raw.iter().sum();
            weights.extend(raw.iter().map(|weight| (weight / sum) as f32));
        }
        Self { taps, weights }
    }

    #[inline(always)]
    fn at(&self, phase: usize) -> &[f32] {
        &self.weights[phase * self.taps..][..self.taps]
    }

    /// What it does along one axis to a wave of `f` cycles per source pixel: the mean amplitude that arrives in phase, and
    /// the mean power, images of other frequencies that fold onto it included.
    fn response(&self, f: f64) -> (f64, f64) {
        /// One phase in so many tells the mean.
        const EVERY: usize = 8;
        let (mut amplitude, mut power) = (0.0, 0.0);
        for phase in (0..PHASES).step_by(EVERY) {
            let t = phase as f64 / PHASES as f64;
            let (mut re, mut im) = (0.0, 0.0);
            for (k, weight) in self.at(phase).iter().enumerate() {
                let x = k as f64 - (self.taps / 2 - 1) as f64 - t;
                let (sin, cos) = math::sincos(core::f64::consts::TAU * f * x);
                re += f64::from(*weight) * cos;
                im += f64::from(*weight) * sin;
            }
            amplitude += re;
            power += re * re + im * im;
        }
        let count = (PHASES / EVERY) as f64;
        (amplitude / count, power / count)
    }
}

/// A print to be sampled on the pixels of the reference's picture.
pub(super) struct Source<'a> {
    sheet: &'a Sheet,
    /// From pixel centres of the reference's picture to those of this one.
    map: Transform,
    kernel: Kernel,
    /// Its response from 0 to [`WIDEST`] cycles per pixel, in even steps.
    responses: Vec<(f64, f64)>,
}

/// Highest frequency that the response is kept for, and steps up to it.
const WIDEST: f64 = 1.0;
const STEPS: usize = 256;

impl<'a> Source<'a> {
    /// `transform` leads from the reference's scan to this one's. `None` where the map cannot be.
    pub(super) fn new(reference: &Sheet, sheet: &'a Sheet, transform: &Transform) -> Option<Self> {
        let affine = |scale: f64, x: f64, y: f64| {
            let rows = [[scale, 0.0, x], [0.0, scale, y], [0.0, 0.0, 1.0]];
            Transform::from_rows(crate::geometry::Model::Similarity, rows)
        };
        let (a, b) = (reference.picture.scale, sheet.picture.scale);
        let to_scan = affine(a, 0.5 * a + reference.origin.x, 0.5 * a + reference.origin.y)?;
        let from_scan = affine(1.0 / b, -0.5 - sheet.origin.x / b, -0.5 - sheet.origin.y / b)?;
        let map = to_scan.then(transform).then(&from_scan);
        let middle = Point::new(reference.picture.width as f64 / 2.0, reference.picture.height as f64 / 2.0);
        let scale = map.scale_at(middle);
        if !(scale.is_finite() && scale > 1e-3 && scale < 8.0) {
            return None;
        }
        let kernel = Kernel::new(scale.max(1.0));
        let responses = (0..=STEPS + 1).map(|k| kernel.response(WIDEST * k as f64 / STEPS as f64)).collect();
        Some(Self { sheet, map, kernel, responses })
    }

    /// Pixels of this print for one of the reference's.
    pub(super) fn scale_at(&self, p: Point) -> f64 {
        self.map.scale_at(p)
    }

    /// Whether all that sampling a square needs lies inside.
    pub(super) fn covers(&self, x0: usize, y0: usize, side: usize) -> bool {
        let margin = self.kernel.taps as f64 / 2.0 + 1.0;
        let (right, bottom) =
            (self.sheet.picture.width as f64 - 1.0 - margin, self.sheet.picture.height as f64 - 1.0 - margin);
        let end = side as f64 - 1.0;
        [(0.0, 0.0), (end, 0.0), (0.0, end), (end, end)].into_iter().all(|(dx, dy)| {
            let p = self.map.map(Point::new(x0 as f64 + dx, y0 as f64 + dy));
            p.x >= margin && p.y >= margin && p.x <= right && p.y <= bottom
        })
    }

    /// What sampling near `p` does to a wave of (fx, fy) cycles per pixel of the reference: amplitude and power.
    pub(super) fn response(&self, p: Point, (fx, fy): (f64, f64)) -> (f64, f64) {
        let [[a, b], [c, d]] = self.map.slopes(p);
        let determinant = a * d - b * c;
        // Waves go with the inverse of the transposed slopes.
        let along = (d * fx - c * fy) / determinant;
        let down = (a * fy - b * fx) / determinant;
        let one = |f: f64| {
            let at = (f.abs() / WIDEST * STEPS as f64).min(STEPS as f64);
            let (low, part) = (at as usize, at - at.floor());
            let (a, b) = (self.responses[low], self.responses[low + 1]);
            (a.0 + part * (b.0 - a.0), a.1 + part * (b.1 - a.1))
        };
        let (x, y) = (one(along), one(down));
        (x.0 * y.0, x.1 * y.1)
    }

    /// Samples of a row, `out.len()` of them from column `x0` on. Places outside take the nearest inside.
    pub(super) fn row(&self, y: usize, x0: usize, out: &mut [f32]) {
        pulp::Arch::new().dispatch(SampledRow { source: self, y, x0, out });
    }

    /// A whole rectangle.
    pub(super) fn rectangle(&self, (x0, y0): (usize, usize), (width, height): (usize, usize)) -> Vec<f32> {
        let mut out = vec![0.0; width * height];
        out.par_chunks_exact_mut(width).enumerate().for_each(|(y, row)| self.row(y0 + y, x0, row));
        out
    }
}

/// A row to be sampled.
struct SampledRow<'a> {
    source: &'a Source<'a>,
    y: usize,
    x0: usize,
    out: &'a mut [f32],
}

impl WithSimd for SampledRow<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Source { sheet: Sheet { picture, .. }, map, kernel, .. } = self.source;
        let rows = map.rows();
        let y = self.y as f64;
        let start = rows.map(
            #[inline(always)]
            |row| row[1] * y + row[2],
        );
        let (width, taps) = (picture.width, kernel.taps);
        let before = (taps / 2 - 1) as f64;
        let (most_x, most_y) = ((width - taps) as f64 + before, (picture.height - taps) as f64 + before);
        // Dividing is the slowest of all this, and only a homography needs it.
        let straight = rows[2][0].abs() + rows[2][1].abs() < 1e-15;
        for (k, out) in self.out.iter_mut().enumerate() {
            let x = (self.x0 + k) as f64;
            let [u, v, w]: [f64; 3] = core::array::from_fn(
                #[inline(always)]
                |n| rows[n][0] * x + start[n],
            );
            let (px, py) = if straight { (u, v) } else { (u / w, v / w) };
            let (px, py) = (px.clamp(before, most_x), py.clamp(before, most_y));
            let (column, row) = (px as i32, py as i32);
            let (wx, wy) = (kernel.at(phase(px, column)), kernel.at(phase(py, row)));
            let corner = (row as usize + 1 - taps / 2) * width + column as usize + 1 - taps / 2;
            let tones = &picture.tones[corner..][..(taps - 1) * width + taps];
            *out = match (wx.first_chunk(), wy.first_chunk()) {
                (Some(wx), Some(wy)) if taps == TAPS => eight(simd, tones, width, wx, wy),
                _ => any(tones, width, wx, wy),
            };
        }
    }
}

#[inline(always)]
fn phase(place: f64, whole: i32) -> usize {
    ((place - f64::from(whole)) * PHASES as f64 + 0.5) as i32 as usize
}

/// The kernel of usual width: columns side by side first, so that they run in step.
#[inline(always)]
fn eight<S: Simd>(simd: S, tones: &[f32], width: usize, wx: &[f32; TAPS], wy: &[f32; TAPS]) -> f32 {
    let mut columns = [simd.splat_f32s(0.0); TAPS];
    for (j, weight) in wy.iter().enumerate() {
        let weight = simd.splat_f32s(*weight);
        let line = S::as_simd_f32s(&tones[j * width..][..TAPS]).0;
        for (column, tone) in columns.iter_mut().zip(line) {
            *column = simd.add_f32s(*column, simd.mul_f32s(weight, *tone));
        }
    }
    let mut weighted = [0.0_f32; TAPS];
    let sums = S::as_mut_simd_f32s(&mut weighted).0;
    for ((sum, column), weight) in sums.iter_mut().zip(columns).zip(S::as_simd_f32s(wx).0) {
        *sum = simd.mul_f32s(column, *weight);
    }
    let [a, b, c, d, e, f, g, h] = weighted;
    (a + b) + (c + d) + ((e + f) + (g + h))
}

/// A kernel of any width.
fn any(tones: &[f32], width: usize, wx: &[f32], wy: &[f32]) -> f32 {
    let line = |(j, weight): (usize, &f32)| {
        weight * tones[j * width..].iter().zip(wx).map(|(tone, wx)| tone * wx).sum::<f32>()
    };
    wy.iter().enumerate().map(line).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::register::Picture;

    /// Source: a wave sampled between its pixels keeps its phase, and its amplitude is that of the kernel's transform,
    /// which is one for the mean and near one well below half a cycle per pixel.
    #[test]
    fn a_wave_comes_back_with_the_stated_amplitude() {
        let f = 0.31;
        let wave = |x: f64| math::cos(core::f64::consts::TAU * f * x);
        let tones = (0..64 * 64).map(|k| wave(f64::from(k % 64)) as f32).collect();
        let sheet =
            Sheet { picture: Picture { width: 64, height: 64, tones, scale: 1.0 }, origin: Point::default() };
        let shift = Transform::from_rows(
            crate::geometry::Model::Similarity,
            [[1.0, 0.0, 0.37], [0.0, 1.0, 0.21], [0.0, 0.0, 1.0]],
        );
        let source = Source::new(&sheet, &sheet, &shift.unwrap()).unwrap();
        let (amplitude, power) = source.response(Point::new(32.0, 32.0), (f, 0.0));
        assert!(
            amplitude > 0.97 && amplitude < 1.02 && power >= amplitude * amplitude - 1e-9,
            "{amplitude} {power}"
        );
        let mut row = vec![0.0; 32];
        source.row(30, 16, &mut row);
        let worst =
            row.iter().enumerate().map(|(k, v)| (f64::from(*v) - amplitude * wave(16.37 + k as f64)).abs());
        assert!(worst.fold(0.0, f64::max) < 0.02);
    }
}
