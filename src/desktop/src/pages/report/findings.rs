//! The findings, question by question.

use egui::Ui;

use twinwedge_workbench::core::compare::{Comparison, Finding, Question, Verdict};
use twinwedge_workbench::core::document::{Film, FindingChoice, Series};
use twinwedge_workbench::core::figures::spec;
use twinwedge_workbench::edits::FindingEdit;

use crate::appearance::{Tokens, fonts, widgets};
use crate::outbox::Outbox;

/// What becomes of a finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fate {
    Keep,
    Reword,
    Drop,
}

const FATES: [(Fate, &str, &str); 3] = [
    (Fate::Keep, "Keep", "The report says it as computed"),
    (Fate::Reword, "Reword", "The report says it in your words; the computed sentence stays beside it"),
    (Fate::Drop, "Drop", "The report leaves it out"),
];

/// All findings of a comparison.
pub(super) fn list(ui: &mut Ui, comparison: &Comparison, film: &Film, series: &Series, outbox: &mut Outbox) {
    let mut told: Vec<&Finding> = comparison.findings.iter().collect();
    series.report.put_in_order(&film.id, &mut told, |finding| &finding.key);
    for question in Question::ALL {
        let found: Vec<&Finding> =
            told.iter().copied().filter(|finding| finding.question == question).collect();
        if found.is_empty() {
            continue;
        }
        widgets::section(ui, question.text());
        for (place, finding) in found.iter().enumerate() {
            let choice = series.report.findings.get(&film.id).and_then(|choices| choices.get(&finding.key));
            let neighbours = [place.checked_sub(1), Some(place + 1)]
                .map(|beside| beside.and_then(|beside| found.get(beside)).copied());
            let moved = ui
                .push_id(&finding.key, |ui| one(ui, (finding, neighbours), choice, (film, series), outbox))
                .inner;
            if let Some(beside) = moved {
                let keys = exchanged(&told, finding, beside);
                outbox.change(FindingEdit::Order { film: film.id.clone(), keys });
            }
        }
    }
}

/// Names of all findings in their order, two of them exchanged.
fn exchanged(told: &[&Finding], one: &Finding, other: &Finding) -> Vec<String> {
    let exchange = |key: &String| match key {
        key if *key == one.key => other.key.clone(),
        key if *key == other.key => one.key.clone(),
        key => key.clone(),
    };
    told.iter().map(|finding| exchange(&finding.key)).collect()
}

/// A finding, with those before and after it; answers with which of them it changes places.
fn one<'a>(
    ui: &mut Ui,
    (finding, [before_it, after_it]): (&Finding, [Option<&'a Finding>; 2]),
    choice: Option<&FindingChoice>,
    (film, series): (&Film, &Series),
    outbox: &mut Outbox,
) -> Option<&'a Finding> {
    let tokens = Tokens::get(ui);
    let before = match choice {
        None => Fate::Keep,
        Some(FindingChoice::Dropped) => Fate::Drop,
        Some(FindingChoice::Reworded(_)) => Fate::Reword,
    };
    let quiet = before == Fate::Drop || finding.verdict != Verdict::Differs;
    let color = if quiet { tokens.muted } else { tokens.ink };
    let mut moved = None;
    widgets::boxed(ui, |ui| {
        let mut sentence = egui::RichText::new(&finding.sentence).color(color);
        if before == Fate::Drop {
            sentence = sentence.strikethrough();
        }
        ui.add(egui::Label::new(sentence).wrap()).on_hover_text(evidence(finding));
        if !finding.figure.is_empty() {
            ui.label(egui::RichText::new(&finding.figure).small().color(color));
        }
        if !finding.detail.is_empty() {
            let detail = egui::RichText::new(&finding.detail).small().color(tokens.muted);
            ui.add(egui::Label::new(detail).wrap());
        }
        if let Some(FindingChoice::Reworded(words)) = choice {
            reworded(ui, words, finding, (film, series), outbox);
        }
        ui.horizontal(|ui| {
            let mut fate = before;
            let name = format!("Finding {}", finding.key);
            if fates(ui, &name, &mut fate) {
                choose(fate, finding, film, outbox);
            }
            for (name, beside) in [("Earlier", before_it), ("Later", after_it)] {
                let button = ui.add_enabled(beside.is_some(), egui::Button::new(name));
                let button = button.on_hover_text(format!("{name} in the report, within its question"));
                let spoken = format!("{name}: Finding {}", finding.key);
                button
                    .widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, beside.is_some(), &spoken));
                if button.clicked() {
                    moved = beside;
                }
            }
            ui.label(egui::RichText::new(judged(finding.verdict)).small().color(tokens.muted));
        });
    });
    moved
}

fn fates(ui: &mut Ui, name: &str, fate: &mut Fate) -> bool {
    let before = *fate;
    for (option, word, hover) in FATES {
        let chosen = *fate == option;
        let response = ui.add(egui::Button::selectable(chosen, word)).on_hover_text(hover);
        let spoken = format!("{word}: {name}");
        response.widget_info(|| egui::WidgetInfo::selected(egui::Role::RadioButton, true, chosen, &spoken));
        if response.clicked() {
            *fate = option;
        }
    }
    *fate != before
}

fn reworded(
    ui: &mut Ui,
    words: &str,
    finding: &Finding,
    (film, series): (&Film, &Series),
    outbox: &mut Outbox,
) {
    let id = ui.scope_id().with(("words", &film.id, &finding.key));
    ui.label(fonts::strong("In your words"));
    let name = format!("Words for finding {}", finding.key);
    if let Some(text) = widgets::text_area(ui, id, &name, words, &finding.sentence, 2) {
        reword(outbox, film, finding, text);
    }
    if let Some(before) = series.report.changed_since(&film.id, &finding.key, finding.number()) {
        let doubt = format!("Its number was {before} when you wrote this. Read your words again.");
        ui.add(egui::Label::new(fonts::strong(doubt)).wrap());
        let name = format!("Words still hold for finding {}", finding.key);
        let response =
            ui.button("They still hold").on_hover_text("The words stay, and rest on the number as it is now");
        response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Button, true, &name));
        if response.clicked() {
            reword(outbox, film, finding, words.to_owned());
        }
    }
}

fn reword(outbox: &mut Outbox, film: &Film, finding: &Finding, words: String) {
    outbox.change(FindingEdit::Reword {
        film: film.id.clone(),
        key: finding.key.clone(),
        words,
        number: finding.number().to_owned(),
    });
}

fn choose(fate: Fate, finding: &Finding, film: &Film, outbox: &mut Outbox) {
    let choice = match fate {
        Fate::Keep => None,
        Fate::Drop => Some(FindingChoice::Dropped),
        Fate::Reword => return reword(outbox, film, finding, finding.sentence.clone()),
    };
    put(outbox, film, finding, choice);
}

fn put(outbox: &mut Outbox, film: &Film, finding: &Finding, choice: Option<FindingChoice>) {
    outbox.change(FindingEdit::Choose { film: film.id.clone(), key: finding.key.clone(), choice });
}

fn judged(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Differs => "differs",
        Verdict::NotDistinguishable => "not distinguishable",
        Verdict::NotMeasured => "not measured",
    }
}

fn evidence(finding: &Finding) -> String {
    let figures: Vec<_> = finding
        .evidence
        .iter()
        .map(|id| {
            let figure = spec(*id);
            format!("{}: {} ({})", widgets::capital(figure.label), figure.definition, figure.source.text)
        })
        .collect();
    if figures.is_empty() { "Made from the samples of both prints.".to_owned() } else { figures.join("\n") }
}
