//! All edges of a film together.

use serde::Serialize;

use super::{EdgeMeasure, MtfPoint};
use crate::measured::{Flags, Measured, Value, Z95};
use crate::numeric::{math, quantiles};
use crate::words::Sentence;

/// One of a film's edges: measured, or why not.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub enum EdgeOutcome {
    /// The edge was measured.
    Measured(Box<EdgeMeasure>),
    /// It cannot be, and why.
    Refused(Sentence),
}

impl EdgeOutcome {
    /// The measurement, where there is one.
    #[must_use]
    pub fn measured(&self) -> Option<&EdgeMeasure> {
        match self {
            Self::Measured(edge) => Some(edge),
            Self::Refused(_) => None,
        }
    }
}

/// A film's sharpness from all its edges.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sharpness {
    /// Its edges, in the order of the document.
    pub edges: Vec<EdgeOutcome>,
    /// Frequency at which the modulation has come down to 50 %, cycles per millimetre.
    pub mtf50: Value,
    /// The same for 10 %.
    pub mtf10: Value,
    /// Distance from 10 to 90 % of the edge, micrometres.
    pub width: Value,
    /// The transfer function.
    pub mtf: Vec<MtfPoint>,
    /// The edge whose 50 % is known best, by its number: the one whose spread and overshoot are shown.
    pub surest: usize,
    /// How far the edges' 50 % scatter: their standard deviation over their mean, of two or more.
    pub scatter: Option<f64>,
}

impl Sharpness {
    /// The edge whose 50 % is known best.
    #[must_use]
    pub fn surest(&self) -> Option<&EdgeMeasure> {
        self.edges.get(self.surest)?.measured()
    }
}

/// Averages a film's edges, each weighted by how sure it is; where they scatter by more than that, the interval is of their scatter.
/// `None` where none could be measured.
#[must_use]
pub fn average(edges: Vec<EdgeOutcome>) -> Option<Sharpness> {
    let measured: Vec<&EdgeMeasure> = edges.iter().filter_map(EdgeOutcome::measured).collect();
    let sureness = |edge: &EdgeOutcome| edge.measured().map_or(f64::INFINITY, |edge| relative(&edge.mtf50));
    let number = (0..edges.len())
        .filter(|k| edges[*k].measured().is_some())
        .min_by(|a, b| sureness(&edges[*a]).total_cmp(&sureness(&edges[*b])))?;
    let surest = edges[number].measured()?;
    let of = |pick: fn(&EdgeMeasure) -> &Value| {
        let known: Vec<Measured> = measured.iter().filter_map(|edge| pick(edge).known()).copied().collect();
        weighted(&known).map_or_else(|| pick(surest).clone(), Value::Known)
    };
    let known: Vec<f64> = measured.iter().filter_map(|edge| Some(edge.mtf50.known()?.value)).collect();
    let scatter = crate::numeric::robust::standard_deviation(&known)
        .and_then(|deviation| Some(deviation / crate::numeric::robust::mean(&known)?));
    let found = Sharpness {
        mtf50: of(|edge| &edge.mtf50),
        mtf10: of(|edge| &edge.mtf10),
        width: of(|edge| &edge.width),
        mtf: curve(&measured),
        surest: number,
        scatter,
        edges: Vec::new(),
    };
    Some(Sharpness { edges, ..found })
}

/// Length of the interval over the value.
fn relative(value: &Value) -> f64 {
    value.known().map_or(f64::INFINITY, |measured| (measured.high - measured.low) / measured.value)
}

/// Mean weighted by the relative variance. One that is only a lower bound counts where there is no other.
fn weighted(all: &[Measured]) -> Option<Measured> {
    let sure: Vec<&Measured> = all.iter().filter(|one| !one.flags.contains(Flags::LOWER_BOUND)).collect();
    if sure.is_empty() {
        return all.first().copied();
    }
    if let [one] = sure[..] {
        return Some(*one);
    }
    // By their logarithm, in which intervals of frequencies are nearly alike on both sides.
    let each = sure.iter().map(|one| {
        let half = math::ln(one.high / one.low.max(1e-9)) / (2.0 * Z95);
        (math::ln(one.value), 1.0 / (half * half).max(1e-12))
    });
    let each: Vec<(f64, f64)> = each.collect();
    let total: f64 = each.iter().map(|(_, w)| w).sum();
    let mean = each.iter().map(|(value, w)| value * w).sum::<f64>() / total;
    let free = each.len() as f64 - 1.0;
    let chi: f64 = each.iter().map(|(value, w)| w * (value - mean) * (value - mean)).sum();
    let own = 1.0 / math::sqrt(total);
    // R. T. Birge, Phys. Rev. 40 (1932): errors scaled where the values contradict them.
    let contradicted = chi > quantiles::chi_square(0.95, free);
    let half = if contradicted {
        own * math::sqrt(chi / free) * quantiles::student_t(0.975, free)
    } else {
        own * Z95
    };
    let value = math::exp(mean);
    let flags = sure.iter().fold(Flags::empty(), |flags, one| flags | one.flags);
    let (low, high) = (value * math::exp(-half), value * math::exp(half));
    Some(Measured::with_interval(value, (high - low) / (2.0 * Z95), low, high).flagged(flags))
}

/// The curves' mean, frequency by frequency of the first, as far as all reach.
fn curve(measured: &[&EdgeMeasure]) -> Vec<MtfPoint> {
    let [first, others @ ..] = measured else { return Vec::new() };
    if others.is_empty() {
        return first.mtf.clone();
    }
    let at = |edge: &EdgeMeasure, f: f64| -> Option<MtfPoint> {
        let above = edge.mtf.partition_point(|point| point.frequency < f);
        let (a, b) = if above == 0 {
            (edge.mtf.first()?, edge.mtf.first()?)
        } else {
            (&edge.mtf[above - 1], edge.mtf.get(above)?)
        };
        let share =
            if b.frequency > a.frequency { (f - a.frequency) / (b.frequency - a.frequency) } else { 0.0 };
        let between = |of: fn(&MtfPoint) -> f64| of(a) + share * (of(b) - of(a));
        Some(MtfPoint {
            frequency: f,
            value: between(|p| p.value),
            low: between(|p| p.low),
            high: between(|p| p.high),
        })
    };
    let mean = |f: f64| -> Option<MtfPoint> {
        let here: Option<Vec<MtfPoint>> = measured.iter().map(|edge| at(edge, f)).collect();
        let here = here?;
        let weight = |p: &MtfPoint| 1.0 / ((p.high - p.low) / (2.0 * Z95)).powi(2).max(1e-10);
        let total: f64 = here.iter().map(weight).sum();
        let value = here.iter().map(|p| weight(p) * p.value).sum::<f64>() / total;
        let chi: f64 = here.iter().map(|p| weight(p) * (p.value - value).powi(2)).sum();
        let half = Z95 / math::sqrt(total) * math::sqrt((chi / (here.len() as f64 - 1.0)).max(1.0));
        Some(MtfPoint { frequency: f, value, low: (value - half).max(0.0), high: value + half })
    };
    first.mtf.iter().map_while(|point| mean(point.frequency)).collect()
}
