//! Pictures made larger: interpolated pixels are smoother than scanned ones, in a rhythm (A. C. Gallagher, "Detection of
//! linear and cubic interpolation in JPEG compressed images", 2nd Canadian Conference on Computer and Robot Vision, 2005),
//! and their spectrum ends before the finest detail.

use rustfft::FftPlanner;
use rustfft::num_complex::Complex;

use super::spectrum::{SIDE, Spectrum};
use super::tiles::{Tile, Tiles};
use super::{Fault, Test};
use crate::numeric::{math, robust};
use crate::words;

/// The strongest line of the rhythm, over what chance allows.
const RHYTHM: f64 = 2.0;
/// Below this frequency, in 128ths of a cycle per pixel, lies the picture itself.
const FROM: usize = 12;
/// Power at the end of the spectrum, in squared steps of the codes, that rounding alone leaves (1/12), twice.
const ROUNDING: f64 = 2.0 / 12.0;
/// Samples of the rhythm: tiles of less are not looked at.
const LENGTH: usize = 128;

/// The test. In a JPEG blocks have a rhythm of their own, at eighths.
pub(super) fn upsampled(tiles: &Tiles, spectrum: Option<&Spectrum>, unit: f64, jpeg: bool) -> Test {
    let Some((strength, frequency)) = rhythm(tiles).and_then(|lines| lines.strongest(jpeg)) else {
        return Test::not_testable(Fault::Upsampled, RHYTHM, words::Examined::Small.into());
    };
    if strength > RHYTHM {
        let sentence = words::Examined::Pulses {
            pixels: words::Number(1.0 / frequency, 2),
            times: words::Number(strength, 1),
        }
        .into();
        return Test::new(Fault::Upsampled, true, strength, RHYTHM, sentence);
    }
    if let Some(end) = spectrum.and_then(|spectrum| cut(spectrum, unit)) {
        let sentence = words::Examined::EmptyAbove {
            frequency: words::Number(end, 2),
            times: words::Number(0.5 / end, 1),
        }
        .into();
        return Test::new(Fault::Upsampled, true, strength, RHYTHM, sentence);
    }
    let sentence = words::Examined::NoRhythm { times: words::Number(strength, 1) }.into();
    Test::new(Fault::Upsampled, false, strength, RHYTHM, sentence)
}

/// Blocks of eight pixels have a rhythm of eight pixels, also where all their fine detail went. Beside an edge its second part,
/// of four pixels, may be stronger.
pub(super) fn rhythm_of_blocks(tiles: &Tiles) -> Option<Test> {
    let lines = rhythm(tiles)?;
    let (strength, frequency) = lines.strongest(false)?;
    let place = |eighths: usize| eighths * EIGHTH;
    let of_eight = [place(1), place(3)].into_iter().any(|k| lines.0[k] > RHYTHM);
    let known = [place(1), place(2)].into_iter().any(|k| (frequency * LENGTH as f64 - k as f64).abs() < 0.5);
    (strength > RHYTHM && of_eight && known).then(|| {
        let sentence = words::Examined::PulsesOfJpeg { times: words::Number(strength, 1) }.into();
        Test::new(Fault::JpegBlocks, true, strength, RHYTHM, sentence)
    })
}

/// An eighth of a cycle per pixel, as a place among the lines.
const EIGHTH: usize = LENGTH / 8;

/// How far each frequency, in 128ths of a cycle per pixel, stands above its neighbours in the middle one of all tiles and both
/// axes, over what chance allows.
struct Lines(Vec<f64>);

impl Lines {
    /// The strongest and its frequency; without those of JPEG blocks, if so wanted.
    fn strongest(&self, without_blocks: bool) -> Option<(f64, f64)> {
        let of_blocks = |k: usize| {
            let off = k % EIGHTH;
            off.min(EIGHTH - off) <= 2
        };
        let looked_at = (FROM..self.0.len()).filter(|k| !(without_blocks && of_blocks(*k)));
        let best = looked_at.max_by(|a, b| self.0[*a].total_cmp(&self.0[*b]))?;
        Some((self.0[best], best as f64 / LENGTH as f64))
    }
}

