//! A scanner that is simulated apart from the program: scenes of light, optics, sensor noise and tone curve, and what
//! scanning software does to the codes afterwards.

use twinwedge_core::numeric::random::Stream;
use twinwedge_core::scan::{Samples, Scan, ScanMeta};

/// Side of a simulated scan.
pub(super) const SIDE: usize = 384;

/// Row by row.
#[derive(Clone)]
pub(super) struct Field {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) values: Vec<f64>,
}

/// A scanner at fixed settings.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scanner {
    /// Light that strays from the whole frame over it, as a share of its mean.
    pub(super) flare: f64,
    /// Codes go with light to this power.
    pub(super) power: f64,
    /// Code without light, and with full light.
    pub(super) dark: f64,
    pub(super) full: f64,
    /// Variance of light: of photons in proportion to light, of the sensor constant.
    pub(super) photon: f64,
    pub(super) read: f64,
    /// Standard deviation of the lens's blur in pixels.
    pub(super) blur: f64,
}

impl Scanner {
    /// One of many that could stand on a desk.
    pub(super) fn any(chance: &mut Stream) -> Self {
        let mut between = |low: f64, high: f64| low + (high - low) * chance.uniform();
        Self {
            flare: between(0.0, 0.004),
            power: between(0.42, 1.0),
            dark: between(150.0, 900.0),
            full: between(58_000.0, 64_500.0),
            photon: between(1e-6, 6e-6),
            read: between(2e-5, 1.2e-4),
            blur: between(0.4, 0.9),
        }
    }

    /// Codes as the sensor gives them, not rounded.
    pub(super) fn sees(&self, scene: &Field, chance: &mut Stream) -> Field {
        let mut light = blurred(scene, self.blur);
        let veil = self.flare * light.values.iter().sum::<f64>() / light.values.len() as f64;
        for value in &mut light.values {
            let seen = (*value + veil).max(0.0);
            let noisy = seen + (self.photon * seen + self.read * self.read).sqrt() * chance.normal();
            *value = self.dark + (self.full - self.dark) * noisy.max(0.0).powf(self.power);
        }
        light
    }
}

/// Gaussian blur, edges repeated.
pub(super) fn blurred(field: &Field, sigma: f64) -> Field {
    let reach = (3.5 * sigma).ceil() as isize;
    let weights: Vec<f64> = (-reach..=reach).map(|k| (-0.5 * (k as f64 / sigma).powi(2)).exp()).collect();
    let sum: f64 = weights.iter().sum();
    let weights: Vec<f64> = weights.iter().map(|w| w / sum).collect();
    let (w, h) = (field.width as isize, field.height as isize);
    let pass = |from: &[f64], across: bool| {
        let mut out = vec![0.0; from.len()];
        for y in 0..h {
            for x in 0..w {
                let mut sum = 0.0;
                for (k, weight) in weights.iter().enumerate() {
                    let off = k as isize - reach;
                    let (i, j) =
                        if across { ((x + off).clamp(0, w - 1), y) } else { (x, (y + off).clamp(0, h - 1)) };
                    sum += weight * from[(j * w + i) as usize];
                }
                out[(y * w + x) as usize] = sum;
            }
        }
        out
    };
    let values = pass(&pass(&field.values, true), false);
    Field { values, ..*field }
}

/// What lies on the scanner.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Strip,
    Print,
    Plain,
}

