//! The light that strays over a scan, from how the dark steps of a tablet lift.
//!
//! A wedge alone does not tell stray light from the scanner's own tone curve: any rising curve can be read either way. With a
//! tone curve of a known form it can: here codes go with a power of light, `code = dark + k (T + veil)^p`, as scanners
//! write them. Where the steps do not follow that form, or do not reach dark enough, nothing is claimed.

use serde::Serialize;

use super::CalibrationPoint;
use crate::numeric::{math, quantiles};
use crate::words::NoFlare;

/// Root mean square in density beyond which the steps do not follow a power of light.
const MISFIT: f64 = 0.02;
/// Least relative error of a code: scanners are no more even than that.
const LEAST_U: f64 = 0.002;
/// Fewer steps tell nothing.
const LEAST_STEPS: usize = 8;
/// Veils that are tried: none, then from a millionth to a tenth of full light.
const VEILS: usize = 151;
/// Dark codes that are tried, from zero to just below the darkest step's.
const DARKS: usize = 96;

/// What the steps say of stray light.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Flare {
    /// Stray light over the tablet, as a share of full light: best value.
    pub veil: f64,
    /// Its 95 % interval.
    pub interval: (f64, f64),
    /// Whether the steps tell it from none.
    pub separated: bool,
    /// Code without light that goes with it.
    pub dark: f64,
    /// Power that goes with it.
    pub power: f64,
    /// Root mean square of what remains, in density.
    pub rms: f64,
}

impl Flare {
    /// Its standard uncertainty.
    #[must_use]
    pub fn u(&self) -> f64 {
        (self.interval.1 - self.interval.0) / 3.92
    }
}

struct Attempt {
    chi: f64,
    dark: f64,
    power: f64,
    rms: f64,
}

/// Estimates the veil from steps that are in order and not clipped.
///
/// # Errors
/// Why the steps do not tell.
pub fn estimate(points: &[CalibrationPoint]) -> Result<Flare, NoFlare> {
    let mut steps: Vec<&CalibrationPoint> =
        points.iter().filter(|p| p.code > 0.0 && p.density.is_finite()).collect();
    if steps.len() < LEAST_STEPS {
        return Err(NoFlare::FewSteps { steps: steps.len() });
    }
    steps.sort_by(|a, b| a.density.total_cmp(&b.density));
    if steps[0].code < steps[steps.len() - 1].code {
        return Err(NoFlare::Negative);
    }
    let veil = |k: usize| {
        if k == 0 { 0.0 } else { math::pow(10.0, -6.0 + 5.0 * (k - 1) as f64 / (VEILS - 2) as f64) }
    };
    let tried: Vec<(f64, Attempt)> =
        (0..VEILS).filter_map(|k| Some((veil(k), best_dark(&steps, veil(k))?))).collect();
    let (best, attempt) =
        tried.iter().min_by(|a, b| a.1.chi.total_cmp(&b.1.chi)).ok_or(NoFlare::OutOfOrder)?;
    if attempt.rms > MISFIT {
        return Err(NoFlare::NoPowerOfLight { rms: attempt.rms });
    }
    let freedom = (steps.len() - 4) as f64;
    let scale = (attempt.chi / freedom).max(1.0);
    let reach = attempt.chi + scale * math::pow(quantiles::student_t(0.975, freedom), 2.0);
    let within: Vec<f64> = tried.iter().filter(|(_, a)| a.chi <= reach).map(|(veil, _)| *veil).collect();
    let interval = within.iter().fold((f64::INFINITY, 0.0_f64), |(low, high), v| (low.min(*v), high.max(*v)));
    Ok(Flare {
        veil: *best,
        interval,
        separated: interval.0 > 0.2 * best,
        dark: attempt.dark,
        power: attempt.power,
        rms: attempt.rms,
    })
}

/// For one veil the dark code that fits best.
fn best_dark(steps: &[&CalibrationPoint], veil: f64) -> Option<Attempt> {
    let least = steps.iter().map(|p| p.code).fold(f64::INFINITY, f64::min);
    let dark = |k: usize| {
        let share = k as f64 / DARKS as f64;
        0.98 * least * (2.0 - share) * share
    };
    let tried = (0..DARKS).filter_map(|k| line(steps, veil, dark(k)));
    tried.min_by(|a, b| a.chi.total_cmp(&b.chi))
}

/// The straight line of ln(code - dark) over ln(T + veil).
fn line(steps: &[&CalibrationPoint], veil: f64, dark: f64) -> Option<Attempt> {
    // The weight of a density's error needs the power: half is near enough for a first one.
    let mut power = 0.5;
    let mut found = None;
    for _ in 0..2 {
        let (mut sums, mut rows) = ([0.0_f64; 5], Vec::with_capacity(steps.len()));
        for point in steps {
            let light = math::pow(10.0, -point.density);
            let (x, y) = (math::ln(light + veil), math::ln(point.code - dark));
            let of_code = point.code_u / (point.code - dark);
            let of_density = power * core::f64::consts::LN_10 * point.density_u * light / (light + veil);
            let sigma = math::hypot(math::hypot(of_code, LEAST_U), of_density);
            let w = 1.0 / (sigma * sigma);
            for (sum, term) in sums.iter_mut().zip([w, w * x, w * y, w * x * x, w * x * y]) {
                *sum += term;
            }
            rows.push((x, y, w));
        }
        let [n, sx, sy, sxx, sxy] = sums;
        let slope = (n * sxy - sx * sy) / (n * sxx - sx * sx);
        let start = (sy - slope * sx) / n;
        if !(slope.is_finite() && slope > 0.0) {
            return None;
        }
        let remains = |(x, y, _): &(f64, f64, f64)| y - start - slope * x;
        let chi: f64 = rows.iter().map(|row| row.2 * remains(row) * remains(row)).sum();
        let squares: f64 = rows.iter().map(|row| remains(row) * remains(row)).sum();
        let rms = math::sqrt(squares / rows.len() as f64) * core::f64::consts::LOG10_E / slope;
        power = slope;
        found = Some(Attempt { chi, dark, power: slope, rms });
    }
    found
}
