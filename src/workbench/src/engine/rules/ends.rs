//! Where a print is as white as its paper, and where it is as black as the paper gets.

use serde::Serialize;
use twinwedge_core::document::FilmId;
use twinwedge_core::greys::ends::{Asked, Cell, End, Mask, mask};
use twinwedge_core::measured::{Measured, Value};
use twinwedge_core::numeric::math;
use twinwedge_core::patch::PatchSample;
use twinwedge_core::problem::{Problem, Subject};

use super::measurable::Measurable;
use super::{film, print_of};
use crate::engine::ask::{EndsOf, EndsRun, PaperOf, PatchesOf, PrintEnds};
use crate::engine::{Computation, Handle, NoAnswer, Query, View};
use crate::words::{Remedy, Rule};

/// Cells along the longer side of a print, about.
const CELLS: usize = 200;
/// Standard uncertainty between the scanner's density and that of the paper test: two instruments, one paper (common practice, no
/// source).
const INSTRUMENTS_U: f64 = 0.01;
/// The least noise of a cell that is taken: a step of 8-bit codes near paper white.
const LEAST_NOISE: f64 = 0.001;
/// Neighbouring pixels of a scan are not independent: the mean of a cell scatters so many times as far as if they were (an
/// assumption, no source).
const TOGETHER: f64 = 2.0;

/// What the ends of a print are told from.
#[derive(Debug, Serialize)]
pub struct Ending {
    film: FilmId,
    scan: Measurable,
    paper: Handle<PaperOf>,
    /// They tell the noise at both ends.
    patches: Handle<PatchesOf>,
}

impl Query for EndsOf {
    type Inputs = Ending;

    fn inputs(&self, view: &View<'_>) -> Result<Ending, NoAnswer> {
        let print = print_of(film(view, &self.film)?)?;
        Ok(Ending {
            film: self.film.clone(),
            scan: Measurable::of(view, &print.scan)?,
            paper: view.handle(PaperOf)?,
            patches: view.handle(PatchesOf { film: self.film.clone() })?,
        })
    }

    fn compute(inputs: &Ending, work: &Computation<'_>) -> Result<PrintEnds, NoAnswer> {
        let paper = work.get(&inputs.paper)?;
        let patches = work.get(&inputs.patches)?;
        let scan = inputs.scan.read(work)?;
        let (plane, table) = scan.side();
        let cell = (plane.width().max(plane.height()) / CELLS).max(2);
        let end = |value: &Value, side: f64| {
            let Measured { value, u, .. } = *value.known()?;
            Some(End {
                density: value,
                u: math::hypot(u, INSTRUMENTS_U),
                noise: noise(&patches, side, cell)?,
            })
        };
        let (white, black) = (end(&paper.figures.d_min, 1.0), end(&paper.figures.d_max, -1.0));
        if white.is_none() && black.is_none() {
            let cause = Rule::PaperEndsNotKnown;
            let remedy = Remedy::ReadPaperEnds;
            return Err(Problem::note(Subject::Film(inputs.film.clone()), cause, remedy).into());
        }
        let mask = mask(plane, table, &Asked { white, black, cell });
        Ok(PrintEnds {
            white,
            black,
            cell,
            blank: mask.share(Cell::Blank),
            blocked: mask.share(Cell::Blocked),
            runs: runs(&mask),
        })
    }
}

/// Noise of the mean density of a cell at one end: from the lightest patch, or from the darkest; none where no patch is read.
fn noise(patches: &[PatchSample], side: f64, cell: usize) -> Option<f64> {
    let density = |patch: &&PatchSample| side * patch.sample.density.number();
    let nearest = patches.iter().min_by(|a, b| density(a).total_cmp(&density(b)));
    nearest.map(|patch| {
        let pixel = core::f64::consts::LOG10_E * patch.sample.relative_spread;
        (TOGETHER * pixel / cell as f64).max(LEAST_NOISE)
    })
}

/// Neighbouring cells of a row that hold the same, and no picture.
fn runs(mask: &Mask) -> Vec<EndsRun> {
    let mut runs: Vec<EndsRun> = Vec::new();
    for (row, cells) in mask.cells.chunks(mask.width.max(1)).enumerate() {
        for (column, what) in cells.iter().enumerate().filter(|(_, what)| **what != Cell::Picture) {
            match runs.last_mut() {
                Some(run) if run.row == row && run.what == *what && run.column + run.cells == column => {
                    run.cells += 1;
                }
                _ => runs.push(EndsRun { row, column, cells: 1, what: *what }),
            }
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By definition: cells that touch in a row and hold the same are one run.
    #[test]
    fn runs_hold_every_cell_without_picture_once() {
        use Cell::{Blank, Blocked, Picture};
        let cells = vec![Blank, Blank, Picture, Blocked, Blocked, Blank, Blank, Blank];
        let found = runs(&Mask { width: 4, height: 2, cell: 8, cells: cells.clone() });
        let told: Vec<(usize, usize, usize)> =
            found.iter().map(|run| (run.row, run.column, run.cells)).collect();
        assert_eq!(told, [(0, 0, 2), (0, 3, 1), (1, 0, 1), (1, 1, 3)]);
        let count = |what| found.iter().filter(|run| run.what == what).map(|run| run.cells).sum::<usize>();
        assert_eq!((count(Blank), count(Blocked)), (5, 2));
        assert_eq!(cells.len(), 8);
    }
}
