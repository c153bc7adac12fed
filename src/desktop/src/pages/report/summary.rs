//! Who signs the report, what it holds, where it goes, and what is in doubt.

use egui::Ui;

use twinwedge_workbench::core::document::{FilmId, FindingChoice};
use twinwedge_workbench::core::measured::Value;
use twinwedge_workbench::core::problem::Subject;
use twinwedge_workbench::edits::RecordEdit;
use twinwedge_workbench::engine::ask::ComparisonOf;
use twinwedge_workbench::export::{Depth, Paper, SlideSize};

use crate::appearance::{CONTROL, Tokens, widgets};
use crate::outbox::{Command, FileFor, Outbox, Printed};
use crate::pages::View;

/// Tester and date.
pub(super) fn signed_by(ui: &mut Ui, view: &View<'_>, outbox: &mut Outbox) {
    widgets::section(ui, "Signed");
    let choices = &view.series.report;
    if let Some(tester) = field(ui, "Tester", &choices.tester, "Name or body as it shall stand on the report")
    {
        outbox.change(RecordEdit::Tester(tester));
    }
    if let Some(date) = field(ui, "Date", &choices.date, "Date as it shall stand on the report") {
        outbox.change(RecordEdit::Date(date));
    }
}

fn field(ui: &mut Ui, name: &str, value: &str, hover: &str) -> Option<String> {
    ui.horizontal(|ui| {
        let color = Tokens::get(ui).muted;
        let layout = egui::Layout::left_to_right(egui::Align::Center);
        ui.allocate_ui_with_layout(egui::vec2(64.0, CONTROL), layout, |ui| {
            ui.set_min_width(64.0);
            ui.label(egui::RichText::new(name).color(color));
        });
        let id = ui.scope_id().with(name);
        let width = ui.available_width() - 16.0;
        widgets::text_field(ui, id, name, value, hover, width)
    })
    .inner
}

/// What the report of the candidate on the bench holds.
pub(super) fn holds(ui: &mut Ui, view: &View<'_>) {
    let Some(candidate) = view.candidate else { return };
    let slot = view.session.peek(&ComparisonOf { film: candidate.id.clone() });
    let Some(comparison) = slot.value() else { return };
    widgets::section(ui, "The report holds");
    let known = |value: &Value| value.known().is_some();
    let figures = comparison.rows.iter().filter(|row| known(&row.difference)).count();
    let choices = view.series.report.findings.get(&candidate.id);
    let (mut kept, mut reworded, mut dropped) = (0, 0, 0);
    for finding in &comparison.findings {
        match choices.and_then(|choices| choices.get(&finding.key)) {
            None => kept += 1,
            Some(FindingChoice::Reworded(_)) => reworded += 1,
            Some(FindingChoice::Dropped) => dropped += 1,
        }
    }
    let verdict = view.series.report.verdicts.contains_key(&candidate.id);
    let recommended = view.series.report.recommendations.contains_key(&candidate.id);
    let changed = comparison.findings.iter().filter(|finding| {
        let report = &view.series.report;
        report.changed_since(&candidate.id, &finding.key, finding.number()).is_some()
    });
    let rows = [
        ("Figures with a difference", format!("{figures} of {}", comparison.rows.len())),
        ("Patches", comparison.patches.len().to_string()),
        ("Spots", comparison.spots.len().to_string()),
        ("Findings as computed", kept.to_string()),
        ("Findings in your words", reworded.to_string()),
        ("Of these, with changed numbers", changed.count().to_string()),
        ("Findings dropped", dropped.to_string()),
        ("Verdict", if verdict { "yes" } else { "none yet" }.to_owned()),
        ("Recommendation", if recommended { "yes" } else { "none yet" }.to_owned()),
    ];
    for (label, value) in rows {
        widgets::value_row(ui, label, &value, "");
    }
}