/// A scene of light, `side` pixels along each side, with grain and some dust.
pub(super) fn sized(kind: Kind, side: usize, chance: &mut Stream) -> Field {
    let mut between = |low: f64, high: f64| low + (high - low) * chance.uniform();
    let (size, strength) = (between(0.4, 1.8), between(0.01, 0.06));
    let mut density = vec![0.0; side * side];
    let at = |x: f64| x / side as f64;
    match kind {
        Kind::Strip => {
            let (steps, tilt) = (between(7.0, 12.0).floor(), between(-0.02, 0.02));
            let (least, height) = (between(0.05, 0.3), between(0.15, 0.25));
            for (i, d) in density.iter_mut().enumerate() {
                let (x, y) = ((i % side) as f64, (i / side) as f64);
                let v = y + tilt * x;
                let inside = (0.08..0.92).contains(&at(v));
                let step = ((at(x + tilt * y) * 1.04 - 0.02) * steps).floor().clamp(0.0, steps - 1.0);
                *d = if inside { least + height * step } else { 0.03 };
            }
        }
        Kind::Print => {
            let (a, b, c) = (between(2.0, 5.0), between(2.0, 5.0), between(0.0, 6.0));
            let (tilt, low, high) = (between(-0.05, 0.05), between(0.08, 0.2), between(1.2, 2.0));
            for (i, d) in density.iter_mut().enumerate() {
                let (x, y) = (at((i % side) as f64), at((i / side) as f64));
                let smooth = 0.5 + 0.3 * (a * x + c).sin() * (b * y).cos() + 0.15 * (7.0 * x * y + c).sin();
                let (u, v) = (x + tilt * y, y - tilt * x);
                let cell = ((u * 8.0).floor() * 5.0 + (v * 8.0).floor() * 3.0) % 7.0;
                let patch = (0.5..0.95).contains(&u) && (0.1..0.5).contains(&v);
                let disc = (x - 0.3).hypot(y - 0.7) < 0.14;
                let lines = (0.6..0.9).contains(&x) && (0.65..0.9).contains(&y) && (u * 60.0).sin() > 0.3;
                let border = x.min(y).min(1.0 - x).min(1.0 - y) < 0.05;
                let tone = if border {
                    0.0
                } else if patch {
                    cell / 6.0
                } else if disc {
                    0.9
                } else if lines {
                    0.8
                } else {
                    smooth
                };
                *d = low + (high - low) * tone.clamp(0.0, 1.0);
            }
        }
        Kind::Plain => density.fill(between(0.3, 1.6)),
    }
    let raw =
        Field { width: side, height: side, values: (0..side * side).map(|_| chance.normal()).collect() };
    let grain = blurred(&raw, size);
    let spread = (grain.values.iter().map(|v| v * v).sum::<f64>() / grain.values.len() as f64).sqrt();
    let mut light: Vec<f64> = density
        .iter()
        .zip(&grain.values)
        .map(|(d, g)| 10.0_f64.powf(-(d + strength * d.min(1.5).sqrt() * g / spread)))
        .collect();
    for _ in 0..4 {
        let (x, y) = ((chance.uniform() * side as f64) as usize, (chance.uniform() * side as f64) as usize);
        for j in y..(y + 3).min(side) {
            for i in x..(x + 2).min(side) {
                light[j * side + i] *= 0.15;
            }
        }
    }
    Field { width: side, height: side, values: light }
}

/// Rounds to codes and writes the scan.
pub(super) fn stored(codes: &Field, eight_bits: bool) -> Scan {
    let samples = if eight_bits {
        Samples::U8(codes.values.iter().map(|v| (v / 257.0).round().clamp(0.0, 255.0) as u8).collect())
    } else {
        Samples::U16(codes.values.iter().map(|v| v.round().clamp(0.0, 65_535.0) as u16).collect())
    };
    Scan { width: codes.width, height: codes.height, channels: 1, samples, meta: ScanMeta::default() }
}

/// Unsharp masking: adds `amount` of the difference from a blur of `sigma` pixels.
pub(super) fn sharpened(codes: &Field, sigma: f64, amount: f64) -> Field {
    let soft = blurred(codes, sigma);
    let values = codes.values.iter().zip(&soft.values).map(|(c, s)| c + amount * (c - s)).collect();
    Field { values, ..*codes }
}

fn near(field: &Field, x: usize, y: usize, dx: isize, dy: isize) -> f64 {
    let i = (x as isize + dx).clamp(0, field.width as isize - 1) as usize;
    let j = (y as isize + dy).clamp(0, field.height as isize - 1) as usize;
    field.values[j * field.width + i]
}

/// The median of `side` x `side` pixels, an odd number.
pub(super) fn middle_values(codes: &Field, side: usize) -> Field {
    let reach = (side / 2).cast_signed();
    let mut all = Vec::with_capacity(side * side);
    let mut median = |n: usize| {
        let (x, y) = (n % codes.width, n / codes.width);
        all.clear();
        all.extend(
            (-reach..=reach)
                .flat_map(|dy| (-reach..=reach).map(move |dx| (dx, dy)))
                .map(|(dx, dy)| near(codes, x, y, dx, dy).round()),
        );
        let middle = all.len() / 2;
        *all.select_nth_unstable_by(middle, f64::total_cmp).1
    };
    Field { values: (0..codes.values.len()).map(&mut median).collect(), ..*codes }
}

