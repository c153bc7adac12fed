//! What must be known about a measured spectrum: flags, and notes in words.

use super::area::Ground;
use super::lowest::Uneven;
use super::{Lag, Spectrum};
use crate::grain::blur::TROUGH;
use crate::measured::Flags;
use crate::scan::ToneTable;

/// Relative uncertainty of the value at zero beyond which the area is called small.
const UNCERTAIN: f64 = 0.1;

/// Lags in pixels at which sharpening digs its trough.
const NEAR: usize = 6;

/// Sets flags and writes notes.
pub(super) fn judge(found: &mut Spectrum, ground: &Ground, table: &ToneTable, uneven: Option<Uneven>) {
    let mut flags = table.flags;
    let mut notes = Vec::new();
    if found.zero.value <= 0.0 {
        notes.push("The area does not fluctuate: it is no scan of film.".to_owned());
    } else if found.zero.u > UNCERTAIN * found.zero.value && !found.quick {
        flags |= Flags::FEW_SAMPLES;
        let larger = found.zero.u / (UNCERTAIN * found.zero.value);
        let side = |pixels: f64| 10.0 * (pixels * larger / 10.0).ceil();
        notes.push(format!(
            "The area is small: the spectrum at low frequencies is known to ±{:.0} % only. Mark about {:.0} x {:.0} pixels \
             for ±20 %.",
            196.0 * found.zero.u / found.zero.value,
            side(found.area.width()),
            side(found.area.height())
        ));
    }
    if ground.first.clipped > 2e-3 {
        flags |= Flags::CLIPPED;
        notes.push(format!(
            "{:.1} % of the pixels have the lowest or highest code of the scan, so the fluctuation may be cut off.",
            100.0 * ground.first.clipped
        ));
    }
    let (low, high) = ground.first.densities;
    if low < table.trusted.0 || high > table.trusted.1 {
        flags |= Flags::OUTSIDE_CALIBRATION;
        notes.push(format!(
            "The area reaches from density {low:.2} to {high:.2}; the calibration may be trusted from {:.2} to {:.2}.",
            table.trusted.0, table.trusted.1
        ));
    }
    if found.blocks.left_out > 0 {
        flags |= Flags::DEFECTS_LEFT_OUT;
        notes.push(format!(
            "{} of {} blocks hold dust or scratches and were left out.",
            found.blocks.left_out,
            found.blocks.left_out + found.blocks.used
        ));
    }
    if let Some(uneven) = uneven {
        flags |= Flags::UNEVEN;
        notes.push(match uneven {
            Uneven::Rises(ratio) => format!(
                "At the lowest frequencies there is {ratio:.1} times the power that the rest of the spectrum leads to: a picture, \
                 a stain or uneven development, and not grain alone."
            ),
            Uneven::Coarse(frequency) => format!(
                "Power falls to a half below {frequency:.1} cycles/mm: what hangs together so far is a picture, a stain or a scan \
                 out of focus, and not grain."
            ),
        });
    }
    if let Some(lag) = trough(found) {
        flags |= Flags::ALTERED_SCAN;
        notes.push(format!(
            "Fluctuations {:.0} µm apart go against each other (correlation {:.2}), as no grain's do: the scan was sharpened, and \
             its spectrum with it. Scan again with sharpening off.",
            lag.distance, lag.value
        ));
    }
    scanner(found, &mut notes);
    direction(found, &mut notes);
    found.zero = found.zero.flagged(flags);
    found.mean_density = found.mean_density.flagged(flags & !(Flags::FEW_SAMPLES | Flags::UNEVEN));
    found.notes = notes;
}

/// The deepest correlation of near pixels, where it lies as far below zero as sharpening alone makes it.
fn trough(found: &Spectrum) -> Option<Lag> {
    let near = found.autocorrelation.lags.iter().take(NEAR + 1);
    let deepest = near.min_by(|a, b| a.value.total_cmp(&b.value))?;
    (deepest.value < TROUGH && deepest.value < -5.0 * deepest.u).then_some(*deepest)
}

fn scanner(found: &Spectrum, notes: &mut Vec<String>) {
    let noise = match &found.noise {
        Ok(noise) => noise,
        Err(why) => return notes.push(format!("The scanner's noise is still in it. {why}")),
    };
    let variance = noise.power / (found.pitch.0 * found.pitch.0);
    let share = 100.0 * variance / found.variance.0.max(f64::MIN_POSITIVE);
    let how = if noise.white { "the same at all frequencies" } else { "frequency by frequency" };
    notes.push(format!(
        "Noise of the scanner was taken off, {how}: {share:.0} % of the variance, from {}.",
        noise.by.words()
    ));
    if noise.limited {
        notes.push(
            "The calibration knows more noise than the weakest part of this spectrum holds; no more than that was taken."
                .to_owned(),
        );
    }
    if share > 50.0 {
        notes.push("More than half of the variance is the scanner's: the rest is known badly.".to_owned());
    }
}

fn direction(found: &Spectrum, notes: &mut Vec<String>) {
    for line in &found.direction.lines {
        notes.push(format!(
            "Lines {:.3} mm apart ({:.2} cycles/mm) that {}, standard deviation {:.4} density, {:.1} % of the variance: not \
             grain, and left out of the radial spectrum.",
            1.0 / line.frequency,
            line.frequency,
            lie(line.degrees),
            line.rms,
            100.0 * line.share
        ));
    }
    for streak in &found.direction.streaks {
        notes.push(format!(
            "Streaks {}, {:.1} % of the variance: lines of the scanner differ in level. They were left out of the radial \
             spectrum.",
            if streak.upright { "down the columns" } else { "along the rows" },
            100.0 * streak.share
        ));
    }
    if found.direction.directed {
        notes.push(format!(
            "Power differs between directions by ±{:.0} %, most at {:.0}° from the rows: a scanner that blurs more one way, or \
             marks of development.",
            100.0 * found.direction.anisotropy.value,
            found.direction.towards
        ));
    }
}

/// How the lines of a pattern lie that repeats in this direction.
fn lie(degrees: f64) -> String {
    let across = |to: f64| (degrees - to).abs() < 3.0;
    if across(0.0) || across(180.0) {
        "stand upright".to_owned()
    } else if across(90.0) {
        "lie along the rows".to_owned()
    } else {
        format!("lie at {:.0}° to the rows", (degrees + 90.0).rem_euclid(180.0))
    }
}
