//! A film's print: how it is laid on the reference's, and the patch grid on it.

use twinwedge_core::document::{Film, FilmId, GridShape, PrintChoice};
use twinwedge_core::geometry::{Model, Point};
use twinwedge_core::problem::Problem;

use super::{OfFilm, OnFilm, lacks};

/// What can be done to a film's print.
#[derive(Debug, Clone, PartialEq)]
pub enum PrintChange {
    /// The grid is moved on the print on which it was laid first.
    MoveGrid(GridShape),
    /// The grid that was carried to this print is corrected.
    CorrectGrid(GridShape),
    /// The grid is carried from the reference's print again.
    CarryGrid,
    /// Two pairs of points tell how the prints lie on each other.
    Pairs([(Point, Point); 2]),
    /// One of these points is moved.
    MovePoint {
        /// Which pair: 0 or 1.
        pair: usize,
        /// On this print; else on the reference's.
        here: bool,
        /// Where it goes.
        to: Point,
    },
    /// The registration is found without them again.
    ForgetPairs,
    /// What the map from the reference's print may do.
    Model(Option<Model>),
    /// The film has no print any more; its scan stays in the series.
    TakeAway,
}

impl PrintChange {
    /// The change of that film's print.
    #[must_use]
    pub fn of(self, film: &FilmId) -> OfFilm<Self> {
        OfFilm { film: film.clone(), change: self }
    }
}

impl OnFilm for PrintChange {
    fn label(&self, film: &Film) -> String {
        let label = &film.label;
        match self {
            Self::MoveGrid(_) => "move the patch grid".to_owned(),
            Self::CorrectGrid(_) => format!("correct the patch grid of {label}"),
            Self::CarryGrid => format!("carry the patch grid of {label} again"),
            Self::Pairs(_) => format!("correct the registration of {label}"),
            Self::MovePoint { pair, .. } => format!("move point {} of {label}", pair + 1),
            Self::ForgetPairs => format!("find the registration of {label} again"),
            Self::Model(_) => format!("choose the model of {label}"),
            Self::TakeAway => format!("take the print of {label} away"),
        }
    }

    fn apply(self, film: &mut Film) -> Result<(), Problem> {
        let no_pairs = lacks(film, "Its print has no such pair of points.");
        let print = print_of(film)?;
        match self {
            Self::TakeAway => film.print = None,
            Self::MoveGrid(grid) | Self::CorrectGrid(grid) => print.grid = Some(grid),
            Self::CarryGrid => print.grid = None,
            Self::Pairs(pairs) => print.pairs = Some(pairs),
            Self::MovePoint { pair, here, to } => {
                let pairs = print.pairs.as_mut();
                let (there, own) = pairs.and_then(|pairs| pairs.get_mut(pair)).ok_or(no_pairs)?;
                *(if here { own } else { there }) = to;
            }
            Self::ForgetPairs => print.pairs = None,
            Self::Model(model) => print.model = model,
        }
        Ok(())
    }
}

/// The print of a film; refused where it has none.
pub(super) fn print_of(film: &mut Film) -> Result<&mut PrintChoice, Problem> {
    let none = lacks(film, "It has no print.");
    film.print.as_mut().ok_or(none)
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{ScanEntry, ScanKind, Series};
    use twinwedge_core::geometry::{Quad, Rect};

    use super::super::tests::{cause, done, two_films};
    use super::*;

    fn series() -> Series {
        let mut series = two_films();
        series.scans.insert("print".into(), ScanEntry::new("print.tif".to_owned(), None, ScanKind::Print));
        series.films[1].print = Some(PrintChoice::new("print".into()));
        series
    }

    fn of(change: PrintChange) -> OfFilm<PrintChange> {
        change.of(&"Plover 640".into())
    }

    fn print(series: &Series) -> &PrintChoice {
        series.films[1].print.as_ref().unwrap()
    }

    #[test]
    fn a_grid_is_moved_corrected_and_carried_again() {
        let series = series();
        let area = Rect { min: Point::new(1.0, 2.0), max: Point::new(30.0, 20.0) };
        let grid = GridShape::new(Quad::upright(area));
        let (after, label) = done(&series, of(PrintChange::CorrectGrid(grid))).unwrap();
        assert_eq!(
            (print(&after).grid, label.as_str()),
            (Some(grid), "correct the patch grid of Plover 640")
        );
        let (after, label) = done(&series, of(PrintChange::MoveGrid(grid))).unwrap();
        assert_eq!((print(&after).grid, label.as_str()), (Some(grid), "move the patch grid"));
        let (back, label) = done(&after, of(PrintChange::CarryGrid)).unwrap();
        assert_eq!((back, label.as_str()), (series, "carry the patch grid of Plover 640 again"));
    }

    #[test]
    fn points_are_laid_moved_and_forgotten() {
        let series = series();
        let to = Point::new(7.0, 8.0);
        let moved = |pair, here| of(PrintChange::MovePoint { pair, here, to });
        assert!(cause(&series, moved(0, true)).contains("no such pair"));
        let zero = Point::new(0.0, 0.0);
        let (laid, label) = done(&series, of(PrintChange::Pairs([(zero, zero); 2]))).unwrap();
        assert_eq!(label, "correct the registration of Plover 640");
        let (after, label) = done(&laid, moved(1, true)).unwrap();
        assert_eq!(
            (print(&after).pairs, label.as_str()),
            (Some([(zero, zero), (zero, to)]), "move point 2 of Plover 640")
        );
        let (after, _) = done(&laid, moved(0, false)).unwrap();
        assert_eq!(print(&after).pairs, Some([(to, zero), (zero, zero)]));
        assert!(cause(&laid, moved(2, false)).contains("no such pair"));
        assert_eq!(done(&laid, of(PrintChange::ForgetPairs)).unwrap().0, series);
        let (after, _) = done(&series, of(PrintChange::Model(Some(Model::Affine)))).unwrap();
        assert_eq!(print(&after).model, Some(Model::Affine));
    }

    #[test]
    fn a_film_without_a_print_is_told() {
        for change in [PrintChange::CarryGrid, PrintChange::ForgetPairs, PrintChange::Model(None)] {
            assert!(cause(&series(), change.of(&"Tern 160".into())).contains("no print"));
        }
    }

    #[test]
    fn a_print_is_taken_away_and_its_scan_stays() {
        let (after, label) = done(&series(), of(PrintChange::TakeAway)).unwrap();
        assert_eq!(label, "take the print of Plover 640 away");
        assert!(after.films[1].print.is_none() && after.scans.len() == 1);
        assert_eq!(cause(&after, of(PrintChange::TakeAway)), "It has no print.");
    }
}
