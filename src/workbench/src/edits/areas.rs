//! The uniform areas of a film, in which grain is measured, and where the scanner's noise in each is known from.

use twinwedge_core::document::{Film, FilmId, GrainArea, GrainNoise};
use twinwedge_core::geometry::{Point, Rect};
use twinwedge_core::problem::Problem;

use super::{OfFilm, OnFilm, lacks};

/// What can be done to a film's uniform areas; each is named by its number from 0.
#[derive(Debug, Clone, PartialEq)]
pub enum AreaChange {
    /// Another area beside this one, in the same scan.
    AddBeside(usize),
    /// An area goes; the next ones move up.
    Remove(usize),
    /// An area is moved.
    Move(usize, Rect),
    /// Where the scanner's noise in it is known from.
    Noise(usize, GrainNoise),
    /// The blank area that tells the noise in it is moved.
    MoveBlank(usize, Rect),
}

impl AreaChange {
    /// The change of that film's areas.
    #[must_use]
    pub fn of(self, film: &FilmId) -> OfFilm<Self> {
        OfFilm { film: film.clone(), change: self }
    }
}

/// ' 2' for the second area; nothing for the first, which most films have alone.
fn which(number: usize) -> String {
    if number == 0 { String::new() } else { format!(" {}", number + 1) }
}

impl OnFilm for AreaChange {
    fn label(&self, film: &Film) -> String {
        let of = &film.label;
        match self {
            Self::AddBeside(_) => format!("add a uniform area of {of}"),
            Self::Remove(number) => format!("remove uniform area {} of {of}", number + 1),
            Self::Move(number, _) => format!("move the grain area{} of {of}", which(*number)),
            Self::MoveBlank(number, _) => format!("move the blank area{} of {of}", which(*number)),
            Self::Noise(number, noise) => {
                let now = film.uniform_areas.get(*number).map(|grain| &grain.noise);
                match (now, noise) {
                    (_, GrainNoise::Blank { .. }) => format!("mark a blank area for {of}"),
                    (Some(GrainNoise::Blank { .. }), _) => format!("take the blank area of {of} away"),
                    _ => format!("say where the scanner's noise of {of} is known from"),
                }
            }
        }
    }

    fn apply(self, film: &mut Film) -> Result<(), Problem> {
        match self {
            Self::AddBeside(number) => {
                let grain = area_of(film, number)?.clone();
                film.uniform_areas.push(GrainArea { area: beside(grain.area), ..grain });
            }
            Self::Remove(number) => {
                area_of(film, number)?;
                film.uniform_areas.remove(number);
            }
            Self::Move(number, area) => area_of(film, number)?.area = area,
            Self::Noise(number, noise) => area_of(film, number)?.noise = noise,
            Self::MoveBlank(number, moved) => {
                let none = lacks(film, format!("Uniform area {} of it has no blank area.", number + 1));
                match &mut area_of(film, number)?.noise {
                    GrainNoise::Blank { area, .. } => *area = moved,
                    _ => return Err(none),
                }
            }
        }
        Ok(())
    }
}

/// The uniform area of that number; refused where there is none.
pub(super) fn area_of(film: &mut Film, number: usize) -> Result<&mut GrainArea, Problem> {
    let none = lacks(film, format!("It has no uniform area {}.", number + 1));
    film.uniform_areas.get_mut(number).ok_or(none)
}

/// A place of the same size a little to the upper left, so that both are seen.
fn beside(area: Rect) -> Rect {
    let (dx, dy) = ((area.width() / 8.0).round(), (area.height() / 8.0).round());
    let (x, y) = (area.min.x.min(dx), area.min.y.min(dy));
    Rect::between(Point::new(area.min.x - x, area.min.y - y), Point::new(area.max.x - x, area.max.y - y))
}

