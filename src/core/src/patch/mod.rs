//! The patch grid of a printed target.

mod borders;

use serde::Serialize;

use crate::document::{Gaps, GridShape, PatchLayout, PatchName, PatchRole};
use crate::geometry::{Quad, Transform};
use crate::problem::Problem;
use crate::scan::{Plane, ToneTable};
use crate::tablet::{StepSample, not_convex, sample_spots, spots};
use crate::words::{self, Sentence};
use borders::Placed;

/// One sampled patch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PatchSample {
    /// Its name in the layout.
    pub name: String,
    /// The reading; its `step` is the patch number from 1, row by row.
    pub sample: StepSample,
    /// Sides of it, of four, whose borders show and which it was placed by; 0 where it lies as the grid has it.
    pub borders: u8,
    /// What speaks against its place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub doubt: Option<Sentence>,
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
    let patches = PATCHES.map(|(name, role)| PatchName::new(name, role));
    PatchLayout { rows: 4, columns: 6, patches: patches.to_vec(), gaps: Gaps::default(), fixed: false }
}

/// Two greys whose order on the print is not that of their known densities: the grid may lie the wrong way round, or the
/// scan may be inverted. `None` where all are in order, or too few are known. A print keeps the order of greys whatever its
/// contrast (common practice, no source).
///
/// ```
/// # use twinwedge_core::document::PatchRole;
/// let mut layout = twinwedge_core::patch::default_layout();
/// layout.patches[0].density = Some(0.05);
/// assert!(twinwedge_core::patch::out_of_order(&layout, &[]).is_none());
/// ```
#[must_use]
pub fn out_of_order(layout: &PatchLayout, samples: &[PatchSample]) -> Option<Sentence> {
    /// Greys nearer to each other than this on the target tell nothing.
    const APART: f64 = 0.1;
    let mut greys: Vec<(f64, &PatchSample)> = layout
        .patches
        .iter()
        .zip(samples)
        .filter(|(patch, _)| patch.role.is_neutral())
        .filter_map(|(patch, sample)| Some((patch.density?, sample)))
        .collect();
    greys.sort_by(|one, other| one.0.total_cmp(&other.0));
    greys.iter().enumerate().find_map(|(i, (lighter, light))| {
        let (_, dark) = greys[i + 1..].iter().find(|(darker, dark)| {
            let difference = dark.sample.minus(&light.sample);
            darker - lighter > APART && difference.number() < 0.0 && difference.excludes_zero()
        })?;
        Some(words::Patch::OutOfOrder { dark: dark.name.clone(), light: light.name.clone() }.into())
    })
}

/// The inner area of each patch, row by row, in the scan's pixels. Empty if the corners are not those of a convex
/// quadrilateral or the inner share is not within 0..=1.
#[must_use]
pub fn patch_areas(layout: &PatchLayout, shape: &GridShape) -> Vec<Quad> {
    if !(shape.inner > 0.0 && shape.inner <= 1.0) {
        return Vec::new();
    }
    let span = |i: u32, n: u32, gap: f64, margin: f64| {
        // In patches: margin, patch, gap, patch ... margin.
        let whole = f64::from(n) + f64::from(n - 1) * gap + 2.0 * margin;
        let middle = margin + f64::from(i) * (1.0 + gap) + 0.5;
        ((middle - shape.inner / 2.0) / whole, (middle + shape.inner / 2.0) / whole)
    };
    let gaps = &layout.gaps;
    let across = |column| span(column, layout.columns, gaps.across, gaps.margin_across);
    let down = |row| span(row, layout.rows, gaps.down, gaps.margin_down);
    let cells = (0..layout.rows).flat_map(|row| (0..layout.columns).map(move |column| (row, column)));
    cells.filter_map(|(row, column)| shape.quad.part(across(column), down(row))).collect()
}

/// The grid of one print carried to another by their registration.
#[must_use]
pub fn carry_grid(shape: &GridShape, to: &Transform) -> GridShape {
    GridShape { quad: to.map_quad(&shape.quad), ..*shape }
}

/// Samples every patch of a grid, each at its own borders where they show, unless the layout says that it is fixed.
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
    layout.check().map_err(|fault| Problem::of_fault(*fault))?;
    let areas = patch_areas(layout, shape);
    let wholes = patch_areas(layout, &GridShape { inner: 1.0, ..*shape });
    if areas.len() != layout.patches.len() || wholes.len() != areas.len() {
        return Err(not_convex("patch grid"));
    }
    let placed = if layout.fixed {
        wholes.iter().map(|whole| Placed { whole: *whole, sides: 0, doubt: None }).collect()
    } else {
        borders::follow(plane, table, &wholes)
    };
    let inside = ((1.0 - shape.inner) / 2.0, (1.0 + shape.inner) / 2.0);
    let inner = placed.iter().zip(&areas).map(|(placed, area)| {
        let moved = (placed.sides > 0).then(|| placed.whole.part(inside, inside)).flatten();
        moved.unwrap_or(*area)
    });
    let inner: Vec<Quad> = inner.collect();
    let wholes: Vec<Quad> = placed.iter().map(|placed| placed.whole).collect();
    let spots = spots(shape.aperture, &wholes, &inner, plane.per_mm(), "patch")?;
    let samples = sample_spots(plane, table, &spots, "patch")?;
    let named = layout.patches.iter().zip(samples).zip(placed);
    let sample = |((patch, sample), placed): ((&PatchName, StepSample), Placed)| PatchSample {
        name: patch.name.clone(),
        sample,
        borders: placed.sides,
        doubt: placed.doubt,
    };
    Ok(named.map(sample).collect())
}
