//! The noise power spectrum of a uniform area: granularity by spatial frequency.
//!
//! What fluctuates is the light of each pixel against the fitted slow shading, told in density: `lg e (1 - L / L0)`. An
//! eye, an enlarger and a densitometer average light, so at low frequencies this is what granularity through an aperture
//! measures; for small fluctuations it is density itself.
//!
//! 1. A first pass finds the level, fits the slow shading and marks where dust or scratches are.
//! 2. Square blocks, half overlapped and each under a Hann window, are transformed; those that hold dust are left out. The
//!    mean of their periodograms is the spectrum: `p^2 |DFT(w d)|^2 / sum w^2` in density squared times square micrometres
//!    (the normalisation of IEC 62220-1-1:2015, from memory, for density). Its sum over all frequencies is the variance.
//! 3. Errors: periodograms of normal noise are chi-square with two degrees of freedom; the overlap of the blocks and what
//!    the window makes neighbouring frequencies share are counted exactly (as P. D. Welch, *IEEE Trans. Audio
//!    Electroacoust.* AU-15, 1967, for one dimension), and heavy tails of the fluctuation add to them.
//!
//! The pixel's own aperture is in the spectrum and is not divided out; see [`RadialBin::pixel`].

mod area;
mod autocorrelation;
mod direction;
mod judge;
mod lowest;
mod noise;
mod radial;
mod transform;

pub use autocorrelation::{Autocorrelation, Lag};
pub use direction::{Direction, Line, Sector, Streaks};
pub use noise::{Noise, NoiseBy, NoiseSpectrum, ScannerNoise};

use serde::Serialize;

use crate::geometry::Rect;
use crate::measured::{Flags, Measured, Z95};
use crate::numeric::math;
use crate::problem::{Problem, Subject};
use crate::scan::{Plane, SharedError, ToneTable};
use crate::units::{Density, Micrometres};
use crate::words::{self, Sentence};
use area::{Grid, Ground};
use radial::Radial;

/// lg e: from a share of light to density.
const LG_E: f64 = core::f64::consts::LOG10_E;
/// Blocks of a quick answer, at most.
const QUICK: usize = 48;
/// Sides that blocks may have, in pixels.
const SIDES: [usize; 4] = [256, 128, 64, 32];

/// How a spectrum is measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SpectrumSettings {
    /// Distance between samples.
    pub pitch: Micrometres,
    /// Side of a block in pixels: 32, 64, 128 or 256; `None` is the largest of which three lie side by side.
    pub block: Option<usize>,
    /// From some of the blocks only: a first answer.
    pub quick: bool,
}

/// One ring of frequencies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct RadialBin {
    /// Mean frequency of the ring, cycles per millimetre on the film.
    pub frequency: f64,
    /// Density squared times square micrometres, the scanner's noise taken off.
    pub power: Measured,
    /// Share of a pattern's power that the square pixel lets through at this frequency, along rows or columns: sinc
    /// squared. It is in `power`.
    pub pixel: f64,
}

/// Blocks of an area.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Blocks {
    /// Side in pixels.
    pub side: usize,
    /// How many blocks were averaged.
    pub used: usize,
    /// Left out because of dust or scratches.
    pub left_out: usize,
    /// Independent ones that the used ones are worth, for they overlap.
    pub effective: f64,
}

/// A measured spectrum.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spectrum {
    /// Distance between samples on the film.
    pub pitch: Micrometres,
    /// The blocks it rests on.
    pub blocks: Blocks,
    /// Rings of frequencies, from two cells of the transform to the highest frequency along the axes.
    pub radial: Vec<RadialBin>,
    /// The spectrum at frequency zero, extrapolated: what sigma squared times the area of large apertures tends to.
    pub zero: Measured,
    /// Variance of the fluctuation, pixel by pixel, and the sum of the spectrum over all frequencies; equal but for chance.
    pub variance: (f64, f64),
    /// The calibration's part in the error of its root: films on the same calibration share it.
    pub gradient: SharedError,
    /// What was taken off for the scanner, or why nothing was.
    pub noise: Result<ScannerNoise, Sentence>,
    /// Correlation over distance.
    pub autocorrelation: Autocorrelation,
    /// Lines, streaks and differences between directions.
    pub direction: Direction,
    /// Density of the mean light.
    pub mean_density: Measured<Density>,
    /// The area, whole pixels.
    pub area: Rect,
    /// A first answer from some of the blocks.
    pub quick: bool,
    /// Mean power over the plane of frequencies as measured, row by row, zero in the middle: `side * side` values.
    #[serde(skip)]
    pub plane: Vec<f32>,
    /// Things worth telling.
    pub notes: Vec<Sentence>,
    #[serde(skip)]
    rings: Radial,
}

