//! Coherence of two prints and signal-to-grain of both films over spatial frequency.

use super::{Axis, Layer, Plot, Role};
use crate::compare::format;
use crate::detail::{Detail, FrequencyRow};
use crate::measured::{Flags, Value};
use crate::numeric::math;

/// lg of the ratios that are drawn; what lies outside runs along the edge.
const RATIOS: (f64, f64) = (-1.5, 3.0);

fn frequency_axis(detail: &Detail) -> Axis {
    let last = detail.rows.last().map_or(1.0, |row| row.frequency);
    let steps = [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0];
    let major = steps.into_iter().find(|step| last / step <= 10.0).unwrap_or(100.0);
    Axis {
        label: format!("Spatial frequency {}, cycles/mm", detail.place_words()),
        range: (0.0, (last / major).ceil() * major),
        major,
        minor: major / 5.0,
    }
}

/// Coherence with its interval, the level that chance reaches, and where the prints cease to agree.
#[must_use]
pub fn coherence_plot(detail: &Detail) -> Plot {
    let of = |value: fn(&FrequencyRow) -> f64| -> Vec<[f64; 2]> {
        detail.rows.iter().map(|row| [row.frequency, value(row)]).collect()
    };
    let band = detail.rows.iter().map(|row| [row.frequency, row.coherence.low, row.coherence.high]).collect();
    let mut layers = vec![
        Layer::Band { role: Role::Reference, points: band },
        Layer::Line {
            role: Role::Guide,
            name: "what chance reaches in one case of twenty".to_owned(),
            points: of(|row| row.zero_level),
        },
        Layer::Line {
            role: Role::Reference,
            name: "coherence".to_owned(),
            points: of(|row| row.coherence.value),
        },
    ];
    if let Value::Known(limit) = &detail.agreement
        && !limit.flags.contains(Flags::LOWER_BOUND)
    {
        layers.push(Layer::Upright {
            role: Role::Guide,
            x: limit.value,
            text: format!("0.25 at {}", format::measured(limit, 1)),
        });
    }
    Plot {
        title: "Coherence of the prints over spatial frequency".to_owned(),
        x: frequency_axis(detail),
        y: Axis { label: "Coherence".to_owned(), range: (0.0, 1.0), major: 0.2, minor: 0.05 },
        x_per_y: None,
        layers,
    }
}

/// Signal-to-grain of both films with their intervals and where each comes down to 1. Where only bounds are known, none of
/// either film is drawn.
#[must_use]
pub fn signal_to_grain_plot(detail: &Detail, labels: [&str; 2]) -> Plot {
    let lg = |ratio: f64| math::log10(ratio.max(1e-9)).clamp(RATIOS.0, RATIOS.1);
    let roles = [Role::Reference, Role::Candidate];
    let known = |film: usize| {
        detail.rows.iter().filter_map(move |row| {
            let ratio =
                row.signal_to_grain[film].filter(|ratio| !ratio.flags.contains(Flags::LOWER_BOUND))?;
            Some((row.frequency, ratio))
        })
    };
    let mut layers = Vec::new();
    for (film, role) in roles.into_iter().enumerate() {
        let points: Vec<[f64; 3]> =
            known(film).map(|(f, ratio)| [f, lg(ratio.low), lg(ratio.high)]).collect();
        if !points.is_empty() {
            layers.push(Layer::Band { role, points });
        }
    }
    layers.push(Layer::Level { role: Role::Guide, y: 0.0, text: "as much grain as detail".to_owned() });
    for (film, role) in roles.into_iter().enumerate() {
        let points: Vec<[f64; 2]> = known(film).map(|(f, ratio)| [f, lg(ratio.value)]).collect();
        if !points.is_empty() {
            layers.push(Layer::Line { role, name: labels[film].to_owned(), points });
        }
        if let Value::Known(limit) = &detail.limits[film]
            && !limit.flags.contains(Flags::LOWER_BOUND)
        {
            layers.push(Layer::Note { role, at: [limit.value, 0.0], text: format::measured(limit, 1) });
        }
    }
    Plot {
        title: "Signal-to-grain over spatial frequency".to_owned(),
        x: frequency_axis(detail),
        y: Axis { label: "lg signal-to-grain".to_owned(), range: RATIOS, major: 0.5, minor: 0.1 },
        x_per_y: None,
        layers,
    }
}
