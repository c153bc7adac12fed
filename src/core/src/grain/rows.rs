//! Loops over rows of pixels and apertures, many at a time. Rows are padded to whole multiples of [`LANES`].
//!
//! Each function is a loop of its own, short enough for the compiler to see that it can do many at once.

use pulp::{Simd, WithSimd};

use super::aperture::Column;
use super::log::log10;
use super::surface::{DEGREE, POWERS};
use crate::numeric::wide::{self, wide};

/// Numbers that are worked on together: as many as stay in the processor's registers.
pub(super) const LANES: usize = 32;

/// A row of so many numbers, all the same, padded.
pub(super) fn row(count: usize, value: f32) -> Vec<f32> {
    vec![value; count.next_multiple_of(LANES)]
}

/// Light through a round aperture at every place of a row.
#[derive(Debug)]
pub(super) struct Averages {
    /// By distance from the middle row, [`LANES`] each: the sum of the two rows so far from it.
    pairs: Vec<f32>,
    /// By column of the disc: sums down that column, at every place.
    columns: Vec<Vec<f32>>,
}

impl Averages {
    /// Room for rows of so many pixels, a multiple of [`LANES`], and for so many columns of a disc.
    pub(super) fn new(stride: usize, columns: usize) -> Self {
        Self { pairs: vec![0.0; LANES * columns], columns: vec![vec![0.0; stride + LANES]; columns] }
    }

    /// Mean light through the aperture along one row of pixels; `light` begins at the first row that the disc touches, and its
    /// rows are padded.
    ///
    /// The disc is symmetric, so the rows `+d` and `-d` are added once for all its columns; columns share the running
    /// sum of their whole pixels and differ in the few on the rim. The work grows with the diameter, not the area.
    pub(super) fn take(&mut self, light: &[f32], columns: &[Column], out: &mut [f32]) {
        pulp::Arch::new().dispatch(Take { averages: self, light, columns, out });
    }
}

struct Take<'a> {
    averages: &'a mut Averages,
    light: &'a [f32],
    columns: &'a [Column],
    out: &'a mut [f32],
}

impl WithSimd for Take<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Averages { pairs, columns: sums } = self.averages;
        let reach = self.columns.len() - 1;
        let across = sums[0].len() - LANES;
        let each = REGISTERS * S::F32_LANES;
        for x in (0..across).step_by(each) {
            let row = |y: usize| &self.light[y * across + x..];
            for distance in 0..=reach {
                let mut pair = load::<S>(row(reach - distance));
                if distance > 0 {
                    pair = add(simd, pair, load::<S>(row(reach + distance)));
                }
                store::<S>(&mut pairs[distance * LANES..], pair);
            }
            // From the outermost column inwards, for each has as many whole pixels as the one before it or more.
            let mut whole = [simd.splat_f32s(0.0); REGISTERS];
            let mut count = 0;
            for (column, sums) in self.columns.iter().zip(&mut *sums).rev() {
                while count < column.whole {
                    whole = add(simd, whole, load::<S>(&pairs[count * LANES..]));
                    count += 1;
                }
                let mut total = whole;
                for (distance, weight) in &column.rim {
                    let weight = simd.splat_f32s(*weight);
                    let pair = load::<S>(&pairs[distance * LANES..]);
                    total = core::array::from_fn(
                        #[inline(always)]
                        |k| simd.add_f32s(total[k], simd.mul_f32s(weight, pair[k])),
                    );
                }
                store::<S>(&mut sums[x..], total);
            }
        }
        let scale = simd.splat_f32s(self.columns[0].scale);
        for x in (0..self.out.len()).step_by(each) {
            let mut total = load::<S>(&sums[0][reach + x..]);
            for (distance, sums) in sums.iter().enumerate().skip(1) {
                let left = load::<S>(&sums[reach - distance + x..]);
                let right = load::<S>(&sums[reach + distance + x..]);
                total = add(simd, total, add(simd, left, right));
            }
            let mean = total.map(
                #[inline(always)]
                |total| simd.mul_f32s(total, scale),
            );
            store::<S>(&mut self.out[x..], mean);
        }
    }
}

/// Registers that are worked on together, [`LANES`] numbers at most.
const REGISTERS: usize = 4;

#[inline(always)]
fn load<S: Simd>(numbers: &[f32]) -> [S::f32s; REGISTERS] {
    const { assert!(LANES.is_multiple_of(REGISTERS * S::F32_LANES)) };
    let registers = S::as_simd_f32s(&numbers[..REGISTERS * S::F32_LANES]).0;
    core::array::from_fn(
        #[inline(always)]
        |k| registers[k],
    )
}