/// A first place for a blank area in a scan of that size: a box of four tenths of the size of the area that it is `like`, so
/// that handles do not lie on handles, in the corner where it lies least on areas that are `taken`.
#[must_use]
pub fn resting_place((width, height): (usize, usize), like: Rect, taken: &[Rect]) -> Rect {
    let (across, down) = ((0.4 * like.width()).round(), (0.4 * like.height()).round());
    let (right, low) = ((width as f64 - across).max(0.0), (height as f64 - down).max(0.0));
    let corner = |(x, y): (f64, f64)| Rect::between(Point::new(x, y), Point::new(x + across, y + down));
    let shared = |of: &Rect| -> f64 {
        let along = |a: (f64, f64), b: (f64, f64)| (a.1.min(b.1) - a.0.max(b.0)).max(0.0);
        let both = |other: &Rect| {
            along((of.min.x, of.max.x), (other.min.x, other.max.x))
                * along((of.min.y, of.max.y), (other.min.y, other.max.y))
        };
        taken.iter().map(both).sum()
    };
    let mut best = corner((right, low));
    for other in [(0.0, low), (right, 0.0), (0.0, 0.0)].map(corner) {
        if shared(&other) < shared(&best) {
            best = other;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{ScanEntry, ScanKind, Series};

    use super::super::tests::{cause, done, two_films};
    use super::*;

    fn area(left: f64) -> Rect {
        Rect::between(Point::new(left, 0.0), Point::new(left + 16.0, 16.0))
    }

    fn of(change: AreaChange) -> OfFilm<AreaChange> {
        change.of(&"Tern 160".into())
    }

    /// Tern with three areas in one scan.
    fn series() -> Series {
        let mut series = two_films();
        series.scans.insert("a".into(), ScanEntry::new("a.tif".to_owned(), None, ScanKind::Film));
        for left in [0.0, 20.0, 40.0] {
            series.films[0].uniform_areas.push(GrainArea::new("a".into(), area(left)));
        }
        series
    }

    fn lefts(series: &Series) -> Vec<f64> {
        series.films[0].uniform_areas.iter().map(|grain| grain.area.min.x).collect()
    }

    #[test]
    fn areas_are_added_moved_and_removed_and_the_next_ones_move_up() {
        let series = series();
        let (after, label) = done(&series, of(AreaChange::AddBeside(2))).unwrap();
        assert_eq!(
            (lefts(&after), label.as_str()),
            (vec![0.0, 20.0, 40.0, 38.0], "add a uniform area of Tern 160")
        );
        let (after, label) = done(&series, of(AreaChange::Move(1, area(30.0)))).unwrap();
        assert_eq!(
            (lefts(&after), label.as_str()),
            (vec![0.0, 30.0, 40.0], "move the grain area 2 of Tern 160")
        );
        let (after, label) = done(&series, of(AreaChange::Remove(1))).unwrap();
        assert_eq!((lefts(&after), label.as_str()), (vec![0.0, 40.0], "remove uniform area 2 of Tern 160"));
        let (after, _) = done(&after, of(AreaChange::Remove(0))).unwrap();
        assert_eq!(lefts(&after), [40.0]);
        let (after, _) = done(&after, of(AreaChange::Remove(0))).unwrap();
        assert!(lefts(&after).is_empty());
        for change in [AreaChange::Remove(0), AreaChange::AddBeside(0), AreaChange::Move(0, area(1.0))] {
            assert!(cause(&after, of(change)).contains("no uniform area 1"));
        }
    }

    #[test]
    fn noise_is_known_from_where_it_is_said_to_be() {
        let series = series();
        let noise = |noise| of(AreaChange::Noise(0, noise));
        let blank = GrainNoise::Blank { scan: "a".into(), area: area(60.0) };
        let (marked, label) = done(&series, noise(blank.clone())).unwrap();
        assert_eq!(
            (&marked.films[0].uniform_areas[0].noise, label.as_str()),
            (&blank, "mark a blank area for Tern 160")
        );
        let (moved, label) = done(&marked, of(AreaChange::MoveBlank(0, area(70.0)))).unwrap();
        assert_eq!(label, "move the blank area of Tern 160");
        let expected = GrainNoise::Blank { scan: "a".into(), area: area(70.0) };
        assert_eq!(moved.films[0].uniform_areas[0].noise, expected);
        assert_eq!(
            done(&moved, noise(GrainNoise::LeftIn)).unwrap().1,
            "take the blank area of Tern 160 away"
        );
        let (_, label) = done(&series, noise(GrainNoise::LeftIn)).unwrap();
        assert_eq!(label, "say where the scanner's noise of Tern 160 is known from");
        assert!(cause(&series, of(AreaChange::MoveBlank(0, area(1.0)))).contains("no blank area"));
        assert!(cause(&series, noise(GrainNoise::Repeat("b".into()))).contains("no scan"));
    }

    #[test]
    fn a_blank_box_begins_where_no_area_lies() {
        let area =
            |x: f64, y: f64, side: f64| Rect::between(Point::new(x, y), Point::new(x + side, y + side));
        let like = area(0.0, 0.0, 40.0);
        assert_eq!(resting_place((100, 80), like, &[like]), area(84.0, 64.0, 16.0));
        let taken = [area(60.0, 40.0, 40.0), area(0.0, 40.0, 40.0)];
        assert_eq!(resting_place((100, 80), like, &taken), area(84.0, 0.0, 16.0));
    }
}
