//! Which readings the others contradict: a typing error, dust on a step, two rows exchanged.
//!
//! *Prediction.* Each reading is predicted from the others alone, by a smoothing spline whose prior is of independent third
//! differences: between the steps a film's curvature goes on smoothly, so this predicts one step from its neighbours more
//! closely than the second differences of the fit do. The prediction is averaged over all stiffnesses by how likely the other
//! readings make each (restricted likelihood as in `fit`). It carries its own uncertainty: what the others leave open is
//! little in the middle and much at either end, where a shoulder or a toe may begin. All of it follows in closed form from
//! one factor for each stiffness (R. D. Cook and S. Weisberg, "Residuals and Influence in Regression", 1982, section 2.2).
//!
//! *Errors* are taken as stated, with the weight of [`STATED`] degrees of freedom, so that a prediction is Student's t: where
//! all readings scatter more than is said, no single one is blamed for it. A curve never falls: a reading higher than the
//! curve at the next step, or lower than at the step before, departs at least by that.
//!
//! *Verdict.* The least probable reading is misread where the probability of such a departure, times the number of readings
//! (C. E. Bonferroni, 1936), is below [`RARE`]. Where another reading would explain the disagreement about as well, both are
//! set aside; with both left out, one that then agrees comes back if the other does not. Then the rest is judged anew. Where
//! densities fall beyond errors although no single reading is improbable, near an end say, one of the two between which they
//! fall is wrong, and they are treated alike.

use super::check::{FALL, FALL_SIGMAS};
use super::fit::{Equation, in_order, solve, solve_at};
use super::join::Levels;
use super::{Outlier, Reading, Readings, Standing};
use crate::measured::Flags;
use crate::numeric::banded::Banded;
use crate::numeric::{math, quantiles};

/// Probability, for a whole curve without misread steps, that chance alone makes one seem so.
const RARE: f64 = 0.03;
/// What the stated errors count for, in degrees of freedom.
const STATED: f64 = 6.0;
/// Two explanations are told apart where one makes the readings so many times as probable as the other.
const TOLD_APART: f64 = 10.0;
/// A reading agrees with the others where departures as large as its own are at least so probable.
const AGREES: f64 = 0.05;
/// Fewest readings among which one may be called misread.
const LEAST_READINGS: usize = 7;
/// Of so many readings one may be misread; where more disagree, it is not single steps that are wrong.
const ONE_OF: usize = 5;
/// Most readings that are looked for.
const MOST_MISREAD: usize = 10;
/// A stiffness less likely than this has no say.
const UNLIKELY: f64 = 1e-9;
/// Powers of ten of the stiffness, relative to the readings' own weight, and their spacing.
const STIFFNESS: (f64, f64, u32) = (-6.0, 0.5, 26);
/// Order of the differences whose squares are penalised, and their weights.
const DIFFERENCE: [f64; 4] = [1.0, -3.0, 3.0, -1.0];
const ORDER: usize = DIFFERENCE.len() - 1;

/// Rounds of judging: the gradients of the curve, by which errors along log H count, follow from those left in.
const ROUNDS: u32 = 4;

/// Sets misread points aside and flags them; names them, and those that are kept although the others contradict them.
/// Readings that make no curve stay as they are.
pub(super) fn set_aside(readings: &mut Readings) -> Vec<Outlier> {
    let Some(judged) = Judged::of(readings) else { return Vec::new() };
    for point in &mut readings.points {
        if judged.out.iter().any(|row| judged.rows[*row].place == (point.strip, point.step))
            && !point.set_aside
        {
            point.set_aside = true;
            point.flags |= Flags::MISREAD;
        }
    }
    judged.outliers()
}

/// The fitted readings in order of log exposure, and which of them are misread.
struct Judged {
    rows: Vec<Equation>,
    /// Coefficients of a spline through them.
    size: usize,
    kept: Vec<bool>,
    out: Vec<usize>,
}