#[inline(always)]
fn store<S: Simd>(numbers: &mut [f32], values: [S::f32s; REGISTERS]) {
    let registers = S::as_mut_simd_f32s(&mut numbers[..REGISTERS * S::F32_LANES]).0;
    for (register, value) in registers.iter_mut().zip(values) {
        *register = value;
    }
}

#[inline(always)]
fn add<S: Simd>(simd: S, first: [S::f32s; REGISTERS], second: [S::f32s; REGISTERS]) -> [S::f32s; REGISTERS] {
    core::array::from_fn(
        #[inline(always)]
        |k| simd.add_f32s(first[k], second[k]),
    )
}

/// Density of each mean, less the polynomial `c` of its place `u`.
pub(super) fn residuals(mean: &[f32], u: &[f32], c: [f32; POWERS], out: &mut [f32]) {
    const { assert!(POWERS == DEGREE + 1 && DEGREE == 4) };
    wide(
        #[inline(always)]
        || {
            for ((out, mean), u) in out.iter_mut().zip(mean).zip(u) {
                let surface = (((c[4] * u + c[3]) * u + c[2]) * u + c[1]) * u + c[0];
                *out = -log10(*mean) - surface;
            }
        },
    );
}

/// Sums over squares whose upper edge is the first row of `light`, whose rows are padded to `across`; the lowest and the highest
/// of them. `tall` has room for `across` numbers and [`LANES`] more.
pub(super) fn box_sums(
    light: &[f32],
    across: usize,
    side: usize,
    tall: &mut [f32],
    out: &mut [f32],
) -> (f32, f32) {
    pulp::Arch::new().dispatch(Boxes { light, across, side, tall, out });
    extremes(out)
}

struct Boxes<'a> {
    light: &'a [f32],
    across: usize,
    side: usize,
    tall: &'a mut [f32],
    out: &'a mut [f32],
}

impl WithSimd for Boxes<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let each = REGISTERS * S::F32_LANES;
        for x in (0..self.across).step_by(each) {
            let mut total = load::<S>(&self.light[x..]);
            for y in 1..self.side {
                total = add(simd, total, load::<S>(&self.light[y * self.across + x..]));
            }
            store::<S>(&mut self.tall[x..], total);
        }
        for (x, out) in (0..).step_by(each).zip(self.out.chunks_mut(each)) {
            let mut total = load::<S>(&self.tall[x..]);
            for k in 1..self.side {
                total = add(simd, total, load::<S>(&self.tall[x + k..]));
            }
            if out.len() == each {
                store::<S>(out, total);
            } else {
                let mut whole = [0.0; LANES];
                store::<S>(&mut whole, total);
                out.copy_from_slice(&whole[..out.len()]);
            }
        }
    }
}

fn extremes(values: &[f32]) -> (f32, f32) {
    pulp::Arch::new().dispatch(Extremes(values))
}

struct Extremes<'a>(&'a [f32]);

impl WithSimd for Extremes<'_> {
    type Output = (f32, f32);

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> (f32, f32) {
        let (registers, rest) = S::as_simd_f32s(self.0);
        let mut low = [simd.splat_f32s(f32::INFINITY); REGISTERS];
        let mut high = [simd.splat_f32s(f32::NEG_INFINITY); REGISTERS];
        let (blocks, more) = registers.as_chunks::<REGISTERS>();
        for block in blocks {
            for k in 0..REGISTERS {
                low[k] = simd.min_f32s(low[k], block[k]);
                high[k] = simd.max_f32s(high[k], block[k]);
            }
        }
        for value in more {
            low[0] = simd.min_f32s(low[0], *value);
            high[0] = simd.max_f32s(high[0], *value);
        }
        let low = low.map(
            #[inline(always)]
            |low| simd.reduce_min_f32s(low),
        );
        let high = high.map(
            #[inline(always)]
            |high| simd.reduce_max_f32s(high),
        );
        let low = low.iter().chain(rest).copied().fold(f32::INFINITY, f32::min);
        (low, high.iter().chain(rest).copied().fold(f32::NEG_INFINITY, f32::max))
    }
}

/// Sums down a strip of rows, at every place of a row: in single precision, for the rows are few.
#[derive(Debug)]
pub(super) struct Strip {
    /// How many are used.
    pub(super) used: Vec<f32>,
    pub(super) mean: Vec<f32>,
    pub(super) residual: Vec<f32>,
    squares: Vec<f32>,
    fourths: Vec<f32>,
}

impl Strip {
    pub(super) fn new(count: usize) -> Self {
        let [used, mean, residual, squares, fourths] = core::array::from_fn(|_| row(count, 0.0));
        Self { used, mean, residual, squares, fourths }
    }

    pub(super) fn clear(&mut self) {
        for sums in [&mut self.used, &mut self.mean, &mut self.residual, &mut self.squares, &mut self.fourths]
        {
            sums.fill(0.0);
        }
    }

