//! A row of steps whose number and length are known from other scans: where it begins, by the edge at its dense end. Flat steps at
//! either end show no borders, but the densest always stands against the unexposed film beside it.

use twinwedge_core::document::{Channel, StripShape};
use twinwedge_core::geometry::{Homography, Point, Quad};
use twinwedge_core::numeric::robust;
use twinwedge_core::scan::{Scan, ToneTable};

/// Steps beyond those that were seen among which the edge is looked for.
const REACH: i32 = 14;
/// Least change of density at the edge, and its least share of the row's range.
const EDGE: (f64, f64) = (0.25, 0.4);
/// Density by which one step may be thinner than the next denser one and still be as flat.
const FLAT: f64 = 0.1;
/// A row whose film gets clearer still behind its last step has more steps.
const CLEARER: f64 = 0.05;

/// Reads densities along a row, whose steps count from border 0 at the dense end on.
struct Along<'a> {
    scan: &'a Scan,
    table: &'a ToneTable,
    map: Homography,
    steps: f64,
}

impl Along<'_> {
    fn place(&self, step: f64, across: f64) -> Point {
        self.map.place(step / self.steps, across)
    }

    fn density(&self, at: Point) -> Option<f64> {
        if !(at.x >= 0.0 && at.y >= 0.0) {
            return None;
        }
        let code = self.scan.plane(Channel::default()).code(at.x as usize, at.y as usize)?;
        self.table.density.get(usize::from(code)).copied()
    }

    /// Median density of the middle of the row between two places along it; `None` where that lies outside the scan.
    fn between(&self, from: f64, to: f64) -> Option<f64> {
        let mut all = Vec::with_capacity(63);
        for column in 0..7 {
            let step = from + (to - from) * (f64::from(column) + 0.5) / 7.0;
            all.extend((0..9).filter_map(|row| self.density(self.place(step, 0.3 + 0.05 * f64::from(row)))));
        }
        (all.len() > 50).then(|| robust::median(&all)).flatten()
    }

    /// The border at which the row begins.
    fn dense_end(&self) -> Option<i32> {
        let steps = self.steps as i32;
        let middle = |step: i32| self.between(f64::from(step) + 0.25, f64::from(step) + 0.75);
        let tones: Vec<f64> = (0..steps).map(middle).collect::<Option<_>>()?;
        let densest = (0..steps).max_by(|a, b| tones[*a as usize].total_cmp(&tones[*b as usize]))?;
        let thinnest = tones.iter().copied().fold(f64::INFINITY, f64::min);
        let least = EDGE.0.max(EDGE.1 * (tones[densest as usize] - thinnest));
        for border in (densest - REACH..=densest).rev() {
            let at = f64::from(border);
            let inside = self.between(at + 0.12, at + 0.45)?;
            let outside = self.between(at - 0.45, at - 0.12)?;
            if inside - outside >= least {
                return Some(border);
            }
            if inside - outside > FLAT {
                return None;
            }
        }
        None
    }
}

/// The shape of a row of `steps` steps of which `seen` was found, counted from its dense end; `None` where that end shows no
/// edge, or where the row does not end with its last step.
pub(super) fn anchored(scan: &Scan, table: &ToneTable, seen: &StripShape, steps: u32) -> Option<StripShape> {
    let map = Homography::of(&seen.quad)?;
    let along = Along { scan, table, map, steps: f64::from(seen.steps) };
    let from = f64::from(along.dense_end()?);
    let to = from + f64::from(steps);
    let last = along.between(to - 0.75, to - 0.25)?;
    let behind = along.between(to + 0.1, to + 0.4);
    if behind.is_some_and(|behind| behind < last - CLEARER) {
        return None;
    }
    let corners =
        [along.place(from, 0.0), along.place(to, 0.0), along.place(to, 1.0), along.place(from, 1.0)];
    Some(StripShape::new(Quad { corners }, steps))
}