/// Non-local means: over 7 x 7 pixels, each weighted by how alike the 3 x 3 pixels around it are (A. Buades, B. Coll, J.-M.
/// Morel, "A non-local algorithm for image denoising", CVPR 2005).
pub(super) fn non_local(codes: &Field, strength: f64) -> Field {
    const REACH: usize = 3;
    const RIM: usize = REACH + 1;
    let (width, height) = (codes.width, codes.height);
    let wide = width + 2 * RIM;
    // With a rim, so that no place needs to be looked at twice.
    let place = |n: usize| {
        ((n % wide).clamp(RIM, width + RIM - 1) - RIM, (n / wide).clamp(RIM, height + RIM - 1) - RIM)
    };
    let padded: Vec<f64> =
        (0..wide * (height + 2 * RIM)).map(place).map(|(x, y)| codes.values[y * width + x]).collect();
    let (mut sums, mut weights) = (vec![0.0; width * height], vec![0.0; width * height]);
    // For each row the sums of three squared differences side by side.
    let mut squares = vec![0.0; width * (height + 2)];
    for (dx, dy) in (0..=2 * REACH).flat_map(|dy| (0..=2 * REACH).map(move |dx| (dx, dy))) {
        for (y, out) in squares.chunks_mut(width).enumerate() {
            let here = &padded[(y + REACH) * wide + REACH..][..width + 2];
            let there = &padded[(y + dy) * wide + dx..][..width + 2];
            let square: Vec<f64> = here.iter().zip(there).map(|(a, b)| (a - b) * (a - b)).collect();
            out.iter_mut()
                .zip(square.windows(3))
                .for_each(|(out, three)| *out = three[0] + three[1] + three[2]);
        }
        for y in 0..height {
            let there = &padded[(y + dy + 1) * wide + dx + 1..][..width];
            for (x, there) in there.iter().enumerate() {
                let at = y * width + x;
                let apart = (squares[at] + squares[at + width] + squares[at + 2 * width]) / 9.0;
                let weight = (-apart / (strength * strength)).exp();
                sums[at] += weight * there;
                weights[at] += weight;
            }
        }
    }
    let values = sums.iter().zip(&weights).map(|(sum, weight)| sum / weight).collect();
    Field { values, ..*codes }
}

/// A bilateral filter of 5 x 5 pixels: neighbours count by distance and by how near their codes are.
pub(super) fn edge_preserving(codes: &Field, range: f64) -> Field {
    let weights: Vec<f64> = (0..25)
        .map(|k| {
            let (dx, dy) = (k as f64 % 5.0 - 2.0, (k as f64 / 5.0).floor() - 2.0);
            (-(dx * dx + dy * dy) / 4.5).exp()
        })
        .collect();
    let mean = |n: usize| {
        let (x, y) = (n % codes.width, n / codes.width);
        let here = codes.values[n];
        let (mut sum, mut all) = (0.0, 0.0);
        for (k, weight) in weights.iter().enumerate() {
            let there = near(codes, x, y, k as isize % 5 - 2, k as isize / 5 - 2);
            let z = (there - here) / range;
            if z.abs() < 3.5 {
                let w = weight * (-0.5 * z * z).exp();
                sum += w * there;
                all += w;
            }
        }
        sum / all
    };
    Field { values: (0..codes.values.len()).map(mean).collect(), ..*codes }
}

/// Codes stretched so that the given share of pixels at each end becomes the first and the last code.
pub(super) fn auto_exposed(codes: &Field, share: f64) -> Field {
    let mut sorted = codes.values.clone();
    sorted.sort_unstable_by(f64::total_cmp);
    let cut = (share * sorted.len() as f64) as usize;
    let (low, high) = (sorted[cut], sorted[sorted.len() - 1 - cut]);
    Field { values: codes.values.iter().map(|v| (v - low) / (high - low) * 65_535.0).collect(), ..*codes }
}

/// Exposed so long that the given share of pixels is beyond the last code.
pub(super) fn overexposed(codes: &Field, share: f64) -> Field {
    let mut sorted = codes.values.clone();
    sorted.sort_unstable_by(f64::total_cmp);
    let white = sorted[sorted.len() - 1 - (share * sorted.len() as f64) as usize];
    Field { values: codes.values.iter().map(|v| v / white * 65_535.0).collect(), ..*codes }
}

/// Rounded to so many bits and written as 16.
pub(super) fn few_bits(codes: &Field, bits: i32) -> Field {
    let levels = 2.0_f64.powi(bits) - 1.0;
    let round = |v: &f64| ((v / 65_535.0 * levels).round() / levels * 65_535.0).round();
    Field { values: codes.values.iter().map(round).collect(), ..*codes }
}

/// Levels changed after rounding to so many steps: `factor` about a low code.
pub(super) fn levels_changed(codes: &Field, steps: f64, factor: f64) -> Field {
    let unit = 65_535.0 / steps;
    let change = |v: &f64| (((v / unit).round() - 3.0) * factor).round() * unit;
    Field { values: codes.values.iter().map(change).collect(), ..*codes }
}

