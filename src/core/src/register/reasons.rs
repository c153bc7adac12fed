//! Why two prints do not match: what a tester can mend is looked for before they are told apart.

use super::coarse::{Guess, best, search};
use super::layer::Layer;
use super::settle::Stage;
use super::{begin, convincing, support};
use crate::problem::{Problem, Subject};
use crate::words;

/// Says why no registration was found.
pub(super) fn no_match(
    best: Option<&Stage>,
    a: &[Layer<'_>],
    b: &[Layer<'_>],
    stop: &(dyn Fn() -> bool + Sync),
) -> Problem {
    if let Some((mirrored, degrees)) = otherwise(a, b, stop) {
        return turned(mirrored, degrees);
    }
    let cause = match best {
        Some(stage) => words::Register::NoMatchAtBest {
            agreeing: stage.agreeing,
            windows: stage.matches.len(),
            correlation: stage.correlation,
        },
        None => words::Register::NoPlace,
    };
    let remedy = words::Remedy::SameTargetHalf;
    Problem::error(Subject::Series, cause, remedy)
}

fn turned(mirrored: bool, degrees: f64) -> Problem {
    let whole = degrees.round();
    let (cause, remedy) = match (mirrored, whole.abs() < 15.0) {
        (true, true) => (words::Register::Mirrored, words::Remedy::ScanRightSide),
        (true, false) => (words::Register::MirroredAndTurned { whole }, words::Remedy::ScanRightSideUp),
        (false, _) => (words::Register::Turned { whole }, words::Remedy::TurnScan { degrees: -whole }),
    };
    Problem::error(Subject::Series, cause, remedy)
}

/// Whether the second print matches when it is mirrored or turned further: mirrored or not, and by how many degrees
/// (clockwise on the screen).
fn otherwise(a: &[Layer<'_>], b: &[Layer<'_>], stop: &(dyn Fn() -> bool + Sync)) -> Option<(bool, f64)> {
    /// Guesses that are worth a look.
    const LOOKED_AT: usize = 4;
    // The smallest layers tell; finer ones only add precision.
    let depth = a.len().min(b.len());
    let few = depth.saturating_sub(2)..depth;
    let (a, b) = (&a[few.clone()], &b[few]);
    let flipped: Vec<Layer<'static>> = b.iter().map(Layer::mirrored).collect();
    let mut all: Vec<(bool, Guess)> = Vec::new();
    for mirrored in [false, true] {
        for eighth in 0..8_u32 {
            if eighth == 0 && !mirrored || stop() {
                continue;
            }
            let about = f64::from(eighth) * core::f64::consts::FRAC_PI_4;
            let second: &[Layer<'_>] = if mirrored { &flipped } else { b };
            let quick = best(&search(a, second, about, None, stop));
            all.extend(quick.into_iter().take(2).map(|guess| (mirrored, guess)));
        }
    }
    all.sort_by(|(_, one), (_, other)| other.score.total_cmp(&one.score));
    all.into_iter().take(LOOKED_AT).find_map(|(mirrored, guess)| {
        let second: &[Layer<'_>] = if mirrored { &flipped } else { b };
        let stage = begin(a, second, &guess.transform, stop)?.stage;
        // Many trials: more is asked than of the first.
        let sure = convincing(&stage) && support(&stage) > 0.5 && stage.agreeing >= 10;
        let at = a.first().map(|layer| layer.to_scan(crate::geometry::Point::default()))?;
        sure.then(|| (mirrored, stage.transform.angle_at(at).to_degrees()))
    })
}