impl Judged {
    fn of(readings: &Readings) -> Option<Self> {
        let fitted: Vec<Reading> = readings.points.iter().filter(|point| !point.set_aside).copied().collect();
        let mut judged = Self { rows: Vec::new(), size: 0, kept: Vec::new(), out: Vec::new() };
        if fitted.len() < LEAST_READINGS {
            return None;
        }
        for _ in 0..ROUNDS {
            let places: Vec<_> = judged.out.iter().map(|row| judged.rows[*row].place).collect();
            let left_in = |point: &&Reading| !places.contains(&(point.strip, point.step));
            let rest: Vec<Reading> = fitted.iter().filter(left_in).copied().collect();
            let before = solve(&rest, Levels::of(readings, &rest).ok()?)?;
            let mut all = solve_at(&fitted, &before.levels, 1.0, Some(&before))?;
            all.sort(&fitted, in_order);
            let kept = |row: &Equation| {
                let place = |point: &&Reading| (point.strip, point.step) == row.place;
                fitted.iter().find(place).is_some_and(|point| point.flags.contains(Flags::KEPT))
            };
            judged.kept = all.rows.iter().map(kept).collect();
            judged.size = all.coefficients.len();
            judged.rows = all.rows;
            let out = find(&judged.rows, judged.size, &judged.kept);
            let settled = out.iter().map(|row| judged.rows[*row].place).eq(places);
            judged.out = out;
            if settled {
                break;
            }
        }
        Some(judged)
    }

    fn against(&self, row: usize) -> Option<Verdict> {
        against(&self.rows, self.size, &self.out, row)
    }

    /// Those set aside, and those kept that the others contradict, in order of log exposure.
    fn outliers(&self) -> Vec<Outlier> {
        let count = self.rows.len() - self.out.len() + 1;
        let outlier = |row: usize| {
            let kept = self.kept[row];
            if !kept && !self.out.contains(&row) {
                return None;
            }
            let verdict = self.against(row)?;
            let alone = misread(&verdict, count);
            let standing = match (kept, alone, self.exchanged(row), self.other(row)) {
                (true, true, ..) => Standing::Kept,
                (true, false, ..) => return None,
                (_, _, Some(other), _) => Standing::Exchanged { other: self.rows[other].place },
                (_, false, None, Some(other)) => Standing::OneOfTwo { other: self.rows[other].place },
                _ => Standing::SetAside,
            };
            let (strip, step) = self.rows[row].place;
            let sigmas = verdict.departure / verdict.u;
            Some(Outlier { strip, step, departure: verdict.departure, sigmas, standing })
        };
        (0..self.rows.len()).filter_map(outlier).collect()
    }

    /// The neighbour set aside too with which a row agrees with the others once the densities of both are exchanged.
    fn exchanged(&self, row: usize) -> Option<usize> {
        let mends = |other: usize| {
            let mut rows = self.rows.clone();
            rows[row].density = self.rows[other].density;
            rows[other].density = self.rows[row].density;
            let agrees =
                |row| against(&rows, self.size, &self.out, row).is_some_and(|verdict| verdict.p > AGREES);
            self.against(row).is_some_and(|verdict| verdict.p < AGREES) && agrees(row) && agrees(other)
        };
        let neighbours = [row.checked_sub(1), Some(row + 1)];
        neighbours.into_iter().flatten().find(|other| self.out.contains(other) && mends(*other))
    }

    /// The row set aside nearest to this one.
    fn other(&self, row: usize) -> Option<usize> {
        let others = self.out.iter().filter(|other| **other != row);
        others.min_by_key(|other| other.abs_diff(row)).copied()
    }
}

/// How a reading stands to the prediction of the others.
#[derive(Debug, Clone, Copy)]
struct Verdict {
    /// Its number among the rows.
    row: usize,
    /// Its density less the predicted one.
    departure: f64,
    /// Standard uncertainty of that, of reading and prediction together.
    u: f64,
    /// Probability of a departure at least as large, to either side.
    p: f64,
    /// Logarithm of how probable the other readings are without it, but for a constant.
    evidence: f64,
}

/// The rows, in order of log exposure, that are to be set aside; those of `kept` are never.
fn find(rows: &[Equation], size: usize, kept: &[bool]) -> Vec<usize> {
    let mut out: Vec<usize> = Vec::new();
    // Kept ones that the others contradict: they stay, but say nothing about the others.
    let mut passed_over: Vec<usize> = Vec::new();
    let mut pairs: Vec<[usize; 2]> = Vec::new();
    let most = if rows.len() < LEAST_READINGS { 0 } else { (rows.len() / ONE_OF).min(MOST_MISREAD) };
    while out.len() < most {
        let judged = judge(rows, size, &|row| !out.contains(&row) && !passed_over.contains(&row));
        let worst = judged.iter().min_by(|a, b| a.p.total_cmp(&b.p));
        let Some(worst) = worst.filter(|worst| misread(worst, judged.len())) else {
            let Some(pair) = fall(rows, &out).filter(|pair| !pair.iter().any(|row| kept[*row])) else {
                break;
            };
            out.extend(pair);
            pairs.push(pair);
            continue;
        };
        if kept[worst.row] {
            passed_over.push(worst.row);
            continue;
        }
        let others = judged.iter().filter(|verdict| verdict.row != worst.row && !kept[verdict.row]);
        let rival = others.max_by(|a, b| a.evidence.total_cmp(&b.evidence));
        let close = rival.filter(|rival| worst.evidence - rival.evidence < math::ln(TOLD_APART));
        out.push(worst.row);
        if let Some(rival) = close {
            out.push(rival.row);
            pairs.push([worst.row, rival.row]);
        }
    }
    for pair in pairs {
        let verdict = |row: usize| against(rows, size, &out, row);
        let Some((a, b)) = verdict(pair[0]).zip(verdict(pair[1])) else { continue };
        let count = rows.len() - out.len() + 1;
        let cleared = |one: &Verdict, other: &Verdict| misread(other, count) && one.p > AGREES;
        out.retain(|row| !(*row == a.row && cleared(&a, &b) || *row == b.row && cleared(&b, &a)));
    }
    out.sort_unstable();
    out
}

