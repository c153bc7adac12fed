//! A mix of the three channels of a colour scan, of light.
//!
//! A detector that sees red, green and blue by weights adds light, not codes and not density. So each channel's codes are
//! turned into light by that channel's own table, calibrated on the same tablet, and these are added. For a neutral image
//! all three are alike, and a mix of codes that is calibrated as a plane of its own would come to the same; where the image
//! has a colour (stain, toned paper) it would not, for codes are no light.

use rayon::prelude::*;

use super::{Samples, Scan, ScanMeta, StatedBy, Statement, ToneSource, ToneTable};
use crate::document::Encoding;
use crate::numeric::math;

/// Number of codes of a mix.
const LEVELS: usize = 65_536;
/// Densities of the last and of the first code.
const LIGHTEST: f64 = -0.4;
const DARKEST: f64 = 5.6;

/// Density that a code of a mix stands for; evenly spaced, a step is less than a ten-thousandth.
fn density(code: usize) -> f64 {
    DARKEST + (LIGHTEST - DARKEST) * code as f64 / (LEVELS - 1) as f64
}

/// A grey scan whose codes stand for the mixed light. Pixels that are clipped in a channel of some weight stay clipped.
/// `stop` is asked now and then; `None` when it says so, for a scan of fewer than three channels, or for tables that are
/// not its own.
#[must_use]
pub fn mixed(
    scan: &Scan,
    tables: [&ToneTable; 3],
    weights: [f64; 3],
    stop: &(dyn Fn() -> bool + Sync),
) -> Option<Scan> {
    let levels = scan.levels();
    if scan.channels != 3 || tables.iter().any(|table| table.light.len() != levels) {
        return None;
    }
    // Weighted beforehand; a clipped code is none.
    let light: [Vec<f64>; 3] =
        core::array::from_fn(|k| tables[k].light.iter().map(|light| weights[k] * light).collect());
    let scale = (LEVELS - 1) as f64 / (LIGHTEST - DARKEST);
    let code = |pixel: [usize; 3]| -> u16 {
        let at = |end: usize| (0..3).any(|k| weights[k] > 0.0 && pixel[k] == end);
        let rises = tables[0].rises_with_light();
        if at(0) || at(levels - 1) {
            return if at(levels - 1) == rises { u16::MAX } else { 0 };
        }
        let sum: f64 = (0..3).map(|k| light[k][pixel[k]]).sum();
        let place = (-math::log10(sum) - DARKEST) * scale;
        (place + 0.5).clamp(1.0, (LEVELS - 2) as f64) as u16
    };
    let mut samples = vec![0_u16; scan.width * scan.height];
    let stopped = samples.par_chunks_mut(scan.width.max(1)).enumerate().any(|(y, row)| {
        let from = y * scan.width * 3;
        match &scan.samples {
            Samples::U8(codes) => fill(row, &codes[from..], code),
            Samples::U16(codes) => fill(row, &codes[from..], code),
        }
        y % 64 == 0 && stop()
    });
    let curve = (0..LEVELS).map(|code| math::pow(10.0, -density(code)) as f32).collect();
    let meta = ScanMeta {
        profile: Some("mixed light".to_owned()),
        profile_curve: Some(curve),
        stated: Some(Statement { encoding: Encoding::Profile, by: StatedBy::Profile }),
        square_root: false,
        ..scan.meta.clone()
    };
    (!stopped).then_some(Scan { channels: 1, samples: Samples::U16(samples), meta, ..*scan })
}

fn fill<C: Copy + Into<usize>>(row: &mut [u16], codes: &[C], code: impl Fn([usize; 3]) -> u16) {
    for (slot, pixel) in row.iter_mut().zip(codes.as_chunks::<3>().0) {
        *slot = code(pixel.map(Into::into));
    }
}

/// The table of a mix. Errors of the three tables come mostly from the tablet they share, so they add as they are.
#[must_use]
pub fn mixed_table(tables: [&ToneTable; 3], weights: [f64; 3], name: &str) -> ToneTable {
    let density: Vec<f64> = (0..LEVELS).map(density).collect();
    let errors: Vec<Vec<f64>> = tables.iter().map(|table| errors_over(table, &density)).collect();
    let density_u = (0..LEVELS).map(|code| (0..3).map(|k| weights[k] * errors[k][code]).sum()).collect();
    let heaviest = (0..3).max_by(|a, b| weights[*a].total_cmp(&weights[*b])).unwrap_or(1);
    let weighted = || (0..3).filter(|k| weights[*k] > 0.0).map(|k| tables[k]);
    let low = weighted().map(|table| table.trusted.0).fold(f64::NEG_INFINITY, f64::max);
    let high = weighted().map(|table| table.trusted.1).fold(f64::INFINITY, f64::min);
    let calibrated = weighted().all(|table| matches!(table.source, ToneSource::Calibration(_)));
    ToneTable {
        light: density.iter().map(|d| math::pow(10.0, -d)).collect(),
        density,
        density_u,
        errors: tables[heaviest].errors.clone(),
        trusted: (low, high),
        source: if calibrated {
            ToneSource::Calibration(name.to_owned())
        } else {
            tables[heaviest].source.clone()
        },
        flags: weighted().fold(crate::measured::Flags::empty(), |flags, table| flags | table.flags),
    }
}

/// The table's uncertainty at each of a falling row of densities.
fn errors_over(table: &ToneTable, densities: &[f64]) -> Vec<f64> {
    let rising = table.rises_with_light();
    let last = table.density.len() - 1;
    let mut at = if rising { 0 } else { last };
    let mut errors = Vec::with_capacity(densities.len());
    for density in densities {
        // From dark to light, as the densities go.
        while table.density[at] > *density && at != if rising { last } else { 0 } {
            at = if rising { at + 1 } else { at - 1 };
        }
        errors.push(table.density_u[at]);
    }
    errors
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::Channel;

    /// Analytic: light 0.2, 0.1, 0.05 by weights of 1, 2, 1 is 0.1125.
    #[test]
    fn light_is_mixed_and_not_codes() {
        let code = |light: f64| (light.sqrt() * 65_535.0).round() as u16;
        let meta = ScanMeta { square_root: true, ..ScanMeta::default() };
        let samples = Samples::U16([0.2, 0.1, 0.05].repeat(4).into_iter().map(code).collect());
        let scan = Scan { width: 2, height: 2, channels: 3, samples, meta };
        let table = ToneTable::uncalibrated(&scan);
        let weights = Channel::Mix { red: 1, green: 2, blue: 1 }.weights().unwrap();
        let mix = mixed(&scan, [&table; 3], weights, &|| false).unwrap();
        let read = mixed_table([&table; 3], weights, "mix");
        let code = mix.plane(Channel::Green).code(1, 1).unwrap();
        let found = read.density[usize::from(code)];
        assert!((found + math::log10(0.1125)).abs() < 1e-4, "{found}");
        assert!((ToneTable::uncalibrated(&mix).density[usize::from(code)] - found).abs() < 1e-4);
    }
}
