//! Noise power spectra and autocorrelations of films over each other.

use super::axis::value_axis;
use super::{Axis, Layer, Plot, Role};
use crate::compare::format;
use crate::document::Viewing;
use crate::grain::spectrum::{RadialBin, Spectrum};
use crate::grain::viewer::{Csf, Eye, cycles_per_degree, luminance};
use crate::measured::Value;
use crate::numeric::math;

/// One film's spectrum on a plot.
#[derive(Debug, Clone, Copy)]
pub struct SpectrumOf<'a> {
    /// Which marks it has.
    pub role: Role,
    /// The label at its line.
    pub label: &'a str,
    /// What is drawn.
    pub spectrum: &'a Spectrum,
}

/// lg of the spectra over frequency, with the bands of their rings, the values at zero, and the frequency to which the eye is
/// most sensitive in that print.
#[must_use]
pub fn spectrum_plot(films: &[SpectrumOf<'_>], viewing: &Viewing) -> Plot {
    let highest = films.iter().map(|film| film.spectrum.highest()).fold(0.0, f64::max);
    let mut layers = Vec::new();
    // The eye is drawn first: it lies behind.
    let (peak, _) = Csf::Barten(Eye::at(luminance(viewing.print_density))).peak();
    let scale = cycles_per_degree(1.0, viewing.enlargement, viewing.distance_mm);
    if scale > 0.0 && peak / scale < highest {
        let text = format!(
            "seen best at {} × from {} cm",
            format::number(viewing.enlargement, 1).trim_end_matches(".0"),
            format::number(viewing.distance_mm / 10.0, 0)
        );
        layers.push(Layer::Upright { role: Role::Guide, x: peak / scale, text });
    }
    for film in films {
        let band: Vec<[f64; 3]> = rings(film).filter_map(|bin| lg_band(&bin)).collect();
        if band.len() > 1 {
            layers.push(Layer::Band { role: film.role, points: band });
        }
    }
    for film in films {
        let points: Vec<[f64; 2]> =
            rings(film).filter_map(|bin| Some([bin.frequency, lg(bin.power.value)?])).collect();
        layers.push(Layer::Line { role: film.role, name: film.label.to_owned(), points });
        if let Some(zero) = lg(film.spectrum.zero.value) {
            layers.push(Layer::Marks {
                role: film.role,
                name: format!("{}, extrapolated to zero", film.label),
                points: vec![[0.0, zero]],
                set_aside: false,
                strip: 0,
            });
        }
    }
    let mut y = value_axis("lg NPS, D² µm²".to_owned(), &layers, 0.5);
    // Room for what stands at the upright line.
    y.range.1 += 0.5;
    Plot {
        title: "Noise power spectrum".to_owned(),
        x: from_zero("Frequency on the film, cycles/mm", highest, [60.0, 150.0]),
        y,
        x_per_y: None,
        layers,
    }
}

fn rings<'a>(film: &SpectrumOf<'a>) -> impl Iterator<Item = RadialBin> + use<'a> {
    film.spectrum.radial.iter().copied()
}

fn lg(power: f64) -> Option<f64> {
    (power > 0.0).then(|| math::log10(power))
}

/// The band of a ring; no deeper than a tenth of its value, where noise that was taken off leaves next to nothing.
fn lg_band(bin: &RadialBin) -> Option<[f64; 3]> {
    let value = bin.power.value;
    Some([bin.frequency, lg(bin.power.low.max(value / 10.0))?, lg(bin.power.high)?])
}

/// Correlation over distance, with 1/e.
#[must_use]
pub fn autocorrelation_plot(films: &[SpectrumOf<'_>]) -> Plot {
    let length = |film: &SpectrumOf<'_>| match &film.spectrum.autocorrelation.length {
        Value::Known(length) => length.value,
        Value::Undefined(_) => 0.0,
    };
    let pitch = films.iter().map(|film| film.spectrum.pitch.0).fold(0.0, f64::max);
    let reach = films.iter().map(length).fold(0.0, f64::max).max(2.0 * pitch) * 4.0;
    let mut layers = vec![Layer::Level { role: Role::Guide, y: math::exp(-1.0), text: "1/e".to_owned() }];
    for film in films {
        let lags = || film.spectrum.autocorrelation.lags.iter().filter(|lag| lag.distance <= reach);
        let band: Vec<[f64; 3]> =
            lags().map(|lag| [lag.distance, lag.value - 1.96 * lag.u, lag.value + 1.96 * lag.u]).collect();
        if band.len() > 1 {
            layers.push(Layer::Band { role: film.role, points: band });
        }
        let points: Vec<[f64; 2]> = lags().map(|lag| [lag.distance, lag.value]).collect();
        layers.push(Layer::Line { role: film.role, name: film.label.to_owned(), points: points.clone() });
        layers.push(Layer::Marks {
            role: film.role,
            name: film.label.to_owned(),
            points,
            set_aside: false,
            strip: 0,
        });
    }
    Plot {
        title: "Autocorrelation".to_owned(),
        x: from_zero("Distance on the film, µm", reach, [40.0, 100.0]),
        y: Axis { label: "Autocorrelation".to_owned(), range: (-0.1, 1.05), major: 0.2, minor: 0.1 },
        x_per_y: None,
        layers,
    }
}

/// An axis from a little below zero, where something stands, to an end; its lines are 10, 20 and, beyond the last of two ends, 50
/// apart.
fn from_zero(label: &str, end: f64, ends: [f64; 2]) -> Axis {
    let major = [10.0, 20.0, 50.0][ends.iter().filter(|long| end > **long).count()];
    let range = if end > 0.0 { (-0.02 * end, end) } else { (0.0, 1.0) };
    Axis { label: label.to_owned(), range, major, minor: major / 5.0 }
}