/// Measures the spectrum of an area. `noise` is that of the scanner, where it is known for scans like this one, or why it
/// is not. `stop` is asked once per block or so.
///
/// # Errors
/// The area lies outside the scan, is too small, or holds no block without dust; or `stop` said so.
pub fn spectrum(
    plane: Plane<'_>,
    table: &ToneTable,
    area: Rect,
    settings: SpectrumSettings,
    noise: Result<Noise<'_>, Sentence>,
    stop: &(dyn Fn() -> bool + Sync),
) -> Result<Spectrum, Problem> {
    let mut grid = Grid::new(plane, table, area, settings)?;
    let ground = loop {
        let ground = Ground::of(&grid, plane, table, stop).ok_or_else(stopped)?;
        let enough = ground.blocks.len() >= (grid.blocks.len() / 5).max(4);
        match grid.finer().filter(|_| !enough && settings.block.is_none()) {
            Some(finer) => grid = finer,
            None => break ground,
        }
    };
    if ground.blocks.is_empty() {
        return Err(Problem::error(
            Subject::Series,
            words::Spectrum::NothingUniform { side: grid.side },
            words::Remedy::MarkLargerUniform,
        ));
    }
    let sums = transform::powers(&grid, &ground, plane, stop).ok_or_else(stopped)?;
    Ok(conclude(&grid, &ground, table, settings, noise, &sums))
}

fn stopped() -> Problem {
    let remedy = words::Remedy::AskForSpectrum;
    Problem::note(Subject::Series, words::Stopped::Spectrum, remedy)
}

/// From the mean power over the plane of frequencies to a spectrum.
fn conclude(
    grid: &Grid,
    ground: &Ground,
    table: &ToneTable,
    settings: SpectrumSettings,
    noise: Result<Noise<'_>, Sentence>,
    sums: &transform::Sums,
) -> Spectrum {
    let pitch = settings.pitch.0;
    let kernel = radial::Kernel::new(grid.side, &ground.blocks);
    let whole = Radial::new(&sums.power, grid.side, pitch, &kernel, &[]);
    let (direction, shared) = direction::find(&sums.power, &whole, &kernel);
    // What belongs to lines and streaks is no grain: rings are taken without it.
    let mut rings =
        if shared.is_empty() { whole } else { Radial::new(&sums.power, grid.side, pitch, &kernel, &shared) };
    let mean = ground.mean_density();
    rings.common = sums.tails(&rings, ground.used_area(grid));
    // Power is read by the square of the gradient.
    let gradient = table.errors.gradient(mean);
    rings.gradient = 2.0 * gradient.u();
    let noise = noise.and_then(|noise| noise.take_off(&mut rings, mean));
    let (zero, uneven) = lowest::zero(&mut rings);
    let autocorrelation = autocorrelation::autocorrelation(&sums.power, &rings, &shared);
    let mean_u = math::sqrt(zero.value / (ground.used_area(grid) * pitch * pitch));
    let nearest = super::preview::nearest_code(table, mean);
    let mean_u = math::hypot(mean_u, table.density_u.get(nearest).copied().unwrap_or(0.0));
    let mut found = Spectrum {
        pitch: settings.pitch,
        blocks: Blocks {
            side: grid.side,
            used: ground.blocks.len(),
            left_out: grid.blocks.len() - ground.blocks.len(),
            effective: kernel.effective_blocks(),
        },
        radial: rings.bins(),
        zero,
        variance: (sums.variance(), rings.cell * sums.power.iter().sum::<f64>()),
        gradient,
        noise,
        autocorrelation,
        direction,
        mean_density: Measured::normal(Density(mean), mean_u),
        area: grid.area(),
        quick: settings.quick && grid.thinned,
        plane: centred(&sums.power, grid.side),
        notes: Vec::new(),
        rings,
    };
    judge::judge(&mut found, ground, table, uneven);
    found
}