/// The rhythm of all tiles; `None` where none of them is whole or holds noise.
fn rhythm(tiles: &Tiles) -> Option<Lines> {
    let whole: Vec<&Tile> =
        tiles.tiles.iter().filter(|tile| tile.width == LENGTH && tile.height == LENGTH).collect();
    let transform = FftPlanner::<f64>::new().plan_fft_forward(LENGTH);
    let spectra: Vec<Vec<f64>> = whole
        .iter()
        .flat_map(|tile| [true, false].map(|across| roughness(tile, across)))
        .flatten()
        .map(|roughness| relative(&roughness, transform.as_ref()))
        .collect();
    if spectra.is_empty() {
        return None;
    }
    // The median of n of such values is within so much of one, in all of the frequencies.
    let chance = 1.0 + 4.5 / math::sqrt(spectra.len() as f64);
    let line = |k: usize| {
        let of_all: Vec<f64> = spectra.iter().map(|spectrum| spectrum[k]).collect();
        robust::median(&of_all).unwrap_or(0.0) / chance
    };
    Some(Lines((0..=LENGTH / 2).map(line).collect()))
}

/// Mean root of second differences by place along an axis; roots, and no line beyond the usual spread, so that edges of the
/// picture do not drown the noise. `None` without noise.
fn roughness(tile: &Tile, across: bool) -> Option<Vec<f64>> {
    let mut means = vec![0.0; LENGTH];
    for line in 0..LENGTH {
        let code =
            |k: usize| f64::from(tile.codes[if across { line * LENGTH + k } else { k * LENGTH + line }]);
        for (k, mean) in means.iter_mut().enumerate().take(LENGTH - 1).skip(1) {
            *mean += math::sqrt((code(k - 1) - 2.0 * code(k) + code(k + 1)).abs());
        }
    }
    (means[0], means[LENGTH - 1]) = (means[1], means[LENGTH - 2]);
    let middle = robust::median(&means)?;
    let spread = 4.0 * robust::MAD_TO_SIGMA * robust::median_absolute_deviation(&means)?;
    let held = means.iter().map(|mean| mean.clamp(middle - spread, middle + spread) / middle - 1.0);
    (middle > 0.0).then(|| held.collect())
}

/// Magnitude at each frequency over the median of those around it.
fn relative(roughness: &[f64], transform: &dyn rustfft::Fft<f64>) -> Vec<f64> {
    let window = |k: usize| math::sincos(core::f64::consts::PI * (k as f64 + 0.5) / LENGTH as f64).0;
    let mut data: Vec<Complex<f64>> =
        roughness.iter().enumerate().map(|(k, value)| Complex::new(value * window(k), 0.0)).collect();
    transform.process(&mut data);
    let sizes: Vec<f64> = data[..=LENGTH / 2].iter().map(|value| value.norm()).collect();
    let around = |k: usize| {
        let near = (k.saturating_sub(12).max(FROM)..(k + 13).min(sizes.len())).filter(|j| j.abs_diff(k) > 2);
        robust::median(&near.map(|j| sizes[j]).collect::<Vec<f64>>()).unwrap_or(0.0)
    };
    (0..sizes.len()).map(|k| if k < FROM { 0.0 } else { sizes[k] / around(k).max(1e-12) }).collect()
}

/// Where the spectrum ends at once, in cycles per pixel: from sixty times rounding to no more than that within two
/// thirty-seconds.
fn cut(spectrum: &Spectrum, unit: f64) -> Option<f64> {
    let floor = ROUNDING * unit * unit;
    let axis = &spectrum.axis;
    if spectrum.corner > floor || spectrum.variance() < 36.0 * unit * unit {
        return None;
    }
    let last = (0..axis.len()).rev().find(|k| axis[*k] > 60.0 * floor)?;
    let beyond = axis.get(last + 2..)?;
    (last < SIDE * 7 / 16 && beyond.len() >= 2 && beyond.iter().all(|power| *power <= 2.0 * floor))
        .then(|| (last + 1) as f64 / SIDE as f64)
}
