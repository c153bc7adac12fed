//! What a place in a scan reads, and the words for it.

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Film, ScanId};
use twinwedge_workbench::core::geometry::{Point, Transform};
use twinwedge_workbench::core::measured::Measured;
use twinwedge_workbench::core::units::Density;
use twinwedge_workbench::engine::ask::RegistrationOf;

use super::View;

/// The density of a disc in a scan; `None` while the scan is not there or where the disc leaves it.
pub(super) fn density(view: &View<'_>, scan: &ScanId, at: Point, radius: f64) -> Option<Measured<Density>> {
    view.session.sample_at(scan, at, radius)?.ok().map(|sample| sample.density)
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

/// The density of a film's print at a place of the reference's print.
pub(super) fn print_density(
    view: &View<'_>,
    film: &Film,
    at: Point,
    radius: f64,
) -> Option<Measured<Density>> {
    let print = film.print.as_ref()?;
    let map = to_print(view, film)?;
    density(view, &print.scan, map.map(at), radius * map.scale_at(at))
}

/// 'x 812  y 344'.
pub(super) fn place_words(at: Point) -> String {
    format!("x {}  y {}", format::number(at.x, 0), format::number(at.y, 0))
}

/// 'D 0.74 ± 0.02'.
pub(super) fn words(density: &Measured<Density>) -> String {
    format!("D {}", format::measured(&density.plain(), 2))
}

/// '+0.12 ± 0.04', or that it is not distinguishable.
pub(super) fn difference_words(reference: &Measured<Density>, candidate: &Measured<Density>) -> String {
    let difference = candidate.minus(reference);
    let text = format::difference(&difference.plain(), 2);
    if difference.excludes_zero() { text } else { format!("{text}, not distinguishable") }
}
