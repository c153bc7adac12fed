//! What must be known about a measured granularity: flags, and notes in words.

use super::Granularity;
use super::correlation::Extent;
use super::math;
use super::preview::Preview;
use crate::measured::Flags;
use crate::scan::ToneTable;
use crate::words::{self, Sentence};

/// Independent values for a 95 % interval of half-width 10 % and 5 % of a standard deviation (chi-square tables).
const APERTURES_FOR_10_PERCENT: f64 = 194.0;
const APERTURES_FOR_5_PERCENT: f64 = 770.0;

/// Side in pixels of a square that holds so many apertures side by side.
pub(super) fn side_for(apertures: f64, diameter: f64) -> usize {
    let disc = core::f64::consts::FRAC_PI_4 * diameter * diameter;
    let side = math::sqrt(apertures * disc).max(2.0 * diameter + 1.0);
    // Rounded up to tens, as one marks an area by hand.
    10 * (side / 10.0).ceil() as usize
}

/// Sets flags and writes notes.
pub(super) fn judge(
    found: &mut Granularity,
    diameter: f64,
    table: &ToneTable,
    first: &Preview,
    extent: &Extent,
) {
    let mut flags = table.flags;
    let mut notes = Vec::new();
    few(found, &mut flags, &mut notes);
    if first.clipped > 2e-3 {
        flags |= Flags::CLIPPED;
        notes.push(words::Grain::Clipped { percent: 100.0 * first.clipped }.into());
    }
    let (low, high) = first.densities;
    if low < table.trusted.0 || high > table.trusted.1 {
        flags |= Flags::OUTSIDE_CALIBRATION;
        notes.push(
            words::Grain::BeyondCalibration { low, high, from: table.trusted.0, to: table.trusted.1 }.into(),
        );
    }
    if found.left_out > 0.0 {
        flags |= Flags::DEFECTS_LEFT_OUT;
        notes.push(words::Grain::LeftOut { percent: 100.0 * found.left_out }.into());
    }
    uneven(found, extent, &mut flags, &mut notes);
    coarse(diameter, &mut notes);
    pixels(found, &mut flags, &mut notes);
    if found.rms.value <= 0.0 {
        notes.push(words::Grain::NotFilm.into());
    }
    found.rms = found.rms.flagged(flags);
    found.mean_density = found.mean_density.flagged(flags & !(Flags::FEW_SAMPLES | Flags::UNEVEN));
    found.notes = notes;
}

fn few(found: &Granularity, flags: &mut Flags, notes: &mut Vec<Sentence>) {
    if found.independent_apertures >= APERTURES_FOR_10_PERCENT {
        return;
    }
    *flags |= Flags::FEW_SAMPLES;
    let larger = math::sqrt(APERTURES_FOR_5_PERCENT / found.independent_apertures);
    let side = |pixels: f64| 10.0 * (pixels * larger / 10.0).ceil();
    let (width, height) = (side(found.area.width()), side(found.area.height()));
    let millimetres = found.pitch.0 / 1000.0;
    notes.push(
        words::Grain::FewApertures {
            apertures: found.independent_apertures,
            width,
            height,
            across: width * millimetres,
            down: height * millimetres,
        }
        .into(),
    );
}

fn uneven(found: &Granularity, extent: &Extent, flags: &mut Flags, notes: &mut Vec<Sentence>) {
    if found.shading > 0.25 {
        *flags |= Flags::UNEVEN;
        notes.push(words::Grain::Shaded { density: found.shading }.into());
    }
    // A tenth of the variance is 5 % of the granularity: beyond it the number is not grain alone.
    if let Some(share) = extent.large_scale.filter(|share| *share > 0.1) {
        *flags |= Flags::UNEVEN;
        notes.push(words::Grain::Picture { percent: 100.0 * share.min(1.0) }.into());
    }
    if found.left_out > 0.2 {
        *flags |= Flags::UNEVEN;
        notes.push(words::Grain::HardlyUniform.into());
    }
}

fn coarse(diameter: f64, notes: &mut Vec<Sentence>) {
    if diameter >= 4.0 {
        return;
    }
    let percent = if diameter < 3.0 { 5 } else { 2 };
    notes.push(words::Grain::CoarseAperture { diameter, percent }.into());
}

/// What the pixels tell of the scan.
fn pixels(found: &Granularity, flags: &mut Flags, notes: &mut Vec<Sentence>) {
    let Some(texture) = &found.texture else { return };
    if texture.sharpened {
        *flags |= Flags::ALTERED_SCAN;
        notes.push(
            words::Grain::Sharpened {
                correlation: texture.correlation.iter().copied().fold(f64::INFINITY, f64::min),
            }
            .into(),
        );
    }
}
