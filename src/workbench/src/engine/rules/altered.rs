//! What was done to a scan before it was measured: each measurement names what spoils it.

use twinwedge_core::document::ScanId;
use twinwedge_core::scan::examine::Fault;

use crate::engine::ask::ExaminedOf;
use crate::engine::{Halt, Recipe, View};

/// What spoils grain.
pub(super) const GRAIN: &[Fault] =
    &[Fault::Sharpened, Fault::Denoised, Fault::JpegBlocks, Fault::Upsampled, Fault::MissingCodes];
/// What spoils sharpness and detail.
pub(super) const DETAIL: &[Fault] = &[Fault::Sharpened, Fault::Denoised, Fault::JpegBlocks, Fault::Upsampled];

/// Which of these a scan's examination found, each with what it spoils and what to do.
pub(super) fn of(view: &View<'_>, scan: &ScanId, faults: &[Fault]) -> Result<Vec<String>, Halt> {
    let Ok(examined) = view.try_get(&ExaminedOf { scan: scan.clone() })? else { return Ok(Vec::new()) };
    let found = examined.pixels.found().filter(|test| faults.contains(&test.fault));
    Ok(found
        .map(|test| format!("{} That spoils {}. {}", test.sentence, test.fault.spoils(), test.fault.remedy()))
        .collect())
}

/// What that is made from.
pub(super) fn key(recipe: Recipe, view: &View<'_>, scan: &ScanId) -> Result<Recipe, Halt> {
    Ok(match view.try_digest(&ExaminedOf { scan: scan.clone() })? {
        Ok(examined) => recipe.key(examined),
        Err(_) => recipe,
    })
}
