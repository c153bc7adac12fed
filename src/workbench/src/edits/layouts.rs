//! The layout of the printed target: its rows and columns, gaps, names and known densities; and what is read of each patch.

use twinwedge_core::document::{
    Aperture, FilmId, Gaps, GridShape, PatchLayout, PatchName, PatchRole, Series,
};
use twinwedge_core::geometry::Quad;
use twinwedge_core::patch::default_layout;
use twinwedge_core::problem::{Problem, Subject};

use super::prints::print_of;
use super::{Change, film_of, gone, refused};

/// A change of the layout.
#[derive(Debug, Clone, PartialEq)]
pub enum LayoutEdit {
    /// A layout takes the place of the one at hand.
    Take(PatchLayout),
    /// The grid is laid on the print of a film, with the default layout where there is none.
    Lay(FilmId, Quad),
    /// Rows and columns; patches that keep their place keep their name.
    Size {
        /// How many rows of patches.
        rows: u32,
        /// How many patches in a row.
        columns: u32,
    },
    /// Between patches and around them.
    Gaps(Gaps),
    /// Whether patches are read in the grid's place and not where their borders show them.
    Fixed(bool),
    /// What is read of each patch, on all prints alike.
    Aperture(Aperture),
    /// The share of each patch that is read, on all prints alike.
    Share(f64),
    /// A patch, by its number from 0.
    Patch(usize, PatchChange),
}

/// What is stated of a patch: its name, what it is for, its known density.
#[derive(Debug, Clone, PartialEq)]
pub enum PatchChange {
    /// What it is called.
    Rename(String),
    /// What it is for.
    Role(PatchRole),
    /// Its density on the target itself, where known.
    Density(Option<f64>),
}

/// What a patch is for, in words.
#[must_use]
pub fn role_words(role: PatchRole) -> &'static str {
    match role {
        PatchRole::Grey => "step of a grey scale",
        PatchRole::GreyCard => "grey card",
        PatchRole::White => "white",
        PatchRole::Shadow => "shadow",
        PatchRole::Colour => "colour",
        PatchRole::Skin => "skin tone",
        PatchRole::Foliage => "patch of foliage",
        PatchRole::Sky => "patch of sky",
    }
}

impl Change for LayoutEdit {
    fn label(&self, series: &Series) -> String {
        match self {
            Self::Take(_) => "take in a patch layout".to_owned(),
            Self::Lay(..) => "lay the patch grid".to_owned(),
            Self::Size { .. } => "change the size of the patch grid".to_owned(),
            Self::Gaps(_) => "change the gaps of the patch grid".to_owned(),
            Self::Fixed(false) => "follow the borders of patches".to_owned(),
            Self::Fixed(true) => "keep patches in the grid's place".to_owned(),
            Self::Aperture(_) => "set the aperture on the patches".to_owned(),
            Self::Share(_) => "set the share of the patches that is read".to_owned(),
            Self::Patch(number, change) => {
                let patch = series.layout.as_ref().and_then(|layout| layout.patches.get(*number));
                let name = patch.map_or_else(|| format!("patch {}", number + 1), |patch| patch.name.clone());
                match change {
                    PatchChange::Rename(_) => format!("rename the patch {name}"),
                    PatchChange::Role(role) => format!("call {name} a {}", role_words(*role)),
                    PatchChange::Density(_) => format!("set the known density of {name}"),
                }
            }
        }
    }

    fn apply(self, series: &mut Series) -> Result<(), Problem> {
        match self {
            Self::Take(layout) => series.layout = Some(layout),
            Self::Lay(film, quad) => {
                print_of(film_of(series, &film)?)?.grid.get_or_insert(GridShape::new(quad));
                series.layout.get_or_insert_with(default_layout);
            }
            Self::Size { rows, columns } => {
                let layout = layout_of(series)?;
                *layout = resized(layout, rows, columns);
            }
            Self::Gaps(gaps) => layout_of(series)?.gaps = gaps,
            Self::Fixed(fixed) => layout_of(series)?.fixed = fixed,
            Self::Aperture(aperture) => on_all(series, |grid| grid.aperture = aperture),
            Self::Share(share) => on_all(series, |grid| grid.inner = share),
            Self::Patch(number, change) => {
                let patch = layout_of(series)?.patches.get_mut(number);
                patch_changed(
                    patch.ok_or_else(|| gone(Subject::Series, "The layout has no such patch."))?,
                    change,
                )?;
            }
        }
        Ok(())
    }
}

fn patch_changed(patch: &mut PatchName, change: PatchChange) -> Result<(), Problem> {
    match change {
        PatchChange::Rename(name) if name.trim().is_empty() => {
            return Err(refused(Subject::Series, "A patch needs a name.", "Type one."));
        }
        PatchChange::Rename(name) => name.trim().clone_into(&mut patch.name),
        PatchChange::Role(role) => patch.role = role,
        PatchChange::Density(density) => patch.density = density,
    }
    Ok(())
}

fn layout_of(series: &mut Series) -> Result<&mut PatchLayout, Problem> {
    let none = || refused(Subject::Series, "The series has no patch layout.", "Lay a patch grid first.");
    series.layout.as_mut().ok_or_else(none)
}

/// Changes every grid that is laid.
fn on_all(series: &mut Series, change: impl Fn(&mut GridShape)) {
    let prints = series.films.iter_mut().filter_map(|film| film.print.as_mut());
    prints.filter_map(|print| print.grid.as_mut()).for_each(change);
}

