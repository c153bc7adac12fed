//! Which share of its exposure a film takes from blue, green and red light: estimated from how it renders patches of known
//! reflectance under a known light.
//!
//! *The model.* A patch of reflectance R exposes the film by the sum of R, the light and the film's sensitivity over all
//! wavelengths; its stops from the grey card are the ratio of two such sums. The sensitivity is straight between nodes 20 nm apart
//! and nowhere negative.
//!
//! *The estimate.* Weighted least squares with a penalty on the differences of neighbouring nodes, the last of which goes to
//! zero: A. N. Tikhonov and V. Y. Arsenin, "Solutions of Ill-Posed Problems" (1977); C. L. Lawson and R. J. Hanson, "Solving Least
//! Squares Problems" (1974) for the bound. How stiff it is follows from the stated errors by restricted likelihood, as for
//! curves; it is then taken at a quarter, because sensitivities end more abruptly than a random walk of the likeliest stiffness does.
//!
//! *Uncertainty.* Every draw supposes other errors of the readings, of the known reflectances (the same for all films of the
//! target), another stiffness, and another course between what the patches tell. Beside that stands for each band what *any*
//! sensitivity might have there that explains the readings, however rough: O'Leary and Rust, "Confidence intervals for
//! inequality-constrained least squares problems", SIAM J. Sci. Stat. Comput. 7 (1986) 473-489. Where the two ends lie far apart,
//! the patches do not tell, and no smoothness makes up for it. Classes are decided by the wider of both.

mod class;
mod solve;

pub use class::{Class, Classes, SENSITIVE, Verdict};

use rayon::prelude::*;
use serde::Serialize;

use super::holm;
use super::spectrum::{Carries, Spectrum};
use crate::curve::{ErrorKey, FitSettings};
use crate::measured::{Flags, Measured};
use crate::numeric::{math, robust};
use crate::units::Stops;
use solve::{Problem, Solved};

/// A patch as the film rendered it.
#[derive(Debug, Clone, Copy)]
pub struct Seen<'a> {
    /// Its number in the layout: the error of its known reflectance is the same for all films.
    pub patch: usize,
    /// Its known reflectance.
    pub reflectance: &'a Spectrum,
    /// Stops from the grey card.
    pub stops: f64,
    /// Standard uncertainty of that.
    pub u: f64,
    /// The stops in every draw; where empty, they are drawn from `u`.
    pub draws: &'a [f64],
}

/// What is asked.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// The light on the subject, through the lens and any filter.
    pub light: &'a Spectrum,
    /// Reflectance of the grey card.
    pub card: &'a Spectrum,
    /// The patches, neutrals left out: they tell nothing of colour.
    pub patches: &'a [Seen<'a>],
    /// Where bands meet, in nanometres, rising; the outermost bands reach to the ends of what is known.
    pub edges: &'a [f64],
    /// Standard uncertainty of a patch's known reflectance, in lg.
    pub reflectance_u: f64,
    /// The target, whose errors all films share.
    pub target: ErrorKey,
    /// The film, whose errors are its own.
    pub film: ErrorKey,
    /// Number of draws and their seed.
    pub settings: FitSettings,
}

/// Where blue, green and red meet.
pub const EDGES: [f64; 2] = [500.0, 600.0];

/// A band of wavelengths.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Band {
    /// Lower end in nanometres.
    pub from: f64,
    /// Upper end in nanometres.
    pub to: f64,
    /// Share of the exposure of a white that the film takes from it under this light, 0 to 1.
    pub share: Measured,
    /// Sensitivity to it, against a film that is equally sensitive to all: share over the light's own share.
    pub relative: Measured,
    /// Least and largest share that any sensitivity could have which explains the readings, however rough it is.
    pub possible: (f64, f64),
    /// The share in every draw.
    #[serde(skip)]
    pub draws: Vec<f64>,
}

/// Two bands of which only the sum is known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Traded {
    /// Numbers of the bands.
    pub bands: (usize, usize),
    /// Correlation of their shares over all draws.
    pub correlation: f64,
}

/// A film's sensitivity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sensitivity {
    /// Wavelengths of the nodes. Beyond the last it is taken as zero and below the first as nothing: no patch tells.
    pub nodes: Vec<f64>,
    /// Sensitivity at the nodes, 1 at the highest.
    pub values: Vec<f64>,
    /// The bands that were asked for.
    pub bands: Vec<Band>,
    /// What of a unit of exposure in one band (column) the estimate puts into each (row), without the bound at zero: the unit
    /// matrix where bands are told apart.
    pub resolution: Vec<Vec<f64>>,
    /// Bands that trade with each other.
    pub traded: Vec<Traded>,
    /// How many independent things about the sensitivity the readings tell, of as many as there are nodes.
    pub told: f64,
    /// By what stated errors were multiplied because no sensitivity explains the readings within them; 1 where one does.
    pub error_scale: f64,
    /// What kind of film it may be.
    pub classes: Classes,
    /// Sensitivity at the nodes in every draw, in one unit: a white's exposure is the same.
    #[serde(skip)]
    pub draws: Vec<Vec<f64>>,
}

/// Why there is no estimate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoSensitivity {
    /// Fewer patches than a band estimate needs: so many.
    TooFewPatches(usize),
    /// Light and patches have in common only these wavelengths: 420 to 660 nm must be there.
    Range(f64, f64),
    /// The bands' edges do not rise, or lie outside.
    Edges,
    /// A number is not finite, or no light falls on the subject.
    NotFinite,
}

/// Fewest coloured patches.
pub const FEWEST_PATCHES: usize = 6;
/// Share of what falls in a band that the estimate puts there, where it is told from others.
const TOLD: f64 = 0.7;
/// Bands trade where the correlation of their shares is below this.
const TRADED: f64 = -0.8;

