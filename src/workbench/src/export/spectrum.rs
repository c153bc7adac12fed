//! Noise power spectra and grain as it is seen, as JSON.

use serde_json::{Value as Json, json};
use twinwedge_core::grain::spectrum::{RadialBin, Spectrum};
use twinwedge_core::grain::viewer::{Seen, Viewed};
use twinwedge_core::units::Micrometres;

use super::tables::{measured_json, value_json};

/// Unit of a noise power spectrum.
pub(super) const UNIT: &str = "D² µm²";

/// A noise power spectrum as JSON: rings of frequencies, its value at zero, autocorrelation, direction, notes.
#[must_use]
pub fn spectrum_json(found: &Spectrum) -> Json {
    let (min, max) = (found.area.min, found.area.max);
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
        "granularity_48_um": measured_json(&found.rms_through(Micrometres(48.0)), ""),
        "density": measured_json(&found.mean_density.plain(), ""),
        "variance": found.variance.0,
        "sum_over_frequencies": found.variance.1,
        "correlation_length": value_json(&found.autocorrelation.length, "µm"),
        "anisotropy": {
            "amplitude": measured_json(&found.direction.anisotropy, ""),
            "degrees": found.direction.towards,
            "beyond_chance": found.direction.directed,
        },
        "lines": found.direction.lines,
        "streaks": found.direction.streaks,
        "sectors": found.direction.sectors,
        "scanner_noise": match &found.noise {
            Ok(noise) => json!({
                "power": noise.power,
                "u": noise.u,
                "from": noise.by.words(),
                "by": noise.by,
                "same_at_all_frequencies": noise.white,
                "no_more_than_the_weakest_part": noise.limited,
                "share_of_variance": noise.power / (found.pitch.0 * found.pitch.0 * found.variance.0),
            }),
            Err(why) => json!({ "power": null, "reason": why }),
        },
        "window": "Hann, half overlapped",
        "blocks": found.blocks,
        "pitch_um": found.pitch.0,
        "area": [[min.x, min.y], [max.x, max.y]],
        "quick": found.quick,
        "rings": found.radial.iter().map(ring).collect::<Vec<_>>(),
        "autocorrelation": found.autocorrelation.lags,
        "notes": found.notes,
    })
}

/// Grain as it is seen in a print, as JSON.
#[must_use]
pub fn viewed_json(viewed: &Viewed) -> Json {
    let film = |seen: &Seen| {
        json!({
            "film": seen.label,
            "paper_gradient": seen.gradient,
            "paper_gradient_from": seen.source,
            "visible_granularity": measured_json(&seen.visible, ""),
            "visible_granularity_mannos_sakrison": measured_json(&seen.second, ""),
            "modulation_over_threshold": measured_json(&seen.modulation, ""),
            "strongest_cycles_per_degree": seen.strongest.0,
            "strongest_cycles_per_mm": seen.strongest.1,
            "seen": seen.seen(),
            "seen_from_enlargement": value_json(&seen.from, "x"),
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
        "ratio": viewed.ratio.as_ref().map(|ratio| measured_json(ratio, "")),
        "difference_seen": viewed.difference_seen,
        "difference_seen_from_enlargement": viewed.difference.as_ref().map(|from| value_json(from, "x")),
        "assumptions": viewed.assumptions,
    })
}
