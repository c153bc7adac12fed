//! The edges by which sharpness is measured: of a film, and of its scanner.

use twinwedge_core::document::{EdgeArea, Film, FilmId, Series};
use twinwedge_core::geometry::Rect;
use twinwedge_core::problem::Problem;
use twinwedge_core::sharpness::EdgeSpace;

use super::{Change, OfFilm, OnFilm, lacks};

/// What can be done to a film's edges; each is named by its number from 0.
#[derive(Debug, Clone, PartialEq)]
pub enum EdgeChange {
    /// A further box on the same place as this one.
    AddLike(usize),
    /// An edge goes.
    Remove(usize),
    /// The box around an edge is moved.
    Move(usize, Rect),
}

impl EdgeChange {
    /// The change of that film's edges.
    #[must_use]
    pub fn of(self, film: &FilmId) -> OfFilm<Self> {
        OfFilm { film: film.clone(), change: self }
    }
}

impl OnFilm for EdgeChange {
    fn label(&self, film: &Film) -> String {
        let of = &film.label;
        match self {
            Self::AddLike(_) => format!("add an edge to {of}"),
            Self::Remove(_) => format!("remove an edge of {of}"),
            Self::Move(..) => format!("move an edge of {of}"),
        }
    }

    fn apply(self, film: &mut Film) -> Result<(), Problem> {
        match self {
            Self::AddLike(number) => {
                let edge = edge_of(film, number)?.clone();
                film.edges.push(edge);
            }
            Self::Remove(number) => {
                edge_of(film, number)?;
                film.edges.remove(number);
            }
            Self::Move(number, area) => edge_of(film, number)?.area = area,
        }
        Ok(())
    }
}

fn edge_of(film: &mut Film, number: usize) -> Result<&mut EdgeArea, Problem> {
    let none = lacks(film, format!("It has no edge {}.", number + 1));
    film.edges.get_mut(number).ok_or(none)
}

/// How sharpness is measured.
#[derive(Debug, Clone, PartialEq)]
pub enum ScannerEdgeEdit {
    /// What transfer functions are of.
    Space(EdgeSpace),
    /// The scanner's own edge is no longer divided out.
    LeaveOut,
}

impl Change for ScannerEdgeEdit {
    fn label(&self, _: &Series) -> String {
        match self {
            Self::Space(EdgeSpace::Exposure) => "measure edges in exposure",
            Self::Space(EdgeSpace::Light) => "measure edges in light",
            Self::LeaveOut => "leave the scanner's edge out",
        }
        .to_owned()
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        match self {
            Self::Space(space) => series.sharpness.space = space,
            Self::LeaveOut => series.sharpness.scanner_edge = None,
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{ScanEntry, ScanKind};
    use twinwedge_core::geometry::Point;

    use super::super::tests::{cause, done, two_films};
    use super::*;

    fn area(left: f64) -> Rect {
        Rect::between(Point::new(left, 0.0), Point::new(left + 10.0, 10.0))
    }

    fn series() -> Series {
        let mut series = two_films();
        series.scans.insert("a".into(), ScanEntry::new("a.tif".to_owned(), None, ScanKind::Film));
        let edge = EdgeArea { scan: "a".into(), area: area(0.0) };
        series.films[0].edges.push(edge.clone());
        series.sharpness.scanner_edge = Some(edge);
        series
    }

    #[test]
    fn edges_are_added_moved_and_removed() {
        let of = |change: EdgeChange| change.of(&"Tern 160".into());
        let (two, label) = done(&series(), of(EdgeChange::AddLike(0))).unwrap();
        assert_eq!((two.films[0].edges.len(), label.as_str()), (2, "add an edge to Tern 160"));
        let (moved, label) = done(&two, of(EdgeChange::Move(1, area(5.0)))).unwrap();
        assert_eq!((moved.films[0].edges[1].area, label.as_str()), (area(5.0), "move an edge of Tern 160"));
        let (left, _) = done(&moved, of(EdgeChange::Remove(0))).unwrap();
        assert_eq!((left.films[0].edges.len(), left.films[0].edges[0].area), (1, area(5.0)));
        for change in [EdgeChange::AddLike(1), EdgeChange::Remove(1), EdgeChange::Move(1, area(0.0))] {
            assert!(cause(&left, of(change)).contains("no edge 2"));
        }
    }

    #[test]
    fn the_scanners_own_edge_is_left_out_and_the_space_chosen() {
        let (after, label) = done(&series(), ScannerEdgeEdit::LeaveOut).unwrap();
        assert_eq!((after.sharpness.scanner_edge, label.as_str()), (None, "leave the scanner's edge out"));
        let (after, label) = done(&series(), ScannerEdgeEdit::Space(EdgeSpace::Light)).unwrap();
        assert_eq!((after.sharpness.space, label.as_str()), (EdgeSpace::Light, "measure edges in light"));
    }
}
