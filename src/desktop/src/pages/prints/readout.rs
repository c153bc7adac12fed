//! Registration in numbers, and one reading in three columns.

use egui::Ui;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::{FilmId, Series};
use twinwedge_workbench::core::measured::Measured;
use twinwedge_workbench::core::register::Registration;
use twinwedge_workbench::core::units::Density;
use twinwedge_workbench::engine::ask::RegistrationOf;

use crate::appearance::widgets;
use crate::outbox::Outbox;
use crate::pages::View;

/// How the candidate's print lies on the reference's.
pub(super) fn registration(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    ui.heading("Prints");
    let (Some(reference), Some(candidate)) = (view.reference, view.candidate) else { return };
    if reference.print.is_none() || candidate.print.is_none() {
        widgets::muted(ui, "Both films need a print to be laid on each other.");
        return;
    }
    widgets::section(ui, "Registration");
    let slot = view.session.peek(&RegistrationOf { film: candidate.id.clone() });
    widgets::slot(ui, &slot, "Laying the prints on each other", numbers);
    let by_hand = candidate.print.as_ref().is_some_and(|print| print.pairs.is_some());
    if by_hand && widgets::button(ui, "Find it by itself again", "Forgets the two pairs of points").clicked()
    {
        forget_pairs(candidate.id.clone(), &candidate.label, outbox);
    }
}

fn forget_pairs(film: FilmId, label: &str, outbox: &mut Outbox) {
    outbox.edit(format!("find the registration of {label} again"), move |series: &mut Series| {
        if let Some(print) = series.film_mut(&film).and_then(|film| film.print.as_mut()) {
            print.pairs = None;
        }
    });
}

fn numbers(ui: &mut Ui, found: &Registration) {
    let how = if found.by_hand { "two pairs of points" } else { "found by itself" };
    widgets::value_row(ui, "How", how, "A turn, a size and a shift carry one print onto the other");
    let residual = format!("{} px", format::number(found.residual_px, 3));
    widgets::value_row(
        ui,
        "Residual",
        &residual,
        "Root mean square of what remains between small windows of both prints",
    );
    let sure = format!("± {} px", format::number(found.u_px, 3));
    widgets::value_row(ui, "Sure to", &sure, "Standard uncertainty of a mapped point near the middle");
    widgets::value_row(
        ui,
        "Correlation",
        &format::number(found.correlation, 3),
        "How alike the prints are once laid on each other; 1 is the same picture",
    );
    let turn = format!("{}°", format::signed(found.transform.angle.to_degrees(), 2));
    let size = format::number(found.transform.scale, 4);
    widgets::value_row(
        ui,
        "Turn, size",
        &format!("{turn}, {size}"),
        "Of the candidate's print against the reference's",
    );
    for word in found.flags.words() {
        widgets::footnote(ui, word);
    }
}

/// One density in both films.
pub(super) struct Line<'a> {
    /// Of the reference.
    pub(super) reference: Option<&'a Measured<Density>>,
    /// Of the candidate.
    pub(super) candidate: Option<&'a Measured<Density>>,
}

/// Reference, candidate and difference, each with its uncertainty, one below the other; and the cautions.
pub(super) fn three_columns(ui: &mut Ui, view: &View<'_>, line: &Line<'_>) {
    let mut cautions: Vec<&str> = Vec::new();
    for (film, density) in [(view.reference, line.reference), (view.candidate, line.candidate)] {
        let Some(film) = film else { continue };
        let text = density.map_or("–".to_owned(), |density| format::measured(&density.plain(), 2));
        widgets::value_row(ui, &film.label, &text, "Reflection density of the spot, from its mean light");
        cautions.extend(density.into_iter().flat_map(|density| density.flags.words()));
    }
    if let (Some(reference), Some(candidate)) = (line.reference, line.candidate) {
        let difference = candidate.minus(reference);
        let text = format::difference(&difference.plain(), 2);
        widgets::value_row(ui, "Difference", &text, "Candidate minus reference: positive is darker");
        if !difference.excludes_zero() {
            widgets::footnote(ui, "The difference is not distinguishable: it lies within its uncertainty.");
        }
    }
    cautions.sort_unstable();
    cautions.dedup();
    if !cautions.is_empty() {
        widgets::footnote(ui, &cautions.join(", "));
    }
}
