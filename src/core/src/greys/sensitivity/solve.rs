//! The equations of a sensitivity, and their solutions.

use super::{Asked, FEWEST_PATCHES, Functional, NoSensitivity, dot};
use crate::numeric::nonnegative::{Quadratic, Workspace};
use crate::numeric::random::Stream;
use crate::numeric::{math, quantiles, robust};
use crate::units::STOP;

/// Distance of nodes in nanometres.
const NODES: f64 = 20.0;
/// Sums over wavelengths go by this.
const GRID: f64 = 5.0;
/// Wavelengths that must be known: from at most the first to at least the second.
const NEEDED: (f64, f64) = (420.0, 660.0);
/// The exposure of the grey card is the unit: its equation is held to this.
const UNIT_U: f64 = 1e-4;
/// A patch is never taken as surer than this, relative.
const LEAST_U: f64 = 1e-3;
/// Powers of ten of the stiffness and their spacing.
const STIFFNESS: (f64, f64, f64) = (-3.0, 5.0, 0.25);
/// Share of the likeliest stiffness that is taken, and by how much the course between what patches tell is drawn rougher. Set so
/// that intervals hold the shares of films whose sensitivity ends abruptly, in `tests/simulated/greys_sensitivity.rs`.
const SHARE: f64 = 0.25;
const ROUGHER: f64 = 1.5;
/// Stiffnesses less likely than this are not drawn.
const UNLIKELY: f64 = 1e-3;
/// Penalty, against errors as stated, that keeps rough solutions determinate.
const LOOSE: f64 = 1e-3;
/// Chi-square by which a worse solution is still possible: its 95 % quantile for one number.
const POSSIBLE: f64 = 3.841;
/// Steps of halving in search of what is possible.
const HALVINGS: u32 = 12;

/// What is known, in equations: exposures of patches and card as sums over nodes.
#[derive(Debug)]
pub(super) struct Problem {
    pub(super) nodes: Vec<f64>,
    /// Exposure of each patch by a unit of each node, in units in which a flat film of 1 exposes the card by 1.
    rows: Vec<Vec<f64>>,
    card: Vec<f64>,
    /// The same for a perfect white.
    pub(super) white: Vec<f64>,
    /// Exposure of each patch over that of the card.
    seen: Vec<f64>,
    /// Standard uncertainty of that.
    u: Vec<f64>,
    /// The light at every wavelength of the grid, in the same unit.
    light: Vec<(f64, f64)>,
}

/// Weight of node `node` at a wavelength: one at the node, zero at its neighbours.
fn hat(node: f64, nm: f64) -> f64 {
    (1.0 - (nm - node).abs() / NODES).max(0.0)
}