/// The sensitivity that explains how a film rendered the patches.
///
/// # Errors
/// Why there is none.
pub fn sensitivity(asked: &Asked<'_>) -> Result<Sensitivity, NoSensitivity> {
    let problem = Problem::new(asked)?;
    let last = problem.nodes[problem.nodes.len() - 1];
    let rising = asked.edges.windows(2).all(|pair| pair[0] < pair[1]);
    let inside = asked.edges.iter().all(|edge| problem.nodes[0] < *edge && *edge < last);
    if !rising || !inside {
        return Err(NoSensitivity::Edges);
    }
    let solved = Solved::of(&problem, asked).ok_or(NoSensitivity::NotFinite)?;
    let count = asked.settings.resamplings.max(50);
    let draws: Vec<Vec<f64>> = (0..count)
        .into_par_iter()
        .with_min_len(16)
        .map_init(Default::default, |work, draw| solved.draw(&problem, asked, draw, work))
        .collect();
    let functionals = problem.bands(asked.edges);
    let bands: Vec<Band> =
        functionals.iter().map(|band| self::band(&problem, &solved, &draws, band)).collect();
    let (resolution, told) = solved.resolution(&problem, &functionals);
    let classes = class::classes(&problem, &solved, &draws);
    let most = solved.best.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
    Ok(Sensitivity {
        nodes: problem.nodes.clone(),
        values: solved.best.iter().map(|value| value / most).collect(),
        traded: traded(&bands),
        bands,
        resolution,
        told,
        error_scale: solved.error_scale,
        classes,
        draws,
    })
}

/// A band as a sum over the nodes.
#[derive(Debug, Clone)]
struct Functional {
    from: f64,
    to: f64,
    /// Exposure of a white by each node's sensitivity in this band.
    weights: Vec<f64>,
    /// The light's own share.
    light: f64,
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn band(problem: &Problem, solved: &Solved, draws: &[Vec<f64>], band: &Functional) -> Band {
    let share = |values: &[f64]| dot(&band.weights, values) / dot(&problem.white, values);
    let drawn: Vec<f64> = draws.iter().map(|values| share(values)).collect();
    let value = share(&solved.best);
    // Draws are of the sensitivity itself, not of an estimate's error, so their quantiles stand as they are.
    let found = holm::by_draws(value, &drawn, false)
        .unwrap_or_else(|| Measured::with_interval(value, 1.0, 0.0, 1.0).flagged(Flags::FEW_SAMPLES));
    let relative = Measured::with_interval(
        found.value / band.light,
        found.u / band.light,
        found.low / band.light,
        found.high / band.light,
    );
    let possible = solved.possible(problem, &band.weights);
    Band { from: band.from, to: band.to, share: found, relative, possible, draws: drawn }
}

fn traded(bands: &[Band]) -> Vec<Traded> {
    let pairs = (0..bands.len()).flat_map(|a| (a + 1..bands.len()).map(move |b| (a, b)));
    let correlation = |(a, b): (usize, usize)| {
        let (one, other) = (&bands[a].draws, &bands[b].draws);
        let (mean_a, mean_b) = (robust::mean(one)?, robust::mean(other)?);
        let (sd_a, sd_b) = (robust::standard_deviation(one)?, robust::standard_deviation(other)?);
        let product: f64 = one.iter().zip(other).map(|(x, y)| (x - mean_a) * (y - mean_b)).sum();
        let correlation = product / ((one.len() - 1) as f64 * sd_a * sd_b);
        (correlation < TRADED).then_some(Traded { bands: (a, b), correlation })
    };
    // Of two bands that are the whole, one is always what the other leaves.
    if bands.len() < 3 { Vec::new() } else { pairs.filter_map(correlation).collect() }
}

impl Sensitivity {
    /// It as a spectrum, 1 at the highest node.
    #[must_use]
    pub fn spectrum(&self) -> Option<Spectrum> {
        Spectrum::new(Carries::Sensitivity, self.nodes.clone(), self.values.clone()).ok()
    }

    /// For each band whether the patches tell it from the others: the estimate puts most of what falls in it there, and it trades
    /// with no other. Where finer bands are all told, the patches carry them.
    #[must_use]
    pub fn told_apart(&self) -> Vec<bool> {
        let told = |band: usize| {
            let trades = self.traded.iter().any(|traded| traded.bands.0 == band || traded.bands.1 == band);
            self.resolution[band][band] >= TOLD && !trades
        };
        (0..self.bands.len()).map(told).collect()
    }

    /// How much more (in stops, positive) of its exposure the candidate takes from each band than the reference does, under one
    /// light: draw by draw, so that errors of the target's known reflectances cancel. `None` for a band of which either may take
    /// nothing at all, and for bands that differ.
    #[must_use]
    pub fn against(&self, reference: &Self) -> Vec<Option<Measured<Stops>>> {
        let one = |(c, r): (&Band, &Band)| {
            let same = (c.from - r.from).abs() < 1e-9 && (c.to - r.to).abs() < 1e-9;
            let ratio = |c: f64, r: f64| {
                if c > LEAST_SHARE && r > LEAST_SHARE { math::log2(c / r) } else { f64::NAN }
            };
            let value = ratio(c.share.value, r.share.value);
            if !same || !value.is_finite() {
                return None;
            }
            let draws: Vec<f64> = c.draws.iter().zip(&r.draws).map(|(c, r)| ratio(*c, *r)).collect();
            let found = holm::by_draws(value, &draws, false)?;
            Some(Measured::with_interval(Stops(found.value), found.u, found.low, found.high))
        };
        self.bands.iter().zip(&reference.bands).map(one).collect()
    }
}

/// A share below this may as well be none.
const LEAST_SHARE: f64 = 1e-4;
