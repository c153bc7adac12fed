//! Noise power spectra and grain as it is seen, as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::grain::spectrum::{Lag, Line, RadialBin, Sector, Spectrum, Streaks};
use twinwedge_core::grain::viewer::{Seen, Viewed};
use twinwedge_core::measured::Measured;
use twinwedge_core::units::Micrometres;

use super::written::{DENSITY, GRANULARITY, RATIO, area_json, measured_json, missing, value_json};

/// Unit of a noise power spectrum.
pub(super) const UNIT: &str = "D² µm²";

/// A noise power spectrum as JSON: rings of frequencies, its value at zero, autocorrelation, direction, notes.
#[must_use]
pub fn spectrum_json(found: &Spectrum) -> Json {
    let ring = |bin: &RadialBin| {
        json!({
            "cycles_per_mm": bin.frequency,
            "nps": bin.power.value,
            "u": bin.power.u,
            "low": bin.power.low,
            "high": bin.power.high,
            "pixel_transfer": bin.pixel,
        })
    };
    json!({
        "at_zero": measured_json(&found.zero, UNIT),
        "granularity_48_um": measured_json(&found.rms_through(Micrometres(48.0)), GRANULARITY),
        "density": measured_json(&found.mean_density.plain(), DENSITY),
        "density_variance": found.variance.0,
        "density_variance_over_frequencies": found.variance.1,
        "correlation_length": value_json(&found.autocorrelation.length, "µm"),
        "anisotropy": {
            "amplitude": measured_json(&found.direction.anisotropy, RATIO),
            "angle_degrees": found.direction.towards,
            "beyond_chance": found.direction.directed,
        },
        "lines": found.direction.lines.iter().map(line).collect::<Vec<_>>(),
        "streaks": found.direction.streaks.iter().map(streaks).collect::<Vec<_>>(),
        "sectors": found.direction.sectors.iter().map(sector).collect::<Vec<_>>(),
        "scanner_noise": match &found.noise {
            Ok(noise) => json!({
                "power": measured_json(&Measured::normal(noise.power, noise.u), UNIT),
                "from": noise.by.words(),
                "by": noise.by,
                "same_at_all_frequencies": noise.white,
                "no_more_than_the_weakest_part": noise.limited,
                "variance_ratio": noise.power / (found.pitch.0 * found.pitch.0 * found.variance.0),
            }),
            Err(why) => missing(&why.to_string()),
        },
        "window": "Hann, half overlapped",
        "blocks": {
            "side_px": found.blocks.side,
            "used_count": found.blocks.used,
            "left_out_count": found.blocks.left_out,
            "independent_blocks": found.blocks.effective,
        },
        "pitch_um": found.pitch.0,
        "area": area_json(&found.area),
        "quick": found.quick,
        "rings": found.radial.iter().map(ring).collect::<Vec<_>>(),
        "autocorrelation": found.autocorrelation.lags.iter().map(lag).collect::<Vec<_>>(),
        "notes": found.notes,
    })
}

fn line(line: &Line) -> Json {
    json!({
        "cycles_per_mm": line.frequency,
        "angle_degrees": line.degrees,
        "rms_density": line.rms,
        "variance_ratio": line.share,
        "power_over_that_around": line.over,
    })
}

fn streaks(streaks: &Streaks) -> Json {
    json!({
        "run": if streaks.upright { "down the columns" } else { "along the rows" },
        "power_over_that_around": streaks.over,
        "variance_ratio": streaks.share,
    })
}

fn sector(sector: &Sector) -> Json {
    json!({ "angle_degrees": sector.degrees, "power_ratio": sector.ratio, "u": sector.u })
}

fn lag(lag: &Lag) -> Json {
    json!({ "distance_um": lag.distance, "lag_correlation": lag.value, "u": lag.u })
}

/// Grain as it is seen in a print, as JSON.
#[must_use]
pub fn viewed_json(viewed: &Viewed) -> Json {
    let film = |seen: &Seen| {
        json!({
            "film": seen.label,
            "paper_gradient": seen.gradient,
            "paper_gradient_from": seen.source,
            "visible_granularity": measured_json(&seen.visible, GRANULARITY),
            "visible_granularity_mannos_sakrison": measured_json(&seen.second, GRANULARITY),
            "modulation_over_threshold": measured_json(&seen.modulation, RATIO),
            "strongest_cycles_per_degree": seen.strongest.0,
            "strongest_cycles_per_mm": seen.strongest.1,
            "seen": seen.seen(),
            "seen_from_enlargement": value_json(&seen.from, "times"),
            "film_density": seen.density,
            "notes": seen.notes,
        })
    };
    json!({
        "enlargement": viewed.viewing.enlargement,
        "distance_mm": viewed.viewing.distance_mm,
        "print_density": viewed.viewing.print_density,
        "luminance_cd_m2": viewed.luminance,
        "reference": film(&viewed.reference),
        "candidate": viewed.candidate.as_ref().map(film),
        "ratio": viewed.ratio.as_ref().map(|ratio| measured_json(ratio, RATIO)),
        "difference_seen": viewed.difference_seen,
        "difference_seen_from_enlargement": viewed.difference.as_ref().map(|from| value_json(from, "times")),
        "assumptions": viewed.assumptions,
    })
}