/// The two rows of a strip between which densities fall most, but for those of `out`; `None` where errors explain every fall.
fn fall(rows: &[Equation], out: &[usize]) -> Option<[usize; 2]> {
    let mut worst = None::<(f64, [usize; 2])>;
    let left: Vec<usize> = (0..rows.len()).filter(|row| !out.contains(row)).collect();
    for (at, after) in left.iter().enumerate() {
        for before in &left[..at] {
            let (a, b) = (&rows[*before], &rows[*after]);
            let fall = a.density - b.density;
            let counts = a.place.0 == b.place.0 && fall > FALL.max(FALL_SIGMAS * math::hypot(a.own, b.own));
            if counts && worst.is_none_or(|(most, _)| fall > most) {
                worst = Some((fall, [*before, *after]));
            }
        }
    }
    worst.map(|(_, pair)| pair)
}

/// Whether chance alone would make none of `count` readings depart so far.
fn misread(verdict: &Verdict, count: usize) -> bool {
    verdict.p * (count as f64) < RARE
}

/// How a row stands to the others but those of `out`.
fn against(rows: &[Equation], size: usize, out: &[usize], row: usize) -> Option<Verdict> {
    let judged = judge(rows, size, &|other| other == row || !out.contains(&other));
    judged.into_iter().find(|verdict| verdict.row == row)
}

/// One stiffness: what it makes of each reading left out.
struct Predicted {
    /// Twice the logarithm of the likelihood but for the sum of squares.
    score: f64,
    /// Penalised sum of squares.
    squares: f64,
    left_out: Vec<LeftOut>,
}

/// A reading left out: its departure, the variance of that, and of how far it lies beyond the curve at its neighbours.
#[derive(Clone, Copy)]
struct LeftOut {
    departure: f64,
    variance: f64,
    /// Above the curve at the next reading, in standard uncertainties; negative where it is below.
    above_next: f64,
    /// Below the curve at the reading before.
    below_before: f64,
}

/// All rows that `counts`, each against the others.
fn judge(rows: &[Equation], size: usize, counts: &dyn Fn(usize) -> bool) -> Vec<Verdict> {
    let numbers: Vec<usize> = (0..rows.len()).filter(|row| counts(*row)).collect();
    let rows: Vec<Equation> = numbers.iter().map(|row| rows[*row]).collect();
    let mut gram = Banded::zero(size);
    let mut right = vec![0.0; size];
    let mut total = 0.0;
    for row in &rows {
        let weight = 1.0 / (row.u * row.u);
        for i in 0..4 {
            right[row.first + i] += row.basis[i] * row.density * weight;
            for j in 0..=i {
                gram.add(row.first + i, row.first + j, row.basis[i] * row.basis[j] * weight);
            }
        }
        total += row.density * row.density * weight;
    }
    let penalty = penalty(size);
    let unit = gram.trace() / penalty.trace();
    let stiffness = |step: u32| {
        let lambda = unit * math::pow(10.0, STIFFNESS.0 + STIFFNESS.1 * f64::from(step));
        predicted(&rows, &gram.plus(lambda, &penalty), lambda, &right, total)
    };
    let stiffnesses: Vec<Predicted> = (0..=STIFFNESS.2).filter_map(stiffness).collect();
    let degrees = STATED + rows.len() as f64 - 1.0 - ORDER as f64;
    let numbered = numbers.into_iter().enumerate();
    numbered.filter_map(|(at, row)| verdict(&stiffnesses, at, row, degrees)).collect()
}