impl Problem {
    pub(super) fn new(asked: &Asked<'_>) -> Result<Self, NoSensitivity> {
        if asked.patches.len() < FEWEST_PATCHES {
            return Err(NoSensitivity::TooFewPatches(asked.patches.len()));
        }
        let spectra = || asked.patches.iter().map(|patch| patch.reflectance).chain([asked.light, asked.card]);
        let from = spectra().map(|spectrum| spectrum.range().0).fold(f64::NEG_INFINITY, f64::max);
        let to = spectra().map(|spectrum| spectrum.range().1).fold(f64::INFINITY, f64::min);
        let count = ((to - from) / NODES + 1e-9).floor();
        let last = from + NODES * count;
        if !(from <= NEEDED.0 && last >= NEEDED.1) {
            return Err(NoSensitivity::Range(from, to));
        }
        let nodes: Vec<f64> = (0..=count as usize).map(|i| from + NODES * i as f64).collect();
        let grid = ((last - from) / GRID).round() as usize;
        let place = |i: usize| (from + GRID * i as f64).min(last);
        let lit: Vec<(f64, f64)> =
            (0..=grid).map(|i| (place(i), asked.light.at(place(i)).unwrap_or_default())).collect();
        let sums = |reflects: &dyn Fn(f64) -> f64| -> Vec<f64> {
            let sum =
                |node: &f64| lit.iter().map(|(nm, power)| power * reflects(*nm) * hat(*node, *nm)).sum();
            nodes.iter().map(sum).collect()
        };
        let card = sums(&|nm| asked.card.at(nm).unwrap_or_default());
        let unit = card.iter().sum::<f64>();
        let scaled = |row: Vec<f64>| -> Vec<f64> { row.into_iter().map(|value| value / unit).collect() };
        let row = |patch: &super::Seen<'_>| scaled(sums(&|nm| patch.reflectance.at(nm).unwrap_or_default()));
        let seen: Vec<f64> = asked.patches.iter().map(|patch| math::pow(10.0, STOP * patch.stops)).collect();
        let relative = |patch: &super::Seen<'_>| {
            (core::f64::consts::LN_10 * math::hypot(STOP * patch.u, asked.reflectance_u)).max(LEAST_U)
        };
        let u: Vec<f64> =
            asked.patches.iter().zip(&seen).map(|(patch, seen)| seen * relative(patch)).collect();
        if unit.is_nan() || unit <= 0.0 || !u.iter().chain(&seen).all(|number| number.is_finite()) {
            return Err(NoSensitivity::NotFinite);
        }
        Ok(Self {
            rows: asked.patches.iter().map(row).collect(),
            white: scaled(sums(&|_| 1.0)),
            card: scaled(card),
            light: lit.iter().map(|(nm, power)| (*nm, power / unit)).collect(),
            nodes,
            seen,
            u,
        })
    }

    /// The bands between edges.
    pub(super) fn bands(&self, edges: &[f64]) -> Vec<Functional> {
        let (first, last) = (self.nodes[0], self.nodes[self.nodes.len() - 1]);
        let mut ends = vec![first];
        ends.extend_from_slice(edges);
        ends.push(last);
        let all: f64 = self.light.iter().map(|(_, power)| power).sum();
        let band = |pair: &[f64]| {
            // A wavelength on an edge belongs to both halves.
            let part = |nm: f64| {
                let within = |edge: f64| (nm - edge).abs() < 1e-9 && edge > first && edge < last;
                if within(pair[0]) || within(pair[1]) {
                    0.5
                } else {
                    f64::from(u8::from(pair[0] <= nm && nm <= pair[1]))
                }
            };
            let weight =
                |node: &f64| self.light.iter().map(|(nm, power)| part(*nm) * power * hat(*node, *nm)).sum();
            let light = self.light.iter().map(|(nm, power)| part(*nm) * power).sum::<f64>() / all;
            Functional { from: pair[0], to: pair[1], weights: self.nodes.iter().map(weight).collect(), light }
        };
        ends.windows(2).map(band).collect()
    }

    /// Matrix and right side of the readings, errors multiplied by `scale`, and the sum of squares that nothing explains.
    fn gram(&self, scale: f64) -> (Vec<f64>, Vec<f64>, f64) {
        let n = self.nodes.len();
        let (mut gram, mut right, mut square) = (vec![0.0; n * n], vec![0.0; n], 0.0);
        let patches =
            self.rows.iter().zip(&self.seen).zip(&self.u).map(|((row, seen), u)| (row, *seen, u * scale));
        for (row, value, u) in patches.chain([(&self.card, 1.0, UNIT_U)]) {
            let weight = 1.0 / (u * u);
            for i in 0..n {
                right[i] += weight * row[i] * value;
                for j in 0..n {
                    gram[i * n + j] += weight * row[i] * row[j];
                }
            }
            square += weight * value * value;
        }
        (gram, right, square)
    }

    fn chi_square(&self, values: &[f64], scale: f64) -> f64 {
        let square = |((row, seen), u): ((&Vec<f64>, &f64), &f64)| {
            let z = (dot(row, values) - seen) / (u * scale);
            z * z
        };
        let unit = (dot(&self.card, values) - 1.0) / UNIT_U;
        self.rows.iter().zip(&self.seen).zip(&self.u).map(square).sum::<f64>() + unit * unit
    }
}

/// The matrix with the penalty on differences of neighbours, the last against zero.
fn stiffened(gram: &[f64], n: usize, lambda: f64) -> Option<Quadratic> {
    let mut matrix = gram.to_vec();
    for i in 0..n {
        matrix[i * n + i] += lambda;
        if i + 1 < n {
            matrix[(i + 1) * n + i + 1] += lambda;
            matrix[i * n + i + 1] -= lambda;
            matrix[(i + 1) * n + i] -= lambda;
        }
    }
    Quadratic::new(n, matrix)
}

#[derive(Debug)]
struct Stiffness {
    lambda: f64,
    quadratic: Quadratic,
    share: f64,
}

