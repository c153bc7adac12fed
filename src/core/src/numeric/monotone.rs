//! Quadratic problems whose answer may not fall: the coefficients of a monotone spline.
//!
//! `minimise ½ c'Ac - b'c` subject to `c[0] <= c[1] <= ... `. In the increments of `c` this is non-negative least
//! squares, as in P. H. C. Eilers and B. D. Marx, "Flexible smoothing with B-splines and penalties", Statistical Science 11
//! (1996) with never-falling coefficients, which make a B-spline monotone. The increments would fill the banded matrix,
//! so the work is done in pools of equal coefficients: a pooled banded matrix is banded again.

use super::banded::{Banded, Factor};

/// Work space, so that thousands of small problems do not ask for memory each.
#[derive(Debug, Clone)]
pub struct Workspace {
    pooled: Banded,
    factor: Factor,
    pooled_right: Vec<f64>,
    pool_of: Vec<usize>,
    gradient: Vec<f64>,
    /// `equal[j]`: c[j+1] is held equal to c[j].
    equal: Vec<bool>,
}

impl Default for Workspace {
    fn default() -> Self {
        Self {
            pooled: Banded::zero(0),
            factor: Factor::empty(),
            pooled_right: Vec::new(),
            pool_of: Vec::new(),
            gradient: Vec::new(),
            equal: Vec::new(),
        }
    }
}

/// How often all wrong constraints may be exchanged at once without getting fewer, before one at a time.
const PATIENCE: u32 = 3;
/// Rounding may keep the exchange from settling; after this many the last answer is made monotone and kept.
const EXCHANGES: u32 = 300;

/// Solves the problem into `c`. `factor` is the Cholesky factor of `a`, for the common case that nothing is held.
///
/// Block principal pivoting: J. J. Júdice and F. M. Pires, "A block principal pivoting algorithm for large-scale strictly
/// monotone linear complementarity problems", Computers & Operations Research 21 (1994) 587-596; finite for positive
/// definite `a`, because it falls back to exchanging one constraint (K. G. Murty's rule).
///
/// ```
/// # use twinwedge_core::numeric::{banded::Banded, monotone::{solve, Workspace}};
/// // With the unit matrix this is isotonic regression.
/// let mut unit = Banded::zero(4);
/// (0..4).for_each(|i| unit.add(i, i, 1.0));
/// let mut c = Vec::new();
/// solve(&unit, &unit.cholesky().unwrap(), &[1.0, 3.0, 2.0, 4.0], &mut c, &mut Workspace::default());
/// assert!(c.iter().zip([1.0, 2.5, 2.5, 4.0]).all(|(got, want)| (got - want).abs() < 1e-12));
/// ```
pub fn solve(a: &Banded, factor: &Factor, b: &[f64], c: &mut Vec<f64>, work: &mut Workspace) {
    c.clear();
    c.extend_from_slice(b);
    factor.solve(c);
    if c.windows(2).all(|pair| pair[0] <= pair[1]) {
        return;
    }
    work.equal.clear();
    work.equal.extend(c.windows(2).map(|pair| pair[1] < pair[0]));
    let (mut fewest, mut patience) = (usize::MAX, PATIENCE);
    for _ in 0..EXCHANGES {
        if !solve_pooled(a, b, c, work) {
            break;
        }
        let wrong = wrong_constraints(a, b, c, work);
        if wrong.is_empty() {
            break;
        }
        if wrong.len() < fewest {
            (fewest, patience) = (wrong.len(), PATIENCE);
        } else {
            patience = patience.saturating_sub(1);
        }
        let exchanged = if patience > 0 { &wrong[..] } else { &wrong[wrong.len() - 1..] };
        for &j in exchanged {
            work.equal[j] = !work.equal[j];
        }
    }
    for j in 1..c.len() {
        c[j] = c[j].max(c[j - 1]);
    }
}

/// Solves with the pools of `work.equal` taken as given.
fn solve_pooled(a: &Banded, b: &[f64], c: &mut [f64], work: &mut Workspace) -> bool {
    work.pool_of.clear();
    work.pool_of.push(0);
    let mut pool = 0;
    for &equal in &work.equal {
        pool += usize::from(!equal);
        work.pool_of.push(pool);
    }
    work.pooled.reset(pool + 1);
    work.pooled_right.clear();
    work.pooled_right.resize(pool + 1, 0.0);
    for (i, value) in b.iter().enumerate() {
        work.pooled_right[work.pool_of[i]] += value;
        for j in i.saturating_sub(super::banded::BAND)..=i {
            // Off the diagonal an element stands for its mirror too: both fall on the diagonal within one pool.
            let twice = if i != j && work.pool_of[i] == work.pool_of[j] { 2.0 } else { 1.0 };
            work.pooled.add(work.pool_of[i], work.pool_of[j], twice * a.at(i, j));
        }
    }
    if !work.factor.refill(&work.pooled) {
        return false;
    }
    work.factor.solve(&mut work.pooled_right);
    for (value, pool) in c.iter_mut().zip(&work.pool_of) {
        *value = work.pooled_right[*pool];
    }
    true
}

/// Free neighbours that fall, and held neighbours whose multiplier pulls the wrong way.
fn wrong_constraints(a: &Banded, b: &[f64], c: &[f64], work: &mut Workspace) -> Vec<usize> {
    a.times(c, &mut work.gradient);
    let largest = c.iter().fold(0.0_f64, |max, value| max.max(value.abs()));
    let rounding = 1e-12 * largest;
    let force = rounding * (0..a.size()).map(|i| a.at(i, i)).fold(0.0, f64::max);
    let mut multiplier = 0.0;
    let mut wrong = Vec::new();
    for (j, &equal) in work.equal.iter().enumerate() {
        multiplier -= work.gradient[j] - b[j];
        if (equal && multiplier < -force) || (!equal && c[j + 1] - c[j] < -rounding) {
            wrong.push(j);
        }
    }
    wrong
}