/// Frequency zero in the middle, single precision.
fn centred(power: &[f64], side: usize) -> Vec<f32> {
    let half = side / 2;
    let from = |k: usize| (k + half) % side;
    (0..side * side).map(|k| power[from(k / side) * side + from(k % side)] as f32).collect()
}

impl Spectrum {
    /// Highest frequency along rows and columns, cycles per millimetre.
    #[must_use]
    pub fn highest(&self) -> f64 {
        500.0 / self.pitch.0
    }

    /// Lowest frequency at which it was measured, cycles per millimetre; below it stands the extrapolated value.
    #[must_use]
    pub fn lowest(&self) -> f64 {
        self.rings.lowest()
    }

    /// The mean of the spectrum over half an octave around a frequency in cycles per millimetre, which evens out chance;
    /// below the lowest measured frequency the value at zero. `None` beyond the highest.
    #[must_use]
    pub fn around(&self, frequency: f64) -> Option<Measured> {
        let coefficients = self.rings.band(frequency)?;
        Some(self.sum(&coefficients))
    }

    /// The integral of the spectrum over the plane of frequencies, each ring weighted: variance of density. Below the
    /// lowest measured frequency the spectrum is taken as its value at zero; it ends at the highest along the axes.
    #[must_use]
    pub fn weighted(&self, weight: impl Fn(f64) -> f64) -> Measured {
        self.sum(&self.rings.integral(weight))
    }

    /// RMS granularity through a large round aperture of this diameter, 1000 times the standard deviation of density:
    /// the spectrum times the squared transfer of a disc, `2 J1(x) / x` with `x = pi f d`.
    #[must_use]
    pub fn rms_through(&self, aperture: Micrometres) -> Measured {
        let transfer = |frequency: f64| {
            let x = core::f64::consts::PI * frequency / 1000.0 * aperture.0;
            let disc = if x < 1e-6 { 1.0 } else { 2.0 * math::j1(x) / x };
            disc * disc
        };
        root(&self.weighted(transfer), 1000.0)
    }

    fn sum(&self, coefficients: &[f64]) -> Measured {
        let (value, u) = self.rings.sum(coefficients);
        positive(value, u).flagged(self.zero.flags)
    }
}

/// A number above zero with an interval that is symmetric in its logarithm.
fn positive(value: f64, u: f64) -> Measured {
    if value <= 0.0 {
        return Measured::with_interval(value, u, value - Z95 * u, value + Z95 * u);
    }
    let factor = math::exp(Z95 * u / value);
    Measured::with_interval(value, u, value / factor, value * factor)
}

/// The square root of a variance, times a factor.
pub(super) fn root(variance: &Measured, factor: f64) -> Measured {
    let of = |value: f64| factor * math::sqrt(value.max(0.0));
    let value = of(variance.value);
    let u = if variance.value > 0.0 { value * variance.u / (2.0 * variance.value) } else { 0.0 };
    Measured::with_interval(value, u, of(variance.low), of(variance.high)).flagged(variance.flags)
}

/// The chi-square interval of a mean square with so many degrees of freedom, widened by a relative error of its own.
fn mean_square(value: f64, u: f64, flags: Flags) -> Measured {
    let freedom = if u > 0.0 { 2.0 * value * value / (u * u) } else { f64::INFINITY };
    if !(1.0..=400.0).contains(&freedom) {
        return positive(value, u).flagged(flags);
    }
    let end = |p: f64| value * freedom / crate::numeric::quantiles::chi_square(p, freedom);
    Measured::with_interval(value, u, end(0.975), end(0.025)).flagged(flags)
}
