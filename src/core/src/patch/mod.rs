//! The patch grid of a printed target.

use serde::Serialize;

use crate::document::{GridShape, PatchLayout, PatchName, PatchRole};
use crate::geometry::{Quad, Transform};
use crate::problem::{Problem, Subject};
use crate::scan::{Plane, ToneTable};
use crate::tablet::{StepSample, not_convex, sample_spots, spots};

/// One sampled patch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PatchSample {
    /// Its name in the layout.
    pub name: String,
    /// The reading; its `step` is the patch number from 1, row by row.
    pub sample: StepSample,
}

/// The layout offered for a new series: four rows of six. The greys stand in the outer columns, lighter ones at the left
/// and darker ones at the right, so that uneven light shows; colours and skin tones stand between them.
///
/// ```
/// # use twinwedge_core::document::PatchRole;
/// let layout = twinwedge_core::patch::default_layout();
/// assert_eq!(layout.patches.len(), 24);
/// assert_eq!(layout.patches.iter().filter(|patch| patch.role == PatchRole::GreyCard).count(), 1);
/// ```
#[must_use]
pub fn default_layout() -> PatchLayout {
    use PatchRole::{Colour, Grey, GreyCard, Shadow, Skin, White};
    const PATCHES: [(&str, PatchRole); 24] = [
        ("white", White),
        ("brick", Colour),
        ("rust", Colour),
        ("straw", Colour),
        ("skin, pale", Skin),
        ("deep grey", Grey),
        ("pale grey", Grey),
        ("moss", Colour),
        ("lime", Colour),
        ("sea green", Colour),
        ("skin, tan", Skin),
        ("charcoal", Grey),
        ("light grey", Grey),
        ("teal", Colour),
        ("cornflower", Colour),
        ("navy", Colour),
        ("skin, brown", Skin),
        ("shadow", Shadow),
        ("grey card", GreyCard),
        ("violet", Colour),
        ("plum", Colour),
        ("rose", Colour),
        ("skin, deep", Skin),
        ("black", Grey),
    ];
    let patches = PATCHES.map(|(name, role)| PatchName { name: name.to_owned(), role });
    PatchLayout { rows: 4, columns: 6, patches: patches.to_vec() }
}

/// The inner area of each patch, row by row, in the scan's pixels. Empty if the corners are not those of a convex
/// quadrilateral or the inner share is not within 0..=1.
#[must_use]
pub fn patch_areas(layout: &PatchLayout, shape: &GridShape) -> Vec<Quad> {
    if !(shape.inner > 0.0 && shape.inner <= 1.0) {
        return Vec::new();
    }
    let span = |i: u32, n: u32| {
        let (middle, half) = ((f64::from(i) + 0.5) / f64::from(n), shape.inner / 2.0 / f64::from(n));
        (middle - half, middle + half)
    };
    let cells = (0..layout.rows).flat_map(|row| (0..layout.columns).map(move |column| (row, column)));
    cells
        .filter_map(|(row, column)| shape.quad.part(span(column, layout.columns), span(row, layout.rows)))
        .collect()
}

/// The grid of one print carried to another by their registration.
#[must_use]
pub fn carry_grid(shape: &GridShape, to: &Transform) -> GridShape {
    GridShape { quad: to.map_quad(&shape.quad), ..*shape }
}

/// Samples every patch of a grid.
///
/// # Errors
/// The layout does not name as many patches as it has places, the grid lies outside the scan or is not convex, or patches
/// are too small to hold enough pixels.
pub fn sample_patches(
    plane: Plane<'_>,
    table: &ToneTable,
    layout: &PatchLayout,
    shape: &GridShape,
) -> Result<Vec<PatchSample>, Problem> {
    let places = layout.rows as usize * layout.columns as usize;
    if layout.patches.len() != places || places == 0 {
        return Err(Problem::error(
            Subject::Series,
            format!(
                "The patch layout has {} rows of {} but names {} patches.",
                layout.rows,
                layout.columns,
                layout.patches.len()
            ),
            "Give every patch of the layout a name.",
        ));
    }
    let areas = patch_areas(layout, shape);
    if areas.len() != places {
        return Err(not_convex("patch grid"));
    }
    let whole = patch_areas(layout, &GridShape { inner: 1.0, ..*shape });
    let spots = spots(shape.aperture, &whole, &areas, plane.per_mm(), "patch")?;
    let samples = sample_spots(plane, table, &spots, "patch")?;
    let named = layout.patches.iter().zip(samples);
    Ok(named.map(|(patch, sample)| PatchSample { name: patch.name.clone(), sample }).collect())
}