    /// Adds means and residuals of a row, which are zero at places that are not used. Those used are counted by the caller.
    pub(super) fn add(&mut self, mean: &[f32], residual: &[f32]) {
        pulp::Arch::new().dispatch(AddRow { strip: self, mean, residual });
    }

    /// Sums of the means and of second and fourth powers of the residuals, at the first so many places.
    pub(super) fn totals(&self, count: usize) -> [f64; 3] {
        [&self.mean, &self.squares, &self.fourths].map(|sums| wide::sum(&sums[..count]))
    }
}

struct AddRow<'a> {
    strip: &'a mut Strip,
    mean: &'a [f32],
    residual: &'a [f32],
}

impl WithSimd for AddRow<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Strip { mean, residual, squares, fourths, .. } = self.strip;
        for (sum, value) in S::as_mut_simd_f32s(mean).0.iter_mut().zip(S::as_simd_f32s(self.mean).0) {
            *sum = simd.add_f32s(*sum, *value);
        }
        let sums = S::as_mut_simd_f32s(squares).0.iter_mut().zip(S::as_mut_simd_f32s(fourths).0);
        let sums = sums.zip(S::as_mut_simd_f32s(residual).0);
        for (((squares, fourths), sum), residual) in sums.zip(S::as_simd_f32s(self.residual).0) {
            let square = simd.mul_f32s(*residual, *residual);
            *sum = simd.add_f32s(*sum, *residual);
            *squares = simd.add_f32s(*squares, square);
            *fourths = simd.add_f32s(*fourths, simd.mul_f32s(square, square));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grain::aperture_weights;

    const STRIDE: usize = 3 * LANES;

    /// Numbers without order, 0.5..1.5.
    fn numbers(count: usize) -> Vec<f32> {
        (0..count).map(|k| 0.5 + (k * 7_919 % 1_009) as f32 / 1_009.0).collect()
    }

    fn done(work: impl WithSimd<Output = ()>, wide: bool) {
        if wide {
            pulp::Arch::new().dispatch(work);
        } else {
            work.with_simd(pulp::Scalar::new());
        }
    }

    fn bits(numbers: &[f32]) -> Vec<u32> {
        numbers.iter().map(|number| number.to_bits()).collect()
    }

    /// Source: the definition, a weighted mean, in double precision.
    #[test]
    fn light_is_averaged_by_the_weights_of_the_aperture() {
        for diameter in [2.0, 3.3, 7.56, 15.1] {
            let weights = aperture_weights(diameter);
            let reach = weights.reach();
            let light = numbers(STRIDE * (2 * reach + 1));
            let mut out = row(STRIDE - 2 * reach, 0.0);
            Averages::new(STRIDE, reach + 1).take(&light, &weights.columns(), &mut out);
            for (x, found) in out.iter().enumerate().take(STRIDE - 2 * reach) {
                let mut sum = 0.0;
                for dy in 0..=2 * reach {
                    for dx in 0..=2 * reach {
                        let from = |k: usize| k as isize - reach as isize;
                        sum += weights.at(from(dx), from(dy)) * f64::from(light[dy * STRIDE + x + dx]);
                    }
                }
                assert!((f64::from(*found) - sum / weights.sum()).abs() < 1e-6, "{diameter}, {x}: {found}");
            }
        }
    }

    /// With one number at a time as with the widest registers of this processor.
    #[test]
    fn the_width_of_registers_changes_no_bit() {
        let columns = aperture_weights(7.56).columns();
        let reach = columns.len() - 1;
        let light = numbers(STRIDE * (2 * reach + 1));
        let averaged = |wide: bool| {
            let mut averages = Averages::new(STRIDE, columns.len());
            let mut out = row(STRIDE - 2 * reach, 0.0);
            let work = Take { averages: &mut averages, light: &light, columns: &columns, out: &mut out };
            done(work, wide);
            bits(&out)
        };
        assert_eq!(averaged(true), averaged(false));
        let boxes = |wide: bool| {
            let (mut tall, mut out) = (vec![0.0; STRIDE + LANES], vec![0.0; STRIDE - 4]);
            let work = Boxes { light: &light, across: STRIDE, side: 5, tall: &mut tall, out: &mut out };
            done(work, wide);
            bits(&out)
        };
        assert_eq!(boxes(true), boxes(false));
        let strip = |wide: bool| {
            let mut strip = Strip::new(STRIDE);
            let (mean, residual) = light[..2 * STRIDE].split_at(STRIDE);
            let work = AddRow { strip: &mut strip, mean, residual };
            done(work, wide);
            [&strip.mean, &strip.residual, &strip.squares, &strip.fourths].map(|sums| bits(sums))
        };
        assert_eq!(strip(true), strip(false));
    }
}