/// Made larger to [`SIDE`] by cubic or linear interpolation.
pub(super) fn larger(codes: &Field, cubic: bool) -> Field {
    let ratio = codes.width as f64 / SIDE as f64;
    let weight = |t: f64| {
        let t = t.abs();
        match (cubic, t) {
            (false, t) if t < 1.0 => 1.0 - t,
            (true, t) if t < 1.0 => 1.5 * t * t * t - 2.5 * t * t + 1.0,
            (true, t) if t < 2.0 => -0.5 * t * t * t + 2.5 * t * t - 4.0 * t + 2.0,
            _ => 0.0,
        }
    };
    let line = |from: &dyn Fn(isize) -> f64, out: &mut [f64]| {
        for (k, slot) in out.iter_mut().enumerate() {
            let at = (k as f64 + 0.5) * ratio - 0.5;
            let base = at.floor() as isize;
            *slot = (base - 1..=base + 2).map(|i| weight(at - i as f64) * from(i)).sum();
        }
    };
    let (w, h) = (codes.width, codes.height);
    let mut wide = vec![0.0; SIDE * h];
    for y in 0..h {
        let from = |i: isize| codes.values[y * w + i.clamp(0, w as isize - 1) as usize];
        line(&from, &mut wide[y * SIDE..(y + 1) * SIDE]);
    }
    let mut values = vec![0.0; SIDE * SIDE];
    let mut column = vec![0.0; SIDE];
    for x in 0..SIDE {
        let from = |j: isize| wide[j.clamp(0, h as isize - 1) as usize * SIDE + x];
        line(&from, &mut column);
        for (y, value) in column.iter().enumerate() {
            values[y * SIDE + x] = *value;
        }
    }
    Field { width: SIDE, height: SIDE, values }
}

/// Luminance quantisation of ITU-T T.81, table K.1.
const QUANTISATION: [f64; 64] = [
    16., 11., 10., 16., 24., 40., 51., 61., 12., 12., 14., 19., 26., 58., 60., 55., 14., 13., 16., 24., 40.,
    57., 69., 56., 14., 17., 22., 29., 51., 87., 80., 62., 18., 22., 37., 56., 68., 109., 103., 77., 24.,
    35., 55., 64., 81., 104., 113., 92., 49., 64., 78., 87., 103., 121., 120., 101., 72., 92., 95., 98.,
    112., 100., 103., 99.,
];

/// Compressed and decompressed as JPEG does it, in 8 bits; `scale` multiplies the table (0.3 is the usual quality 85).
pub(super) fn compressed(codes: &Field, scale: f64) -> Field {
    let mut values: Vec<f64> = codes.values.iter().map(|v| (v / 257.0).round().clamp(0.0, 255.0)).collect();
    let mut basis = [[0.0; 8]; 8];
    for (u, row) in basis.iter_mut().enumerate() {
        for (x, value) in row.iter_mut().enumerate() {
            let norm = if u == 0 { 0.125_f64.sqrt() } else { 0.5 };
            *value = norm * ((2 * x + 1) as f64 * u as f64 * std::f64::consts::PI / 16.0).cos();
        }
    }
    let turn = |block: &[[f64; 8]; 8], forward: bool| {
        let b = |i: usize, j: usize| if forward { basis[i][j] } else { basis[j][i] };
        let along = |row: &[f64; 8], u: usize| (0..8).map(|x| row[x] * b(u, x)).sum::<f64>();
        let half: [[f64; 8]; 8] = std::array::from_fn(|y| std::array::from_fn(|u| along(&block[y], u)));
        let down = |u: usize, v: usize| (0..8).map(|y| half[y][u] * b(v, y)).sum::<f64>();
        let out: [[f64; 8]; 8] = std::array::from_fn(|v| std::array::from_fn(|u| down(u, v)));
        out
    };
    for top in (0..codes.height / 8 * 8).step_by(8) {
        for left in (0..codes.width / 8 * 8).step_by(8) {
            let mut block = [[0.0; 8]; 8];
            for (y, row) in block.iter_mut().enumerate() {
                for (x, slot) in row.iter_mut().enumerate() {
                    *slot = values[(top + y) * codes.width + left + x] - 128.0;
                }
            }
            let mut coefficients = turn(&block, true);
            for (v, row) in coefficients.iter_mut().enumerate() {
                for (u, slot) in row.iter_mut().enumerate() {
                    let q = (QUANTISATION[v * 8 + u] * scale).round().max(1.0);
                    *slot = (*slot / q).round() * q;
                }
            }
            let back = turn(&coefficients, false);
            for (y, row) in back.iter().enumerate() {
                for (x, value) in row.iter().enumerate() {
                    values[(top + y) * codes.width + left + x] = (value + 128.0).round().clamp(0.0, 255.0);
                }
            }
        }
    }
    Field { values: values.iter().map(|v| v * 257.0).collect(), ..*codes }
}