/// The best sensitivity, and all that drawing others needs.
#[derive(Debug)]
pub(super) struct Solved {
    pub(super) best: Vec<f64>,
    pub(super) error_scale: f64,
    stiffnesses: Vec<Stiffness>,
    likeliest: usize,
    gram: Vec<f64>,
    right: Vec<f64>,
    /// Deviation of each patch's draws from their middle, patch by patch.
    deviations: Vec<Vec<f64>>,
}

/// Memory that draws use one after the other.
#[derive(Debug, Default)]
pub(super) struct Space {
    work: Workspace,
    right: Vec<f64>,
}

impl Solved {
    pub(super) fn of(problem: &Problem, asked: &Asked<'_>) -> Option<Self> {
        let first = Self::at(problem, 1.0)?;
        let freedom = problem.seen.len() as f64 - (first.determined() - 1.0);
        let chi_square = problem.chi_square(&first.best, 1.0);
        let contradicted = freedom >= 1.0 && chi_square > quantiles::chi_square(0.99, freedom);
        let mut solved = if contradicted { Self::at(problem, (chi_square / freedom).sqrt())? } else { first };
        let deviations = |patch: &super::Seen<'_>| {
            let known: Vec<f64> = patch.draws.iter().copied().filter(|draw| draw.is_finite()).collect();
            let middle = robust::median(&known).unwrap_or_default();
            patch.draws.iter().map(|draw| if draw.is_finite() { draw - middle } else { 0.0 }).collect()
        };
        solved.deviations = asked.patches.iter().map(deviations).collect();
        Some(solved)
    }

    fn at(problem: &Problem, scale: f64) -> Option<Self> {
        let n = problem.nodes.len();
        let (gram, right, square) = problem.gram(scale);
        let steps = ((STIFFNESS.1 - STIFFNESS.0) / STIFFNESS.2).round() as u32;
        let score = |step: u32| {
            let lambda = math::pow(10.0, STIFFNESS.0 + STIFFNESS.2 * f64::from(step));
            let quadratic = stiffened(&gram, n, lambda)?;
            let mut free = right.clone();
            quadratic.solve_free(&mut free);
            // Twice the negative logarithm of the likelihood, but for a constant.
            let score =
                quadratic.ln_determinant() - n as f64 * math::ln(lambda) + square - dot(&right, &free);
            Some((lambda, score))
        };
        let scores: Vec<(f64, f64)> = (0..=steps).filter_map(score).collect();
        let lowest = scores.iter().map(|(_, score)| *score).fold(f64::INFINITY, f64::min);
        let likely = scores.iter().map(|(lambda, score)| (*lambda, math::exp((lowest - score) / 2.0)));
        let taken = likely.filter(|(_, share)| *share > UNLIKELY).filter_map(|(lambda, share)| {
            let lambda = SHARE * lambda;
            Some(Stiffness { lambda, quadratic: stiffened(&gram, n, lambda)?, share })
        });
        let mut stiffnesses: Vec<Stiffness> = taken.collect();
        let sum: f64 = stiffnesses.iter().map(|stiffness| stiffness.share).sum();
        stiffnesses.iter_mut().for_each(|stiffness| stiffness.share /= sum);
        let likeliest =
            (0..stiffnesses.len()).max_by(|a, b| stiffnesses[*a].share.total_cmp(&stiffnesses[*b].share))?;
        let mut best = Vec::new();
        stiffnesses[likeliest].quadratic.solve(&right, &[], &mut best, &mut Workspace::default());
        let deviations = Vec::new();
        Some(Self { best, error_scale: scale, stiffnesses, likeliest, gram, right, deviations })
    }

    /// One sensitivity that might as well be.
    pub(super) fn draw(
        &self,
        problem: &Problem,
        asked: &Asked<'_>,
        draw: u32,
        space: &mut Space,
    ) -> Vec<f64> {
        let Space { work, right } = space;
        let seed = asked.settings.seed;
        let mut own = Stream::keyed(seed, u64::from(draw), asked.film.number());
        let pick = own.uniform();
        let mut sum = 0.0;
        let stiffness = self.stiffnesses.iter().find(|stiffness| {
            sum += stiffness.share;
            sum > pick
        });
        let stiffness = stiffness.unwrap_or(&self.stiffnesses[self.likeliest]);
        right.clear();
        right.extend_from_slice(&self.right);
        for (i, patch) in asked.patches.iter().enumerate() {
            let of_target =
                asked.target.number() ^ (patch.patch as u64 + 1).wrapping_mul(0x9E37_79B9_7F4A_7C15);
            let known = asked.reflectance_u * Stream::keyed(seed, u64::from(draw), !of_target).normal();
            let chance = own.normal();
            let read = self.deviations[i].get(draw as usize).copied().unwrap_or(patch.u * chance);
            let u = problem.u[i] * self.error_scale;
            let change =
                core::f64::consts::LN_10 * problem.seen[i] * self.error_scale * (STOP * read + known);
            for (slot, value) in right.iter_mut().zip(&problem.rows[i]) {
                *slot += value * change / (u * u);
            }
        }
        let root = ROUGHER * stiffness.lambda.sqrt();
        let last = right.len() - 1;
        for i in 0..=last {
            let innovation = root * own.normal();
            right[i] -= innovation;
            if i < last {
                right[i + 1] += innovation;
            }
        }
        let mut values = Vec::with_capacity(right.len());
        stiffness.quadratic.solve(right, &self.best, &mut values, work);
        values
    }

    /// Degrees of freedom that the readings take: trace of the smoother.
    fn determined(&self) -> f64 {
        let n = self.best.len();
        let quadratic = &self.stiffnesses[self.likeliest].quadratic;
        let diagonal = |i: usize| {
            let mut column: Vec<f64> = (0..n).map(|j| self.gram[j * n + i]).collect();
            quadratic.solve_free(&mut column);
            column[i]
        };
        (0..n).map(diagonal).sum()
    }

    /// What of a unit of a white's exposure in one band (column) the free estimate puts into each (row), and how many independent
    /// things the readings tell.
    pub(super) fn resolution(&self, problem: &Problem, bands: &[Functional]) -> (Vec<Vec<f64>>, f64) {
        let n = self.best.len();
        let quadratic = &self.stiffnesses[self.likeliest].quadratic;
        let column = |band: &Functional| {
            let inside = |node: f64| f64::from(u8::from(band.from <= node && node < band.to));
            let mut unit: Vec<f64> = problem.nodes.iter().map(|node| inside(*node)).collect();
            let exposure = dot(&problem.white, &unit).max(f64::MIN_POSITIVE);
            unit.iter_mut().for_each(|value| *value /= exposure);
            let mut answer: Vec<f64> = (0..n).map(|i| dot(&self.gram[i * n..(i + 1) * n], &unit)).collect();
            quadratic.solve_free(&mut answer);
            bands.iter().map(|band| dot(&band.weights, &answer)).collect::<Vec<f64>>()
        };
        let columns: Vec<Vec<f64>> = bands.iter().map(column).collect();
        let rows = (0..bands.len()).map(|i| columns.iter().map(|column| column[i]).collect()).collect();
        (rows, self.determined())
    }

    /// Least and largest share of a band over all sensitivities that explain the readings within what chance allows.
    pub(super) fn possible(&self, problem: &Problem, band: &[f64]) -> (f64, f64) {
        let n = self.best.len();
        let mut work = Workspace::default();
        let mut values = Vec::new();
        let Some(loose) = stiffened(&self.gram, n, LOOSE) else { return (0.0, 1.0) };
        loose.solve(&self.right, &self.best, &mut values, &mut work);
        let allowed = problem.chi_square(&values, self.error_scale) + POSSIBLE;
        let start = (dot(band, &values) / dot(&problem.white, &values)).clamp(0.0, 1.0);
        // The best explanation among those with just this share.
        let mut explains = |share: f64| {
            let line: Vec<f64> = band.iter().zip(&problem.white).map(|(b, w)| b - share * w).collect();
            let weight = 1.0 / (UNIT_U * UNIT_U);
            let mut matrix = self.gram.clone();
            for i in 0..n {
                for j in 0..n {
                    matrix[i * n + j] += weight * line[i] * line[j];
                }
            }
            let Some(held) = stiffened(&matrix, n, LOOSE) else { return true };
            held.solve(&self.right, &self.best, &mut values, &mut work);
            problem.chi_square(&values, self.error_scale) <= allowed
        };
        let mut end = |far: f64| {
            if explains(far) {
                return far;
            }
            let (mut inside, mut outside) = (start, far);
            for _ in 0..HALVINGS {
                let middle = 0.5 * (inside + outside);
                if explains(middle) {
                    inside = middle;
                } else {
                    outside = middle;
                }
            }
            outside
        };
        (end(0.0), end(1.0))
    }
}