/// How much of each film is printed.
const DEPTHS: [(Depth, &str, &str); 2] = [
    (Depth::Whole, "Whole", "Card, findings with pictures, and all evidence"),
    (
        Depth::Sheet,
        "One sheet",
        "One sheet a film: what differs, curves, a piece of both prints, grain, cost",
    ),
];

/// Paper of a PDF.
const PAPERS: [(Option<Paper>, &str, &str); 3] = [
    (None, "As set", "The paper of the settings, for the .pdf"),
    (Some(Paper::A4), "A4", "210 mm by 297 mm, for the .pdf"),
    (Some(Paper::Letter), "Letter", "8½ by 11 inches, for the .pdf"),
];

/// Sizes of slides.
const SLIDES: [(SlideSize, &str, &str); 3] = [
    (SlideSize::Wide, "1920 × 1080", "For talks and films"),
    (SlideSize::Fine, "3840 × 2160", "The same, finer"),
    (SlideSize::Upright, "1080 × 1920", "For screens that are held upright"),
];

/// Where it goes.
pub(super) fn exports(
    ui: &mut Ui,
    view: &View<'_>,
    (printed, slides): (&mut Printed, &mut SlideSize),
    outbox: &mut Outbox,
) {
    widgets::section(ui, "Export");
    let ready = view.reference.is_some() && view.candidate.is_some();
    let why_not = "A report needs a reference and a candidate";
    let candidate = || view.candidate.map(|film| film.id.clone());
    widgets::choice(ui, "Depth of the report", &mut printed.depth, &DEPTHS);
    widgets::choice(ui, "Paper of the PDF", &mut printed.paper, &PAPERS);
    let mut ask = |film: Option<FilmId>| outbox.send(Command::Ask(FileFor::Export(film, *printed)));
    let hover = "One file of this candidate: report as .html or .pdf, figures as .json or table as .csv, by the ending";
    if widgets::button_if(ui, ready, "This candidate …", hover, why_not).clicked() {
        ask(candidate());
    }
    let hover = "One file of all candidates: report as .html or .pdf, figures as .json or table as .csv, by the ending";
    if widgets::button_if(ui, ready, "All candidates …", hover, why_not).clicked() {
        ask(None);
    }
    widgets::footnote(
        ui,
        "The name's ending chooses the form: .html the report, .pdf the same on paper, .json all figures, .csv the table.",
    );
    widgets::section(ui, "Slides");
    widgets::choice(ui, "Size of slides", slides, &SLIDES);
    let hover = "Pictures of this candidate, one file each: verdict, curves, prints, grain, cost";
    if widgets::button_if(ui, ready, "Slides …", hover, why_not).clicked() {
        outbox.send(Command::Ask(FileFor::Slides(candidate(), *slides)));
    }
    widgets::footnote(ui, "The name's ending chooses the form: .png a picture, .svg a drawing.");
}

/// What is missing or doubtful.
pub(super) fn problems(ui: &mut Ui, view: &View<'_>) {
    let problems = view.session.problems();
    widgets::section(ui, "Missing or in doubt");
    if problems.is_empty() {
        widgets::muted(ui, "Nothing is known to be missing or in doubt.");
    }
    for problem in &problems {
        if let Some(label) = subject(&problem.subject, view) {
            widgets::footnote(ui, &label);
        }
        widgets::problem(ui, problem);
    }
}

fn subject(subject: &Subject, view: &View<'_>) -> Option<String> {
    match subject {
        Subject::Series => None,
        Subject::Film(id) => {
            Some(view.series.film(id).map_or_else(|| id.0.clone(), |film| film.label.clone()))
        }
        Subject::Scan(id) => Some(format!("scan {}", id.0)),
        Subject::Tablet(id) => Some(format!("tablet {}", id.0)),
        Subject::Calibration(id) => Some(format!("calibration {}", id.0)),
        Subject::File { path, .. } => Some(path.clone()),
    }
}