fn penalty(size: usize) -> Banded {
    let mut penalty = Banded::zero(size);
    for start in 0..size - ORDER {
        for (i, a) in DIFFERENCE.iter().enumerate() {
            for (j, b) in DIFFERENCE.iter().enumerate().take(i + 1) {
                penalty.add(start + i, start + j, a * b);
            }
        }
    }
    penalty
}

fn predicted(
    rows: &[Equation],
    matrix: &Banded,
    lambda: f64,
    right: &[f64],
    total: f64,
) -> Option<Predicted> {
    let factor = matrix.cholesky()?;
    let mut c = right.to_vec();
    factor.solve(&mut c);
    let explained: f64 = right.iter().zip(&c).map(|(b, c)| b * c).sum();
    let dot = |row: &Equation, c: &[f64]| -> f64 {
        row.basis.iter().zip(&c[row.first..]).map(|(b, c)| b * c).sum()
    };
    // For each row the covariance of the fit there with the fit at each row beside it.
    let mut column = vec![0.0; c.len()];
    let mut covariance = |row: &Equation, others: [Option<&Equation>; 3]| {
        column.fill(0.0);
        column[row.first..row.first + 4].copy_from_slice(&row.basis);
        factor.solve(&mut column);
        others.map(|other| other.map_or(0.0, |other| dot(other, &column)))
    };
    let around = |at: usize| [at.checked_sub(1).map(|at| &rows[at]), rows.get(at), rows.get(at + 1)];
    let shared: Vec<[f64; 3]> = (0..rows.len()).map(|at| covariance(&rows[at], around(at))).collect();
    let left_out = |at: usize| {
        let row = &rows[at];
        let own = row.u * row.u;
        let free = (1.0 - shared[at][1] / own).max(1e-9);
        let departure = (row.density - dot(row, &c)) / free;
        // How far the reading lies above the curve of the others at the row `other`.
        let above = |other: usize, with: f64| {
            let there = dot(&rows[other], &c) - with / own * departure;
            let variance = shared[other][1] + with * with / (own * free) + own;
            (row.density - there) / variance.sqrt()
        };
        let above_next = if at + 1 < rows.len() { above(at + 1, shared[at][2]) } else { f64::NEG_INFINITY };
        let below_before = if at > 0 { -above(at - 1, shared[at][0]) } else { f64::NEG_INFINITY };
        LeftOut { departure, variance: own / free, above_next, below_before }
    };
    Some(Predicted {
        score: (c.len() - ORDER) as f64 * math::ln(lambda) - factor.ln_determinant(),
        squares: (total - explained).max(0.0),
        left_out: (0..rows.len()).map(left_out).collect(),
    })
}

/// A reading against the others, over all stiffnesses.
fn verdict(stiffnesses: &[Predicted], at: usize, row: usize, degrees: f64) -> Option<Verdict> {
    // What the sum of squares would be without it.
    let squares = |one: &Predicted| {
        let LeftOut { departure, variance, .. } = one.left_out[at];
        STATED + (one.squares - departure * departure / variance).max(0.0)
    };
    let likelihood = |one: &Predicted| {
        (one.score + math::ln(one.left_out[at].variance) - degrees * math::ln(squares(one))) / 2.0
    };
    let likelihoods: Vec<f64> = stiffnesses.iter().map(likelihood).collect();
    let highest = likelihoods.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let shares: Vec<f64> = likelihoods.iter().map(|likelihood| math::exp(likelihood - highest)).collect();
    let sum: f64 = shares.iter().sum();
    let (mut above, mut below, mut departure, mut second) = (0.0, 0.0, 0.0, 0.0);
    for (one, share) in stiffnesses.iter().zip(&shares) {
        let share = share / sum;
        if share < UNLIKELY {
            continue;
        }
        // Errors are never taken as smaller than stated.
        let scale = (squares(one) / degrees).max(1.0);
        let left_out = one.left_out[at];
        let tail = |sigmas: f64| quantiles::student_t_tail(sigmas / scale.sqrt(), degrees);
        let sigmas = left_out.departure / left_out.variance.sqrt();
        let (up, down) = (tail(sigmas), tail(-sigmas));
        above += share * if left_out.above_next > 0.0 { up.min(tail(left_out.above_next)) } else { up };
        below +=
            share * if left_out.below_before > 0.0 { down.min(tail(left_out.below_before)) } else { down };
        departure += share * left_out.departure;
        second += share * (left_out.departure * left_out.departure + scale * left_out.variance);
    }
    let p = 2.0 * above.min(below);
    let u = (second - departure * departure).max(0.0).sqrt();
    let evidence = highest + math::ln(sum);
    (p.is_finite() && evidence.is_finite()).then_some(Verdict { row, departure, u, p, evidence })
}
