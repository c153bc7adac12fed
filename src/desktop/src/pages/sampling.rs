//! What a place in a scan reads, and the words for it.

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Film, ScanId};
use twinwedge_workbench::core::geometry::{Point, Transform};
use twinwedge_workbench::core::tablet::StepSample;
use twinwedge_workbench::engine::ask::RegistrationOf;

use super::View;

/// What a disc in a scan reads; `None` while the scan is not there or where the disc leaves it.
pub(super) fn density(view: &View<'_>, scan: &ScanId, at: Point, radius: f64) -> Option<StepSample> {
    view.session.sample_at(scan, at, radius)?.ok()
}

/// From the pixels that prints are shown in to this film's print: those of the reference's print, or of the candidate's own
/// where the reference has none.
pub(super) fn to_print(view: &View<'_>, film: &Film) -> Option<Transform> {
    let shown = view.bench().find(|film| film.print.is_some());
    if shown.is_some_and(|shown| shown.id == film.id) {
        return Some(Transform::IDENTITY);
    }
    let slot = view.session.peek(&RegistrationOf { film: film.id.clone() });
    slot.value().map(|found| found.transform)
}

/// What a film's print reads at a place of the reference's print.
pub(super) fn print_density(view: &View<'_>, film: &Film, at: Point, radius: f64) -> Option<StepSample> {
    let print = film.print.as_ref()?;
    let map = to_print(view, film)?;
    density(view, &print.scan, map.map(at), radius * map.scale_at(at))
}

/// What the interval of a difference of densities says of the scanner's calibration.
pub(super) const COMMON: &str = "What one calibration errs in both alike is not in the interval.";

/// 'x 812  y 344'.
pub(super) fn place_words(at: Point) -> String {
    format!("x {}  y {}", format::number(at.x, 0), format::number(at.y, 0))
}

/// 'D 0.74 ± 0.02'.
pub(super) fn words(sample: &StepSample) -> String {
    format!("D {}", format::measured(&sample.density.plain(), 2))
}

/// '+0.12 ± 0.04', or that it is not distinguishable.
pub(super) fn difference_words(reference: &StepSample, candidate: &StepSample) -> String {
    let difference = candidate.minus(reference);
    let text = format::difference(&difference, 2);
    if difference.excludes_zero() { text } else { format!("{text}, not distinguishable") }
}
