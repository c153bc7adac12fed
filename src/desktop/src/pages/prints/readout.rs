//! Registration in numbers, and one reading in three columns.

use egui::Ui;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::geometry::Model;
use twinwedge_workbench::core::register::Registration;
use twinwedge_workbench::core::tablet::StepSample;
use twinwedge_workbench::edits::PrintChange;
use twinwedge_workbench::engine::ask::RegistrationOf;

use crate::appearance::widgets;
use crate::outbox::Outbox;
use crate::pages::{View, sampling};

/// How the candidate's print lies on the reference's.
pub(super) fn registration(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    let (Some(reference), Some(candidate)) = (view.reference, view.candidate) else { return };
    if reference.print.is_none() || candidate.print.is_none() {
        widgets::muted(ui, "Both films need a print to be laid on each other.");
        return;
    }
    widgets::section(ui, "Registration");
    let slot = view.session.peek(&RegistrationOf { film: candidate.id.clone() });
    widgets::slot(ui, &slot, "Laying the prints on each other", numbers);
    let by_hand = candidate.print.as_ref().is_some_and(|print| print.pairs.is_some());
    if by_hand {
        if widgets::button(ui, "Find it by itself again", "Forgets the two pairs of points").clicked() {
            outbox.change(PrintChange::ForgetPairs.of(&candidate.id));
        }
    } else {
        model_choice(ui, candidate, outbox);
    }
}

const MODELS: [(Option<Model>, &str, &str); 4] = [
    (
        None,
        "Automatic",
        "As plain as the prints allow: a richer model only where it lowers what remains by more than chance does",
    ),
    (Some(Model::Similarity), "Similarity", "A turn, a size and a shift: two scans of prints that lie flat"),
    (
        Some(Model::Affine),
        "Affine",
        "Two sizes and a shear beside turn and shift: paper that shrank, a scanner whose carriage runs too fast",
    ),
    (
        Some(Model::Homography),
        "Homography",
        "Straight lines stay straight and no more: a print photographed aslant",
    ),
];

/// What the map from print to print may do.
fn model_choice(ui: &mut Ui, candidate: &Film, outbox: &mut Outbox) {
    let Some(print) = &candidate.print else { return };
    let mut wanted = print.model;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 4.0;
        for (model, word, hover) in MODELS {
            let chosen = wanted == model;
            let response = ui.add(egui::Button::selectable(chosen, word)).on_hover_text(hover);
            let name = format!("Model: {word}");
            response.widget_info(|| {
                egui::WidgetInfo::selected(egui::Role::RadioButton, true, chosen, name.clone())
            });
            if response.clicked() {
                wanted = model;
            }
        }
    });
    if wanted != print.model {
        outbox.change(PrintChange::Model(wanted).of(&candidate.id));
    }
}

fn numbers(ui: &mut Ui, found: &Registration) {
    for doubt in &found.doubts {
        widgets::caution(ui, &doubt.to_string());
    }
    let how = if found.by_hand { "two pairs of points" } else { "found by itself" };
    widgets::value_row(ui, "How", how, "How one print was laid on the other");
    widgets::value_row(ui, "Model", found.transform.model().word(), &tests(found));
    let residual = format!("{} px", format::number(found.residual_px, 3));
    widgets::value_row(
        ui,
        "Residual",
        &residual,
        "Root mean square of what remains between small windows of both prints",
    );
    let sure = format!("± {} px", format::number(found.u_px, 3));
    let worst = format!(
        "Standard uncertainty of a mapped point amid the windows that agree; ± {} px at its worst place in the overlap",
        format::number(found.u_worst_px, 3)
    );
    widgets::value_row(ui, "Sure to", &sure, &worst);
    let agree = found.windows.iter().filter(|window| window.agrees).count();
    widgets::value_row(
        ui,
        "Correlation",
        &format::number(found.correlation, 3),
        "How alike the small windows are once the prints are laid on each other; 1 is the same picture",
    );
    if !found.windows.is_empty() {
        widgets::value_row(
            ui,
            "Windows",
            &format!("{agree} of {} agree", found.windows.len()),
            "Small windows with detail that lie where the map puts them",
        );
    }
    let middle = found.middle();
    let turn = format!("{}°", format::signed(found.transform.angle_at(middle).to_degrees(), 2));
    let size = format::number(found.transform.scale_at(middle), 4);
    widgets::value_row(
        ui,
        "Turn, size",
        &format!("{turn}, {size}"),
        "Of the candidate's print against the reference's, amid the windows",
    );
    for word in found.flags.words() {
        widgets::footnote(ui, word);
    }
}

/// What was found when richer models were tried.
fn tests(found: &Registration) -> String {
    let mut words = String::from("What the map from print to print may do.");
    for tried in &found.tried {
        let verdict = if tried.significant { "more than chance does" } else { "no more than chance does" };
        let share = format::number(100.0 * (1.0 - tried.ratio), 0);
        let model = tried.model.word();
        words.push_str(&format!("\n{model}: lowers the windows' residual by {share} %, {verdict}"));
    }
    words
}

/// One density in both films.
pub(super) struct Line<'a> {
    /// As sampled in the reference's print.
    pub(super) reference: Option<&'a StepSample>,
    /// As sampled in the candidate's print.
    pub(super) candidate: Option<&'a StepSample>,
}

/// Reference, candidate and difference, each with its uncertainty, one below the other; and the cautions.
pub(super) fn three_columns(ui: &mut Ui, view: &View<'_>, line: &Line<'_>) {
    let mut cautions: Vec<&str> = Vec::new();
    for (film, sample) in [(view.reference, line.reference), (view.candidate, line.candidate)] {
        let Some(film) = film else { continue };
        let density = sample.map(|sample| &sample.density);
        let text = density.map_or("–".to_owned(), |density| format::measured(&density.plain(), 2));
        widgets::value_row(ui, &film.label, &text, "Reflection density of the spot, from its mean light");
        cautions.extend(density.into_iter().flat_map(|density| density.flags.words()));
    }
    if let (Some(reference), Some(candidate)) = (line.reference, line.candidate) {
        let difference = candidate.minus(reference);
        let text = format::difference(&difference, 2);
        let hover = format!("Candidate minus reference: positive is darker. {}", sampling::COMMON);
        widgets::value_row(ui, "Difference", &text, &hover);
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
