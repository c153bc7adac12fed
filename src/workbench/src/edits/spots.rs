//! Places that are sampled in all prints.

use twinwedge_core::document::{Series, Spot};
use twinwedge_core::geometry::Point;
use twinwedge_core::problem::{Problem, Subject};

use super::{Change, gone, refused};

/// A change of the spots.
#[derive(Debug, Clone, PartialEq)]
pub enum SpotEdit {
    /// A place is kept, under a name of its own.
    Keep {
        /// In the reference print's pixels.
        at: Point,
        /// Of the disc, in the same.
        radius: f64,
    },
    /// A spot, by its number from 0, is called otherwise.
    Rename(usize, String),
    /// A spot goes.
    Delete(usize),
}

impl Change for SpotEdit {
    fn label(&self, series: &Series) -> String {
        let name = |spot: &usize| {
            series.spots.get(*spot).map_or_else(|| format!("spot {}", spot + 1), |spot| spot.name.clone())
        };
        match self {
            Self::Keep { .. } => format!("keep {}", free_name(series)),
            Self::Rename(spot, _) => format!("rename {}", name(spot)),
            Self::Delete(spot) => format!("delete {}", name(spot)),
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        let absent = || gone(Subject::Series, "It has no such spot.");
        match self {
            Self::Keep { at, radius } => series.spots.push(Spot { name: free_name(series), at, radius }),
            Self::Rename(_, name) if name.trim().is_empty() => {
                return Err(refused(Subject::Series, "A spot needs a name.", "Type one."));
            }
            Self::Rename(spot, name) => {
                name.trim().clone_into(&mut series.spots.get_mut(spot).ok_or_else(absent)?.name);
            }
            Self::Delete(spot) if spot < series.spots.len() => {
                series.spots.remove(spot);
            }
            Self::Delete(_) => return Err(absent()),
        }
        Ok(())
    }
}

/// `spot 1`, `spot 2` ..., the first from the number of spots on that is free.
fn free_name(series: &Series) -> String {
    (series.spots.len() + 1..)
        .map(|number| format!("spot {number}"))
        .find(|name| series.spots.iter().all(|spot| spot.name != *name))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::super::tests::{cause, done, two_films};
    use super::*;

    #[test]
    fn spots_are_kept_renamed_and_deleted() {
        let keep = |x| SpotEdit::Keep { at: Point::new(x, 5.0), radius: 4.0 };
        let (one, label) = done(&two_films(), keep(1.0)).unwrap();
        assert_eq!(label, "keep spot 1");
        let (one, label) = done(&one, SpotEdit::Rename(0, " spot 2 ".to_owned())).unwrap();
        assert_eq!(label, "rename spot 1");
        let (two, label) = done(&one, keep(2.0)).unwrap();
        assert_eq!(label, "keep spot 3", "no two are called alike");
        let (left, label) = done(&two, SpotEdit::Delete(0)).unwrap();
        assert_eq!(
            (left.spots.len(), left.spots[0].name.as_str(), label.as_str()),
            (1, "spot 3", "delete spot 2")
        );
        assert!(cause(&left, SpotEdit::Delete(1)).contains("no such spot"));
        assert!(cause(&left, SpotEdit::Rename(1, "sky".to_owned())).contains("no such spot"));
        assert!(cause(&left, SpotEdit::Rename(0, String::new())).contains("needs a name"));
        assert!(
            cause(&left, SpotEdit::Keep { at: Point::new(0.0, 0.0), radius: 0.0 }).contains("out of range")
        );
    }
}
