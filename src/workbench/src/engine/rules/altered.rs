//! What was done to a scan before it was measured: each measurement names what spoils it.

use twinwedge_core::document::ScanId;
use twinwedge_core::scan::examine::Fault;
use twinwedge_core::words::Sentence;

use crate::engine::ask::ExaminedOf;
use crate::engine::{Computation, Handle, NoAnswer, View};
use crate::words::Rule;

/// What spoils grain.
pub(super) const GRAIN: &[Fault] =
    &[Fault::Sharpened, Fault::Denoised, Fault::JpegBlocks, Fault::Upsampled, Fault::MissingCodes];
/// What spoils sharpness and detail.
pub(super) const DETAIL: &[Fault] = &[Fault::Sharpened, Fault::Denoised, Fault::JpegBlocks, Fault::Upsampled];

/// The examination of a scan, where it could be made.
pub(super) type Altered = Option<Handle<ExaminedOf>>;

pub(super) fn examination(view: &View<'_>, scan: &ScanId) -> Result<Altered, NoAnswer> {
    Ok(view.try_handle(ExaminedOf { scan: scan.clone() })?.ok())
}

/// Which of these faults it found, each with what it spoils and what to do.
pub(super) fn told(
    altered: &Altered,
    work: &Computation<'_>,
    faults: &[Fault],
) -> Result<Vec<Sentence>, NoAnswer> {
    let Some(examined) = altered else { return Ok(Vec::new()) };
    let examined = work.get(examined)?;
    let found = examined.pixels.found().filter(|test| faults.contains(&test.fault));
    Ok(found
        .map(|test| {
            Rule::Spoils {
                found: test.sentence.clone(),
                what: test.fault.spoils(),
                remedy: test.fault.remedy(),
            }
            .into()
        })
        .collect())
}
