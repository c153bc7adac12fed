//! How a print is looked at, and the part of it in which detail is compared.

use twinwedge_core::document::{Series, Viewing};
use twinwedge_core::geometry::Rect;
use twinwedge_core::problem::Problem;

use super::Change;

/// A change of how prints are looked at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ViewingEdit {
    /// Enlargement, linear, and the distance of the eye in millimetres.
    Look {
        /// Linear enlargement from the negative.
        enlargement: f64,
        /// Viewing distance in millimetres.
        distance_mm: f64,
    },
    /// Density of the print where its grain is looked at.
    PrintDensity(f64),
    /// Detail is compared within a box.
    DrawBox(Rect),
    /// The box is moved.
    MoveBox(Rect),
    /// Detail is compared wherever the prints overlap.
    WholePrint,
}

impl Change for ViewingEdit {
    fn label(&self, _: &Series) -> String {
        match self {
            Self::Look { enlargement, distance_mm } => {
                format!("look as on a print of {enlargement} × at {:.0} cm", distance_mm / 10.0)
            }
            Self::PrintDensity(density) => format!("look at grain at print density {density}"),
            Self::DrawBox(_) => "draw a box for detail".to_owned(),
            Self::MoveBox(_) => "move the box for detail".to_owned(),
            Self::WholePrint => "compare detail over the whole print".to_owned(),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        match self {
            Self::Look { enlargement, distance_mm } => {
                series.viewing = Viewing { enlargement, distance_mm, ..series.viewing };
            }
            Self::PrintDensity(density) => series.viewing.print_density = density,
            Self::DrawBox(area) | Self::MoveBox(area) => series.detail_area = Some(area),
            Self::WholePrint => series.detail_area = None,
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use twinwedge_core::geometry::Point;

    use super::super::tests::{cause, done, two_films};
    use super::*;

    #[test]
    fn a_print_is_looked_at_as_said() {
        let look = ViewingEdit::Look { enlargement: 10.0, distance_mm: 400.0 };
        let (after, label) = done(&two_films(), look).unwrap();
        assert_eq!(label, "look as on a print of 10 × at 40 cm");
        let expected = Viewing { enlargement: 10.0, distance_mm: 400.0, ..Viewing::default() };
        assert_eq!(after.viewing, expected);
        let (after, label) = done(&after, ViewingEdit::PrintDensity(0.9)).unwrap();
        assert_eq!(after.viewing, Viewing { print_density: 0.9, ..expected });
        assert_eq!(label, "look at grain at print density 0.9");
        assert!(cause(&after, ViewingEdit::PrintDensity(9.0)).contains("out of range"));
    }

    #[test]
    fn a_box_for_detail_is_drawn_moved_and_taken_away() {
        let area = |left: f64| Rect::between(Point::new(left, 0.0), Point::new(left + 10.0, 10.0));
        let (drawn, _) = done(&two_films(), ViewingEdit::DrawBox(area(0.0))).unwrap();
        let (moved, label) = done(&drawn, ViewingEdit::MoveBox(area(5.0))).unwrap();
        assert_eq!((moved.detail_area, label.as_str()), (Some(area(5.0)), "move the box for detail"));
        assert_eq!(done(&moved, ViewingEdit::WholePrint).unwrap().0, two_films());
    }
}