/// The layout with other rows and columns; patches that keep their place keep their name.
fn resized(layout: &PatchLayout, rows: u32, columns: u32) -> PatchLayout {
    let old = |row: u32, column: u32| {
        let inside = row < layout.rows && column < layout.columns;
        inside.then(|| layout.patches.get((row * layout.columns + column) as usize).cloned()).flatten()
    };
    let patches = (0..rows).flat_map(|row| (0..columns).map(move |column| (row, column)));
    let named = |(row, column): (u32, u32)| {
        old(row, column).unwrap_or_else(|| {
            PatchName::new(format!("row {}, column {}", row + 1, column + 1), PatchRole::Colour)
        })
    };
    PatchLayout {
        rows,
        columns,
        patches: patches.map(named).collect(),
        gaps: layout.gaps,
        fixed: layout.fixed,
    }
}

#[cfg(test)]
mod tests {
    use twinwedge_core::document::{PrintChoice, ScanEntry, ScanKind};
    use twinwedge_core::geometry::{Point, Rect};

    use super::super::tests::{cause, done, two_films};
    use super::*;

    fn quad() -> Quad {
        Quad::upright(Rect { min: Point::new(1.0, 2.0), max: Point::new(30.0, 20.0) })
    }

    fn series() -> Series {
        let mut series = two_films();
        series.scans.insert("print".into(), ScanEntry::new("print.tif".to_owned(), None, ScanKind::Print));
        series.films[0].print = Some(PrintChoice::new("print".into()));
        series
    }

    fn laid() -> Series {
        done(&series(), LayoutEdit::Lay("Tern 160".into(), quad())).unwrap().0
    }

    #[test]
    fn a_grid_is_laid_with_the_default_layout() {
        let laid = laid();
        assert_eq!(laid.layout, Some(default_layout()));
        assert_eq!(laid.films[0].print.as_ref().unwrap().grid, Some(GridShape::new(quad())));
        assert!(cause(&series(), LayoutEdit::Lay("Plover 640".into(), quad())).contains("no print"));
        let other = resized(&default_layout(), 2, 2);
        assert_eq!(done(&laid, LayoutEdit::Take(other.clone())).unwrap().0.layout, Some(other));
    }

    #[test]
    fn a_resized_grid_keeps_the_names_of_patches_that_stay() {
        let (after, label) = done(&laid(), LayoutEdit::Size { rows: 5, columns: 3 }).unwrap();
        let layout = after.layout.unwrap();
        assert_eq!((layout.patches.len(), label.as_str()), (15, "change the size of the patch grid"));
        assert_eq!(layout.patches[0], default_layout().patches[0]);
        assert_eq!(layout.patches[3], default_layout().patches[6]);
        assert_eq!(layout.patches[14].name, "row 5, column 3");
        assert!(cause(&laid(), LayoutEdit::Size { rows: 101, columns: 3 }).contains("out of range"));
    }

    #[test]
    fn gaps_borders_and_what_is_read_hold_for_all_prints() {
        let laid = laid();
        let gaps = Gaps { across: 0.2, ..Gaps::default() };
        assert_eq!(done(&laid, LayoutEdit::Gaps(gaps)).unwrap().0.layout.unwrap().gaps, gaps);
        let (after, label) = done(&laid, LayoutEdit::Fixed(true)).unwrap();
        assert!(after.layout.unwrap().fixed && label == "keep patches in the grid's place");
        let grid = |series: &Series| series.films[0].print.as_ref().unwrap().grid.unwrap();
        let (after, _) = done(&laid, LayoutEdit::Aperture(Aperture::Square(3.0))).unwrap();
        assert_eq!(grid(&after).aperture, Aperture::Square(3.0));
        let (after, _) = done(&laid, LayoutEdit::Share(0.4)).unwrap();
        assert!((grid(&after).inner - 0.4).abs() < 1e-12);
        assert!(cause(&laid, LayoutEdit::Share(1.4)).contains("out of range"));
        assert!(cause(&series(), LayoutEdit::Gaps(gaps)).contains("no patch layout"));
    }

    #[test]
    fn patches_are_renamed_called_and_known() {
        let laid = laid();
        let patch = |change| LayoutEdit::Patch(1, change);
        let of = |series: Series| series.layout.unwrap().patches[1].clone();
        let name = laid.layout.as_ref().unwrap().patches[1].name.clone();
        let (after, label) = done(&laid, patch(PatchChange::Rename(" sky ".to_owned()))).unwrap();
        assert_eq!((of(after).name.as_str(), label), ("sky", format!("rename the patch {name}")));
        let (after, label) = done(&laid, patch(PatchChange::Role(PatchRole::Skin))).unwrap();
        assert_eq!((of(after).role, label), (PatchRole::Skin, format!("call {name} a skin tone")));
        let (after, _) = done(&laid, patch(PatchChange::Density(Some(0.74)))).unwrap();
        assert_eq!(of(after).density, Some(0.74));
        assert!(cause(&laid, patch(PatchChange::Rename(" ".to_owned()))).contains("needs a name"));
        assert!(cause(&laid, patch(PatchChange::Density(Some(9.0)))).contains("out of range"));
        assert!(cause(&laid, LayoutEdit::Patch(24, PatchChange::Density(None))).contains("no such patch"));
    }
}
