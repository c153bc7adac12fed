//! Scans of slanted edges from closed forms: an error function integrated over square pixels, grain as filtered noise. Nothing of
//! the program's own numerics takes part.

use rand::RngExt;
use rand_pcg::Pcg64;
use twinwedge_core::measured::Flags;
use twinwedge_core::scan::{Samples, Scan, ScanMeta, ToneSource, ToneTable};

/// `erf x` by the series with positive terms (Abramowitz and Stegun 7.1.6).
pub(crate) fn erf(x: f64) -> f64 {
    if x.abs() > 6.0 {
        return x.signum();
    }
    let (mut term, mut sum) = (x, x);
    for n in 1..200 {
        term *= 2.0 * x * x / f64::from(2 * n + 1);
        sum += term;
        if term.abs() < 1e-17 * sum.abs() {
            break;
        }
    }
    2.0 / std::f64::consts::PI.sqrt() * (-x * x).exp() * sum
}

/// Share of the normal distribution of standard deviation `s` below `u`.
pub(crate) fn cumulative(u: f64, s: f64) -> f64 {
    0.5 * (1.0 + erf(u / (s * std::f64::consts::SQRT_2)))
}

/// Its second antiderivative, from which the mean over a square pixel follows by differences.
fn twice_integrated(u: f64, s: f64) -> f64 {
    let density = (-0.5 * u * u / (s * s)).exp() / (s * (2.0 * std::f64::consts::PI).sqrt());
    0.5 * (u * u + s * s) * cumulative(u, s) + 0.5 * u * s * s * density
}

/// How an edge lies: degrees from upright, turned by a quarter, dark and light side changed over, place within a pixel.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pose {
    pub(crate) degrees: f64,
    pub(crate) level: bool,
    pub(crate) reversed: bool,
    pub(crate) offset: f64,
}

impl Pose {
    pub(crate) fn upright(degrees: f64) -> Self {
        Self { degrees, level: false, reversed: false, offset: 0.37 }
    }

    /// Distance of a place from the edge, along its normal.
    pub(crate) fn distance(&self, (width, height): (usize, usize), (x, y): (f64, f64)) -> f64 {
        let (x, y) = (x - width as f64 / 2.0, y - height as f64 / 2.0);
        let (x, y) = if self.level { (y, x) } else { (x, y) };
        let (sin, cos) = self.degrees.to_radians().sin_cos();
        let d = (x - self.offset) * cos - y * sin;
        if self.reversed { -d } else { d }
    }
}

/// Light of an edge from `low` to `high` with a Gaussian blur of `sigma` pixels, averaged over square pixels.
pub(crate) fn gaussian(size: (usize, usize), pose: Pose, sigma: f64, (low, high): (f64, f64)) -> Vec<f64> {
    let (sin, cos) = pose.degrees.to_radians().sin_cos();
    let (a, b) = (cos.abs() / 2.0, sin.abs() / 2.0);
    let share = |d: f64| {
        let corner = |da: f64, db: f64| twice_integrated(d + da * a + db * b, sigma);
        (corner(1.0, 1.0) - corner(1.0, -1.0) - corner(-1.0, 1.0) + corner(-1.0, -1.0)) / (4.0 * a * b)
    };
    each(size, |x, y| {
        let d = pose.distance(size, (x, y));
        // Far from the edge the differences lose their digits.
        let share = if d.abs() > 7.0 * sigma + 1.0 { f64::from(u8::from(d > 0.0)) } else { share(d) };
        low + (high - low) * share
    })
}

/// Light of any profile over the distance, by 5 x 5 places in each pixel.
pub(crate) fn profile(size: (usize, usize), pose: Pose, light: impl Fn(f64) -> f64) -> Vec<f64> {
    each(size, |x, y| {
        let places = (0..25).map(|k| (x + f64::from(k % 5 - 2) / 5.0, y + f64::from(k / 5 - 2) / 5.0));
        places.map(|place| light(pose.distance(size, place))).sum::<f64>() / 25.0
    })
}

fn each((width, height): (usize, usize), light: impl Fn(f64, f64) -> f64) -> Vec<f64> {
    (0..width * height).map(|i| light((i % width) as f64 + 0.5, (i / width) as f64 + 0.5)).collect()
}

/// Modulation of Gaussian blur and square pixel along the normal, at `f` cycles per pixel.
pub(crate) fn modulation(f: f64, sigma: f64, degrees: f64) -> f64 {
    let sinc = |x: f64| {
        if x.abs() < 1e-12 { 1.0 } else { (std::f64::consts::PI * x).sin() / (std::f64::consts::PI * x) }
    };
    let (sin, cos) = degrees.to_radians().sin_cos();
    (-2.0 * (std::f64::consts::PI * sigma * f).powi(2)).exp() * sinc(f * cos) * sinc(f * sin)
}

/// The frequency at which a falling function of it comes down to `level`.
pub(crate) fn frequency(level: f64, of: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if of(middle) > level { low = middle } else { high = middle }
    }
    (low + high) / 2.0
}

/// Normal noise of variance 1, blurred with a Gaussian of `blur` pixels (0: white).
pub(crate) fn grain((width, height): (usize, usize), blur: f64, chance: &mut Pcg64) -> Vec<f64> {
    let reach = (4.0 * blur).ceil() as usize;
    let (w, h) = (width + 2 * reach, height + 2 * reach);
    let mut normal = || {
        let radius = (-2.0 * (1.0 - chance.random::<f64>()).ln()).sqrt();
        radius * (std::f64::consts::TAU * chance.random::<f64>()).cos()
    };
    let white: Vec<f64> = (0..w * h).map(|_| normal()).collect();
    if reach == 0 {
        return white;
    }
    let raw: Vec<f64> =
        (0..=2 * reach).map(|k| (-0.5 * ((k as f64 - reach as f64) / blur).powi(2)).exp()).collect();
    let norm = raw.iter().map(|v| v * v).sum::<f64>().sqrt();
    let kernel: Vec<f64> = raw.iter().map(|v| v / norm).collect();
    let sum = |at: &dyn Fn(usize) -> f64| -> f64 { kernel.iter().enumerate().map(|(k, v)| v * at(k)).sum() };
    let rows: Vec<f64> = (0..width * h).map(|i| sum(&|k| white[i / width * w + i % width + k])).collect();
    (0..width * height).map(|i| sum(&|k| rows[(i / width + k) * width + i % width])).collect()
}

/// A scan of 16 bits whose codes are the square root of light, and its table.
pub(crate) fn scan((width, height): (usize, usize), light: &[f64]) -> (Scan, ToneTable) {
    let code = |light: &f64| (light.max(0.0).sqrt() * 65_535.0).round().min(65_535.0) as u16;
    let samples = Samples::U16(light.iter().map(code).collect());
    let table: Vec<f64> = (0..65_536_u32).map(|code| (f64::from(code.max(1)) / 65_535.0).powi(2)).collect();
    let table = ToneTable {
        density: table.iter().map(|light| -light.log10()).collect(),
        density_u: vec![0.0; table.len()],
        errors: twinwedge_core::scan::ScaleErrors::default(),
        light: table,
        trusted: (0.0, 4.0),
        source: ToneSource::Calibration("exact".to_owned()),
        flags: Flags::empty(),
    };
    (Scan { width, height, channels: 1, samples, meta: ScanMeta::default() }, table)
}
