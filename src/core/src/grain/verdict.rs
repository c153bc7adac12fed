//! What must be known about a measured granularity: flags, and notes in words.

use super::Granularity;
use super::correlation::Extent;
use super::math;
use super::preview::Preview;
use crate::measured::Flags;
use crate::scan::ToneTable;

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
        notes.push(format!(
            "{:.1} % of the pixels have the lowest or highest code of the scan, so the fluctuation may be cut off.",
            100.0 * first.clipped
        ));
    }
    let (low, high) = first.densities;
    if low < table.trusted.0 || high > table.trusted.1 {
        flags |= Flags::OUTSIDE_CALIBRATION;
        notes.push(format!(
            "The area reaches from density {low:.2} to {high:.2}; the calibration may be trusted from {:.2} to {:.2}.",
            table.trusted.0, table.trusted.1
        ));
    }
    if found.left_out > 0.0 {
        flags |= Flags::DEFECTS_LEFT_OUT;
        notes.push(format!(
            "{:.2} % of the area was left out as dust or scratches, with what an aperture there would touch.",
            100.0 * found.left_out
        ));
    }
    uneven(found, extent, &mut flags, &mut notes);
    coarse(diameter, &mut notes);
    pixels(found, &mut flags, &mut notes);
    if found.rms.value <= 0.0 {
        notes.push("The area does not fluctuate at all: it is no scan of film.".to_owned());
    }
    found.rms = found.rms.flagged(flags);
    found.mean_density = found.mean_density.flagged(flags & !(Flags::FEW_SAMPLES | Flags::UNEVEN));
    found.notes = notes;
}

fn few(found: &Granularity, flags: &mut Flags, notes: &mut Vec<String>) {
    if found.independent_apertures >= APERTURES_FOR_10_PERCENT {
        return;
    }
    *flags |= Flags::FEW_SAMPLES;
    let larger = math::sqrt(APERTURES_FOR_5_PERCENT / found.independent_apertures);
    let side = |pixels: f64| 10.0 * (pixels * larger / 10.0).ceil();
    let (width, height) = (side(found.area.width()), side(found.area.height()));
    let millimetres = found.pitch.0 / 1000.0;
    notes.push(format!(
        "The area is worth only {:.0} independent apertures. For an interval of ±5 % mark about {width:.0} x {height:.0} \
         pixels ({:.1} x {:.1} mm).",
        found.independent_apertures,
        width * millimetres,
        height * millimetres
    ));
}

fn uneven(found: &Granularity, extent: &Extent, flags: &mut Flags, notes: &mut Vec<String>) {
    if found.shading > 0.25 {
        *flags |= Flags::UNEVEN;
        notes.push(format!(
            "Density changes by {:.2} across the area, and granularity with it. Mark a more even area.",
            found.shading
        ));
    }
    // A tenth of the variance is 5 % of the granularity: beyond it the number is not grain alone.
    if let Some(share) = extent.large_scale.filter(|share| *share > 0.1) {
        *flags |= Flags::UNEVEN;
        notes.push(format!(
            "{:.0} % of the variance is in structures larger than eight apertures: this looks like a picture or a stain \
             and not like a uniform area. Mark an evenly exposed area.",
            100.0 * share.min(1.0)
        ));
    }
    if found.left_out > 0.2 {
        *flags |= Flags::UNEVEN;
        notes.push("So much was left out that this is hardly a uniform area.".to_owned());
    }
}

fn coarse(diameter: f64, notes: &mut Vec<String>) {
    if diameter >= 4.0 {
        return;
    }
    notes.push(format!(
        "The aperture is only {diameter:.1} pixels wide: a round one can hardly be made of so few, and grain that hangs \
         together over a pixel reads wrong by up to {} %. Scan at a higher resolution.",
        if diameter < 3.0 { "5" } else { "2" }
    ));
}

/// What the pixels tell of the scan.
fn pixels(found: &Granularity, flags: &mut Flags, notes: &mut Vec<String>) {
    let Some(texture) = &found.texture else { return };
    if texture.sharpened {
        *flags |= Flags::ALTERED_SCAN;
        notes.push(format!(
            "Neighbouring pixels differ more than independent ones would (correlation {:.2} at most): the scan was sharpened, and \
             granularity with it. Scan again with sharpening off.",
            texture.correlation.iter().copied().fold(f64::INFINITY, f64::min)
        ));
    }
}
