//! What kind of film it may be: only where the readings leave no other.

use serde::Serialize;

use super::dot;
use super::solve::{Problem, Solved};
use crate::numeric::robust;

/// Kinds of film by what light they see.
///
/// No standard defines them. Here a film is called sensitive to a band where its mean sensitivity there is at least
/// [`SENSITIVE`] of that in its best band: blue below 500 nm, green to 600 nm, red to 670 nm, extended red beyond.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Class {
    /// Sensitive to blue alone.
    Unsensitised,
    /// Blue and green.
    Orthochromatic,
    /// Blue, green and red.
    Panchromatic,
    /// Beyond 670 nm too.
    ExtendedRed,
}

/// Share of the best band's mean sensitivity from which a film is called sensitive to a band.
pub const SENSITIVE: f64 = 0.15;

/// Whether a film is sensitive to a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// It is, beyond doubt.
    Yes,
    /// Beyond doubt not.
    No,
    /// The readings do not tell.
    Open,
}

/// The kinds of film that the readings leave.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Classes {
    /// One where it is decided, several where it is not, none for a film that is like none of them.
    pub left: Vec<Class>,
    /// Whether it is sensitive to green, red and extended red.
    pub bands: [Verdict; 3],
}

impl Classes {
    /// The class, where it is decided.
    #[must_use]
    pub fn decided(&self) -> Option<Class> {
        match self.left.as_slice() {
            [one] => Some(*one),
            _ => None,
        }
    }
}

const EDGES: [f64; 3] = [500.0, 600.0, 670.0];
/// Draws decide with this share at either side left out: a class is a strong word.
const LEFT_OUT: f64 = 0.005;

pub(super) fn classes(problem: &Problem, solved: &Solved, draws: &[Vec<f64>]) -> Classes {
    let last = problem.nodes[problem.nodes.len() - 1];
    let edges: Vec<f64> = EDGES.iter().copied().filter(|edge| *edge < last).collect();
    // Mean sensitivity of each band against a film that is equally sensitive to all: least and largest.
    let bounds = |band: &super::Functional| {
        let share = |values: &[f64]| dot(&band.weights, values) / dot(&problem.white, values);
        let drawn = robust::sorted(&draws.iter().map(|values| share(values)).collect::<Vec<f64>>());
        let at = |p| robust::quantile_of_sorted(&drawn, p).unwrap_or(0.0);
        let possible = solved.possible(problem, &band.weights);
        (at(LEFT_OUT).min(possible.0) / band.light, at(1.0 - LEFT_OUT).max(possible.1) / band.light)
    };
    let bounds: Vec<(f64, f64)> = problem.bands(&edges).iter().map(bounds).collect();
    let best = (
        bounds.iter().fold(f64::MIN_POSITIVE, |most, band| most.max(band.0)),
        bounds.iter().fold(f64::MIN_POSITIVE, |most, band| most.max(band.1)),
    );
    let verdict = |band: usize| match bounds.get(band) {
        Some((low, _)) if *low >= SENSITIVE * best.1 => Verdict::Yes,
        Some((_, high)) if *high < SENSITIVE * best.0 => Verdict::No,
        _ => Verdict::Open,
    };
    let bands = [verdict(1), verdict(2), verdict(3)];
    Classes { left: left(bands), bands }
}

/// The classes that agree with what is known of each band.
fn left(bands: [Verdict; 3]) -> Vec<Class> {
    const ALL: [(Class, [bool; 3]); 4] = [
        (Class::Unsensitised, [false, false, false]),
        (Class::Orthochromatic, [true, false, false]),
        (Class::Panchromatic, [true, true, false]),
        (Class::ExtendedRed, [true, true, true]),
    ];
    let agrees = |(verdict, sensitive): (&Verdict, &bool)| match verdict {
        Verdict::Yes => *sensitive,
        Verdict::No => !sensitive,
        Verdict::Open => true,
    };
    let agree = |class: &&(Class, [bool; 3])| bands.iter().zip(&class.1).all(agrees);
    ALL.iter().filter(agree).map(|(class, _)| *class).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_band_that_is_open_leaves_the_classes_on_both_sides_of_it() {
        use Verdict::{No, Open, Yes};
        assert_eq!(left([Yes, No, No]), [Class::Orthochromatic]);
        assert_eq!(left([Yes, Yes, Open]), [Class::Panchromatic, Class::ExtendedRed]);
        assert_eq!(left([Open, No, No]), [Class::Unsensitised, Class::Orthochromatic]);
        assert_eq!(left([No, Yes, No]), []);
    }
}
