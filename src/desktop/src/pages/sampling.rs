//! What a place in a scan reads, and the words for it.

use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{Film, ScanId};
use twinwedge_workbench::core::geometry::{Point, Similarity};
use twinwedge_workbench::core::measured::Measured;
use twinwedge_workbench::core::tablet::sample_disc;
use twinwedge_workbench::core::units::Density;
use twinwedge_workbench::engine::ask::{RegistrationOf, ScanOf, ToneOf};

use super::View;

/// The density of a disc in a scan; `None` while the scan is not there or where the disc leaves it.
pub(super) fn density(view: &View<'_>, scan: &ScanId, at: Point, radius: f64) -> Option<Measured<Density>> {
    let entry = view.series.scans.get(scan)?;
    let pixels = view.session.peek(&ScanOf { scan: scan.clone() });
    let tone = view.session.peek(&ToneOf { scan: scan.clone() });
    let (pixels, tone) = (pixels.value()?, tone.value()?);
    sample_disc(pixels.plane(entry.channel), tone, at, radius).ok().map(|sample| sample.density)
}

/// From the reference print's pixels to this film's; the reference's own is the identity.
pub(super) fn to_print(view: &View<'_>, film: &Film) -> Option<Similarity> {
    if view.reference.is_some_and(|reference| reference.id == film.id) {
        return Some(Similarity { scale: 1.0, angle: 0.0, shift: Point::default() });
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
    density(view, &print.scan, map.map(at), radius * map.scale)
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
