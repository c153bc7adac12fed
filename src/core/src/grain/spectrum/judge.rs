//! What must be known about a measured spectrum: flags, and notes in words.

use super::area::Ground;
use super::lowest::Uneven;
use super::{Lag, Spectrum};
use crate::grain::blur::TROUGH;
use crate::measured::Flags;
use crate::scan::ToneTable;
use crate::words::{self, Sentence};

/// Relative uncertainty of the value at zero beyond which the area is called small.
const UNCERTAIN: f64 = 0.1;

/// Lags in pixels at which sharpening digs its trough.
const NEAR: usize = 6;

/// Sets flags and writes notes.
pub(super) fn judge(found: &mut Spectrum, ground: &Ground, table: &ToneTable, uneven: Option<Uneven>) {
    let mut flags = table.flags;
    let mut notes = Vec::new();
    if found.zero.value <= 0.0 {
        notes.push(words::Spectrum::NotFilm.into());
    } else if found.zero.u > UNCERTAIN * found.zero.value && !found.quick {
        flags |= Flags::FEW_SAMPLES;
        let larger = found.zero.u / (UNCERTAIN * found.zero.value);
        let side = |pixels: f64| 10.0 * (pixels * larger / 10.0).ceil();
        notes.push(
            words::Spectrum::SmallArea {
                percent: 196.0 * found.zero.u / found.zero.value,
                width: side(found.area.width()),
                height: side(found.area.height()),
            }
            .into(),
        );
    }
    if ground.first.clipped > 2e-3 {
        flags |= Flags::CLIPPED;
        notes.push(words::Grain::Clipped { percent: 100.0 * ground.first.clipped }.into());
    }
    let (low, high) = ground.first.densities;
    if low < table.trusted.0 || high > table.trusted.1 {
        flags |= Flags::OUTSIDE_CALIBRATION;
        notes.push(
            words::Grain::BeyondCalibration { low, high, from: table.trusted.0, to: table.trusted.1 }.into(),
        );
    }
    if found.blocks.left_out > 0 {
        flags |= Flags::DEFECTS_LEFT_OUT;
        notes.push(
            words::Spectrum::BlocksLeftOut {
                out: found.blocks.left_out,
                all: found.blocks.left_out + found.blocks.used,
            }
            .into(),
        );
    }
    if let Some(uneven) = uneven {
        flags |= Flags::UNEVEN;
        notes.push(match uneven {
            Uneven::Rises(ratio) => words::Spectrum::Rises { ratio }.into(),
            Uneven::Coarse(frequency) => words::Spectrum::Coarse { frequency }.into(),
        });
    }
    if let Some(lag) = trough(found) {
        flags |= Flags::ALTERED_SCAN;
        notes.push(words::Spectrum::Sharpened { distance: lag.distance, correlation: lag.value }.into());
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

fn scanner(found: &Spectrum, notes: &mut Vec<Sentence>) {
    let noise = match &found.noise {
        Ok(noise) => noise,
        Err(why) => return notes.push(words::Spectrum::NoiseStays { why: why.clone() }.into()),
    };
    let variance = noise.power / (found.pitch.0 * found.pitch.0);
    let share = 100.0 * variance / found.variance.0.max(f64::MIN_POSITIVE);
    let taken = words::Spectrum::NoiseTaken { white: noise.white, percent: share, by: noise.by.words() };
    notes.push(taken.into());
    if noise.limited {
        notes.push(words::Spectrum::NoiseLimited.into());
    }
    if share > 50.0 {
        notes.push(words::Spectrum::MostlyNoise.into());
    }
}

fn direction(found: &Spectrum, notes: &mut Vec<Sentence>) {
    for line in &found.direction.lines {
        notes.push(
            words::Spectrum::Lines {
                apart: 1.0 / line.frequency,
                frequency: line.frequency,
                lie: lie(line.degrees),
                rms: line.rms,
                percent: 100.0 * line.share,
            }
            .into(),
        );
    }
    for streak in &found.direction.streaks {
        let streaks = words::Spectrum::Streaks { upright: streak.upright, percent: 100.0 * streak.share };
        notes.push(streaks.into());
    }
    if found.direction.directed {
        notes.push(
            words::Spectrum::Directed {
                percent: 100.0 * found.direction.anisotropy.value,
                degrees: found.direction.towards,
            }
            .into(),
        );
    }
}

/// How the lines of a pattern lie that repeats in this direction.
fn lie(degrees: f64) -> Sentence {
    let across = |to: f64| (degrees - to).abs() < 3.0;
    let lie = if across(0.0) || across(180.0) {
        words::Spectrum::StandUpright
    } else if across(90.0) {
        words::Spectrum::LieAlongRows
    } else {
        words::Spectrum::LieAt { degrees: (degrees + 90.0).rem_euclid(180.0) }
    };
    lie.into()
}
