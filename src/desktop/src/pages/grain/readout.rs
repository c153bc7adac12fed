//! Granularity of both films in numbers.

use std::sync::Arc;

use egui::Ui;
use twinwedge_workbench::core::compare::format;
use twinwedge_workbench::core::document::Film;
use twinwedge_workbench::core::grain::Granularity;
use twinwedge_workbench::engine::Slot;
use twinwedge_workbench::engine::ask::GrainOf;

use crate::appearance::widgets;
use crate::pages::{View, scan_trust};

/// Both films in the areas that are shown, and their difference.
pub(super) fn granularity(ui: &mut Ui, view: &View<'_>, chosen: [usize; 2]) {
    ui.heading("Granularity");
    widgets::footnote(
        ui,
        "1000 times the standard deviation of density through a round aperture, slow shading removed (ISO 10505:2009 \
         practice).",
    );
    widgets::footnote(ui, format::INTERVAL_NOTE);
    let [reference, candidate] = [(view.reference, chosen[0]), (view.candidate, chosen[1])];
    let both = [reference, candidate].map(|(film, area)| film.and_then(|film| one(ui, film, area, view)));
    if let [Some(reference), Some(candidate)] = &both {
        difference(ui, reference, candidate);
    }
}

fn one(ui: &mut Ui, film: &Film, area: usize, view: &View<'_>) -> Option<Arc<Granularity>> {
    let area = if film.uniform_areas.get(area).is_some() { area } else { 0 };
    let several = film.uniform_areas.len() > 1;
    let words = if several { format!(", uniform area {}", area + 1) } else { String::new() };
    widgets::section(ui, &format!("{}{words}", film.label));
    let Some(grain) = film.uniform_areas.get(area) else {
        widgets::muted(ui, "No area is chosen yet.");
        return None;
    };
    scan_trust::line(ui, view, "Scan", &grain.scan);
    let slot: Slot<Granularity> = view.session.peek(&GrainOf { film: film.id.clone(), area });
    widgets::slot(ui, &slot, "Measuring grain", numbers);
    slot.value().cloned()
}

fn numbers(ui: &mut Ui, grain: &Granularity) {
    let rms = format::measured(&grain.rms, 1);
    widgets::value_row(
        ui,
        "RMS granularity",
        &rms,
        "With the 95 % interval from the number of independent apertures",
    );
    let mean = format!("D {}", format::measured(&grain.mean_density.plain(), 2));
    widgets::value_row(ui, "At a mean density of", &mean, "Density of the mean light of the area");
    widgets::value_row(
        ui,
        "Aperture",
        &format!("{} µm", format::number(grain.aperture.0, 0)),
        "Diameter of the round aperture on the film",
    );
    widgets::value_row(
        ui,
        "Sample every",
        &format!("{} µm", format::number(grain.pitch.0, 2)),
        "Distance between the samples of the scan",
    );
    widgets::value_row(
        ui,
        "Independent apertures",
        &format::number(grain.independent_apertures, 0),
        "What the interval rests on",
    );
    widgets::value_row(
        ui,
        "Shading removed",
        &format!("D {}", format::number(grain.shading, 3)),
        "Range of density over the area that was taken out as slow shading",
    );
    let left_out = format!("{} %", format::number(grain.left_out * 100.0, 2));
    widgets::value_row(ui, "Dust left out", &left_out, "Share of the area");
    if let Some(taken) = &grain.noise {
        let share = format!("{} % of the variance", format::number(taken.share * 100.0, 1));
        widgets::value_row(ui, "Scanner noise taken off", &share, &format!("From {}", taken.noise.from));
        widgets::footnote(ui, &format!("The scanner's noise is known from {}.", taken.noise.from));
    }
    if let Some(without) = grain.without_scanner() {
        let hover = "What the grain has without the blur of scanner and pixels, by the scanner's own edge: of the film's own spectrum \
                     where the scanner's noise was taken off it, else of fine grain, which loses most.";
        widgets::value_row(ui, "Without the scanner's blur", &format::measured(&without, 1), hover);
    }
    for note in grain.notes.iter().chain(&grain.loss_in_words()) {
        widgets::footnote(ui, &note.to_string());
    }
    let words = grain.rms.flags.words();
    if !words.is_empty() {
        widgets::footnote(ui, &words.join(", "));
    }
}

fn difference(ui: &mut Ui, reference: &Granularity, candidate: &Granularity) {
    widgets::section(ui, "Difference");
    let difference = candidate.minus(reference);
    let text = format::difference(&difference, 1);
    widgets::value_row(ui, "RMS granularity", &text, "Candidate minus reference");
    let means = candidate.mean_density.minus(&reference.mean_density);
    widgets::value_row(
        ui,
        "Mean density",
        &format::difference(&means.plain(), 2),
        "Candidate minus reference",
    );
    if !difference.excludes_zero() {
        widgets::footnote(ui, "The difference is not distinguishable: it lies within its uncertainty.");
    }
    if means.number().abs() > 0.2 {
        widgets::footnote(
            ui,
            "The areas differ in density by more than 0.2: granularity changes with density, so choose areas that are \
             more alike before comparing the numbers.",
        );
    }
}
